"""The summing reader's own reading of files against the specification and against mido.

Source: MIDI Manufacturers Association, "Standard MIDI Files 1.0" (RP-001, 1996), cited as
SMF. mido 1.3 is the independent reader; it wrote none of these files.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import mido
import pytest
from midi_files import CHORDS, CONDUCTOR, ENDED, WHOLE, chunk, meta, smf
from midi_mutations import mutant, sources

from backing.errors import BackingError
from backing.verify.readers.measured import Measured, by_pretty_midi, by_summing
from backing.verify.readers.smf import read_midi

# SMF, the worked example as format 0: one bar of 4/4 at 120, 96 ticks a quarter.
SPEC_FORMAT_0 = """
4D 54 68 64  00 00 00 06  00 00  00 01  00 60   # MThd: format 0, 1 track, 96 a quarter
4D 54 72 6B  00 00 00 3B                        # MTrk, 59 bytes
00 FF 58 04  04 02 18 08                        # 4/4
00 FF 51 03  07 A1 20                           # 500,000 microseconds a quarter
00 C0 05  00 C1 2E  00 C2 46                    # programs
00 92 30 60                                     # channel 3: C3 forte
00    3C 60                                     # running status: C4 forte
60 91 43 40                                     # channel 2: G4 mezzo-forte
60 90 4C 20                                     # channel 1: E5 piano
81 40 82 30 40                                  # after 192 ticks all end, by note-offs
00    3C 40
00 81 43 40
00 80 4C 40
00 FF 2F 00
"""
# The same as format 1: running status, and velocity 0 for note-off.
SPEC_FORMAT_1 = """
4D 54 68 64  00 00 00 06  00 01  00 04  00 60
4D 54 72 6B  00 00 00 14  00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20  83 00 FF 2F 00
4D 54 72 6B  00 00 00 10  00 C0 05  81 40 90 4C 20  81 40 4C 00  00 FF 2F 00
4D 54 72 6B  00 00 00 0F  00 C1 2E  60 91 43 40  82 20 43 00  00 FF 2F 00
4D 54 72 6B  00 00 00 15  00 C2 46  00 92 30 60  00 3C 60  83 00 30 00  00 3C 00  00 FF 2F 00
"""
#: SMF's table of the example: tick, channel from 0, note and velocity, struck; all end at tick 384.
SPEC_STRUCK = [(0, 2, 0x30, 0x60), (0, 2, 0x3C, 0x60), (96, 1, 0x43, 0x40), (192, 0, 0x4C, 0x20)]


@pytest.mark.parametrize("text", [SPEC_FORMAT_0, SPEC_FORMAT_1], ids=["format 0", "format 1"])
def test_the_worked_example(text: str) -> None:
    data = bytes.fromhex("".join(line.split("#")[0] for line in text.splitlines()))
    file = read_midi(data)
    events = sorted(event for track in file.tracks for event in track.notes())
    assert file.ticks_per_quarter == 96
    assert [event for event in events if event[3]] == SPEC_STRUCK
    assert [event[:3] for event in events if not event[3]] == [
        (384, 0, 0x4C), (384, 1, 0x43), (384, 2, 0x30), (384, 2, 0x3C),
    ]  # fmt: skip
    assert {track.end for track in file.tracks} == {384}
    account = by_summing(data)
    assert account.tempos == [(0.0, 120.0)]
    assert account.meters == [(0.0, 4, 4)]
    assert account.bar_lines == [0.0, 2.0]


# SMF, Time Signature and Set Tempo: until one comes it is 4/4, and 120 quarters a minute.
@pytest.mark.parametrize("reader", [by_summing, by_pretty_midi])
def test_four_four_at_120_where_nothing_is_said(reader: Callable[[bytes], Measured]) -> None:
    late = meta(0x58, bytes.fromhex("03 02 18 08"), b"\x86\x00")  # 3/4 at tick 768
    for data, meters in (
        (smf(meta(0x05, b"x", b"\x86\x00") + meta(0x2F)), [(0.0, 4, 4)]),
        (smf(late + meta(0x2F)), [(0.0, 4, 4), (4.0, 3, 4)]),
    ):
        account = reader(data)
        assert account.tempos == [(0.0, 120.0)]
        assert account.meters == meters
        assert account.bar_lines == [0.0, 2.0, 4.0]


# SMF, Header Chunks: 0 one track, 1 simultaneous tracks, 2 independent patterns; there are
# no others. Bit 15 of the division means frames.
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (smf(CONDUCTOR, CHORDS, kind=0), ""),
        (smf(CONDUCTOR, CHORDS, kind=1), ""),
        (smf(CONDUCTOR, CHORDS, kind=2), "can't be compared with a form: it is of type 2"),
        (smf(CONDUCTOR, CHORDS, kind=3), "can't be read as MIDI: its header says type 3"),
        (smf(CONDUCTOR, CHORDS, division=0x7FFF), ""),
        (smf(CONDUCTOR, CHORDS, division=0xE728), "can't be compared with a form: .* in frames"),
    ],
)
def test_formats_and_divisions(data: bytes, words: str) -> None:
    if not words:
        assert len(read_midi(data).tracks) == 2
        return
    with pytest.raises(BackingError, match=words):
        read_midi(data)


# SMF, Chunks: programs should expect alien chunks and skip them; the header's length must be
# honored, for it may grow. Meta-Events: one longer than expected is read as far as is known.
@pytest.mark.parametrize(
    "data",
    [
        WHOLE[:14] + chunk(b"XFIH", b"\x90\x40") + WHOLE[14:],
        WHOLE[:52] + chunk(b"MTxx", b"") + WHOLE[52:],
        WHOLE + chunk(b"XFKM", b"MTrk"),
        smf(CONDUCTOR, CHORDS, more=b"\xff\xff"),
        smf(CONDUCTOR.replace(b"\x51\x03\x07\xa1\x20", b"\x51\x05\x07\xa1\x20\x01\x02"), CHORDS),
        smf(
            CONDUCTOR.replace(b"\x58\x04\x04\x02\x18\x08", b"\x58\x05\x04\x02\x18\x08\x01"), CHORDS
        ),
        smf(meta(0x7E, b"unknown") + CONDUCTOR, CHORDS),
    ],
    ids=["first", "between", "last", "header", "tempo", "meter", "meta"],
)
def test_what_is_to_be_skipped_changes_nothing(data: bytes) -> None:
    assert data != WHOLE
    assert by_summing(data) == by_summing(WHOLE)


# SMF, MTrk: sysex and meta events cancel running status, which may not go on after them; a
# variable-length quantity has at most four bytes; a tempo has three, a time signature four.
@pytest.mark.parametrize(
    "events",
    [
        "00 90 3C 40  00 FF 01 00  00 3C 00",
        "00 90 3C 40  00 F0 01 F7  00 3C 00",
        "FF FF FF FF 7F 90 3C 40",
        "00 FF 51 02 07 A1",
        "00 FF 58 03 04 02 18",
    ],
)
def test_what_the_grammar_forbids_is_refused(events: str) -> None:
    with pytest.raises(BackingError, match="can't be read as MIDI: at byte "):
        read_midi(smf(bytes.fromhex(events) + ENDED))


# Against mido.

KINDS = {
    "text": 0x01,
    "track_name": 0x03,
    "marker": 0x06,
    "set_tempo": 0x51,
    "time_signature": 0x58,
}


def by_mido(data: bytes) -> list[tuple[list[tuple[int, ...]], list[tuple[int, int, object]], int]]:
    """Each track's notes, meta events and end."""
    tracks = []
    for track in mido.MidiFile(file=BytesIO(data)).tracks:
        tick, notes, metas = 0, [], []
        for message in track:
            tick += message.time
            if message.type == "note_on":
                notes.append((tick, message.channel, message.note, message.velocity))
            elif message.type == "note_off":
                notes.append((tick, message.channel, message.note, 0))
            elif message.type in KINDS:
                metas.append((tick, KINDS[message.type], _value(message)))
            elif message.type == "unknown_meta":
                raise LosesTimeError
        tracks.append((notes, metas, tick))
    return tracks


class LosesTimeError(Exception):
    """mido 1.3.3 takes an unknown meta event's delta time for 0."""


def _value(message: mido.MetaMessage) -> object:
    if message.type == "set_tempo":
        return message.tempo
    if message.type == "time_signature":
        return message.numerator, message.denominator
    return message.name if message.type == "track_name" else message.text


def by_us(data: bytes) -> list[tuple[list[tuple[int, ...]], list[tuple[int, int, object]], int]]:
    def value(kind: int, content: bytes) -> object:
        if kind == 0x51:
            return int.from_bytes(content[:3], "big")
        return (content[0], 2 ** content[1]) if kind == 0x58 else content.decode("latin-1")

    return [
        (
            list(track.notes()),
            [
                (tick, kind, value(kind, content))
                for tick, kind, content in track.metas
                if kind in KINDS.values()
            ],
            track.end,
        )
        for track in read_midi(data).tracks
    ]


def test_time_goes_on_at_an_unknown_meta_event() -> None:
    """SMF: every event has its delta time. mido can't be asked here."""
    data = smf(meta(0x7E, b"?", b"\x83\x00") + meta(0x06, b"A") + ENDED)
    (track,) = read_midi(data).tracks
    assert track.metas == [(384, 0x06, b"A")]
    assert track.end == 384 + 768
    with pytest.raises(LosesTimeError):
        by_mido(data)
    assert mido.MidiFile(file=BytesIO(data)).tracks[0][0].time == 0  # the day it isn't: ask it


def test_built_files_are_read_as_mido_reads_them() -> None:
    for source in sources():
        assert by_us(source.data) == by_mido(source.data)


def test_spoiled_files_are_read_as_mido_reads_them_or_refused() -> None:
    """Where both can read a file, they read the same; each refuses some that the other reads."""
    both = 0
    for number in range(800):
        _, data = mutant(number)
        try:
            ours = by_us(data)
        except BackingError:
            continue
        try:
            theirs = by_mido(data)
        except Exception:  # it raises many kinds
            continue
        both += 1
        assert ours == theirs, f"mutant {number}"
    assert both > 200
