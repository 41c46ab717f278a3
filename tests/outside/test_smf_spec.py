"""The writer against the Standard MIDI File 1.0 and General MIDI level 1 specifications.

Sources: MIDI Manufacturers Association, "Standard MIDI Files 1.0" (RP-001, 1996), cited
as SMF, and "General MIDI System Level 1" (RP-003), cited as GM1. The readers asked are
mido and pretty_midi, neither of which wrote the files.
"""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import mido
import pretty_midi
import pytest

from backing.errors import BackingError
from backing.midi.chunks import Event, header_chunk, track_chunk, variable_length
from backing.midi.writer import meter_bytes, tempo_bytes, to_bytes
from backing.score import KeyChange, MeterChange, Note, Score, TempoChange, Track, Words
from backing.theory.keys import parse_key
from backing.theory.rhythm import parse_meter


def from_hex(commented: str) -> bytes:
    return bytes.fromhex("".join(line.split("#")[0] for line in commented.splitlines()))


# SMF, the table of numbers and their variable-length representation.
@pytest.mark.parametrize(
    ("number", "written"),
    [
        (0x00000000, "00"),
        (0x00000040, "40"),
        (0x0000007F, "7F"),
        (0x00000080, "81 00"),
        (0x00002000, "C0 00"),
        (0x00003FFF, "FF 7F"),
        (0x00004000, "81 80 00"),
        (0x00100000, "C0 80 00"),
        (0x001FFFFF, "FF FF 7F"),
        (0x00200000, "81 80 80 00"),
        (0x08000000, "C0 80 80 00"),
        (0x0FFFFFFF, "FF FF FF 7F"),
    ],
)
def test_variable_length_quantities(number: int, written: str) -> None:
    assert variable_length(number) == bytes.fromhex(written)


# SMF: the largest number allowed is 0FFFFFFF, so that four bytes hold it.
@pytest.mark.parametrize("number", [-1, 0x10000000])
def test_numbers_outside_four_bytes_are_refused(number: int) -> None:
    with pytest.raises(BackingError):
        variable_length(number)


# SMF, the worked example in format 1: one bar of 4/4 at 120, 96 ticks a quarter. It leaves
# out a status byte that repeats and ends notes by a note-on of velocity 0. Our writer leaves
# out repeated status too; it ends notes by note-offs and starts with a title and General MIDI
# on, so the example's events are handed to its chunk writer, where files get their grammar.
SPEC_FORMAT_1 = """
4D 54 68 64  00 00 00 06  00 01  00 04  00 60   # MThd: format 1, 4 tracks, 96 a quarter

4D 54 72 6B  00 00 00 14                        # MTrk, 20 bytes
00 FF 58 04  04 02 18 08                        # 4/4, a click every 24 clocks, 8 32nds a quarter
00 FF 51 03  07 A1 20                           # 500,000 microseconds a quarter
83 00 FF 2F 00                                  # end of track after 384 ticks

4D 54 72 6B  00 00 00 10                        # MTrk, 16 bytes
00 C0 05                                        # channel 1: program 5
81 40 90 4C 20                                  # 192 ticks on: E5 piano
81 40    4C 00                                  # running status: E5 ends
00 FF 2F 00

4D 54 72 6B  00 00 00 0F                        # MTrk, 15 bytes
00 C1 2E                                        # channel 2: program 46
60 91 43 40                                     # 96 ticks on: G4 mezzo-forte
82 20 43 00                                     # running status: G4 ends after 288
00 FF 2F 00

4D 54 72 6B  00 00 00 15                        # MTrk, 21 bytes
00 C2 46                                        # channel 3: program 70
00 92 30 60                                     # C3 forte
00    3C 60                                     # running status: C4 forte
83 00 30 00                                     # after 384 ticks both end
00    3C 00
00 FF 2F 00
"""
SPEC_END = 384
SPEC_EVENTS: list[list[tuple[int, str]]] = [
    [(0, "FF 58 04 04 02 18 08"), (0, "FF 51 03 07 A1 20")],
    [(0, "C0 05"), (192, "90 4C 20"), (384, "90 4C 00")],
    [(0, "C1 2E"), (96, "91 43 40"), (384, "91 43 00")],
    [(0, "C2 46"), (0, "92 30 60"), (0, "92 3C 60"), (384, "92 30 00"), (384, "92 3C 00")],
]


def written_example() -> bytes:
    tracks: list[list[Event]] = [
        [(tick, bytes.fromhex(message)) for tick, message in track] for track in SPEC_EVENTS
    ]
    chunks = [track_chunk(track, SPEC_END) for track in tracks]
    return header_chunk(len(chunks), 96) + b"".join(chunks)


def test_the_worked_example_byte_for_byte() -> None:
    assert written_example() == from_hex(SPEC_FORMAT_1)
    assert len(written_example()) == 118  # SMF


def test_running_status_stops_at_a_meta_event() -> None:
    # SMF: sysex and meta events cancel any running status, so the second note restates its own.
    lyric = bytes.fromhex("FF 05 01 41")
    on, off = bytes.fromhex("90 3C 40"), bytes.fromhex("90 3C 00")
    chunk = track_chunk([(0, on), (1, lyric), (2, off)], 2)
    assert chunk[8:] == from_hex("00 90 3C 40  01 FF 05 01 41  01 90 3C 00  00 FF 2F 00")


# The example as a Score: same notes, 960 ticks a quarter in place of 96.
EXAMPLE_NOTES = [  # (program, pitch, velocity, start and end in quarters)
    [(5, 0x4C, 0x20, 2, 4)],
    [(46, 0x43, 0x40, 1, 4)],
    [(70, 0x30, 0x60, 0, 4), (70, 0x3C, 0x60, 0, 4)],
]


def example_score(key: str = "C") -> Score:
    return Score(
        title="Example",
        tracks=tuple(
            Track(
                part=f"part {number}",
                name=f"Part {number}",
                program=notes[0][0],
                volume=100,
                pan=0,
                notes=tuple(
                    Note(Fraction(start, 4), Fraction(end, 4), pitch, velocity)
                    for _, pitch, velocity, start, end in notes
                ),
            )
            for number, notes in enumerate(EXAMPLE_NOTES, start=1)
        ),
        tempos=(TempoChange(Fraction(0), Fraction(120)),),
        meters=(MeterChange(Fraction(0), parse_meter("4/4")),),
        markers=(Words(Fraction(0), "A"),),
        chords=(),
        keys=(KeyChange(Fraction(0), parse_key(key)),),
        end_whole=Fraction(1),
    )


@pytest.mark.parametrize(
    "data", [from_hex(SPEC_FORMAT_1), written_example(), to_bytes(example_score())]
)
def test_two_readers_find_four_notes_in_two_seconds(data: bytes) -> None:
    # SMF: the example is one bar of 4/4 at 120, four notes; 4 quarters at 0.5 s make 2.0 s.
    read = mido.MidiFile(file=BytesIO(data))
    notes = [
        (m.channel, m.note, m.velocity)
        for track in read.tracks
        for m in track
        if m.type == "note_on" and m.velocity
    ]
    assert notes == [(0, 76, 32), (1, 67, 64), (2, 48, 96), (2, 60, 96)]
    assert read.length == pytest.approx(2.0, abs=1e-9)
    pretty = pretty_midi.PrettyMIDI(BytesIO(data))
    assert [
        (instrument.program, n.pitch, n.velocity, round(n.start, 9), round(n.end, 9))
        for instrument in pretty.instruments
        for n in sorted(instrument.notes, key=lambda n: n.pitch)
    ] == [
        (5, 76, 32, 1.0, 2.0),
        (46, 67, 64, 0.5, 2.0),
        (70, 48, 96, 0.0, 2.0),
        (70, 60, 96, 0.0, 2.0),
    ]


def test_the_tempo_example() -> None:
    # SMF: 6144 ticks at 96 a quarter and 500,000 microseconds a quarter are 32 seconds.
    tempo: Event = (0, bytes.fromhex("FF 51 03") + tempo_bytes(Fraction(120)))
    data = header_chunk(1, 96) + track_chunk([tempo], 6144)
    assert mido.MidiFile(file=BytesIO(data)).length == pytest.approx(32.0, abs=1e-9)
    score_length = mido.MidiFile(file=BytesIO(to_bytes(sixteen_bars()))).length
    assert score_length == pytest.approx(32.0, abs=1e-9)


def sixteen_bars() -> Score:
    """6144 / 96 = 64 quarters at 120."""
    return Score(
        title="",
        tracks=(),
        tempos=(TempoChange(Fraction(0), Fraction(120)),),
        meters=(),
        markers=(),
        chords=(),
        keys=(),
        end_whole=Fraction(16),
    )


# SMF, Set Tempo: microseconds a quarter in three bytes, 120 being 07 A1 20 (its example).
# 60 and 90: 60,000,000 / bpm, as the event's definition says.
@pytest.mark.parametrize(
    ("bpm", "written"), [(120, "07 A1 20"), (60, "0F 42 40"), (90, "0A 2C 2B")]
)
def test_set_tempo(bpm: int, written: str) -> None:
    assert tempo_bytes(Fraction(bpm)) == bytes.fromhex(written)


# SMF, Time Signature: nn, dd as a power of two, cc MIDI clocks a metronome click (24 a
# quarter), bb 32nds a quarter. Its own examples are 4/4 and 6/8 clicked in dotted quarters.
@pytest.mark.parametrize(
    ("meter", "written"),
    [
        ("4/4", "04 02 18 08"),  # SMF
        ("6/8", "06 03 24 08"),  # SMF
        ("3/4", "03 02 18 08"),  # by the definition: a click a quarter
        ("2/2", "02 01 30 08"),  # by the definition: a click a half, 48 clocks
        ("12/8", "0C 03 24 08"),  # by the definition: a click a dotted quarter
        ("3/8", "03 03 0C 08"),  # by the definition: a click an eighth, 12 clocks
        ("7/8", "07 03 0C 08"),  # one click length can't say 2+2+3; ours is the eighth
    ],
)
def test_time_signature(meter: str, written: str) -> None:
    assert meter_bytes(parse_meter(meter)) == bytes.fromhex(written)


# SMF, Key Signature: sf -7 (seven flats) to 7 (seven sharps) as a signed byte, mi 0 major, 1
# minor. The signatures of the keys: common practice.
@pytest.mark.parametrize(
    ("key", "written"),
    [
        ("C", "00 00"),
        ("Am", "00 01"),
        ("G", "01 00"),
        ("F#m", "03 01"),
        ("C#", "07 00"),
        ("F", "FF 00"),
        ("Eb", "FD 00"),
        ("Cm", "FD 01"),
        ("Cb", "F9 00"),
    ],
)
def test_key_signature(key: str, written: str) -> None:
    assert bytes.fromhex("00 FF 59 02" + written) in to_bytes(example_score(key))


def test_the_conductor_starts_as_the_specifications_ask() -> None:
    data = to_bytes(example_score("A"))
    start = """
    4D 54 68 64  00 00 00 06   # SMF: MThd, always six bytes
    00 01                      # SMF: format 1, simultaneous tracks
    00 05                      # tracks: conductor, chords, three parts
    03 C0                      # 960 ticks a quarter, top bit clear
    4D 54 72 6B  00 00 00 32   # MTrk, 50 bytes
    00 FF 03 07  45 78 61 6D 70 6C 65   # SMF: FF 03 on the first track is the sequence's name
    00 FF 51 03  07 A1 20      # SMF: tempo, on the first track
    00 FF 58 04  04 02 18 08   # SMF: time signature, on the first track
    00 FF 59 02  03 00         # SMF: three sharps, major
    00 FF 06 01  41            # SMF: marker, on the first track
    00 F0 05  7E 7F 09 01 F7   # GM1: system on, F0 7E 7F 09 01 F7; SMF: length after F0
    9E 00 FF 2F 00             # SMF: end of track
    """
    assert data.startswith(from_hex(start))


def test_every_chunk_is_as_long_as_it_says_and_ends_with_end_of_track() -> None:
    # SMF: a chunk is a four-character type, a 32-bit length, then that many bytes.
    data = to_bytes(example_score())
    at, kinds = 0, []
    while at < len(data):
        kinds.append(data[at : at + 4])
        at += 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        if kinds[-1] == b"MTrk":
            assert data[at - 3 : at] == bytes.fromhex("FF 2F 00")
    assert at == len(data)
    assert kinds == [b"MThd", *[b"MTrk"] * 5]
