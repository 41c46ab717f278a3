"""Chord changes without a form: which changes, how they are played, and what is refused."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from click.testing import CliRunner, Result
from folders import shown
from form_printer import print_form

from backing.cli import main
from backing.errors import BackingError, FormError
from backing.form import Form, read_form_text
from backing.practice.chord_changes import changes, drill_text, read_chords, title
from backing.theory.chords import parse_chord
from backing.theory.rhythm import parse_meter
from backing.timeline import unroll


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["drill", *map(str, arguments)])


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def pairs(text: str) -> list[str]:
    return [f"{one} {other}" for one, other in changes(read_chords(text))]


def drill(text: str, **options: object) -> Form:
    return read_form_text(drill_text(read_chords(text), **options))  # type: ignore[arg-type]


# --- the chords and their changes ---


@pytest.mark.parametrize(
    "text", ["A F#m7 D", "A, F#m7, D", "| A | F#m7 | D |", " A\tF#m7\nD ", "A,F#m7|D"]
)
def test_spaces_commas_or_bar_lines_separate_chords(text: str) -> None:
    assert [str(chord) for chord in read_chords(text)] == ["A", "F#m7", "D"]


def test_brackets_and_slashes_stay_with_their_chord() -> None:
    found = read_chords("G7(b9,#11), C6/9 D/F#")
    assert [str(chord) for chord in found] == ["G7(b9,#11)", "C6/9", "D/F#"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A F#m7 D", ["A F#m7", "F#m7 D", "D A"]),
        ("A D", ["A D"]),
        ("A D A E", ["A D", "A E"]),
        ("A D A", ["A D"]),
        ("A D A D E", ["A D", "D E", "E A"]),
        ("C G Am F", ["C G", "G Am", "Am F", "F C"]),
        ("A Dmaj E D", ["A Dmaj", "Dmaj E"]),
    ],
)
def test_the_last_chord_leads_to_the_first_and_no_change_comes_twice(
    text: str, expected: list[str]
) -> None:
    assert pairs(text) == expected


@pytest.mark.parametrize(
    ("text", "column", "says"),
    [
        ("A F#m7x D", 7, "did you mean F#m7?"),
        ("A F#m7 h", 8, "isn't a chord"),
        ("A A D", 3, "A comes twice in a row"),
        ("A Amaj", 3, "Amaj comes twice in a row"),
        ("A\nXx D", 3, "isn't a chord"),
        ("A", 1, "takes two chords"),
        (" , | ", 1, "there are no chords"),
        ("", 1, "there are no chords"),
    ],
)
def test_a_wrong_chord_is_shown_at_its_place(text: str, column: int, says: str) -> None:
    with pytest.raises(FormError) as error:
        read_chords(text)
    (problem,) = error.value.problems
    assert (problem.line, problem.column) == (1, column)
    assert says in problem.message
    result = run(text)
    assert result.exit_code == 2
    head, line, caret = result.stderr.splitlines()
    assert head.startswith(f"chords:1:{column}: ")
    assert line == f"    {text.replace(chr(10), ' ')}"
    assert caret == " " * (3 + column) + "^"


def test_every_wrong_chord_is_shown() -> None:
    with pytest.raises(FormError) as error:
        read_chords("A x D y")
    assert [problem.column for problem in error.value.problems] == [3, 7]


# --- the form ---


def test_each_change_is_played_there_and_back_several_times() -> None:
    form = drill("A F#m7 D", times=3)
    played = [str(span.chord) for span in unroll(form).spans]
    assert played == ["A", "F#m7"] * 3 + ["F#m7", "D"] * 3 + ["D", "A"] * 3
    assert len(unroll(form).bars) == 18
    assert form.title == "Changes: A, F#m7, D"


@pytest.mark.parametrize("meter", ["4/4", "3/4", "2/2", "6/8", "12/8", "7/8", "7/8 (3+2+2)", "5/4",
                                   "5/8", "3/8", "1/1", "9/4", "11/16 (3+3+3+2)"])  # fmt: skip
def test_there_is_a_down_stroke_on_every_beat(meter: str) -> None:
    form = drill("A D", meter=meter)
    of = parse_meter(meter)
    strum = form.strums["beats"]
    (strokes,) = strum.bars
    down = {strum.step_whole * at for at, stroke in enumerate(strokes) if stroke.move == "D"}
    length = min(of.bar_whole, Fraction(2))
    assert down == {beat for beat in of.beat_starts if beat < length}
    assert strokes[0].accent
    assert str(form.meter) == meter


def test_the_form_has_the_tempo_the_capo_and_the_counted_note() -> None:
    plain, uneven = drill("A D", tempo="72.5", capo=3), drill("A D", meter="7/8", tempo="150")
    assert plain.settings.tempo is not None
    assert (plain.settings.tempo.bpm, plain.capo) == (Fraction(145, 2), 3)
    assert uneven.settings.tempo is not None
    assert uneven.settings.tempo.bpm == 150
    assert uneven.settings.tempo.beat_whole == Fraction(1, 8)


def test_titles_tell_a_slash_chord_from_two_chords() -> None:
    assert title(read_chords("D/F# G")) == "Changes: D/F#, G"
    assert title(read_chords("D F# G")) != title(read_chords("D/F# G"))


def test_unusual_symbols_survive_the_yaml() -> None:
    symbols = ["C6/9", "G7(b9,#11)", "F♯m7", "B♭Δ", "Bø", "A-7"]
    form = drill(" ".join(symbols))
    assert {str(span.chord) for span in unroll(form).spans} == {
        str(parse_chord(symbol)) for symbol in symbols
    }
    assert read_form_text(print_form(form)) == form


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"tempo": "fast"}, "Write a number from 10 to 500"),
        ({"tempo": 'x"y: {'}, "tempo"),
        ({"meter": "4/5"}, "a meter can't have 5 below"),
        ({"times": 0}, "from 1 to"),
        ({"times": 10**9}, "times"),
        ({"capo": 12}, "from 0 to 11"),
    ],
)
def test_a_mistake_is_reported_without_a_place_in_a_form(
    options: dict[str, object], says: str
) -> None:
    with pytest.raises(BackingError) as error:
        drill("A D", **options)
    assert not isinstance(error.value, FormError)
    assert says in str(error.value)


# --- the command ---


def quarters(path: Path) -> list[float]:
    """Every tempo of a file, in quarters a minute."""
    return [
        mido.tempo2bpm(message.tempo)
        for message in mido.MidiFile(path).tracks[0]
        if message.type == "set_tempo"
    ]


def test_it_builds_a_proven_file_named_after_its_chords(here: Path) -> None:
    result = run("A F#m7 D")
    assert result.exit_code == 0, result.output
    assert shown(here) == ["Changes A, F#m7, D.mid"]
    assert "48 bars, 3:12.000" in result.output  # three changes, 8 times 2 bars at 60
    assert "All agree" in result.output
    assert quarters(here / "Changes A, F#m7, D.mid") == [60]


def test_a_ladder_is_in_percent_of_the_tempo(here: Path) -> None:
    result = run("A F#m7 D", "--tempo", 60, "--ladder", "60-120 by 5")
    assert result.exit_code == 0, result.output
    assert shown(here) == ["Changes A, F#m7, D - ladder 60-120%.mid"]
    path = here / "Changes A, F#m7, D - ladder 60-120%.mid"
    # 60 percent of 60 beats a minute is 36; 5 percentage points are 3 beats a minute.
    assert quarters(path) == pytest.approx(list(range(36, 73, 3)), abs=1e-3)
    assert "156 bars in 13 rounds" in result.output  # 13 speeds, three changes, twice, two bars


def test_each_speed_makes_a_file_and_the_same_one_every_time(here: Path) -> None:
    def build() -> dict[str, bytes]:
        result = run("C G7", "--speed", "60,100", "--out", "out", "--times", 2)
        assert result.exit_code == 0, result.output
        return {name: (here / "out" / name).read_bytes() for name in shown(here / "out")}

    first = build()
    assert set(first) == {"Changes C, G7 - 60%.mid", "Changes C, G7.mid"}
    assert build() == first


def test_the_form_is_saved_on_request_and_builds_like_any_other(here: Path) -> None:
    assert run("A D", "--form-out", "keep/ad.yaml", "--capo", 2, "-q").output == ""
    kept = (here / "keep" / "ad.yaml").read_text("utf-8")
    assert read_form_text(kept) == drill("A D", capo=2)
    before = (here / "Changes A, D.mid").read_bytes()
    result = CliRunner().invoke(main, ["build", "keep/ad.yaml", "--out", "again"])
    assert result.exit_code == 0, result.output
    assert (here / "again" / "Changes A, D.mid").read_bytes() == before
    again = run("A D", "--form-out", "keep/ad.yaml", "--out", "never")
    assert again.exit_code == 2
    assert "there is already a file" in again.stderr
    assert not (here / "never").exists()


def test_easier_shapes_are_played_and_noted(here: Path) -> None:
    result = run("F C", "--easier", "--times", 1)
    assert result.exit_code == 0, result.output
    assert "F: xx3211 in place of 133211 (two strings not played)." in result.output
    tracks = mido.MidiFile(here / "Changes F, C - easier.mid").tracks
    (guitar,) = (track for track in tracks if track.name == "Guitar")
    pitches = {message.note for message in guitar if message.type == "note_on"}
    assert min(pitches) == 48  # the C of x32010; a barre's F would be 41
    assert 53 in pitches  # the F of xx3211


def test_json_names_the_file_and_its_length(here: Path) -> None:
    table = json.loads(run("A D", "--times", 4, "--json").output)
    assert table["file"] == "Changes A, D.mid"
    assert (table["bars"], table["seconds"], table["agrees"]) == (8, 32.0, True)
    two = json.loads(run("A D", "--speed", "50,100", "--json").output)
    assert [one["seconds"] for one in two] == [128.0, 64.0]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--ladder", "60"], "--ladder"),
        (["--ladder", "60-90 by 0"], "--ladder: '0' is out of range. Write 1 to 100"),
        (["--ladder", "60-90", "--speed", "60"], "--speed and --ladder don't go together"),
        (["--speed", "abc"], "--speed: 'abc' isn't a percentage. Write 10% to 300%."),
        (["--soundfont", "x.sf2"], "--soundfont needs --audio"),
        (["--times", "0"], "times"),
        (["--meter", "x"], "meter"),
        (["--audio", "tape"], "tape"),
    ],
)
def test_wrong_options_are_refused_and_nothing_is_written(
    here: Path, options: list[str], says: str
) -> None:
    result = run("A D", *options)
    assert result.exit_code == 2
    assert says in result.stderr
    assert "Traceback" not in result.output
    assert list(here.iterdir()) == []
