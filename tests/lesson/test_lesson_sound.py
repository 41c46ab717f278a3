"""A week of sound: proven, played by default, made once for each soundfont."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from lesson.songs import PAGES, held, song, stamps

from backing.audio.render import render
from backing.audio.soundfonts import bundled
from backing.cli import main
from backing.form import read_form
from backing.lesson.makers import make_version
from backing.lesson.plan import items
from backing.verify import expected_of
from backing.verify.sound.audio import compare_audio


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    text = song().replace("  formats: [midi]\n", "").replace("- 60, 75", "- 75")
    (tmp_path / "song.yaml").write_text(text)
    return tmp_path


def ran(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["lesson", "song.yaml", "--out", "week", *arguments])


def test_a_week_is_mp3_chart_and_page_unless_the_form_says(here: Path) -> None:
    result = ran()
    assert result.exit_code == 0, result.output
    names = ["01 whole song 75%.mp3", "02 chorus ladder 60-100%.mp3"]
    assert sorted(held(here / "week" / "Kettle")) == sorted(
        [".backing.json", *names, *PAGES, "chart.pdf", "practice page.html"]
    )
    form = read_form(here / "song.yaml")
    for name, item in zip(names, items(form), strict=True):
        expected = expected_of(form, item.version)
        report = compare_audio(expected, here / "week" / "Kettle" / name)
        assert report.agrees, report.findings
    before = stamps(here / "week")
    assert "all 6 unchanged" in ran().output
    assert stamps(here / "week") == before


def test_audio_formats_on_the_command_line_replace_those_of_the_form(here: Path) -> None:
    text = (here / "song.yaml").read_text()
    (here / "song.yaml").write_text(text.replace("  set:", "  formats: [midi, mp3]\n  set:"))
    assert ran("--audio", "wav,ogg").exit_code == 0
    endings = {Path(name).suffix for name in held(here / "week" / "Kettle") if name[0] == "0"}
    assert endings == {".mid", ".wav", ".ogg"}


def test_a_version_is_rendered_once_for_all_its_formats(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rendered = []

    def counted(*given: Any, **named: Any) -> Any:
        rendered.append(given)
        return render(*given, **named)

    monkeypatch.setattr("backing.audio.mixing.render", counted)
    form = read_form(here / "song.yaml")
    version = items(form)[0].version
    formats = ("midi", "mp3", "wav", "flac")
    together, _ = make_version(form, version, "x", formats, None, here / "all", 1)
    assert len(rendered) == 1
    for format_, path in zip(formats, together, strict=True):
        (alone,), _ = make_version(form, version, "x", (format_,), None, here / format_, 1)
        assert path.read_bytes() == alone.read_bytes()
    assert len(rendered) == 4


def test_another_soundfont_is_another_sound_but_another_name_is_not(here: Path) -> None:
    bank = here / "bank.sf2"
    bank.write_bytes(bundled().path.read_bytes())
    assert ran("--soundfont", str(bank)).exit_code == 0
    bank.rename(here / "other.sf2")
    assert "all 6 unchanged" in ran("--soundfont", "other.sf2").output
    data = bytearray((here / "other.sf2").read_bytes())
    at = data.index(b"INAM") + 8
    data[at] ^= 1  # a letter of the bank's own name
    (here / "other.sf2").write_bytes(data)
    assert "3 files made" in ran("--soundfont", "other.sf2").output
