"""Signs against the rules of engraving, as they look in print; each source beside the fact.

Sources: SMuFL 1.4 (W3C Music Notation Community Group, 2021), tables "Bar repeats",
"Repeats" and "Slash noteheads"; MusicXML 4.0 (W3C, 2021), elements down-bow and up-bow: the
symbols "used both for down-bowing on bowed instruments, and down-stroke on plucked
instruments"; Gould, Behind Bars (2011), from memory; the Unicode Standard, block
Miscellaneous Symbols. The typesetter's own measures for widths.
"""

from __future__ import annotations

import json

import pytest
from chart.reading import Picture, picture

from backing.chart.metrics import WIDTHS, symbol
from backing.chart.typesetter import ask, typeset
from backing.chart.typst_source import _template
from backing.theory.chords import parse_chord

SIZE = 60  # points, and dots: a point is a dot at 72 dots an inch


def _drawn(code: str) -> Picture:
    page = f"#set page(width: {SIZE}pt, height: {SIZE}pt, margin: 0pt, fill: white)\n"
    return picture(typeset(f"{_template()}\n{page}{code}", "png", dots=72)[0])


def _ink(seen: Picture, left: int, top: int, right: int, bottom: int) -> float:
    """The share of a rectangle that is black."""
    dots = [255 - dot for row in seen.rows[top:bottom] for dot in row[left:right]]
    return sum(dots) / 255 / len(dots)


def test_a_bar_repeat_is_a_slash_with_a_dot_on_either_side() -> None:
    seen = _drawn("#simile(30, 30)")
    # SMuFL: repeatBarUpperDot, repeatBarSlash, repeatBarLowerDot (U+E503 to U+E505).
    assert _ink(seen, 22, 25, 27, 30) > 0.1  # the upper dot is on the left
    assert _ink(seen, 33, 30, 39, 36) > 0.1  # the lower one on the right
    assert _ink(seen, 33, 24, 38, 27) > 0.2  # the slash leans to the right ...
    assert _ink(seen, 22, 33, 27, 36) > 0.2  # ... from the lower left
    assert _ink(seen, 20, 24, 27, 26) == _ink(seen, 34, 34, 41, 36) == 0


def test_a_slash_has_horizontal_ends_and_leans_right() -> None:
    seen = _drawn("#slash(26, 30)")  # SMuFL: noteheadSlashHorizontalEnds (U+E101)
    assert _ink(seen, 31, 26, 33, 27) > 0.7
    assert _ink(seen, 27, 33, 28, 34) > 0.7
    assert _ink(seen, 26, 26, 29, 29) == 0


def test_down_and_up_strokes_are_the_bowing_signs() -> None:
    down, up = _drawn("#down-stroke(26, 26)"), _drawn("#up-stroke(26, 26)")
    # MusicXML down-bow: three sides of a square, open below, its top thick; up-bow: a V.
    assert _ink(down, 26, 26, 32, 28) > 0.9
    assert _ink(down, 28, 30, 31, 34) == 0
    assert _ink(down, 26, 30, 27, 33) > 0.4
    assert _ink(up, 28, 26, 30, 28) == 0
    assert _ink(up, 28, 31, 31, 33) > 0.4


def test_repeat_signs_have_their_dots_inside() -> None:
    lanes = "(zone: 20, mid: 29, bottom: 38)"
    closing = _drawn(f'#bar-line(40, "repeat", {lanes})')
    opening = _drawn(f'#bar-line(20, "opens", {lanes})')
    # SMuFL repeatLeft (U+E040) and repeatRight (U+E041): thick outside, thin, then dots.
    for seen, outer, thin, dots in ((closing, 38, 35, 31), (opening, 20, 24, 27)):
        assert _ink(seen, outer, 22, outer + 2, 36) > 0.8
        assert 0.3 < _ink(seen, thin, 22, thin + 1, 36) <= 1
        assert _ink(seen, dots, 24, dots + 2, 27) > 0.2
        assert _ink(seen, dots, 31, dots + 2, 34) > 0.2
        assert _ink(seen, dots, 28, dots + 2, 30) < 0.1  # between the dots


def test_a_whole_rest_hangs_and_a_half_rest_sits() -> None:
    whole, half = (_drawn(f'#rest(26, 30, "{kind}", false)') for kind in ("whole", "half"))
    # Gould, Behind Bars (memory).
    assert _ink(whole, 27, 30, 32, 33) > 0.9
    assert _ink(whole, 27, 26, 32, 30) == 0
    assert _ink(half, 27, 27, 32, 30) > 0.9
    assert _ink(half, 27, 31, 32, 34) == 0


def _on_tab(*sign: object) -> Picture:
    """A sign on a staff of tab: string 1 is 30 dots from the top, and each string 7.4 lower."""
    kind, *rest = sign
    values = ", ".join(json.dumps(value) for value in (kind, 30, *rest))
    lanes = "(tops: (30,), strings: (6,))"
    return _drawn(f"#item(({values}), {lanes}, (:))")


def test_a_rolled_chord_has_a_wavy_line_on_its_left() -> None:
    seen = _on_tab("roll", 0, 1, 3)
    # MusicXML arpeggiate; SMuFL wiggleArpeggiatoUp (U+EAA9): a vertical wave, along all notes.
    assert _ink(seen, 0, 0, 22, 60) == _ink(seen, 29, 0, 60, 60) == 0
    for top in (28, 36, 43):
        assert _ink(seen, 22, top, 29, top + 4) > 0.1
    columns = [_ink(seen, left, 27, left + 1, 47) for left in (24, 26)]
    assert min(columns) > 0.05  # it sways to both sides
    assert _ink(seen, 20, 0, 30, 25) == _ink(seen, 20, 50, 30, 60) == 0


def test_a_ghost_note_is_in_parentheses() -> None:
    seen, plain = _on_tab("fret", 0, 1, "(5)"), _on_tab("fret", 0, 1, "5")
    # SMuFL noteheadParenthesisLeft and Right (U+E0F5, U+E0F6): bent outward, beside the number.
    assert _ink(seen, 29, 29, 31, 31) > _ink(seen, 29, 26, 30, 27)
    assert _ink(seen, 36, 28, 39, 32) > 0.15
    assert _ink(plain, 35, 20, 60, 40) == _ink(plain, 0, 20, 29, 40) == 0
    assert _ink(seen, 20, 0, 45, 25) == _ink(seen, 20, 35, 45, 60) == 0  # no other string's


def test_a_natural_harmonic_is_in_angle_brackets() -> None:
    seen = _on_tab("fret", 0, 1, "<12>")
    # Common practice in tab: <12>. The left bracket points to the left, the right one back.
    left = [_ink(seen, 29, top, 31, top + 2) for top in (26, 29, 32)]
    right = [_ink(seen, 45, top, 48, top + 2) for top in (26, 29, 32)]
    assert left[1] > 2 * max(left[0], left[2])
    assert right[1] > max(right[0], right[2])


def test_a_short_note_has_a_dot_above() -> None:
    seen = _on_tab("after", 0, 2, 1, ".")
    # SMuFL articStaccatoAbove (U+E4A2), on the number's middle.
    assert _ink(seen, 31, 31, 34, 34) > 0.2
    assert _ink(seen, 0, 35, 60, 60) == _ink(seen, 0, 0, 60, 30) == 0


def test_a_string_that_is_silenced_has_a_small_quarter_rest() -> None:
    seen = _on_tab("fret", 0, 1, "r")
    # SMuFL restQuarter (U+E4E5): taller than wide, within the room of one string.
    assert _ink(seen, 30, 26, 35, 34) > 0.15
    assert _ink(seen, 0, 0, 60, 25) == _ink(seen, 0, 35, 60, 60) == 0


def test_a_muting_palm_has_its_letters_and_a_line_to_where_it_ends() -> None:
    seen = _on_tab("palm", 58, 0)
    # Common practice in tab: P.M., then dashes to the last muted note.
    assert _ink(seen, 29, 11, 48, 20) > 0.1
    dashes = [_ink(seen, left, 14, left + 1, 16) > 0.1 for left in range(52, 60)]
    assert True in dashes
    assert False in dashes


def test_real_sharps_and_flats() -> None:
    # Unicode: U+266F MUSIC SHARP SIGN, U+266D MUSIC FLAT SIGN.
    assert symbol(parse_chord("F#m7b5/Eb")).text == "F\u266fm7\u266d5/E\u266d"


def test_widths_are_those_that_the_typesetter_uses() -> None:
    source = (
        '#set text(font: "Libertinus Serif", weight: "semibold", size: 1000pt, kerning: false, '
        "ligatures: false)\n#context { let found = (:)\n"
        f"for letter in {json.dumps(''.join(WIDTHS), ensure_ascii=False)}.clusters() "
        "{ found.insert(letter, measure(text(letter)).width.pt()) }\n"
        "[#metadata(found)<widths>] }"
    )
    assert json.loads(ask(source, "<widths>")) == pytest.approx(WIDTHS, abs=0.5)
