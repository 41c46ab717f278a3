"""The sketch of a form: what stands where, within the page, and in color only where asked."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from form_strategies import forms
from hypothesis import HealthCheck, given, settings

from backing.cli import main
from backing.console.sketch import (
    MOST_PASSES,
    NARROWEST,
    WIDEST,
    WIDTH,
    page_width,
    sketch,
    wants_color,
)
from backing.form import read_form, read_form_text
from backing.text.width import width
from backing.verify import expect

FORMS = sorted((Path(__file__).parent.parent / "forms").glob("*.yaml"))
ANSI = re.compile(r"\x1b\[[0-9;]*m")

SONG = """\
title: Two Doors
by: the project
tempo: 120
key: G
capo: 2
count-in: 1
sections:
  verse:
    words: ["Down by the", "and up"]
    bars: |
      | G | D / / A7 | % | C(push) |
      | Em | 2/4 D | 4/4 G(ring) | N.C. |
  chorus:
    times: 2
    tempo: {to: 90, over: 2}
    bars: "| C | D |"
    endings: {1: "| Am7 |", 2: "| G |"}
  spare: {bars: "| A |"}
form:
  - verse
  - chorus
  - verse bars 5-8
  - {section: chorus, ending: 2, transpose: +2, dynamic: loud, label: Last, tempo: 100}
"""

# Worked out by hand: 120 beats a minute are 2 s a bar of 4/4 and 1 s a bar of 2/4. The verse
# lasts 15 s; the chorus's passes 3 bars each, the last two bars of the second from 120 to 90 in
# 8 beats: 60/116.25 + 60/112.5 + ... + 60/90 s for them, 4.687 s, after 2 s; the last pass from
# 100 to 90 alike: 60/98.75 + 60/97.5 + ... + 60/90 = 5.091 s after 2.4 s. In all
# 15 + 6 + 6.687 + 7 + 7.2 + 7.491 = 49.378 s.
SKETCH = """\
Two Doors, by the project
key G, capo 2, 4/4, 1/4 = 120

    0:02.0  Verse 1                                             bars 1-8, 0:15.0
            | G  | D / / A7 | %           | C(push) |  Down by the
            | Em | 2/4 D    | 4/4 G(ring) | N.C.    |  and up

    0:17.0  Chorus (1 of 2)                                    bars 9-11, 0:06.0
            ending 1, to 90 over the last 2 bars
            | C   | D |
  ending 1  | Am7 |
  ending 2  | G   |
    0:23.0  Chorus (2 of 2), ending 2                         bars 12-14, 0:06.7

    0:29.7  Verse 2, bars 5-8, as Verse 1                     bars 15-18, 0:07.0
    0:36.7  Last (1 of 2)                                     bars 19-21, 0:07.2
            as Chorus, ending 2, moved +2, 1/4 = 100, loud
    0:43.9  Last (2 of 2), ending 2                           bars 22-24, 0:07.5

Not in the form list: spare
24 bars, 0:49.378, after 1 bar of count-in (0:02.000)"""


def drawn(text: str, columns: int = WIDTH, color: bool = False) -> str:
    form = read_form_text(text)
    return sketch(form, expect(form), columns, color)


def test_a_song_on_paper() -> None:
    assert drawn(SONG) == SKETCH


@pytest.mark.parametrize(
    ("line", "tuned"),
    [
        ("tuning: DADGAD", "key G, capo 2, tuned D A D G A D, low to high, 4/4"),
        ("tuning: standard", "key G, capo 2, 4/4"),
        ("instrument: ukulele", "for ukulele, key G, capo 2, 4/4"),
        ("tuning: banjo", "key G, capo 2, tuned G D G B D, fifth string to first, 4/4"),
    ],
)
def test_the_instrument_and_its_tuning_stand_above(line: str, tuned: str) -> None:
    assert f"\n{tuned}, 1/4 = 120\n" in drawn(f"{SONG}{line}\n")


@pytest.mark.parametrize("path", FORMS, ids=lambda path: path.stem)
def test_every_pass_of_a_demo_is_there_with_its_bars(path: Path) -> None:
    form = read_form(path)
    expected = expect(form)
    text = sketch(form, expected)
    at = 0
    for one in expected.passes:
        last = one.first_bar + one.bars - 1
        line = rf"^ +\d+:\d\d\.\d  {re.escape(one.label)}[ ,].* bars? {one.first_bar}(-{last})?, "
        found = re.compile(line, re.M).search(text, at)
        assert found, one
        at = found.end()
    for section in form.sections.values():
        for row in section.rows:
            cells = [str(bar.cells[0].chord) for bar in row if bar.cells and bar.cells[0].chord]
            written = r"\| .*" + ".*".join(map(re.escape, cells))
            assert len(re.findall(written, text)) >= 1


def test_a_section_is_written_out_once() -> None:
    assert drawn(SONG).count("| Em |") == 1


@settings(max_examples=40, suppress_health_check=list(HealthCheck), deadline=None)
@given(forms())
def test_no_line_of_any_form_is_wider_than_the_page(text: str) -> None:
    form = read_form_text(text)
    expected = expect(form)
    for columns in (NARROWEST, WIDTH):
        plain = sketch(form, expected, columns)
        assert max(map(width, plain.split("\n"))) <= columns
        assert ANSI.sub("", sketch(form, expected, columns, color=True)) == plain


def test_a_page_is_never_too_narrow_to_read() -> None:
    assert drawn(SONG, columns=1) == drawn(SONG, columns=NARROWEST)


def test_bar_lines_line_up_with_wide_letters_as_well() -> None:
    text = drawn(SONG.replace('"Down by the"', '"川の歌"').replace("verse", "サビ"))
    first, second = (line for line in text.split("\n") if "  | G  |" in line or "  | Em |" in line)
    assert [i for i, c in enumerate(first) if c == "|"] == [
        i for i, c in enumerate(second) if c == "|"
    ]
    ends = [line for line in text.split("\n") if re.search(r"bars \d", line[40:])]
    assert {width(line) for line in ends} == {WIDTH}


def test_a_row_too_wide_for_the_page_is_broken_into_fours() -> None:
    bars = " | ".join(["F#m7b5/E"] * 10)
    text = drawn(SONG.replace('"| C | D |"', f'"| {bars} |"'))
    counts = [line.count("F#m7b5/E") for line in text.split("\n") if "F#m7b5/E" in line]
    assert counts == [4, 4, 2]


def test_a_row_that_fits_stays_as_typed() -> None:
    bars = " | ".join("ACDEGA")
    text = drawn(SONG.replace('"| A |"', f'"| {bars} |"').replace("- verse\n", "- spare\n"))
    assert f"            | {bars} |\n" in text


def test_a_bar_too_wide_for_the_page_breaks_between_chords() -> None:
    bar = " ".join(["Dmaj7#11/F#"] * 16)
    text = drawn(SONG.replace('"| A |"', f'"| 16/4 {bar} |"').replace("- verse\n", "- spare\n"))
    rows = [line.split() for line in text.split("\n") if "Dmaj7#11/F#" in line]
    assert [word for row in rows for word in row] == ["|", "16/4", *["Dmaj7#11/F#"] * 16, "|"]


def test_only_the_first_few_of_many_passes_and_the_last_are_listed() -> None:
    few = drawn(SONG.replace("- verse\n", f"- verse x{MOST_PASSES}\n"))
    many = drawn(SONG.replace("- verse\n", "- verse x2000\n"))
    assert few.count(f" of {MOST_PASSES})") == MOST_PASSES
    assert re.findall(r"\((\d+) of 2000\)", many) == ["1", "2", "3", "2000"]
    assert many.count("and so on, to") == 1


def test_a_pickup_stands_at_its_time() -> None:
    text = drawn(SONG + 'pickup: "| N.C. / / D |"\n')
    assert "    0:00.0  Pickup\n            | N.C. / / D |\n" in text


def test_endings_that_several_passes_share_are_written_once() -> None:
    text = drawn(
        SONG.replace("{1: ", "{1-3: ").replace("2: ", "4: ").replace("times: 2", "times: 4")
    )
    assert "\nending 1-3  | Am7 |\n  ending 4  | G   |\n" in text
    assert text.count("| Am7 |") == 1


def test_what_a_pass_changes_is_listed() -> None:
    printed = 'on-pass: {2: {bars: "| B7 | B7 |", dynamic: soft}, 1: {parts: {bass: off}}}\n'
    text = drawn(SONG.replace('    bars: "| C | D |"\n', f'    bars: "| C | D |"\n    {printed}'))
    assert "    pass 1  other parts\n    pass 2  soft\n            | B7 | B7 |\n" in text


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("environment", "color"),
    [({}, True), ({"NO_COLOR": ""}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)],
)
def test_color_is_for_terminals_that_want_it(environment: dict[str, str], color: bool) -> None:
    # no-color.org: "when present and not an empty string"
    assert wants_color(Terminal(), environment) is color
    assert wants_color(io.StringIO(), environment) is False


def test_color_marks_titles_and_labels_and_stays_out_of_pipes() -> None:
    colored = drawn(SONG, color=True)
    assert "\x1b[36m\x1b[1mVerse 1\x1b[0m" in colored
    assert colored.startswith("\x1b[1mTwo Doors, by the project\x1b[0m\n")
    piped = CliRunner().invoke(main, ["check", str(FORMS[0])], color=True)
    assert piped.exit_code == 0
    assert "\x1b" not in piped.output


def test_a_page_is_as_wide_as_its_terminal_up_to_a_hundred(monkeypatch: pytest.MonkeyPatch) -> None:
    assert page_width(io.StringIO()) == WIDTH
    for columns, wide in (("70", 70), ("90", 90), ("200", WIDEST)):
        monkeypatch.setenv("COLUMNS", columns)
        assert page_width(Terminal()) == wide
        assert page_width(io.StringIO()) == WIDTH


def test_check_prints_the_sketch(tmp_path: Path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text(SONG)
    assert CliRunner().invoke(main, ["check", str(path)]).output == f"{SKETCH}\n\n"
