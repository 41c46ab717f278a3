"""Which voices of a file play which part: by their notes, whatever their names and channels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import pytest

from backing.verify.comparison.leeway import Leeway
from backing.verify.comparison.voices import Assignment, assign
from backing.verify.expected.moments import Moment, mask
from backing.verify.readers.voices import ChannelSettings, Notes, Voice

E_MINOR, G, D = (4, 7, 11), (7, 11, 2), (2, 6, 9)
CHORDS = (E_MINOR, G, D, G) * 8
EAR = Leeway("a test", 0.01, lambda at_s: 0.001)


class Playing(NamedTuple):
    """What a part must play, as far as finding its voices goes."""

    part: str
    moments: tuple[Moment, ...]


class Strike(NamedTuple):
    at_s: float
    pitch: int


def strums(step_s: float, late_s: float = 0.0) -> list[Strike]:
    """Chords of two seconds each, three strings a stroke, ten milliseconds apart."""
    return [
        Strike(2 * number + index * step_s + string / 100 + late_s, 48 + tone)
        for number, chord in enumerate(CHORDS)
        for index in range(int(2 / step_s))
        for string, tone in enumerate(chord)
    ]


def roots(step_s: float) -> list[Strike]:
    return [
        Strike(2 * number + index * step_s, 36 + chord[0])
        for number, chord in enumerate(CHORDS)
        for index in range(int(2 / step_s))
    ]


def pads() -> list[Strike]:
    return [
        Strike(2.0 * number, 60 + tone) for number, chord in enumerate(CHORDS) for tone in chord
    ]


def voice(
    strikes: Sequence[Strike], name: str = "", channel: int = 0, program: int | None = None
) -> Voice:
    ordered = sorted(strikes)
    notes = Notes(
        [each.at_s for each in ordered],
        [each.at_s + 0.2 for each in ordered],
        [each.pitch for each in ordered],
        [80] * len(ordered),
    )
    programs = [] if program is None else [(0.0, program)]
    return Voice(name, channel, notes, ChannelSettings(programs=programs))


def playing(part: str, step_s: float, only_root: bool = False) -> Playing:
    moments = [
        Moment(2 * number + index * step_s, mask(chord[:1] if only_root else chord))
        for number, chord in enumerate(CHORDS)
        for index in range(int(2 / step_s))
    ]
    return Playing(part, tuple(moments))


BASS = playing("bass", 1.0, only_root=True)
GUITAR = playing("guitar", 0.5)
LEAD = playing("lead", 0.5)
PAD = playing("pad", 2.0)
DRUMS = Playing("drums", tuple(Moment(index / 4, mask((36, 42))) for index in range(256)))


def assign_to(parts: Sequence[Playing], voices: Sequence[Voice], **more: Any) -> Assignment:
    band: Any = {part.part: part for part in parts}
    return assign(band, voices, EAR, **more)


def names(assigned: Assignment) -> dict[str, list[str]]:
    return {part: [voice.name for voice in voices] for part, voices in assigned.parts.items()}


def says(assigned: Assignment) -> list[str]:
    return [fault.says for fault in assigned.faults]


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 0, 2)])
@pytest.mark.parametrize(
    "titles", [("Bass", "Guitar", "Pad"), ("", "", ""), ("Guitar", "Pad", "Bass"), ("x", "y", "z")]
)
def test_parts_are_found_whatever_their_names(
    titles: tuple[str, str, str], order: tuple[int, int, int]
) -> None:
    """All fit the guitar's strokes, too, so it isn't enough to fit."""
    bass, guitar, pad = (
        voice(strikes, title, channel)
        for channel, (strikes, title) in enumerate(
            zip((roots(1.0), strums(0.5), pads()), titles, strict=True)
        )
    )
    assigned = assign_to([BASS, GUITAR, PAD], [(bass, guitar, pad)[index] for index in order])
    assert {part: list(voices) for part, voices in assigned.parts.items()} == {
        "bass": [bass], "guitar": [guitar], "pad": [pad],
    }  # fmt: skip
    assert says(assigned) == []


def test_two_guitars_alike_are_two_parts() -> None:
    one, other = voice(strums(0.5), "one"), voice(strums(0.5, 0.004), "other", 1)
    assigned = assign_to([GUITAR, LEAD], [one, other])
    assert names(assigned) == {"guitar": ["one"], "lead": ["other"]}


def test_names_decide_between_two_guitars_alike_and_programs_next() -> None:
    guitar, lead = voice(strums(0.5), "Guitar", 1), voice(strums(0.5, 0.004), "Lead")
    assigned = assign_to([GUITAR, LEAD], [lead, guitar])
    assert names(assigned) == {"guitar": ["Guitar"], "lead": ["Lead"]}
    unnamed, bass = voice(roots(0.5), "a", 0, 0), voice(roots(0.5), "b", 1, 33)
    both = [playing("bass", 0.5, only_root=True), playing("pad", 0.5, only_root=True)]
    assert names(assign_to(both, [unnamed, bass])) == {"bass": ["b"], "pad": ["a"]}


def test_a_part_split_over_tracks_is_one_part() -> None:
    """By time, as where its program changes, and by strings."""
    strikes = sorted(strums(0.5))
    halves = [voice(strikes[:200], "a"), voice(strikes[200:], "b", 1)]
    assigned = assign_to([BASS, GUITAR], [*halves, voice(roots(1.0), "c", 2)])
    assert names(assigned) == {"guitar": ["a", "b"], "bass": ["c"]}
    assert len(assigned.notes("guitar").starts) == len(strikes)
    strings = [voice(strikes[string::3], f"s{string}", string, 25) for string in range(3)]
    assigned = assign_to([BASS, GUITAR], [*strings, voice(roots(1.0), "c", 3, 33)])
    assert sorted(names(assigned)["guitar"]) == ["s0", "s1", "s2"]
    assert says(assigned) == []


def test_a_part_played_twice_is_one_fault() -> None:
    assigned = assign_to(
        [BASS, GUITAR],
        [voice(strums(0.5), "a"), voice(strums(0.5), "b", 1), voice(roots(1.0), "c", 2)],
    )
    assert names(assigned) == {"guitar": ["a"], "bass": ["c"]}
    assert says(assigned) == ["the guitar is played twice, by the tracks 'a' and 'b'"]


def test_what_fits_no_part_is_named_with_its_notes() -> None:
    flute = voice([Strike(0.37 + number * 1.21, 61) for number in range(50)], "Flute", 4)
    assigned = assign_to(
        [BASS, GUITAR], [voice(strums(0.5), "a"), voice(roots(1.0), "b", 1), flute]
    )
    assert says(assigned) == ["a track plays that the form doesn't have: 'Flute', 50 notes"]
    assert assigned.unassigned == 50


def test_a_named_part_with_wrong_notes_is_still_that_part() -> None:
    """So its own comparison says which notes are wrong."""
    higher = [Strike(each.at_s, each.pitch + 1) for each in strums(0.5)]
    for wrong in (voice(higher, "Guitar"), voice(higher, "x", 0, 25)):
        assigned = assign_to([BASS, GUITAR], [wrong, voice(roots(1.0), "b", 1)])
        assert assigned.parts["guitar"] == [wrong]
        assert says(assigned) == []


def test_a_part_that_a_version_leaves_out_is_named() -> None:
    voices = [voice(strums(0.5), "a"), voice(roots(1.0), "b", 1)]
    assigned = assign_to([BASS, PAD], voices, left_out=lambda: {"guitar": GUITAR})
    assert names(assigned) == {"bass": ["b"]}
    assert says(assigned) == ["the guitar plays, which this version leaves out"]
    assigned = assign_to([GUITAR], voices, left_out=lambda: {"bass": BASS})
    assert names(assigned) == {"guitar": ["a"]}
    assert says(assigned) == ["the bass plays, which this version leaves out"]


def test_left_out_parts_are_asked_for_only_where_a_voice_is_left() -> None:
    def never() -> dict[str, Playing]:
        raise AssertionError

    voices = [voice(strums(0.5), "Guitar"), voice(roots(1.0), "Bass", 1)]
    assert says(assign_to([BASS, GUITAR], voices, left_out=never)) == []


def test_percussion_is_what_is_on_channel_10() -> None:
    beat = [Strike(index / 4, 42) for index in range(200)]
    for channel, expected in (
        (9, []), (2, ["the drums are on channel 3, where they sound as pitched notes"]),
    ):  # fmt: skip
        assigned = assign_to([BASS, DRUMS], [voice(beat, "x", channel), voice(roots(1.0), "b", 1)])
        assert names(assigned) == {"bass": ["b"]}
        assert len(assigned.percussion_notes.starts) == 200
        assert says(assigned) == expected
