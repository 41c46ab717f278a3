"""Fills: where they are, how large, what they are played on, and the cymbal that answers them.

What a fill is like (down the drums, louder, a crash after it) is common practice, from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise, product

import pytest
from part_tables import words_of
from players.test_drums import METERS, form, quarters, strokes

from backing.form.parts import DRUM_BEAT
from backing.players.drum_beats import beat_for
from backing.players.fills import fill_hits
from backing.theory.built_in_beats import (
    BEATS,
    CRASH,
    HAT,
    LEVELS,
    RIDE,
    RIM,
    SLAP,
    SNARE,
    SWIRL,
    TAP,
    TOMS,
)
from backing.theory.fills import BRUSHED, LETTERS, LIGHT, STICKS, fills_for
from backing.theory.general_midi import BRUSH_KIT
from backing.theory.rhythm import parse_meter


@pytest.mark.parametrize("fills", [STICKS, LIGHT, BRUSHED], ids=["sticks", "light", "brushed"])
def test_every_cell_fits_its_number_of_steps(fills) -> None:
    for size, beats in ((fills.small, 1), (fills.large, 2)):
        assert len(size) >= 2
        assert len({str(fill) for fill in size}) == len(size)
        for fill in size:
            assert len(fill) == beats
            for cell in fill:
                assert set(cell) == {1, 2, 3, 4}
                for steps, line in cell.items():
                    assert len(line) == steps
                    assert set(line.lower()) <= {*LETTERS, "-"}
                    assert line.strip("-")
    assert 1 <= fills.softest < fills.loudest <= 117


@pytest.mark.parametrize("text", METERS)
def test_a_large_fill_is_larger_than_a_small_one(text: str) -> None:
    meter = parse_meter(text)
    for name, level, parts in product(words_of(DRUM_BEAT), LEVELS, (2, 3, 4)):
        kit = beat_for(name, meter).kit
        small, large = (
            [fill_hits(meter, parts, kit, level, is_large, turn) for turn in (0, 1)]
            for is_large in (False, True)
        )
        if len(meter.beats) == 1:
            assert [*small, *large] == [()] * 4
            continue
        assert max(map(len, small)) < min(map(len, large))
        first_of_large = min(hit.offset_whole for hit in large[0])
        assert first_of_large < min(hit.offset_whole for fill in small for hit in fill)
        for hits in (*small, *large):
            assert all(one.offset_whole < other.offset_whole for one, other in pairwise(hits))
            assert all(0 < hit.offset_whole + Fraction(1, 999) < meter.bar_whole for hit in hits)
            assert all(1 <= hit.velocity <= 127 for hit in hits)


@pytest.mark.parametrize("row", BEATS, ids=lambda row: f"{row.name} {row.meters[0]}")
def test_each_beat_has_two_fills_of_each_size_on_its_kit(row) -> None:
    """Sticks play snare and toms; light ones hardly leave rim and snare; brushes have their set."""
    drums = {
        "sticks": {SNARE, *TOMS},
        "light": {RIM, SNARE, TOMS[-1]},
        "brushed": {TAP, SLAP, SWIRL, *TOMS},
    }
    meter = parse_meter(row.meters[0])
    for level, is_large in product(LEVELS, (False, True)):
        fills = [fill_hits(meter, 4, row.kit, level, is_large, turn) for turn in range(4)]
        assert fills[0] != fills[1]
        assert fills[:2] == fills[2:]
        kind = "brushed" if row.kit == BRUSH_KIT else "light" if level == "light" else "sticks"
        assert {hit.pitch for fill in fills for hit in fill} <= drums[kind]


def test_light_and_brushed_fills_are_softer_than_others() -> None:
    meter = parse_meter("4/4")

    def loudest(kit: int, level: str) -> int:
        return max(
            hit.velocity
            for is_large, turn in product((False, True), (0, 1))
            for hit in fill_hits(meter, 4, kit, level, is_large, turn)
        )

    assert loudest(0, "light") < loudest(0, "medium") < loudest(0, "full")
    assert loudest(BRUSH_KIT, "light") < loudest(BRUSH_KIT, "medium") < loudest(0, "medium")


def in_bar(song, number: int):
    """A bar's strokes as (offset, pitch)."""
    start = Fraction(number)
    return [
        (note.start_whole - start, note.pitch)
        for note in song.notes("drums")
        if start <= note.start_whole < start + 1
    ]


def test_the_last_bar_of_a_pass_has_a_fill_and_of_a_section_a_large_one(played: Callable) -> None:
    song, plain = (played(form("| A | D |", f"{{fill: {fill}}}")) for fill in ("on", "off"))
    small, large = (
        fill_hits(parse_meter("4/4"), 4, 0, "medium", size, 0) for size in (False, True)
    )
    for number, fill in ((1, small), (3, large)):
        start = fill[0].offset_whole
        found = in_bar(song, number)
        assert [hit for hit in found if hit[0] >= start] == [hit[:2] for hit in fill]
        before = [hit for hit in in_bar(plain, number) if hit[0] < start]
        assert [hit for hit in found if hit[0] < start] == before
    assert in_bar(song, 0) == in_bar(plain, 0)
    assert in_bar(song, 5) == in_bar(plain, 5)


def test_fills_take_turns(played: Callable) -> None:
    song = played(form("| A | D |", "{fill: on}", play="a x5, b"))
    ends = [
        [hit for hit in in_bar(song, number) if hit[0] >= Fraction(3, 4)] for number in (1, 3, 5)
    ]
    assert ends[0] != ends[1]
    assert ends[0] == ends[2]


def test_a_crash_answers_each_fill(played: Callable) -> None:
    song = played(form("| A | D |", "{fill: on}"))
    assert strokes(song, CRASH) == [0, 2, 4]
    assert not {0, 2, 4} & set(strokes(song, HAT))


@pytest.mark.parametrize("drums", ["{fill: on, level: light}", "{fill: on, beat: brushes}"])
def test_a_soft_fill_is_answered_by_the_ride(played: Callable, drums: str) -> None:
    song = played(form("| A | D |", drums))
    assert strokes(song, CRASH) == []
    assert strokes(song, RIDE) == [2, 4]


def test_written_lines_have_neither_fill_nor_cymbal_unless_the_form_says_so(
    played: Callable,
) -> None:
    lines = 'beat: {step: 1/4, play: {kick: "x - x -", snare: "- x - x"}}'
    plain = played(form("| A | D |", f"{{{lines}}}"))
    assert strokes(plain) == quarters(*range(24))
    filled = played(form("| A | D |", f"{{{lines}, fill: on}}"))
    assert strokes(filled, CRASH) == [0, 2, 4]


def test_after_a_fill_written_lines_are_played_as_written(played: Callable) -> None:
    text = form("| A | D |", "{fill: on}").replace(
        "b: {bars", 'b: {parts: {drums: {fill: off, beat: {step: 1/4, play: {kick: "x"}}}}, bars'
    )
    song = played(text)
    assert [hit[0] for hit in in_bar(song, 4)] == quarters(0, 1, 2, 3)
    assert CRASH not in {pitch for _, pitch in in_bar(song, 4)}


@pytest.mark.parametrize(
    ("head", "drums", "unit"),
    [
        ("meter: 3/4", "{fill: on}", Fraction(1, 16)),
        ("meter: 3/4\ntempo: 180", "{fill: on}", Fraction(1, 8)),
        ("meter: 6/8\ntempo: 60", "{fill: on}", Fraction(1, 8)),
        ("tempo: 100", "{fill: on, beat: shuffle}", Fraction(1, 12)),
        ("tempo: 100", "{fill: on, beat: swing}", Fraction(1, 12)),
        ("tempo: 100", "{fill: on, level: light}", Fraction(1, 16)),
        ("tempo: 180", "{fill: on}", Fraction(1, 8)),
    ],
)
def test_a_fill_is_as_dense_as_the_beat_has_room_for(
    played: Callable, head: str, drums: str, unit: Fraction
) -> None:
    """The fill's strokes are the last; in a large one at least two are a step apart."""
    song = played(form("| A |", drums, head, play="a, b"))
    bar = song.timeline.bars[0]
    level = "light" if "light" in drums else "medium"
    letters = {LETTERS[letter.lower()] for fill in fills_for(0, level).large for cell in fill
               for letter in cell[4] if letter != "-"}  # fmt: skip
    last_two = bar.meter.beat_starts[-2]
    found = [
        note.start_whole
        for note in song.notes("drums")
        if bar.start_whole + last_two <= note.start_whole < bar.end_whole and note.pitch in letters
    ]
    gaps = {later - earlier for earlier, later in pairwise(found)}
    assert min(gaps) == unit
    assert all(gap % unit == 0 for gap in gaps)


def test_a_fill_is_swung_with_the_rest(played: Callable) -> None:
    song = played(form("| A |", "{fill: on}", "feel: swing\ntempo: 180", play="a, b"))
    fill = [start for start in strokes(song, SNARE, *TOMS) if Fraction(1, 2) <= start < 1]
    assert fill == [Fraction(1, 2), Fraction(2, 3), Fraction(3, 4), Fraction(11, 12)]
