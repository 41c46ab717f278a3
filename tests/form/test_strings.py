"""Instruments and tunings, and shapes and riffs written for their strings."""

from __future__ import annotations

import pytest

from backing.errors import FormError
from backing.form import read_form_text
from backing.theory.instruments import BASS_TUNING, GUITAR, INSTRUMENTS

TAB = """
riffs:
  weir:
    step: 1/8
    tab: |
      {rows}
"""
HEAD = """
title: Seven Ducks
tempo: 100
sections:
  verse: {bars: "| C |", parts: {guitar: {riff: weir}}}
form: [verse]
"""


def song(*lines: str, rows: int = 0, cells: str = "0-------") -> str:
    """A song with these lines and, with `rows`, a riff of as many rows."""
    text = HEAD if rows else HEAD.replace(", parts: {guitar: {riff: weir}}", "")
    tab = TAB.format(rows="\n      ".join(f"|{cells}|" for _ in range(rows))) if rows else ""
    return text + "\n".join(lines) + tab


def problem(text: str) -> str:
    """The one problem of a form."""
    with pytest.raises(FormError) as caught:
        read_form_text(text, "song.yaml")
    (only,) = caught.value.problems
    return f"{only.message} {only.fix}"


def test_a_form_is_for_a_guitar_in_standard_tuning() -> None:
    form = read_form_text(song())
    assert form.instrument is GUITAR
    assert form.tuning == GUITAR.tuning


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_an_instrument_has_its_own_tuning(name: str) -> None:
    form = read_form_text(song(f"instrument: {name}"))
    assert form.instrument is INSTRUMENTS[name]
    own, other = (form.bass_tuning, form.tuning)[:: 1 if form.instrument.is_bass else -1]
    assert own == INSTRUMENTS[name].tuning
    assert other == (GUITAR.tuning if form.instrument.is_bass else BASS_TUNING)


@pytest.mark.parametrize(
    ("lines", "strings"),
    [
        (["tuning: drop D"], 6), (["instrument: ukulele"], 4), (["tuning: G4 D3 G3 B3 D4"], 5),
        (["tuning: seven-string"], 7), (["tuning: F# B E A D G B E"], 8),
        (["instrument: ukulele", "tuning: low G"], 4), (["tuning: mandolin"], 4),
    ],
)  # fmt: skip
def test_riffs_and_shapes_are_written_for_its_strings(lines: list[str], strings: int) -> None:
    frets = "0" * strings
    form = read_form_text(song(*lines, f"shapes: {{C: '{frets}'}}", rows=strings))
    assert len(form.tuning) == form.riffs["weir"].strings == strings
    for other in {4, 5, 6, 7, 8} - {strings}:
        words = {4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}[strings]
        assert problem(song(*lines, rows=other)) == (
            f"this tab has {other} rows. Write {words}, one for each string, highest first."
        )
        said = problem(song(*lines, f"shapes: {{C: '{'0' * other}'}}"))
        assert said.startswith(f"a shape has {strings} strings, not {other}. Write the low string")


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (["instrument: ukelele"], "'ukelele' isn't a choice for instrument. Did you mean ukulele?"),
        (
            ["tuning: dropped D"],
            "'dropped D' isn't a tuning of a guitar; did you mean drop D? ",
        ),
        (
            ["instrument: ukulele", "tuning: drop D"],
            "'drop D' isn't a tuning of a ukulele; write notes such as G4 C4 E4 A4, or a name such "
            "as low G, D tuning, half step down, slack key. ",
        ),
        (
            ["instrument: ukulele", "tuning: D A D G B E"],
            "a ukulele has 4 strings, not 6; write G4 C4 E4 A4. ",
        ),
        (
            ["instrument: ukulele", "shapes: {C: x-21-21-21}"],
            "there is no fret 21 on a ukulele. Write frets 0 to 20.",
        ),
        (
            ["instrument: bass", "capo: 2"],
            "a bass has no capo. Leave it out, and write the chords as they sound.",
        ),
        (
            ["instrument: bass", "shapes: {C: '3320'}"],
            "a shape has 6 strings, not 4. Write the low string first, as in x02220.",
        ),
        (
            ["instrument: ukulele", "voicing: shell"],
            "a shell voicing has its root on the fifth or sixth string, and there are only four "
            "strings. Leave voicing out.",
        ),
        (
            ["tuning: banjo", "voicing: shell"],
            "a shell voicing has its root on the fifth or sixth string, and there are only five "
            "strings. Leave voicing out.",
        ),
        (
            ["tuning: banjo", "shapes: {C: '20012'}"],
            "the short fifth string of this tuning is only played open. Write 0 on it, or leave it "
            "out.",
        ),
    ],
)
def test_what_is_refused(lines: list[str], says: str) -> None:
    assert problem(song(*lines)) == says


def test_a_banjos_short_string_is_open_in_tab() -> None:
    read_form_text(song("tuning: banjo", rows=5))
    says = problem(song("tuning: banjo", rows=5, cells="2-------"))
    assert says.startswith("the short fifth string of this tuning is only played open.")


def test_a_riff_stays_on_the_instruments_neck() -> None:
    text = song("instrument: ukulele", rows=4, cells="19------").replace(
        "form: [verse]", "form: [{section: verse, transpose: +2}]"
    )
    assert problem(text) == (
        "the riff weir goes up to fret 19, so it can't be transposed by +2. Transpose it by -19 to "
        "+1, or turn the part off here."
    )


@pytest.mark.parametrize(
    ("instrument", "rows"), [("guitar", 4), ("ukulele", 4), ("bass", 4), ("five-string bass", 5)]
)
def test_a_bass_has_riffs_for_its_own_strings(instrument: str, rows: int) -> None:
    text = song(f"instrument: {instrument}", rows=rows).replace("guitar: {riff", "bass: {riff")
    assert read_form_text(text).riffs["weir"].strings == rows
    other = song(f"instrument: {instrument}", rows=6).replace("guitar: {riff", "bass: {riff")
    words = {4: "four", 5: "five"}[rows]
    assert problem(other) == (
        f"this tab has 6 rows. Write {words}, one for each string, highest first."
    )


def test_the_rows_of_a_bass_riff_are_named_after_its_strings() -> None:
    text = song("instrument: ukulele", rows=4).replace("guitar: {riff", "bass: {riff")
    for name in "GDAE":
        text = text.replace(" |0", f" {name}|0", 1)
    assert read_form_text(text).riffs["weir"].strings == 4
    wrong = text.replace("bass: {riff", "guitar: {riff")
    assert problem(wrong).startswith("this row is named G, but the first string is A.")


def test_a_bass_plays_a_line_or_a_riff() -> None:
    text = song(rows=4).replace("guitar: {riff: weir}", "bass: {riff: weir, line: roots}")
    assert problem(text) == ("this part already has a riff, and plays only one of these. Keep one.")
