"""Worked examples of rounds: build-ups, and where a ladder counts in."""

from __future__ import annotations

from fractions import Fraction

from backing.form import read_form_text
from backing.practice import Stretch, Version, describe, play_version
from backing.practice.steps import steps
from backing.verify.expected.practice_maths import expect_version

SONG = """\
title: Stairs
tempo: 120
human: 0
parts: {bass: off}
sections:
  verse: {bars: "| A | D | E | A |", words: "| one | two | three | four |"}
form: [verse]
"""


def played(version: Version, first: int = 1, last: int = 4) -> list[tuple[int, int, int]]:
    """The bars of each round, and the bars that count before it."""
    return [(step.first, step.last, step.counted) for step in steps(version, first, last)]


def test_from_the_front_and_from_the_end() -> None:
    assert played(Version(build_up="front"), 3, 5) == [(3, 3, 0), (3, 4, 0), (3, 5, 0)]
    assert played(Version(build_up="end")) == [(4, 4, 0), (3, 4, 0), (2, 4, 0), (1, 4, 0)]


def test_each_step_is_played_so_often_and_counted_in_where_it_is_asked() -> None:
    version = Version(build_up="front", loop=2, between=1)
    assert played(version, 1, 2) == [(1, 1, 0), (1, 1, 1), (1, 2, 1), (1, 2, 1)]


def test_a_ladder_counts_in_where_the_speed_changes() -> None:
    speeds = (Fraction(3, 5), Fraction(4, 5))
    version = Version(speeds, loop=3, between=1)
    assert [step.counted for step in steps(version, 1, 4)] == [0, 0, 0, 1, 0, 0]
    build = version._replace(loop=1, build_up="end")
    assert [(step.speed, *rest) for step, rest in zip(
        steps(build, 1, 2), played(build, 1, 2), strict=True
    )] == [
        (speeds[0], 2, 2, 0), (speeds[0], 1, 2, 0), (speeds[1], 2, 2, 1), (speeds[1], 1, 2, 0),
    ]  # fmt: skip


def test_markers_name_each_step_and_words_come_with_their_bars() -> None:
    version = Version(build_up="front", stretch=Stretch(bars=(2, 4)))
    score = play_version(read_form_text(SONG), version).score
    # One bar of count-in, then 1 + 2 + 3 bars of a whole note.
    assert [(place, text) for place, text in score.markers] == [
        (0, "Count-in"),
        (1, "Verse, bar 2, round 1 of 3"),
        (2, "Verse, bars 2-3, round 2 of 3"),
        (4, "Verse, bars 2-4, round 3 of 3"),
    ]
    assert [(place, text.strip()) for place, text in score.words] == [
        (1, "two"), (2, "two"), (3, "three"), (4, "two"), (5, "three"), (6, "four"),
    ]  # fmt: skip
    assert describe(version) == "bars 2-4, build-up from the front"


def test_seconds_of_a_build_up_on_a_ladder() -> None:
    version = Version((Fraction(1, 2), Fraction(1)), build_up="end", between=1)
    expected = expect_version(read_form_text(SONG), version)
    # At 120 a bar lasts 2 s: 10 bars at half speed, a bar of count-in and 10 bars at full speed.
    assert expected.rounds == 8
    assert expected.seconds == 10 * 4 + 2 + 10 * 2
    assert expected.count_in_s == 4


def test_no_round_loses_its_first_notes() -> None:
    """Each string of a gapless round's first stroke sounds for as long as in a round that is
    counted in and exact, or for longer where the next stroke misses it."""
    (exact, *_), played = first_lengths(0), first_lengths(100)
    assert len(exact) == 5  # an open A chord
    for lengths in played:
        assert lengths.keys() == exact.keys()
        for string, length in lengths.items():
            assert length > exact[string] - Fraction(1, 16), string
    assert any(lengths != played[0] for lengths in played)


def first_lengths(human: int) -> list[dict[int | None, Fraction]]:
    """How long each string of a round's first stroke sounds, for each of four rounds."""
    form = read_form_text(SONG.replace("human: 0", f"human: {human}"))
    score = play_version(form, Version(loop=4), seed=3).score
    (guitar,) = (track for track in score.tracks if track.part == "guitar")
    return [
        {
            note.string: note.end_whole - note.start_whole
            for note in guitar.notes
            if abs(note.start_whole - (1 + 4 * number)) < Fraction(1, 12)
        }
        for number in range(4)
    ]
