"""The writer: its bytes, its rules, and a random family of scores that it must keep sound."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from math import floor
from typing import Any

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from soundness import check_sound, placed, scores, sounding

from backing.errors import BackingError
from backing.midi.writer import TICKS_PER_QUARTER, meter_bytes, tempo_bytes, ticks, to_bytes
from backing.score import Bend, KeyChange, MeterChange, Note, Score, TempoChange, Track, Words
from backing.theory.keys import parse_key
from backing.theory.rhythm import parse_meter

# One bar of 3/4 at 100 in D minor: a marker, a chord, a guitar note, a click.
TINY_HEX = """
4D 54 68 64  00 00 00 06  00 01  00 04  03 C0   # MThd, 6 bytes: type 1, 4 tracks, 960 a quarter

4D 54 72 6B  00 00 00 34                        # MTrk, 52 bytes: the conductor
00 FF 03 05  57 61 6C 74 7A                     # title "Waltz"
00 FF 51 03  09 27 C0                           # 600,000 microseconds a quarter
00 FF 58 04  03 02 18 08                        # 3/4, a click every 24 MIDI clocks
00 FF 59 02  FF 01                              # one flat, minor
00 FF 06 05  56 65 72 73 65                     # marker "Verse"
00 F0 05     7E 7F 09 01 F7                     # General MIDI on
96 40 FF 2F 00                                  # end of track after 2880 ticks

4D 54 72 6B  00 00 00 15                        # MTrk, 21 bytes: chord names
00 FF 03 06  43 68 6F 72 64 73                  # name "Chords"
00 FF 01 02  44 6D                              # text "Dm"
96 40 FF 2F 00                                  # end

4D 54 72 6B  00 00 00 25                        # MTrk, 37 bytes: the guitar
00 FF 03 06  47 75 69 74 61 72                  # name "Guitar"
00 C0 19                                        # channel 1: program 25, steel-string guitar
00 B0 07 50                                     # volume 80, a steel guitar in balance
00    0A 2C                                     # pan 44, 20 left of the middle (running status)
00    5B 00                                     # reverb 0
00 90 32 50                                     # D3 on
87 40 80 32 40                                  # off after a quarter, 960 ticks
8F 00 FF 2F 00                                  # end, 1920 ticks later

4D 54 72 6B  00 00 00 18                        # MTrk, 24 bytes: the click
00 FF 03 05  43 6C 69 63 6B                     # name "Click"
87 40 99 4C 71                                  # channel 10: high wood block on at beat 2
83 60 89 4C 40                                  # off after an eighth, 480 ticks
8B 20 FF 2F 00                                  # end, 1440 ticks later
"""

QUARTER = Fraction(1, 4)
COMMON = parse_meter("4/4")
# A busy machine must not make this fail.
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def from_hex(commented: str) -> bytes:
    return bytes.fromhex("".join(line.split("#")[0] for line in commented.splitlines()))


def guitar(*notes: Note, name: str = "Guitar") -> Track:
    return Track("guitar", name, 25, 100, -20, notes)


def drums(*notes: Note, name: str = "Drums") -> Track:
    return Track("drums", name, None, 100, 0, notes)


def song(*tracks: Track, quarters: int = 8) -> Score:
    return Score(
        title="Song",
        tracks=tracks,
        tempos=(TempoChange(Fraction(0), Fraction(120)),),
        meters=(MeterChange(Fraction(0), COMMON),),
        markers=(),
        chords=(),
        keys=(),
        end_whole=quarters * QUARTER,
    )


def note(start: float, end: float, pitch: int = 60, velocity: int = 80) -> Note:
    """A note by its quarters."""
    return Note(Fraction(start) / 4, Fraction(end) / 4, pitch, velocity)


def read(score: Score) -> mido.MidiFile:
    data = to_bytes(score)
    assert check_sound(data) == []
    return mido.MidiFile(file=BytesIO(data))


def notes_of(score: Score) -> list[tuple[int, int, int | None, int]]:
    """(track, on, off, velocity) of every note, in ticks."""
    return [(n.track, n.on, n.off, n.velocity) for n in sounding(placed(read(score)))]


def test_a_tiny_score_byte_for_byte() -> None:
    tiny = Score(
        title="Waltz",
        tracks=(
            guitar(note(0, 1, 50)),
            Track("click", "Click", None, 90, 0, (note(1, 1.5, 76, 112),)),
        ),
        tempos=(TempoChange(Fraction(0), Fraction(100)),),
        meters=(MeterChange(Fraction(0), parse_meter("3/4")),),
        markers=(Words(Fraction(0), "Verse"),),
        chords=(Words(Fraction(0), "Dm"),),
        keys=(KeyChange(Fraction(0), parse_key("Dm")),),
        end_whole=3 * QUARTER,
    )
    assert to_bytes(tiny) == from_hex(TINY_HEX)


@settings(UNHURRIED, max_examples=150)
@given(scores())
def test_every_score_gives_a_sound_file(score: Score) -> None:
    assert check_sound(to_bytes(score)) == []


@settings(UNHURRIED, max_examples=150)
@given(scores())
def test_what_sounds_is_what_the_score_says(score: Score) -> None:
    """For each pitched part: the ticks struck, how loud, and the ticks that sound."""
    notes = sounding(placed(read(score)))
    for index, track in enumerate(score.tracks, start=2):
        if track.program is None:
            continue
        struck: dict[tuple[int, int], int] = {}
        sounds = set()
        for start, end, pitch, velocity, *_ in track.notes:
            on, off = (floor(place * 4 * 960 + Fraction(1, 2)) for place in (start, end))
            struck[pitch, on] = max(velocity, struck.get((pitch, on), 0))
            sounds |= {(pitch, tick) for tick in range(on, max(off, on + 1))}
        mine = [n for n in notes if n.track == index]
        assert {(n.pitch, n.on): n.velocity for n in mine} == struck
        assert {(n.pitch, tick) for n in mine for tick in range(n.on, n.off or 0)} == sounds


@settings(UNHURRIED, max_examples=100)
@given(scores())
def test_the_same_score_gives_the_same_bytes_and_keeps_its_words(score: Score) -> None:
    data = to_bytes(score)
    turned = tuple(track._replace(notes=track.notes[::-1]) for track in score.tracks)
    assert to_bytes(score._replace(tracks=turned)) == data
    tracks = mido.MidiFile(file=BytesIO(data)).tracks
    names = [message.name.encode("latin-1").decode("utf-8") for message in (t[0] for t in tracks)]
    assert names == [score.title, "Chords", *(track.name for track in score.tracks)]


@pytest.mark.parametrize("title", ["Мій зелений чайник", "緑のやかん", "Frère 🎸"])
def test_titles_survive_and_no_charset_is_switched(title: str) -> None:
    before = vars(mido.midifiles.meta)["_charset"]
    words = (Words(Fraction(0), title),)
    file = read(song(guitar(name=title))._replace(title=title, markers=words, chords=words))
    texts = [
        getattr(m, "name", getattr(m, "text", "")).encode("latin-1").decode()
        for track in file.tracks
        for m in track
        if m.type in ("track_name", "marker", "text")
    ]
    assert texts == [title, title, "Chords", title, title]
    assert vars(mido.midifiles.meta)["_charset"] == before == "latin1"


# Two notes of one pitch.


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ([note(0, 2), note(1, 3)], [(0, 960), (960, 2880)]),
        ([note(0, 4), note(1, 2)], [(0, 960), (960, 3840)]),
        ([note(1, 2), note(0, 4)], [(0, 960), (960, 3840)]),
        ([note(0, 1), note(1, 2)], [(0, 960), (960, 1920)]),
        ([note(0, 1), note(0, 2)], [(0, 1920)]),
        ([note(0, 6), note(1, 2), note(3, 4)], [(0, 960), (960, 2880), (2880, 5760)]),
        ([note(0, 0), note(1, 1)], [(0, 1), (960, 961)]),
    ],
    ids=["longer", "inside", "out of order", "touching", "together", "three", "no length"],
)
def test_a_restrike_ends_the_note_before(
    notes: list[Note], expected: list[tuple[int, int]]
) -> None:
    assert [(on, off) for _, on, off, _ in notes_of(song(guitar(*notes)))] == expected


def test_two_struck_together_are_as_loud_as_the_louder() -> None:
    assert notes_of(song(guitar(note(0, 1, 60, 70), note(0, 2, 60, 90)))) == [(2, 0, 1920, 90)]
    assert notes_of(song(guitar(note(0, 2, 60, 90), note(0, 1, 60, 70)))) == [(2, 0, 1920, 90)]


#: A kit's velocities in a file are 82% of what is played: 65.6 and 73.8.
SOFTER = {80: 65, 90: 73}


def test_tracks_that_share_channel_10_do_not_cut_each_other_off() -> None:
    score = song(drums(note(0, 1), note(4, 5, 60, 90)), drums(note(1, 2), note(3, 6)))
    first, second = (
        [(2, 0, 959, SOFTER[80]), (3, 960, 1920, SOFTER[80])],
        [(3, 2880, 3839, SOFTER[80]), (2, 3840, 5760, SOFTER[90])],
    )
    assert notes_of(score) == first + second
    together = song(drums(note(0, 1, 60, 70)), drums(note(0, 2, 60, 90)))
    assert notes_of(together) == [(2, 0, 1920, SOFTER[90])]


# Channels.


def test_channels_skip_the_tenth() -> None:
    tracks = [guitar(note(0, 1), name=f"part {n}") for n in range(15)]
    file = read(song(*tracks[:5], drums(note(0, 1)), *tracks[5:], drums(note(2, 3), name="Click")))
    used = [{m.channel for m in track if m.type == "note_on"} for track in file.tracks[2:]]
    pitched = [0, 1, 2, 3, 4, 9, 5, 6, 7, 8, 10, 11, 12, 13, 14, 15, 9]
    assert used == [{channel} for channel in pitched]


def test_a_sixteenth_pitched_part_is_refused() -> None:
    with pytest.raises(BackingError, match="15 pitched parts, not 16"):
        to_bytes(song(*(guitar(note(0, 1)) for _ in range(16))))


@pytest.mark.parametrize(("pan", "value"), [(-64, 0), (0, 64), (63, 127)])
def test_pan_and_volume(pan: int, value: int) -> None:
    track = read(song(guitar()._replace(pan=pan, volume=37))).tracks[2]
    controls = {m.control: m.value for m in track if m.type == "control_change"}
    assert controls == {7: 30, 10: value, 91: 0}  # 37% of 80, the steel guitar's volume


# Bends.


def wheel(score: Score) -> list[tuple[int, int]]:
    """(tick, value) of the wheel on the first part's track."""
    track = placed(read(score))[2]
    return [(p.tick, p.message.pitch) for p in track if p.message.type == "pitchwheel"]


def bent(*bends: tuple[float, Fraction | int]) -> Track:
    """A guitar with a note through four quarters, and bends by their quarters."""
    turned = tuple(Bend(Fraction(place) / 4, Fraction(semitones)) for place, semitones in bends)
    return guitar(note(0, 4))._replace(bends=turned)


def test_bends_are_written_byte_for_byte() -> None:
    data = to_bytes(song(bent((0, 0), (1, 2), (2, 0))))
    assert data.endswith(
        from_hex(
            """
            4D 54 72 6B  00 00 00 44        # 68 bytes
            00 FF 03 06  47 75 69 74 61 72  # name "Guitar"
            00 C0 19  00 B0 07 50  00 0A 2C # program, volume, pan
            00 5B 00                        # reverb
            00 65 00  00 64 00              # registered parameter 0, the bend range:
            00 06 18  00 26 00              # 24 semitones, 0 cents
            00 65 7F  00 64 7F              # no parameter
            00 E0 00 40                     # the wheel at rest: 0x2000
            00 90 3C 50                     # C4 on
            87 40 E0 2B 45                  # a quarter on: 8192 + 8192 * 2 / 24 = 8875 = 0x22AB
            87 40    00 40                  # and back
            8F 00 80 3C 40                  # C4 off
            9E 00 FF 2F 00
            """
        )
    )


def test_a_track_without_bends_has_no_wheel_and_no_range() -> None:
    track = read(song(guitar(note(0, 1)))).tracks[2]
    assert not [m for m in track if m.type == "pitchwheel"]
    assert [m.control for m in track if m.type == "control_change"] == [7, 10, 91]


@pytest.mark.parametrize(
    ("semitones", "value"),
    [(2, 683), (-2, -683), (Fraction(1, 2), 171), (24, 8191), (-24, -8192), (12, 4096)],
)
def test_the_wheel_is_rounded_to_its_nearest_step(semitones: Fraction | int, value: int) -> None:
    assert wheel(song(bent((1, semitones)))) == [(0, 0), (960, value), (7680, 0)]


def test_the_bend_said_last_on_a_tick_is_kept() -> None:
    hair = 1 / 4096
    assert wheel(song(bent((1, 1), (1 + hair, 2), (2, 0)))) == [(0, 0), (960, 683), (1920, 0)]
    assert wheel(song(bent((2, 0), (1, 2)))) == [(0, 0), (960, 683), (1920, 0)]  # in any order


@pytest.mark.parametrize("bend", [(9, 1), (-1, 1), (1, 25), (1, -25)])
def test_bends_no_file_can_hold_are_refused(bend: tuple[float, int]) -> None:
    with pytest.raises(BackingError, match="bend"):
        to_bytes(song(bent(bend)))


def test_percussion_that_bends_is_refused() -> None:
    with pytest.raises(BackingError, match="percussion"):
        to_bytes(song(drums(note(0, 1))._replace(bends=(Bend(Fraction(0), Fraction(1)),))))


# Rounding, tempos and meters.


def test_a_thousand_triplets_end_on_the_exact_tick() -> None:
    step = Fraction(1, 12) + Fraction(1, 7 * 3840)  # a triplet and a seventh of a tick
    notes = [Note(i * step, (i + 1) * step, 60, 80) for i in range(1000)]
    ons = [on for _, on, _, _ in notes_of(song(guitar(*notes), quarters=400))]
    assert ons == [floor(i * (320 + Fraction(1, 7)) + Fraction(1, 2)) for i in range(1000)]
    assert notes_of(song(guitar(*notes), quarters=400))[-1][2] == 320_143
    assert [ticks(Fraction(i, 12)) for i in range(1001)] == [320 * i for i in range(1001)]


@pytest.mark.parametrize(
    ("tick", "rounded"),
    [(Fraction(1, 2), 1), (Fraction(49, 100), 0), (Fraction(3, 2), 2), (Fraction(-1, 2), 0)],
)
def test_half_a_tick_goes_up(tick: Fraction, rounded: int) -> None:
    assert ticks(tick / (4 * TICKS_PER_QUARTER)) == rounded


@pytest.mark.parametrize(
    ("bpm", "microseconds"),
    [
        (Fraction(120), 500_000),
        (Fraction(92), 652_174),  # 652,173.9: cutting it off would lose most of a microsecond
        (Fraction(7), 8_571_429),  # 8,571,428.6
        (Fraction(60_000_000 * 2, 1_000_001), 500_001),  # 500,000.5
        (Fraction(60_000_000), 1),
    ],
)
def test_tempo_is_rounded_never_cut_off(bpm: Fraction, microseconds: int) -> None:
    assert int.from_bytes(tempo_bytes(bpm), "big") == microseconds


@pytest.mark.parametrize("bpm", [Fraction(0), Fraction(-60), Fraction(3), Fraction(10**9)])
def test_a_tempo_no_file_can_hold_is_refused(bpm: Fraction) -> None:
    with pytest.raises(BackingError, match="a tempo of"):
        tempo_bytes(bpm)


def test_the_last_of_two_changes_on_a_tick_is_kept() -> None:
    hair = Fraction(1, 10**6)
    score = song()._replace(
        tempos=tuple(
            TempoChange(start, Fraction(bpm))
            for start, bpm in ((Fraction(0), 60), (Fraction(1), 90), (1 + hair, 100))
        ),
        meters=(MeterChange(Fraction(0), COMMON), MeterChange(hair, parse_meter("3/4"))),
    )
    conductor = placed(read(score))[0]
    tempos = [(p.tick, p.message.tempo) for p in conductor if p.message.type == "set_tempo"]
    assert tempos == [(0, 1_000_000), (3840, 600_000)]
    counts = [p.message.numerator for p in conductor if p.message.type == "time_signature"]
    assert counts == [3]


@pytest.mark.parametrize(
    ("meter", "clocks"),
    [
        ("2/2", 48),
        ("5/4", 24),
        ("3/8", 12),
        ("5/8", 12),
        ("7/8 (3+2+2)", 12),
        ("8/8 (4+4)", 48),
        ("11/16 (3+3+3+2)", 6),
        ("4/1", 96),
        ("48/8 (24+24)", 12),
    ],
)
def test_metronome_clocks(meter: str, clocks: int) -> None:
    assert meter_bytes(parse_meter(meter))[2] == clocks


# What is refused.


@pytest.mark.parametrize(
    "wrong",
    [
        note(2, 1),
        note(-1, 1),
        note(7, 9),
        note(8, 8),
        note(0, 1, 128),
        note(0, 1, -1),
        note(0, 1, 60, 0),
        note(0, 1, 60, 128),
    ],
    ids=["backward", "before", "after", "at the end", "high", "low", "silent", "loud"],
)
def test_notes_no_file_can_hold_are_refused(wrong: Note) -> None:
    with pytest.raises(BackingError, match="Guitar: a note of pitch"):
        to_bytes(song(guitar(note(0, 1), wrong)))


@pytest.mark.parametrize("change", [{"pan": 64}, {"pan": -65}, {"volume": 128}, {"program": 128}])
def test_settings_out_of_range_are_refused(change: dict[str, Any]) -> None:
    with pytest.raises(BackingError, match="outside the range"):
        to_bytes(song(guitar()._replace(**change)))


def test_a_marker_after_the_end_is_refused() -> None:
    with pytest.raises(BackingError, match="a step of"):
        to_bytes(song()._replace(markers=(Words(Fraction(3), "late"),)))
