"""What `check` says of text that changes nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from backing.cli import main
from backing.form import read_form_text
from backing.form.unused import unused

SONG = """\
title: T
tempo: 100
strums: {easy: {step: 1/4, play: "D D D D"}, "spare  one": {step: 1/4, play: D}}
picks:
  used: {step: 1/4, play: p}
  spare: {step: 1/4, play: p}
arrangements: {plain: {guitar: {strum: easy}}, other: {guitar: off}}
parts: {lead: {pick: used}}
sections:
  verse: {bars: "| A | D |", endings: {1: "| E |", 2: "| A |"}, arrangement: plain}
form:
  - verse x2
  - {section: verse, bars: 1-2, ending: 2}
  - {section: verse, bars: 2-3, ending: 2}
"""
SAYS = [
    "song.yaml:3:46: no part plays the strum 'spare  one'. Give a part  strum: spare  one",
    "song.yaml:6:3: no part plays the pick 'spare'. Give a part  pick: spare",
    "song.yaml:7:48: nothing here asks for the arrangement 'other'. "
    "Write  arrangement: other  in a section, a line or an exercise.",
    "song.yaml:13:41: bars 1-2 end before ending 2 begins. "
    "Remove the key ending, or take more bars.",
]


def test_what_nothing_uses_has_its_place() -> None:
    found = unused(SONG.encode(), "song.yaml", read_form_text(SONG))
    assert [f"song.yaml:{one.line}:{one.column}: {one.message} {one.fix}" for one in found] == SAYS


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("a section", "  more: {bars: A, parts: {guitar: {pick: spare}}}\nform:"),
        ("a pass", "  more: {bars: A, on-pass: {2: {parts: {lead: {pick: spare}}}}}\nform:"),
        ("a line", "form:\n  - {section: verse, times: 2, parts: {lead: {pick: spare}}}"),
    ],
)
def test_a_use_anywhere_counts(place: str, text: str) -> None:
    used = SONG.replace("form:", text)
    found = unused(used.encode(), "song.yaml", read_form_text(used))
    assert "pick" not in " ".join(one.message for one in found), place


def test_check_prints_them_after_the_outline_and_in_json(tmp_path: Path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text(SONG, "utf-8")
    printed = CliRunner().invoke(main, ["check", str(path)])
    assert printed.exit_code == 0
    lines = [line for line in printed.output.splitlines() if line.startswith(str(path))]
    assert [line.replace(str(path), "song.yaml") for line in lines] == SAYS
    table = json.loads(CliRunner().invoke(main, ["check", str(path), "--json"]).output)
    assert [(one["line"], one["column"]) for one in table["unused"]] == [
        (3, 46), (6, 3), (7, 48), (13, 41),
    ]  # fmt: skip
    assert table["unused"][1]["says"] == "no part plays the pick 'spare'. Give a part  pick: spare"


def test_a_riff_that_only_the_pickup_plays_is_used() -> None:
    tab = "\\n".join(["|0---|", *["|----|"] * 5])
    text = (
        "title: T\ntempo: 100\npickup: {bars: A, parts: {lead: {riff: lead-in}}}\n"
        f'riffs: {{lead-in: {{step: 1/4, tab: "{tab}"}}}}\n'
        'sections: {v: {bars: "| A |"}}\nform: [v]\n'
    )
    assert unused(text.encode(), "song.yaml", read_form_text(text)) == ()


def test_a_form_that_uses_everything_has_none(tmp_path: Path) -> None:
    text = 'title: T\ntempo: 100\nsections: {v: {bars: "| A |"}}\nform: [v]\n'
    assert unused(text.encode(), "song.yaml", read_form_text(text)) == ()
    path = tmp_path / "song.yaml"
    path.write_text(text, "utf-8")
    table = json.loads(CliRunner().invoke(main, ["check", str(path), "--json"]).output)
    assert table["unused"] == []
