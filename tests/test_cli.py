"""The command line: what is printed, what is written, and how it ends."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from folders import shown

from backing.cli import main
from backing.system.files import MAX_NAME_BYTES, distinct_names, file_name, write_whole

STARTER = Path(__file__).parent.parent / "forms" / "starter.yaml"
FORM = """\
title: Two Lines
tempo: 120
count-in: 2
sections:
  verse: {bars: "| A | D | E | A |", times: 2}
form: [verse]
"""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture
def form(tmp_path: Path) -> Path:
    path = tmp_path / "two.yaml"
    path.write_text(FORM)
    return path


def test_build_writes_one_proven_file_and_prints_the_table(form: Path, tmp_path: Path) -> None:
    result = run("build", form, "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert shown(tmp_path / "out") == ["Two Lines.mid"]
    assert "Two Lines: 8 bars, 0:16.000, after 2 bars of count-in (0:04.000)" in result.output
    # 4 bars of 4 beats at 120 last 8 s; the second pass starts after 4 + 8 s
    assert "Verse (2 of 2)   5-8  0:12.000  0:12.000  0:08.000  0:08.000" in result.output
    assert "All agree" in result.output


def test_check_writes_nothing(form: Path, tmp_path: Path) -> None:
    before = sorted(tmp_path.rglob("*"))
    assert run("check", form).exit_code == 0
    assert sorted(tmp_path.rglob("*")) == before


def test_check_json(form: Path) -> None:
    table = json.loads(run("check", form, "--json").output)
    assert table == {
        "title": "Two Lines",
        "bars": 8,
        "seconds": 16.0,
        "count_in_seconds": 4.0,
        "sections": [
            {
                "label": "Verse (1 of 2)",
                "first_bar": 1,
                "bars": 4,
                "start_seconds": 4.0,
                "seconds": 8.0,
            },
            {
                "label": "Verse (2 of 2)",
                "first_bar": 5,
                "bars": 4,
                "start_seconds": 12.0,
                "seconds": 8.0,
            },
        ],
    }
    several = json.loads(run("check", form, STARTER, "--json").output)
    assert several[0]["title"] == "Two Lines"
    assert len(several) == 2


def test_no_count_in_puts_bar_one_at_the_start(form: Path, tmp_path: Path) -> None:
    built = json.loads(run("build", form, "--no-count-in", "--json", "--out", tmp_path).output)
    assert built["count_in_seconds"] == 0
    assert built["sections"][0]["found_start_seconds"] == 0
    assert run("verify", form, built["file"], "--no-count-in").exit_code == 0
    assert run("verify", form, built["file"]).exit_code == 1


def test_verify_agrees_and_disagrees_by_exit_code(form: Path, tmp_path: Path) -> None:
    run("build", form, "--out", tmp_path)
    good = run("verify", form, tmp_path / "Two Lines.mid")
    assert good.exit_code == 0
    assert "summing reader and pretty_midi" in good.output
    slower = tmp_path / "slower.yaml"
    slower.write_text(FORM.replace("120", "119"))
    bad = run("verify", slower, tmp_path / "Two Lines.mid")
    assert bad.exit_code == 1
    assert "tempos: 120.000 quarters a minute at 0:00.000, not 119.000" in bad.output
    assert run("verify", slower, tmp_path / "Two Lines.mid", "--json").exit_code == 1


def test_quiet_says_nothing(form: Path, tmp_path: Path) -> None:
    for command in (["build", form, "--out", tmp_path], ["check", form]):
        assert run(*command, "-q").output == ""
    assert run("verify", form, tmp_path / "Two Lines.mid", "-q").output == ""


def test_a_bad_form_is_named_the_good_one_built_and_the_code_is_2(
    form: Path, tmp_path: Path
) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text(FORM.replace("tempo", "tepmo"))
    result = run("build", bad, form, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert f"{bad}:2:1: " in result.output
    assert "Did you mean tempo?" in result.output
    assert shown(tmp_path / "out") == ["Two Lines.mid"]


@pytest.mark.parametrize("what", ["missing", "folder"])
def test_what_is_no_file_is_one_sentence(what: str, tmp_path: Path) -> None:
    path = tmp_path if what == "folder" else tmp_path / "none.yaml"
    for command in (["build", path], ["check", path], ["verify", path, path]):
        result = run(*command)
        assert result.exit_code == 2
        assert result.output.count("\n") == 1
        assert str(path) in result.output


def test_a_folder_that_cannot_be_written_is_an_error_with_nothing_left(
    form: Path, tmp_path: Path
) -> None:
    blocker = tmp_path / "file"
    blocker.write_text("x")
    result = run("build", form, "--out", blocker / "below")
    assert result.exit_code == 2
    assert "can't be written" in result.output
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "two.yaml"]


def test_a_write_that_fails_leaves_neither_file_nor_part(tmp_path: Path) -> None:
    target = tmp_path / "song.mid"
    with pytest.raises(TypeError):
        write_whole(target, "not bytes")  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_written_files_have_the_usual_permissions(tmp_path: Path) -> None:
    ordinary = tmp_path / "ordinary"
    ordinary.write_bytes(b"")
    write_whole(tmp_path / "ours", b"x")
    assert stat.S_IMODE(os.stat(tmp_path / "ours").st_mode) == stat.S_IMODE(
        os.stat(ordinary).st_mode
    )


def test_two_songs_of_one_title_do_not_meet(form: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    other.write_text(FORM.replace("Two Lines", "TWO lines"))
    run("build", form, other, "--out", tmp_path / "out")
    assert shown(tmp_path / "out") == [
        "TWO lines (other).mid",
        "Two Lines (two).mid",
    ]


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Plain", "Plain"),
        ("../../etc/passwd", "etc passwd"),
        ("a/b\\c:d*e?f", "a b c d e f"),
        ("CON", "CON song"),
        ("nul.txt", "nul txt"),
        ("lpt1 ", "lpt1 song"),
        ("...", "song"),
        ("  spaced   out. ", "spaced out"),
        ("Тихая река", "Тихая река"),
        ("静かな川", "静かな川"),
        ("right\u202eleft\u200b", "rightleft"),
        ("-rf", "-rf"),
    ],
)
def test_titles_make_safe_names_and_keep_their_letters(title: str, name: str) -> None:
    assert file_name(title) == name


def test_a_long_title_is_cut_between_letters() -> None:
    name = file_name("川" * 200)
    assert len(name.encode()) <= MAX_NAME_BYTES
    assert set(name) == {"川"}


def test_names_are_distinct_whatever_the_order() -> None:
    wanted = [("A", "x/one.yaml"), ("a", "y/one.yaml"), ("B", "b.yaml")]
    names = distinct_names(wanted)
    assert len({n.casefold() for n in names}) == 3
    assert names[2] == "B"


@pytest.mark.parametrize("command", [[], ["build"], ["check"], ["new"], ["schema"], ["verify"]])
def test_help_shows_an_example(command: list[str]) -> None:
    result = run(*command, "--help")
    assert result.exit_code == 0
    assert "Example: backing" in result.output


def test_module_runs_and_completion_is_offered(form: Path) -> None:
    module = subprocess.run(
        [sys.executable, "-m", "backing", "check", str(form), "-q"],
        capture_output=True,
        check=False,
    )
    assert module.returncode == 0
    environment = {**os.environ, "_BACKING_COMPLETE": "bash_source"}
    completion = subprocess.run(
        [sys.executable, "-c", "from backing.cli import main; main(prog_name='backing')"],
        capture_output=True,
        env=environment,
        text=True,
        check=False,
    )
    assert "_backing_completion" in completion.stdout


def test_public_names_load() -> None:
    import backing

    for name in backing.__all__:
        assert getattr(backing, name) is not None
    with pytest.raises(AttributeError):
        _ = backing.nothing_like_it
