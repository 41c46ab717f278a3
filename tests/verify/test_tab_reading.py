"""The proof's reading of tab against the players': both are made from the same rules."""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from part_strategies import riffs

from backing.form.tab import Riff
from backing.form.tab_cells import notes
from backing.form.tab_rows import BadTab, read_riff
from backing.theory.rhythm import parse_note_value
from backing.verify.expected.tab import Number, read_tab

EIGHTH = Fraction(1, 8)
Event = tuple[Fraction, int, int | None, str, tuple[bool, ...], int]


def by_players(riff: Riff) -> list[Event]:
    """Place, string, fret, link, signs and pitch of each note, as the players read them."""
    return [
        (
            note.start_whole,
            note.string,
            note.fret,
            note.link or "",
            (note.bend, note.shake, note.rests, note.harmonic, note.ghost, note.short, note.muted),
            note.semitones,
        )
        for note in notes(riff)
    ]


def by_proof(riff: Riff) -> list[Event]:
    starts = accumulate((bar.length_whole for bar in riff.bars), initial=Fraction(0))
    return [
        (
            start + at,
            each.string,
            each.fret,
            each.link,
            (each.bent, each.shaken, each.rest, each.harmonic, each.ghost, each.short, each.muted),
            each.above_open,
        )
        for start, bar in zip(starts, read_tab(riff), strict=False)
        for at, each in bar
    ]


@given(st.sampled_from((Fraction(1), Fraction(3, 4), Fraction(5, 8), Fraction(2))), st.data())
@settings(
    max_examples=300,
    derandomize=True,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_both_read_the_same_in_riffs_at_random(bar: Fraction, data: Any) -> None:
    written = data.draw(riffs(bar))
    riff = read_riff(parse_note_value(written["step"]), written["tab"])
    assert by_proof(riff) == by_players(riff)


SIGNS = (
    "-",
    "--",
    "0",
    "7",
    "12",
    "h",
    "p",
    "/",
    "\\",
    "b",
    "x",
    "~",
    "r",
    "(5)",
    "<7>",
    "<12>",
    ".",
)


@given(st.lists(st.lists(st.sampled_from(SIGNS), min_size=8, max_size=8).map("".join), min_size=6))
@settings(
    max_examples=400,
    derandomize=True,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_both_read_the_same_in_any_cells_that_are_tab(rows: list[str]) -> None:
    for row in rows:
        try:
            riff = read_riff(EIGHTH, only(row))
        except BadTab:
            continue
        assert by_proof(riff) == by_players(riff)


def only(row: str) -> str:
    """Tab whose second string has a row, and the others nothing."""
    empty = "".join("|" if cell == "|" else "-" for cell in row)
    return "\n".join(f"|{row if string == 2 else empty}|" for string in range(1, 7))


@pytest.mark.parametrize(
    ("row", "read"),
    [
        ("0---12--", [(0, 0, "", ""), (4, 12, "", "")]),
        ("5h7p5---", [(0, 5, "", ""), (2, 7, "h", ""), (4, 5, "p", "")]),
        ("9h10----", [(0, 9, "", ""), (2, 10, "h", "")]),
        ("2------h|-3------", [(0, 2, "", ""), (9, 3, "h", "")]),
        ("5/-9\\---|7-------", [(0, 5, "", ""), (3, 9, "/", ""), (8, 7, "\\", "")]),
        ("7b9-7b--", [(0, 7, "", "b"), (4, 7, "", "b")]),
        ("10b12~--", [(0, 10, "", "b~")]),
        ("5~7~x-x-", [(0, 5, "", "~"), (2, 7, "", "~"), (4, None, "", ""), (6, None, "", "")]),
        ("--------", []),
        ("(5)-r-5.", [(0, 5, "", "("), (4, None, "", "r"), (6, 5, "", ".")]),
        ("<12>-(10)~.-", [(0, 12, "", "<", 12), (5, 10, "", "(~.")]),
        ("<7>.<5><3>", [(0, 7, "", "<.", 19), (4, 5, "", "<", 24), (7, 3, "", "<", 31)]),
        ("5h(7)p5.", [(0, 5, "", ""), (2, 7, "h", "("), (6, 5, "p", ".")]),
    ],
)
def test_hand_made_rows(row: str, read: list[tuple[Any, ...]]) -> None:
    """Each number's cell, its fret, the sign before it, and the signs after it."""
    riff = read_riff(EIGHTH, only(row))
    assert by_proof(riff) == [
        (cell * EIGHTH, 2, fret, link, tuple(sign in after for sign in "b~r<(.="), sounds)
        for cell, fret, link, after, *others in read
        for sounds in others or [fret or 0]
    ]


def test_a_bar_with_its_own_step_and_strings_from_low_to_high() -> None:
    rows = ("|1/4t: 0-3-|----|", *["|----|----|"] * 4, "|5--x|-7--|")
    riff = read_riff(EIGHTH, "\n".join(rows))
    third = Fraction(1, 6)
    assert read_tab(riff) == (
        (
            (Fraction(0), Number(6, 5)),
            (Fraction(0), Number(1, 0)),
            (2 * third, Number(1, 3)),
            (3 * third, Number(6, None)),
        ),
        ((EIGHTH, Number(6, 7)),),
    )
