"""The command line: what it prints, what it writes, and its exit codes."""

from __future__ import annotations

import json
import os
import shlex
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from folders import shown

from backing.cli import COMMANDS, main
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


def test_build_writes_one_checked_file_and_prints_the_table(form: Path, tmp_path: Path) -> None:
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
        "unused": [],
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
    assert "our own reader and pretty_midi" in good.output
    slower = tmp_path / "slower.yaml"
    slower.write_text(FORM.replace("120", "119"))
    bad = run("verify", slower, tmp_path / "Two Lines.mid")
    assert bad.exit_code == 1
    assert "at 0:00.000, in the count-in: 120 quarters a minute, not 119\n" in bad.output
    assert run("verify", slower, tmp_path / "Two Lines.mid", "--json").exit_code == 1


def test_quiet_prints_nothing(form: Path, tmp_path: Path) -> None:
    for command in (["build", form, "--out", tmp_path], ["check", form]):
        assert run(*command, "-q").output == ""
    assert run("verify", form, tmp_path / "Two Lines.mid", "-q").output == ""


def test_a_bad_form_is_named_the_good_one_is_built_and_the_exit_code_is_2(
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
def test_a_missing_file_or_a_folder_is_refused_in_one_sentence(what: str, tmp_path: Path) -> None:
    path = tmp_path if what == "folder" else tmp_path / "none.yaml"
    for command in (["build", path], ["check", path], ["verify", path, path]):
        result = run(*command)
        assert result.exit_code == 2
        assert result.output.count("\n") == 1
        assert str(path) in result.output


def test_a_folder_that_cannot_be_written_is_an_error_and_leaves_nothing(
    form: Path, tmp_path: Path
) -> None:
    blocker = tmp_path / "file"
    blocker.write_text("x")
    result = run("build", form, "--out", blocker / "below")
    assert result.exit_code == 2
    assert "can't be written" in result.output
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "two.yaml"]


def test_a_failed_write_leaves_no_file_not_even_a_part_of_one(tmp_path: Path) -> None:
    target = tmp_path / "song.mid"
    with pytest.raises(TypeError):
        write_whole(target, "not bytes")  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_files_have_the_usual_permissions(tmp_path: Path) -> None:
    ordinary = tmp_path / "ordinary"
    ordinary.write_bytes(b"")
    write_whole(tmp_path / "ours", b"x")
    assert stat.S_IMODE(os.stat(tmp_path / "ours").st_mode) == stat.S_IMODE(
        os.stat(ordinary).st_mode
    )


def test_two_songs_with_the_same_title_get_different_names(form: Path, tmp_path: Path) -> None:
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
        ("Зелёный чайник", "Зелёный чайник"),
        ("静かな川", "静かな川"),
        ("right\u202eleft\u200b", "rightleft"),
        ("-rf", "-rf"),
    ],
)
def test_titles_become_safe_names_and_keep_their_letters(title: str, name: str) -> None:
    assert file_name(title) == name


def test_a_long_title_is_cut_between_two_letters() -> None:
    name = file_name("川" * 200)
    assert len(name.encode()) <= MAX_NAME_BYTES
    assert set(name) == {"川"}


def test_names_are_distinct_in_any_order() -> None:
    wanted = [("A", "x/one.yaml"), ("a", "y/one.yaml"), ("B", "b.yaml")]
    names = distinct_names(wanted)
    assert len({n.casefold() for n in names}) == 3
    assert names[2] == "B"


@pytest.mark.parametrize("command", [[], *([name] for name in COMMANDS)])
def test_help_shows_an_example_and_fits_80_columns(command: list[str]) -> None:
    result = CliRunner().invoke(main, [*command, "--help"], terminal_width=80)
    assert result.exit_code == 0
    example = "backing " + " ".join(command)
    assert f"Example: {example}" in result.output
    assert max(map(len, result.output.splitlines())) <= 80


def test_the_list_of_commands_cuts_no_sentence_short() -> None:
    result = CliRunner().invoke(main, ["--help"], terminal_width=80)
    assert "..." not in result.output.partition("Commands:")[2]
    listed = result.output.partition("Commands:\n")[2].splitlines()
    assert [line.split()[0] for line in listed] == list(COMMANDS)
    assert "  check   Show a song's outline and any mistakes." in listed


def examples() -> list[str]:
    """Every command line in the help texts."""
    lines: list[str] = []
    for command in ([], *([name] for name in COMMANDS)):
        output = run(*command, "--help").output.splitlines()
        lines += [
            line.strip().removeprefix("Example: ")
            for line in output
            if line.strip().startswith(("Example: backing", "backing "))
        ]
    return lines


def test_every_example_of_the_help_runs_in_a_folder_with_only_the_demo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    typed = [shlex.split(line)[1:] for line in dict.fromkeys(examples())]
    first = ["new", "--demo", "starter"]
    assert first in typed
    assert len(typed) > len(COMMANDS)
    # Charts, pages and weeks have tests of their own, which need other libraries.
    quick = [line for line in typed if line[0] not in ("chart", "page", "lesson", "sounds")]
    for line in (first, *(line for line in quick if line != first)):
        result = run(*line)
        assert result.exit_code == 0, (line, result.output)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("buld", "There is no command 'buld'. Did you mean build?"),
        ("Check", "There is no command 'Check'. Did you mean check?"),
        ("xyz", "There is no command 'xyz'. The commands are new, check, build, "),
    ],
)
def test_a_command_that_does_not_exist_gets_a_suggestion(typed: str, says: str) -> None:
    result = run(typed)
    assert result.exit_code == 2
    assert says in result.output
    assert "Traceback" not in result.output


def test_the_module_runs_as_a_program(form: Path) -> None:
    module = subprocess.run(
        [sys.executable, "-m", "backing", "check", str(form), "-q"],
        capture_output=True,
        check=False,
    )
    assert module.returncode == 0


def test_public_names_load() -> None:
    import backing

    for name in backing.__all__:
        assert getattr(backing, name) is not None
    with pytest.raises(AttributeError):
        _ = backing.nothing_like_it
