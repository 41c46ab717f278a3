"""Arrangements: named sets of part settings, asked for at every level, proven and shown."""

from __future__ import annotations

import pytest
from chart.reading import text_of
from form.songs import song

from backing import BackingError, Stretch, Version, play_version, read_form_text, unroll
from backing.chart.drawing import drawing
from backing.cli import main
from backing.commands.completion import WORDS
from backing.console.sketch import sketch
from backing.form.arrangements import arranged
from backing.form.model import PartSettings
from backing.lesson.plan import items
from backing.midi.writer import to_bytes
from backing.players import play
from backing.verify import expect, verify_bytes

SONG = """\
title: Towpath
tempo: 96
human: 0
strums: {easy: {step: 1/4, play: "D D D D"}, busy: {step: 1/8, play: "D U D U D U D U"}}
parts: {guitar: {strum: busy, volume: 90}, lead: {pick: arpeggio}, drums: {beat: eighths}}
arrangements:
  simple: {guitar: {strum: easy}, lead: off}
  full: {drums: {level: full}, pad: {sound: piano}, lead: on}
sections:
  verse:
    bars: "| A | D |"
    on-pass: {2: {arrangement: simple}}
  chorus: {bars: "| D | E |", arrangement: full, parts: {drums: {level: light}, bass: off}}
  solo: {bars: "| A | A |", parts: {guitar: {pick: arpeggio}, lead: {strum: busy}}}
form:
  - verse x2
  - chorus
  - {section: chorus, arrangement: simple, parts: {guitar: {sound: nylon}}}
  - {section: solo, on-pass: {1: {parts: {lead: {volume: 50}}}}}
"""


def parts_of(text: str, arrangement: str = "") -> list[dict[str, PartSettings]]:
    form = read_form_text(text)
    form = arranged(form, arrangement) if arrangement else form
    return [dict(one.settings.parts) for one in unroll(form).passes]


def test_asking_for_one_is_writing_its_parts_over_those_beside_it() -> None:
    first, second, chorus, simple, _ = parts_of(SONG)
    assert (first["guitar"].strum, first["lead"].on) == ("busy", True)
    assert (second["guitar"].strum, second["guitar"].volume, second["lead"].on) == (
        "easy", 90, False,
    )  # fmt: skip
    assert (chorus["drums"].values["level"], chorus["bass"].on) == ("full", False)
    assert (simple["guitar"].strum, simple["guitar"].sound) == ("easy", "nylon")
    assert (simple["lead"].on, simple["pad"].sound) == (False, "piano")


def test_in_the_song_it_is_a_switch_for_all_that_no_nearer_level_writes() -> None:
    switched = parts_of(SONG.replace("title:", "arrangement: simple\ntitle:"))
    assert [one["guitar"].strum for one in switched] == ["easy", "easy", "easy", "easy", None]
    assert [one["lead"].on for one in switched] == [False, False, True, False, True]


def test_for_a_version_it_lies_over_everything() -> None:
    for parts in parts_of(SONG, "simple"):
        assert (parts["guitar"].strum, parts["guitar"].pick) == ("easy", None)
        assert parts["lead"].on is False
    assert parts_of(SONG, "simple")[2]["drums"].values["level"] == "full"


@pytest.mark.parametrize("switch", ["", "arrangement: simple\n", "arrangement: full\n"])
@pytest.mark.parametrize(
    "version",
    [
        Version(),
        Version(arrangement="simple"),
        Version(arrangement="full", transpose=2, stretch=Stretch("chorus", "solo"), loop=2),
    ],
    ids=str,
)
def test_the_proof_works_them_out_by_itself(switch: str, version: Version) -> None:
    form = read_form_text(switch + SONG)
    made = to_bytes(play_version(form, version).score)
    assert verify_bytes(form, made, version=version, quick=True).disagreements == ()
    other = version._replace(arrangement="full" if version.arrangement == "simple" else "simple")
    slipped = to_bytes(play_version(form, other).score)
    assert not verify_bytes(form, slipped, version=version, quick=True).agrees


def test_one_that_is_lost_in_playing_is_found() -> None:
    form = read_form_text(SONG)
    lines = tuple(e._replace(settings=e.settings._replace(arrangement=None)) for e in form.entries)
    made = to_bytes(play(unroll(form._replace(entries=lines))))
    assert not verify_bytes(form, made, quick=True).agrees


def test_chart_and_outline_name_them() -> None:
    form = read_form_text(SONG.replace("title:", "arrangement: full\ntitle:"))
    chart = drawing(form)
    assert "full arrangement" in chart.head.facts[0]
    assert "second time: simple arrangement" in [line.words for line in chart.blocks[0].lines]
    assert "full arrangement" in [line.words for line in chart.blocks[1].lines]
    assert chart.roadmap[2].details.startswith("simple arrangement")
    outline = sketch(form, expect(form))
    assert "Chorus 2, as Chorus 1, simple arrangement" in outline
    assert "pass 2  simple arrangement" in outline
    assert "simple arrangement" in drawing(arranged(form, "simple")).head.facts[0]


def test_a_chart_of_one(tmp_path, capsys) -> None:
    path, out = tmp_path / "song.yaml", tmp_path / "song.pdf"
    path.write_text(SONG, encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["chart", str(path), "--out", str(out), "--arrangement", "simple"])
    assert ended.value.code == 0
    assert "simple arrangement" in text_of(out.read_bytes())
    with pytest.raises(SystemExit) as ended:
        main(["chart", str(path), "--out", str(out), "--arrangement", "simpel"])
    assert ended.value.code == 2
    assert "Did you mean simple?" in capsys.readouterr().err


def test_an_exercise_asks_for_one() -> None:
    form = read_form_text(f"{SONG}practice: [{{speed: 60, arrangement: simple}}]\n")
    (item,) = items(form)
    assert item.version.arrangement == "simple"
    assert item.name == "01 whole song 60% simple arrangement"
    assert play_version(form, item.version).score.title == "Towpath - 60%, simple arrangement"


def test_the_tab_key_offers_them(tmp_path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text(SONG.replace("full:", "full band:"), encoding="utf-8")
    import click

    context = click.Context(click.Command("build"))
    context.args = [str(path)]
    assert list(WORDS["arrangement"](context, "")) == []
    path.write_text(SONG, encoding="utf-8")
    assert list(WORDS["arrangement"](context, "")) == ["simple", "full"]


TABLES = {
    "arrangements": "{simple: {lead: off}, far: {guitar: {riff: short}}}",
    "riffs": '{short: {step: 1/8, tab: "e|0-------|\\nB|--------|\\nG|--------|\\nD|--------|'
    '\\nA|--------|\\nE|--------|\\n"}}',
    "sections": "{verse: {bars: A}, odd: {bars: D, meter: 3/4}}",
    "form": "[verse, odd]",
}


@pytest.mark.parametrize(
    ("written", "at", "says"),
    [
        ({"arrangement": "simpel"}, "simpel",
         "there is no arrangement 'simpel'. Did you mean simple?"),
        ({"form": "[{section: verse, arrangement: x}]"}, "x", "Choose from: simple, far."),
        ({"sections": "{verse: {bars: A, arrangement: simpel}}", "form": "[verse]"}, "simpel",
         "Did you mean simple?"),
        ({"arrangements": "{a: {guitar: {strum: none}}}"}, "none", "there is no strum 'none'"),
        ({"arrangements": "{a: {gitar: off}}"}, "gitar", "Did you mean guitar?"),
        ({"arrangements": "{a: {guitar: {strum: {step: 1/4, play: D}, pick: alternating}}}"},
         "pick", "this part already has a strum"),
        ({"arrangement": "far"}, "odd", "bar 1 of odd is in 3/4, but bar 1 of the riff short"),
        ({"practice": "[{arrangement: far}]"}, "far", "bar 1 of odd is in 3/4"),
        ({"practice": "[{arrangement: farr}]"}, "farr", "Did you mean far?"),
    ],
)  # fmt: skip
def test_a_mistake_is_reported_at_its_place(pointed, written, at, says) -> None:
    where, printed = pointed(song(**(TABLES | written)))
    assert where.startswith(at)
    assert says in printed


def test_a_riff_must_fit_only_where_it_is_asked_for(reads) -> None:
    form = reads(song(**TABLES, practice="[{section: verse, arrangement: far}]"))
    chosen = Version(arrangement="far", stretch=Stretch("verse", "verse"))
    made = to_bytes(play_version(form, chosen).score)
    assert verify_bytes(form, made, version=chosen, quick=True).disagreements == ()
    with pytest.raises(BackingError, match="bar 1 of odd is in 3/4"):
        play_version(form, Version(arrangement="far"))


@pytest.mark.parametrize(
    ("name", "says"), [("simpel", "Did you mean simple?"), ("x", "Choose from: simple, full.")]
)
def test_an_unknown_one_on_the_command_line(name: str, says: str) -> None:
    with pytest.raises(BackingError, match=f"Towpath: there is no arrangement '{name}'. ") as found:
        play_version(read_form_text(SONG), Version(arrangement=name))
    assert says in str(found.value)
    plain = read_form_text(song())
    with pytest.raises(BackingError, match="Write it under arrangements first"):
        play_version(plain, Version(arrangement=name))
