"""The checker can fail: for every rule, one file broken by hand that it catches."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from soundness import RULES, check_sound

# A sound file, each track as its events in hex: click and drums share the percussion channel.
CONDUCTOR = (
    "00 FF 03 01 53",  # title "S"
    "00 FF 51 03 07 A1 20",  # 120 quarters a minute
    "00 FF 58 04 04 02 18 08",  # 4/4
    "00 FF 06 01 41",  # marker "A"
    "00 F0 05 7E 7F 09 01 F7",  # General MIDI on
    "60 FF 51 03 09 27 C0",  # 100 quarters a minute on tick 96
    "60 FF 2F 00",
)
GUITAR = (
    "00 FF 03 01 47",  # name "G"
    "00 C0 19",
    "00 B0 07 64",
    "00 B0 0A 40",
    "00 B0 5B 20",
    "00 90 3C 50",
    "60 80 3C 40",
    "00 90 3C 50",
    "60 80 3C 40",
    "00 FF 2F 00",
)
BASS = (
    "00 FF 03 01 42",  # name "B"
    "00 C1 20",
    "00 B1 07 64",
    "00 B1 0A 40",
    "00 B1 5B 20",
    "00 91 28 50",
    "81 40 81 28 40",
    "00 FF 2F 00",
)
CLICK = ("00 FF 03 01 4B", "00 99 4C 70", "30 89 4C 40", "81 10 FF 2F 00")
DRUMS = ("00 FF 03 01 44", "60 99 4C 70", "30 89 4C 40", "30 FF 2F 00")
LEAD = (
    "00 FF 03 01 4C",  # name "L"
    "00 C3 1B",
    "00 B3 07 64",
    "00 B3 0A 40",
    "00 B3 5B 20",
    *("00 B3 65 00", "00 B3 64 00", "00 B3 06 18", "00 B3 26 00"),  # a range of 24 semitones
    *("00 B3 65 7F", "00 B3 64 7F"),
    "00 E3 00 40",  # at rest
    "00 93 40 50",
    "60 E3 00 50",
    "30 83 40 40",
    "00 E3 00 40",
    "00 93 40 50",
    "30 83 40 40",
    "00 FF 2F 00",
)
SOUND = (CONDUCTOR, GUITAR, BASS, CLICK, DRUMS, LEAD)


def smf(tracks: Iterable[Iterable[str]], kind: int = 1) -> bytes:
    bodies = [bytes.fromhex("".join(track)) for track in tracks]
    head = (kind, len(bodies), 96)
    return b"".join(
        [b"MThd\0\0\0\6", *(field.to_bytes(2, "big") for field in head)]
        + [b"MTrk" + len(body).to_bytes(4, "big") + body for body in bodies]
    )


def broken(track: int, old: str, new: str) -> bytes:
    """The sound file with the first `old` in a track, commas between events, as `new`."""
    joined = ",".join(SOUND[track])
    assert old in joined
    tracks = [list(events) for events in SOUND]
    tracks[track] = joined.replace(old, new, 1).split(",")
    return smf(tracks)


# Rule, track, what is there, what stands there instead.
BROKEN = [
    # 268,435,456 ticks, one more than a file has room for, in five bytes.
    ("deltas in range", 0, "60 FF 2F 00", "81 80 80 80 00 FF 2F 00"),
    ("one end of track, last", 1, "00 FF 2F 00", "00 FF 2F 00,00 FF 2F 00"),
    ("one end of track, last", 1, ",00 FF 2F 00", ""),
    ("tracks end together", 2, "00 FF 2F 00", "01 FF 2F 00"),
    ("metas first", 0, "60 FF 51 03 09 27 C0", "00 FF 06 01 42,60 FF 51 03 09 27 C0"),
    ("note-offs first", 1, "60 80 3C 40,00 90 3C 50,60 80 3C", "60 90 3D 50,00 80 3C 40,60 80 3D"),
    ("balanced notes", 2, "81 40 81 28 40,00", "81 40"),
    ("balanced notes", 2, "00 FF 2F 00", "00 81 28 40,00 FF 2F 00"),
    ("no zero-length note", 2, "00 FF 2F 00", "00 91 28 50,00 81 28 40,00 FF 2F 00"),
    ("one sounding note of a pitch", 1, "60 80 3C 40,00 90 3C 50,60", "60 90 3C 50,01 80 3C 40,5F"),
    ("one sounding note of a pitch", 4, "60 99 4C 70,30 89 4C 40,30", "20 99 4C 70,30 89 4C 40,70"),
    ("one sounding note of a pitch", 4, "60 99 4C 70,30 89 4C 40,30", "30 99 4C 70,30 89 4C 40,60"),
    ("one change a tick", 0, "00 FF 51", "00 FF 51 03 09 27 C0,00 FF 51"),
    ("one change a tick", 0, "00 FF 58", "00 FF 58 04 03 02 18 08,00 FF 58"),
    ("one change a tick", 0, "00 FF 58", "00 FF 59 02 00 00,00 FF 59 02 01 00,00 FF 58"),
    ("the conductor's events on the first track", 1, "60 80", "01 FF 51 03 09 27 C0,5F 80"),
    ("the conductor's events on the first track", 1, "60 80", "01 FF 58 04 04 02 18 08,5F 80"),
    ("one channel a part", 1, "60 80 3C 40,00 90", "5F 92 40 50,01 82 40 40,00 80 3C 40,00 90"),
    ("one channel a part", 2, "00 91 28 50,81 40 81", "00 90 28 50,81 40 80"),
    ("bare percussion", 3, "00 99", "00 B9 07 64,00 99"),
    ("bare percussion", 3, "00 99", "00 B9 0A 40,00 99"),
    ("bare percussion", 3, "00 99", "00 C9 00,00 99"),
    ("program, volume, pan and reverb at the start", 2, "00 C1 20,", ""),
    ("program, volume, pan and reverb at the start", 2, "00 B1 07 64,", ""),
    ("program, volume, pan and reverb at the start", 2, "00 B1 0A 40,", ""),
    ("wheels set and at rest", 5, "00 B3 06 18,", ""),
    ("wheels set and at rest", 5, "00 B3 06 18", "00 B3 06 02"),
    ("wheels set and at rest", 5, "00 B3 65 00,00 B3 64 00,", "00 B3 64 00,00 B3 65 00,"),
    ("wheels set and at rest", 5, "00 E3 00 40,00 93 40 50,60", "00 93 40 50,60"),
    ("wheels set and at rest", 5, "00 E3 00 40,00 93 40 50,30", "00 93 40 50,30"),
    ("wheels set and at rest", 5, "60 E3 00 50", "60 E3 00 48,00 E3 00 50"),
    ("wheels set and at rest", 5, "00 E3 00 40,00 93 40 50,30", "00 93 40 50,00 E3 00 40,30"),
    ("sounds set before notes", 1, "60 80 3C 40,00 90 3C 50", "60 80 3C 40,00 90 3C 50,00 C0 18"),
    (
        "sounds set before notes",
        1,
        "60 80 3C 40,00 90 3C 50",
        "60 80 3C 40,00 90 3C 50,00 B0 07 10",
    ),
    ("sounds set before notes", 1, "60 80 3C", "60 B0 07 10,00 B0 07 20,00 80 3C"),
    ("sounds set before notes", 1, "60 80 3C", "60 C0 18,00 C0 1B,00 80 3C"),
    ("named tracks", 4, "00 FF 03 01 44,", ""),
    ("named tracks", 1, "00 FF 03 01 47,", "00 FF 03 01 47,00 FF 03 01 48,"),
    ("General MIDI on first", 0, "00 F0 05 7E 7F 09 01 F7,", ""),
    ("General MIDI on first", 0, "60 FF 51", "01 F0 05 7E 7F 09 01 F7,5F FF 51"),
]
# Where the break can't help breaking a second rule too.
BESIDES = {
    "deltas in range": {"tracks end together"},
    "one channel a part": {"program, volume, pan and reverb at the start"},
    "no zero-length note": {"note-offs first"},
}


def test_the_sound_file_breaks_nothing() -> None:
    assert check_sound(smf(SOUND)) == []


@pytest.mark.parametrize(("rule", "track", "old", "new"), BROKEN)
def test_a_broken_rule_is_named(rule: str, track: int, old: str, new: str) -> None:
    named = {problem.split(":")[0] for problem in check_sound(broken(track, old, new))}
    assert rule in named
    assert named <= {rule} | BESIDES.get(rule, set())


def test_every_rule_has_a_broken_file() -> None:
    assert {rule for rule, *_ in BROKEN} == set(RULES)


@pytest.mark.parametrize(
    "data",
    [b"", smf(SOUND)[:-6], smf(SOUND) + b"\0", smf(SOUND, kind=2), smf([*SOUND, ["00"]])],
    ids=["empty", "cut short", "left over", "type 2", "no event"],
)
def test_a_file_that_cannot_be_read_is_named(data: bytes) -> None:
    assert any(problem.startswith("readable:") for problem in check_sound(data))
