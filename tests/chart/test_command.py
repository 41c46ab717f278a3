"""The command: files, formats, and messages for wrong input."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from chart.reading import DEMOS, HARD
from click.testing import CliRunner, Result
from folders import shown

from backing.cli import main
from backing.commands.chart import chart as command
from backing.system.install import install_command

FORMS = DEMOS[0].parent


def _run(*arguments: object) -> Result:
    return CliRunner().invoke(command, list(map(str, arguments)))


def test_a_pdf_is_named_after_the_title(tmp_path: Path) -> None:
    result = _run(FORMS / "starter.yaml", "--out", tmp_path)
    made = tmp_path / "Six Bars Before Breakfast.pdf"
    assert result.exit_code == 0
    assert result.output == f"Wrote {made}\n"
    assert made.read_bytes().startswith(b"%PDF-")
    assert shown(tmp_path) == [made.name]


@pytest.mark.parametrize(
    ("name", "start"), [("a.pdf", b"%PDF-"), ("a.svg", b"<svg"), ("a.png", b"\x89PNG\r\n")]
)
def test_formats(tmp_path: Path, name: str, start: bytes) -> None:
    assert _run(FORMS / "starter.yaml", "--out", tmp_path / name, "-q").output == ""
    assert (tmp_path / name).read_bytes().startswith(start)


def test_a_png_has_150_dots_an_inch(tmp_path: Path) -> None:
    _run(FORMS / "starter.yaml", "--out", tmp_path / "a.png")
    png = (tmp_path / "a.png").read_bytes()
    # A4 is 210 mm x 297 mm (ISO 216).
    assert abs(int.from_bytes(png[16:20], "big") - 210 / 25.4 * 150) < 1
    assert abs(int.from_bytes(png[20:24], "big") - 297 / 25.4 * 150) < 1.5


def test_a_second_page_is_a_second_file(tmp_path: Path) -> None:
    result = _run(HARD[0].parent / "two-pages.yaml", "--out", tmp_path / "long.svg")
    assert shown(tmp_path) == ["long-2.svg", "long.svg"]
    assert result.output.count("Wrote") == 2


def test_the_same_form_gives_the_same_file(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        _run(FORMS / "orchard-wall.yaml", "--out", tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_several_forms_go_to_a_folder(tmp_path: Path) -> None:
    result = _run(*DEMOS[:3], "--out", tmp_path)
    assert result.exit_code == 0
    assert len(list(tmp_path.glob("*.pdf"))) == 3
    refused = _run(*DEMOS[:2], "--out", tmp_path / "a.pdf")
    assert refused.exit_code == 2
    assert "--out DIR" in refused.output


def test_other_endings_are_refused(tmp_path: Path) -> None:
    result = _run(FORMS / "starter.yaml", "--out", tmp_path / "a.docx")
    assert result.exit_code == 2
    assert "a chart is a .pdf, .svg or .png, not a .docx" in result.output
    assert not list(tmp_path.iterdir())


def test_a_form_that_cannot_be_read_leaves_no_file(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("title: x\n")
    result = _run(bad, FORMS / "starter.yaml", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "bad.yaml" in result.output
    assert len(shown(tmp_path / "out")) == 1  # the other one is made


def test_a_path_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    result = _run(FORMS / "starter.yaml", "--out", tmp_path / "file" / "a.pdf")
    assert result.exit_code == 2
    assert "can't be written" in result.output


def test_papers_are_named(tmp_path: Path) -> None:
    assert _run(FORMS / "starter.yaml", "--paper", "a5").exit_code == 2


def test_without_the_typesetter_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backing.chart import typesetter

    typesetter._compiler.cache_clear()
    monkeypatch.setitem(sys.modules, "typst", None)
    result = _run(FORMS / "starter.yaml", "--out", tmp_path / "a.pdf")
    typesetter._compiler.cache_clear()
    assert result.exit_code == 2
    assert install_command("chart") in result.output


def test_titles_are_text_and_never_markup(tmp_path: Path) -> None:
    form = tmp_path / "odd.yaml"
    form.write_text(
        'title: "#panic(1) \\"*x*\\" $y$ \\\\ <a> @b [c]"\nby: "_z_ // no"\n'
        'tempo: 90\nsections: {"a #b": {bars: "| D |", note: "`raw` = #x", words: ["$1"]}}\n'
        'form: ["a #b"]\n'
    )
    result = _run(form, "--out", tmp_path / "odd.pdf")
    assert (result.exit_code, (tmp_path / "odd.pdf").exists()) == (0, True), result.output


def test_the_command_is_listed() -> None:
    help_text = CliRunner().invoke(main, ["--help"]).output
    assert "chart" in help_text
