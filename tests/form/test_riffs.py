"""Riffs against the bars and the neck that the form plays them on."""

from __future__ import annotations

import pytest
from form.songs import song

EIGHT, SIX = "--------", "------"


def riff(*bars: str, fret: str = "2") -> str:
    """A riff as a flow mapping; its bars' cells on the first string, the rest empty."""
    rows = ["|".join(("", *bars, ""))]
    rows += ["|".join(("", *("-" * len(bar) for bar in bars), "")) for _ in range(5)]
    rows[2] = rows[2].replace("-" * len(fret), fret, 1)
    tab = "\\n".join(rows)
    return f'{{weir: {{step: 1/8, tab: "{tab}"}}}}'


def form(
    bars: str, riffs: str, entries: str = "[tune]", parts: str = "{lead: {riff: weir}}", **keys
):
    section = f'{{tune: {{bars: "{bars}", parts: {parts}}}}}'
    return song(sections=section, form=entries, riffs=riffs, **keys)


@pytest.mark.parametrize(
    ("bars", "cells"),
    [
        ("| A | D |", [EIGHT]),
        ("| A | D | E |", [EIGHT, EIGHT]),
        ("| A | 3/4 D | 4/4 A | 3/4 D |", [EIGHT, SIX]),
        ("| 6/8 A | 3/4 A |", [SIX]),
    ],
)
def test_a_riff_as_long_as_its_bars_fits(reads, bars, cells):
    assert reads(form(bars, riff(*cells))).entries


@pytest.mark.parametrize(
    ("bars", "cells", "printed"),
    [
        ("| A | D |", [SIX], "bar 1 of tune is in 4/4, but bar 1 of the riff weir has 6 cells"),
        ("| A | D |", [EIGHT, SIX], "bar 2 of tune is in 4/4, but bar 2 of the riff weir"),
        ("| A | A | 3/4 D |", [EIGHT, EIGHT], "bar 3 of tune is in 3/4, but bar 1"),
    ],
)
def test_a_bar_of_another_length_is_refused_at_the_forms_line(pointed, bars, cells, printed):
    at, message = pointed(form(bars, riff(*cells)))
    assert at == "tune]"
    assert printed in message
    assert "Give that bar of the tab " in message


def test_a_meter_that_no_number_of_cells_fills_gets_its_own_advice(pointed):
    _, message = pointed(
        form("| A |", riff(EIGHT), meter="7/16 (4+3)", tempo="{bpm: 90, beat: 1/8}")
    )
    assert "Set another step in that bar of the tab" in message


def test_bars_a_to_b_may_cut_a_riff(reads, only):
    text = form("| A | 3/4 A | 4/4 A |", riff(EIGHT), "[tune bars 1-1]")
    assert reads(text).entries
    assert reads(text.replace("tune bars 1-1", "tune bars 3-3")).entries
    assert "bar 2 of tune" in only(text.replace("tune bars 1-1", "tune bars 2-3")).message


def test_a_problem_is_reported_once_however_many_lines_have_it(only):
    only(form("| A |", riff(SIX), "[tune, tune x2, {section: tune, label: Again}]"))


def test_where_the_part_is_off_or_strums_nothing_is_refused(reads):
    for parts in ("{lead: off}", '{lead: {strum: {step: 1/4, play: "D D D D"}}}'):
        line = f"[{{section: tune, parts: {parts}}}]"
        assert reads(form("| A |", riff(SIX), line)).entries


def test_a_riff_of_the_song_a_line_or_a_pass_is_checked_too(only):
    riffs = riff(SIX)
    plain, weir = '{tune: {bars: "| A |"}}', "{lead: {riff: weir}}"
    passes = f'{{tune: {{bars: "| A |", times: 3, on-pass: {{3: {{parts: {weir}}}}}}}}}'
    for text in (
        song(sections=plain, form="[tune]", riffs=riffs, parts=weir),
        song(sections=plain, form=f"[{{section: tune, parts: {weir}}}]", riffs=riffs),
        song(sections=passes, form="[tune]", riffs=riffs),
    ):
        assert "bar 1 of the riff weir has 6 cells" in only(text).message


def test_an_ending_is_checked(only, reads):
    parts = "{lead: {riff: weir}}"
    endings = f'{{tune: {{bars: A, endings: {{1: D, 2: "3/4 E"}}, parts: {parts}}}}}'
    text = song(sections=endings, form="[tune x2]", riffs=riff(EIGHT))
    assert "bar 2 of tune is in 3/4" in only(text).message
    assert reads(text.replace("[tune x2]", "[{section: tune, ending: 1}]")).entries


def test_a_riff_written_in_place_is_named_by_its_part(only):
    inner = riff(SIX).removeprefix("{weir: ").removesuffix("}")
    text = song(
        sections=f'{{tune: {{bars: "| A |", parts: {{lead: {{riff: {inner}}}}}}}}}', form="[tune]"
    )
    assert "bar 1 of lead's riff has 6 cells of 1/8" in only(text).message


@pytest.mark.parametrize(
    ("fret", "transpose", "fits"),
    [("2", -2, True), ("2", -3, False), ("0", -1, False), ("17", 7, True), ("17", 8, False)],
)
def test_transposing_can_not_take_a_riff_off_the_neck(reads, pointed, fret, transpose, fits):
    tab = riff(EIGHT, fret=fret)
    text = form("| A |", tab, f"[{{section: tune, transpose: {transpose}}}]")
    if fits:
        assert reads(text).entries
        return
    at, message = pointed(text)
    assert at.startswith(str(transpose))
    assert f"fret {fret}, so it can't be transposed by {transpose:+d}." in message


def test_the_built_in_picks_need_not_be_written(reads, only):
    text = "parts: {guitar: {pick: alternating}, lead: {pick: arpeggio}}\n"
    assert reads(song() + text).settings.parts["guitar"].pick == "alternating"
    assert (
        "Did you mean alternating?" in only(song() + text.replace("alternating", "alternatig")).fix
    )
    assert "no strum" in only(song() + "parts: {guitar: {strum: alternating}}\n").message
