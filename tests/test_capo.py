"""Capos compared: the rules of the ranking, the table and its JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from backing.cli import main
from backing.errors import BackingError
from backing.form import Form, read_form_text
from backing.practice.capo_ranking import HIGHEST, is_open, places, plays_riffs
from backing.practice.easier_shapes import easier_form, played_chords
from backing.theory.chords import parse_chord
from backing.theory.easier import easier, strain
from backing.theory.fingerings import best
from backing.theory.fretboard import parse_fingering
from backing.theory.hand import difficulty, move_cost


def song(bars: str, more: str = "", entry: str = "all") -> Form:
    text = f'title: Moss\ntempo: 90\n{more}\nsections: {{all: {{bars: "{bars}"}}}}\nform: [{entry}]'
    return read_form_text(text)


def test_a_song_in_b_flat_is_played_in_g_at_the_third_fret() -> None:
    found = places(song("| Bb | Eb | F7 | Gm |", "key: Bb"))
    by_capo = {place.capo: place for place in found}
    assert found[0] == by_capo[3]
    assert [chord.name for chord in found[0].chords] == ["G", "C", "D7", "Em"]
    assert (found[0].open_chords, found[0].percent_of_song, str(found[0].key)) == (4, 100, "G")
    assert [place.capo for place in found if place.own] == [0]
    assert set(by_capo) == set(range(HIGHEST + 1))


def test_the_writers_capo_counts_for_the_key_and_is_compared_even_where_it_is_high() -> None:
    form = song("| D | G | A |", "key: D\ncapo: 9")
    found = {place.capo: place for place in places(form)}
    assert set(found) == {*range(HIGHEST + 1), 9}
    assert found[9].own
    assert [chord.name for chord in found[9].chords] == ["D", "G", "A"]
    assert [chord.name for chord in found[2].chords] == ["A", "D", "E"]  # sounds in B
    assert str(found[2].key) == "A"


def test_ranked_by_open_shapes_then_effort_then_the_lower_capo() -> None:
    found = places(song("| F | Bb | C7 | Dm | % | Gm |", "key: F"))
    ranks = [
        (-place.percent_of_song, round(place.effort_per_change, 9), place.capo) for place in found
    ]
    assert ranks == sorted(ranks)
    assert len({place.percent_of_song for place in found}) > 2


def test_chords_count_as_often_as_the_hand_comes_to_them() -> None:
    (place,) = (p for p in places(song("| A | % | F#m | A | A(ring) |", "", "all x2")) if p.own)
    times = {chord.name: chord.times for chord in place.chords}
    assert times == {"A": 3, "F#m": 2}  # the second pass goes on with the A that is held
    assert place.percent_of_song == pytest.approx(60)
    assert place.open_chords == 1


def test_effort_is_the_average_of_move_and_hold() -> None:
    (place,) = (p for p in places(song("| A | D | F |")) if p.own)
    a, d, f = (best(parse_chord(name)) for name in "ADF")
    total = move_cost(a, d) + difficulty(d) + move_cost(d, f) + difficulty(f)
    assert place.effort_per_change == total / 2
    (alone,) = (p for p in places(song("| F |")) if p.own)
    assert alone.effort_per_change == difficulty(f)


def test_bars_without_chords_are_left_out() -> None:
    assert [chord.name for chord in places(song("| A N.C. | E |"))[0].chords] != []
    with pytest.raises(BackingError, match="Moss: there are no chords"):
        places(song("| N.C. |"))


@pytest.mark.parametrize(
    ("shape", "open_"),
    [("x32010", True), ("xx0211", True), ("x02225", False), ("133211", False), ("xx3211", False),
     ("x46654", False), ("020000", True), ("x-0-9-9-x-x", False)],
)  # fmt: skip
def test_which_shapes_are_open(shape: str, open_: bool) -> None:
    assert is_open(parse_fingering(shape)) is open_


def test_written_shapes_stay_with_their_symbols() -> None:
    form = song("| A | D |", "shapes: {A: 577655, D: x57775}")
    found = {place.capo: place for place in places(form)}
    assert [str(chord.fingering) for chord in found[0].chords] == ["577655", "x57775"]
    assert found[0].open_chords == 0
    assert str(found[2].chords[0].fingering) == "320003"  # a G


def test_a_written_shape_out_of_reach_counts_a_finger_for_each_string() -> None:
    (place,) = (p for p in places(song("| A | D |", "shapes: {D: 1x9x91}")) if p.own)
    assert place.effort_per_change < 20


def test_without_a_key_there_is_no_key_of_the_shapes() -> None:
    assert {place.key for place in places(song("| A | D |"))} == {None}


def test_riffs_are_noticed() -> None:
    riff = "| A |"
    tab = '{step: 1/4, tab: "e|0---|\\nB|----|\\nG|----|\\nD|----|\\nA|----|\\nE|----|"}'
    assert not plays_riffs(song(riff))
    assert plays_riffs(song(riff, f"parts: {{lead: {{riff: {tab}}}}}"))


# --- easier ---


def test_the_easier_form_has_the_easiest_shapes_and_notes_on_them() -> None:
    form, notes = easier_form(song("| C | F | Bb(push) | % | C7 |"))
    assert {name: str(shape) for name, shape in form.shapes.items()} == {
        "C": "x32010", "F": "xx3211", "Bb": "xx0331", "C7": "x32310",
    }  # fmt: skip
    assert notes == (
        "F: xx3211 in place of 133211 (two strings not played).",
        "Bb: xx0331 in place of x13331 (two strings not played, D lowest, not Bb).",
    )


def test_a_written_shape_stays_only_if_it_is_no_harder() -> None:
    more = "shapes: {F: 133211, C: x3201x, D: xx0232, B: x2xxxx}"
    form, notes = easier_form(song("| C | F | D |", more))
    assert str(form.shapes["F"]) == "xx3211"
    assert str(form.shapes["C"]) == "x3201x"
    assert str(form.shapes["D"]) == "xx0232"
    assert str(form.shapes["B"]) == "x2xxxx"  # never played, so never touched
    assert notes == (
        "C: your x3201x stays, as it is no harder than x32010.",
        "F: xx3211 in place of your 133211 (two strings not played).",
    )


def test_chords_of_a_transposed_entry_are_made_easier_too() -> None:
    entry = "all, {section: all, transpose: +1}"
    form, _ = easier_form(song("| E | A |", "key: E", entry))
    assert [str(chord) for chord in played_chords(form)] == ["E", "A", "F", "Bb"]
    assert str(form.shapes["F"]) == "xx3211"


def test_a_tuning_has_its_own_easiest_shapes() -> None:
    form, _ = easier_form(song("| D | G |", "tuning: D2 A2 D3 G3 A3 D4"))
    for name in "DG":
        assert form.shapes[name] == easier(parse_chord(name), form.tuning).fingering


def test_a_capo_for_a_beginner_takes_the_easiest_shapes() -> None:
    (own,) = (p for p in places(song("| F | C | Bb |"), for_beginner=True) if p.own)
    assert [str(c.fingering) for c in own.chords] == ["xx3211", "x32010", "xx0331"]
    assert own.chords[0].left_out == "two strings not played"
    f, c, b = (chord.fingering for chord in own.chords)
    total = move_cost(f, c) + strain(c) + move_cost(c, b) + strain(b)
    assert own.effort_per_change == total / 2


# --- the command ---

FORM = """\
title: Moss on the Mill
tempo: 84
key: Bb
sections:
  verse: {bars: "| Bb | Gm7 | Eb | F7 | Cm | D7 | Gm | Bb/D |"}
form: [verse x2]
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "moss.yaml"
    path.write_text(FORM, "utf-8")
    return path


@pytest.mark.parametrize("options", [[], ["--easier"]])
def test_the_table_fits_a_terminal_and_ranks(path: Path, options: list[str]) -> None:
    result = CliRunner().invoke(main, ["capo", str(path), *options])
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "Moss on the Mill: sounds in Bb, written without a capo"
    assert lines[2].split() == ["open", "%", "of", "effort"]
    assert lines[3].split() == ["capo", "key", "chords", "song", "per", "change", "chords"]
    # Both lines of a heading end in the same column.
    for above, below in (("open", "chords"), ("% of", "song"), ("effort", "per change")):
        assert lines[2].index(above) + len(above) == lines[3].index(below) + len(below)
    assert sum("as written" in line for line in lines) == 1
    assert ("Easiest shapes" in result.output) is bool(options)
    assert any(line.split() == ["Em", "022000"] for line in lines) is bool(options)


def test_the_json_has_what_the_table_has(path: Path) -> None:
    table = json.loads(CliRunner().invoke(main, ["capo", str(path), "--json"]).output)
    form = read_form_text(FORM)
    assert (table["title"], table["sounding_key"], table["capo"]) == ("Moss on the Mill", "Bb", 0)
    assert [place["capo"] for place in table["places"]] == [place.capo for place in places(form)]
    first = table["places"][0]
    assert set(first["shapes"][0]) == {"chord", "shape", "open", "times", "left_out"}
    assert (first["percent_of_song"], first["effort_per_change"]) == (
        round(places(form)[0].percent_of_song, 2),
        round(places(form)[0].effort_per_change, 4),
    )
    assert first["open_chords"] == sum(shape["open"] for shape in first["shapes"])
    assert [place["as_written"] for place in table["places"]].count(True) == 1


def test_mistakes_are_reported(path: Path) -> None:
    path.write_text(FORM.replace("Gm7", "Gmx"), "utf-8")
    result = CliRunner().invoke(main, ["capo", str(path)])
    assert result.exit_code == 2
    assert f"{path}:5:" in result.stderr
    path.write_text('title: S\ntempo: 90\nsections: {a: {bars: "| N.C. |"}}\nform: [a]', "utf-8")
    result = CliRunner().invoke(main, ["capo", str(path)])
    assert (result.exit_code, result.output) == (
        2,
        "S: there are no chords, so no capo is better than another.\n",
    )
