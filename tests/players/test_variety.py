"""Phrases of four bars: no bar is played again and again, and every choice is the form's."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest
from players.test_drums import METERS, form

from backing.players.drum_beats import beat_hits
from backing.theory.built_in_beats import BEATS, DRUMS, LEVELS
from backing.theory.rhythm import parse_meter

#: The most that one bar may make up of a song of 32 bars or more.
MOST = 0.7


@pytest.mark.parametrize("row", BEATS, ids=lambda row: f"{row.name} {row.meters[0]}")
def test_the_lines_of_a_phrase_fit_those_of_the_beat(row) -> None:
    length = len(row.lines[0][1])
    for lines in (row.second, row.fourth):
        assert lines
        assert {voice for voice, _ in lines} <= set(DRUMS)
        assert {len(line) for _, line in lines} == {length}
        assert {*"".join(line for _, line in lines)} <= {*"Xxo-"}


def bars_of_a_phrase(name: str | None, text: str, level: str, straight: bool) -> list[set]:
    meter = parse_meter(text)
    return [
        {hit[:2] for hit in beat_hits(name, meter, level, place, straight)} for place in range(4)
    ]


FITTING = [(row.name, text) for row in BEATS for text in row.meters]


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("name", "text"), [*FITTING, *((None, text) for text in METERS)])
def test_the_second_and_fourth_bar_differ_from_the_others(
    name: str | None, text: str, level: str
) -> None:
    for straight in (True, False):
        first, second, third, fourth = bars_of_a_phrase(name, text, level, straight)
        assert first == third
        assert second != first
        assert fourth != first


def share_of_the_commonest(song) -> float:
    """The share of bars with the commonest strokes, at their places and on their drums."""
    bars: Counter[object] = Counter()
    notes = song.notes("drums")
    for bar in song.timeline.bars:
        bars[
            tuple(
                (note.start_whole - bar.start_whole, note.pitch)
                for note in notes
                if bar.start_whole <= note.start_whole < bar.end_whole
            )
        ] += 1
    return max(bars.values()) / len(song.timeline.bars)


@pytest.mark.parametrize(
    ("bars", "play"),
    [
        ("| A |", "a x40"),
        ("| A |", ", ".join(["a", "b"] * 16)),
        ("| A | D |", "a x16"),
        ("| A | D | E |", "a x6, b x6"),
        ("| A | D | E | A |", "a x8"),
        ("| A | D | E | A | D |", "a x7"),
        ("| A | D | E | A | D | E | D |", "a x5"),
        ("| A | D | E | A | D | E | D | A |", ", ".join(["a bars 3-3"] * 33)),
        ("| A | D | E | A | D | E | D | A |", ", ".join(["a bars 1-5", "b bars 1-1"] * 6)),
    ],
)
def test_no_bar_is_most_of_a_song(played: Callable, bars: str, play: str) -> None:
    song = played(form(bars, "{fill: off}", play=play))
    assert len(song.timeline.bars) >= 32
    assert share_of_the_commonest(song) <= MOST


def test_written_lines_are_the_same_in_every_bar(played: Callable) -> None:
    drums = '{beat: {step: 1/4, play: {kick: "x - x -", snare: "- x - x"}}}'
    assert share_of_the_commonest(played(form("| A | D |", drums, play="a x16"))) == 1
