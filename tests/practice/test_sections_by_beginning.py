"""A section found by the beginning of its line's label, and names listed one a line."""

from __future__ import annotations

import pytest

from backing import BackingError, read_form_text, unroll
from backing.console.sketch import sketch
from backing.errors import FormError
from backing.practice import Stretch, Version
from backing.practice.stretch import bars_of
from backing.text.lists import ITEM, names
from backing.verify import expect
from backing.verify.expected.practice_maths import expect_version

SONG = """\
title: Stile
tempo: 100
sections:
  verse: {bars: "| A | D | E | A |"}
  "tag, slow": {bars: "| A |"}
form:
  - verse
  - verse bars 1-2
  - verse bars 3 x2
  - {section: verse, label: "Last verse, quiet"}
  - {section: verse, bars: 1, label: "Last verse, alone"}
  - (verse bars 1-2, verse bars 4) x2
"""
FOUND = {
    ("Verse 2", "Verse 2"): (5, 6),
    ("verse 3", "verse 3"): (7, 8),
    ("Verse 4", "Verse 4"): (14, 15),
    ("last verse, quiet", "Verse 5"): (9, 16),
    ("Verse 5", "Verse 4"): (16, 18),
}


def practiced(section: str) -> str:
    return f"{SONG}practice:\n  - {{section: '{section}', loop: 2}}\n"


@pytest.mark.parametrize("section", FOUND)
def test_the_one_line_that_begins_so_is_meant(section: tuple[str, str]) -> None:
    form = read_form_text(practiced("..".join(dict.fromkeys(section))))
    stretch = Stretch(*section)
    assert bars_of(unroll(form), stretch) == FOUND[section]
    rows = expect_version(form, Version(stretch=stretch)).passes
    assert (rows[0].first_bar, rows[-1].first_bar + rows[-1].bars - 1) == FOUND[section]


@pytest.mark.parametrize("name", ["Vers", "Verse 22", "bars 1-2", "erse 2"])
def test_only_whole_words_at_the_beginning_count(name: str) -> None:
    form = read_form_text(SONG)
    with pytest.raises(BackingError, match=f"there is no section '{name}'"):
        bars_of(unroll(form), Stretch(name, name))
    with pytest.raises(FormError, match=f"the form plays no section '{name}'"):
        read_form_text(practiced(name))
    with pytest.raises(BackingError):
        expect_version(form, Version(stretch=Stretch(name, name)))


def test_several_lines_that_begin_so_are_listed_one_a_line() -> None:
    form = read_form_text(SONG)
    with pytest.raises(BackingError) as found:
        bars_of(unroll(form), Stretch("Last verse", "Last verse"))
    assert found.value.printed == (
        "Stile: 'Last verse' could be any of these:",
        "    Last verse, quiet",
        "    Last verse, alone",
    )
    with pytest.raises(FormError) as refused:
        read_form_text(practiced("Last verse"), "song.yaml")
    assert refused.value.printed[:3] == (
        "song.yaml:14:16: 'Last verse' could be several lines of the form. Choose from:",
        "    Last verse, quiet",
        "    Last verse, alone",
    )
    with pytest.raises(BackingError):
        expect_version(form, Version(stretch=Stretch("Last verse", "Last verse")))


def test_names_with_commas_are_listed_one_a_line_everywhere() -> None:
    form = read_form_text(SONG)
    with pytest.raises(BackingError) as found:
        bars_of(unroll(form), Stretch("zzz", "zzz"))
    assert found.value.printed[:3] == (
        "Stile: there is no section 'zzz'. The song has:", "    Verse 1", "    Verse 2, bars 1-2",
    )  # fmt: skip
    with pytest.raises(FormError) as refused:
        read_form_text(SONG.replace("- verse bars 1-2", "- zzz"), "song.yaml")
    assert refused.value.printed[:3] == (
        "song.yaml:8:5: there is no section 'zzz'. Choose from:", "    verse", "    tag, slow",
    )  # fmt: skip
    outline = sketch(form, expect(form)).splitlines()
    at = outline.index("Not in the form list:")
    assert outline[at + 1].strip() == "tag, slow"


def test_names_without_commas_stay_in_the_sentence() -> None:
    assert names(["a", "b"]) == "a, b"
    assert names(["a", "b, c"]) == f"{ITEM}a{ITEM}b, c"


def test_a_line_end_in_a_name_is_replaced() -> None:
    assert BackingError(f"no:{ITEM}a\nb").printed == ("no:", "    a\N{REPLACEMENT CHARACTER}b")
