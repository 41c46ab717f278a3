"""`page`: the file that is written, what is printed, and which soundfont is used."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from page.songs import EVERY_KEY, SHORT

from backing.audio import engines, soundfonts
from backing.audio.soundfonts import VARIABLE, Soundfont
from backing.cli import main
from backing.form import read_form, read_form_text
from backing.page import choose_soundfont, make_page
from backing.system.install import install_command

MOST_BYTES = 6_000_000


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture
def form_file(tmp_path: Path) -> Path:
    path = tmp_path / "song.yaml"
    path.write_text(SHORT)
    return path


def song_in(html: str) -> dict[str, object]:
    found = re.search(r'<script type="application/json" id="song">(.*?)</script>', html, re.DOTALL)
    assert found
    song: dict[str, object] = json.loads(found[1])
    return song


def test_the_page_is_named_after_the_song(
    form_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("page", form_file)
    assert result.exit_code == 0, result.output
    assert re.fullmatch(
        r"Wrote Short Crossing\.html, \d\.\d MB, with sounds of .+ \(GPL-2\)\n", result.output
    )
    html = (tmp_path / "Short Crossing.html").read_text("utf-8")
    assert song_in(html)["soundfont"] == {"name": choose_soundfont().name, "license": "GPL-2"}


def test_quiet_writes_to_the_given_path_without_output(form_file: Path, tmp_path: Path) -> None:
    result = run("page", form_file, "--out", tmp_path / "week 3" / "p.html", "-q")
    assert (result.exit_code, result.output) == (0, "")
    assert (tmp_path / "week 3" / "p.html").read_text("utf-8").startswith("<!DOCTYPE html>")


def test_another_file_of_that_name_is_left_without_force(form_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "p.html"
    path.write_text("mine")
    result = run("page", form_file, "--out", path)
    assert result.exit_code == 2
    assert result.output.startswith(f"{path}: this file was not made here by backing, so it")
    assert path.read_text() == "mine"
    assert run("page", form_file, "--out", path, "--force").exit_code == 0
    assert run("page", form_file, "--out", path, "-q").output == ""
    path.write_text(path.read_text("utf-8") + "<!-- edited -->")
    assert "has been changed since" in run("page", form_file, "--out", path).output


def test_one_form_gives_one_page_and_another_seed_another(form_file: Path) -> None:
    form = read_form(form_file)
    page = make_page(form)
    assert make_page(form) == page
    assert make_page(form, seed=1).html != page.html


def test_a_song_with_every_part_on_stays_small() -> None:
    html = make_page(read_form(EVERY_KEY)).html
    song = song_in(html)
    assert len(html.encode()) < MOST_BYTES
    assert [part["name"] for part in song["parts"]] == [  # type: ignore[attr-defined]
        "bass",
        "guitar",
        "lead",
        "drums",
        "pad",
    ]


def test_a_song_with_only_clicks_has_a_page() -> None:
    text = "tempo: 100\nparts: {bass: off, guitar: off}\nsections: {v: {bars: C}}\nform: [v]\n"
    song = song_in(make_page(read_form_text(f"title: t\n{text}")).html)
    assert song["parts"] == []
    assert song["samples"] == []


def test_a_file_that_is_not_a_soundfont_is_refused(form_file: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.sf2"
    bad.write_text("no soundfont")
    result = run("page", form_file, "--soundfont", bad, "--out", tmp_path / "p.html")
    assert result.exit_code == 2
    assert "is not a soundfont" in result.output
    assert not (tmp_path / "p.html").exists()


def test_without_an_engine_the_error_tells_how_to_install_one(
    form_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engines, "find_spec", lambda name: None)
    result = run("page", form_file, "--out", tmp_path / "p.html")
    assert result.exit_code == 2
    assert install_command("audio") in result.output


def test_a_permissive_soundfont_goes_first_unless_another_is_named(
    monkeypatch: pytest.MonkeyPatch, soundfont: Path
) -> None:
    found = [
        Soundfont(Path("a.sf2"), "here", "A", None),
        Soundfont(Path("b.sf2"), "here", "B", "GPL-2"),
        Soundfont(Path("c.sf2"), "here", "C", "MIT"),
    ]
    monkeypatch.setattr(soundfonts, "find", lambda option=None: found)
    assert choose_soundfont().path == soundfont  # the variable names it
    monkeypatch.delenv(VARIABLE)
    assert choose_soundfont().name == "C"
    assert choose_soundfont(str(soundfont)).path == soundfont
    monkeypatch.setattr(soundfonts, "find", lambda option=None: found[:2])
    monkeypatch.setattr(soundfonts, "choose", lambda option=None: found[0])
    assert choose_soundfont().name == "A"
