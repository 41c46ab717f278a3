"""What comes from outside steers no terminal, hides nothing and forges no line, wherever it is."""

from __future__ import annotations

import ast
import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from hostile_names import FORGED, NAMES, REAL, on_terminal, steering
from hostile_runs import RUNS, SONG, Run, arguments
from hypothesis import given, settings
from hypothesis import strategies as st
from terminals import Shown, shown

import backing
from backing.cli import main
from backing.errors import BackingError
from backing.text.printable import printable, printable_in_color, printable_json

PACKAGE = Path(backing.__file__).parent

# Only one module prints


#: What prints, by module and name.
PRINTERS = {
    "click.echo", "click.secho", "click.echo_via_pager", "click.progressbar", "click.prompt",
    "click.confirm", "click.pause", "print", "pprint", "warnings.warn", "sys.stdout.write",
    "sys.stderr.write", "sys.stdout.writelines", "sys.stderr.writelines", "os.write",
    "sys.__stdout__.write", "sys.__stderr__.write", "traceback.print_exc",
}  # fmt: skip
PRINTING = PACKAGE / "commands" / "printing.py"
#: A worker's standard error is a file that its parent reads. The other has no memory for more.
OTHERS = {"system/child.py": ["os.write"], "cli.py": ["os.write"]}


def printed_by(tree: ast.Module) -> Iterator[str]:
    """The calls of a module that print: by name, under another name, or by ending with a text."""
    nodes = list(ast.walk(tree))
    imported = {
        alias.asname or alias.name: f"{node.module}.{alias.name}"
        for node in nodes
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    for node in nodes:
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        name = imported.get(name, name)
        if name in PRINTERS or name.startswith("logging."):
            yield name
        text = node.args and isinstance(node.args[0], (ast.Constant, ast.JoinedStr))
        if name in ("sys.exit", "SystemExit") and text and not is_number(node.args[0]):
            yield name


def is_number(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int)


def test_only_one_module_prints() -> None:
    printing = {
        path.relative_to(PACKAGE).as_posix(): list(printed_by(ast.parse(path.read_text("utf-8"))))
        for path in PACKAGE.rglob("*.py")
        if path != PRINTING
    }
    assert len(printing) > 200
    assert {name: calls for name, calls in printing.items() if calls} == OTHERS
    assert set(printed_by(ast.parse(PRINTING.read_text("utf-8")))) == {
        "click.echo",
        "click.progressbar",
    }


@pytest.mark.parametrize(
    "line",
    [
        "click.echo(a)", "print(a, file=sys.stderr)", "sys.stdout.write(a)", "sys.exit(f'{a}')",
        "from click import echo as e\ne(a)", "raise SystemExit('a')", "import os\nos.write(1, b'')",
        "logging.getLogger('a')",
    ],
)  # fmt: skip
def test_the_search_sees(line: str) -> None:
    assert list(printed_by(ast.parse(line)))


# What is printable


@pytest.mark.parametrize("name", NAMES)
def test_nothing_hostile_is_left_in_a_name(name: str) -> None:
    text = NAMES[name]
    assert steering(text)
    assert not steering(printable(text))
    assert len(printable(text)) == len(text)


@pytest.mark.parametrize("name", REAL)
def test_a_real_name_stays_as_it_is(name: str) -> None:
    assert printable(name) == printable_json(name) == name
    assert not steering(name)


@given(st.text(st.characters()) | st.text(st.sampled_from("a \x1b[\n\u202e\u200d\u05d0\U000e0041")))
@settings(max_examples=400, deadline=None)
def test_any_text_becomes_printable(text: str) -> None:
    assert not steering(printable(text).replace(FORGED, ""))
    assert printable(printable(text)) == printable(text)
    assert printable_in_color(text).count("\x1b") <= text.count("\x1b")
    written = printable_json(json.dumps({text: text}, ensure_ascii=False, indent=2))
    assert not steering(written.replace(FORGED, ""))
    assert json.loads(written) == {text: text}


def test_our_own_styles_stay_and_other_sequences_do_not() -> None:
    styled = "\x1b[36m\x1b[1mVerse\x1b[0m"
    assert printable_in_color(styled) == styled
    for name in set(NAMES) - {"red", "blink", "hidden", "two colors"}:  # text is cleaned first
        assert not on_terminal(printable_in_color(NAMES[name]).encode()), name


def test_an_error_is_one_line_whatever_name_is_in_it() -> None:
    for name in NAMES.values():
        (line,) = BackingError(f"{name}: no.").printed
        assert not steering(line)


# Every command


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "song.yaml").write_text(SONG, "utf-8")
    assert CliRunner().invoke(main, ["build", str(folder / "song.yaml"), "--out", str(folder)])
    (folder / "Lantern.mid").rename(folder / "song.mid")
    return folder


@pytest.fixture
def here(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("song.yaml", "song.mid"):
        shutil.copy(home / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


QUICK = {label: run for label, run in RUNS.items() if not run.is_slow}
ALL = [*NAMES.values(), *REAL]


def names_for(label: str) -> list[str]:
    """Three of the names: each run gets others, and together they get all of them."""
    at = 3 * list(QUICK).index(label)
    return [ALL[(at + step) % len(ALL)] for step in range(3)]


def test_every_name_has_its_turn() -> None:
    assert {name for label in QUICK for name in names_for(label)} == set(ALL)
    assert len(NAMES) == 50


@pytest.mark.parametrize("label", QUICK)
def test_a_command_prints_no_name_raw(label: str, here: Path) -> None:
    for number, name in enumerate(names_for(label)):
        folder = here / str(number)
        folder.mkdir()
        for file in ("song.yaml", "song.mid"):
            shutil.copy(here / file, folder)
        check(RUNS[label], name, folder)


def check(run: Run, name: str, folder: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        run.make(folder, name)
        result = CliRunner().invoke(main, arguments(run, name))
    assert result.exception is None or isinstance(result.exception, SystemExit), name
    assert result.output
    assert not steering(result.output), name
    if run.arguments.endswith("--out NAME --json") and result.exit_code == 0:
        assert json.loads(result.stdout)["file"] == str(Path(name) / "Lantern.mid")


# On a terminal


def good(result: Shown) -> str:
    assert b"Traceback" not in result.data
    assert not on_terminal(result.data)
    return result.data.decode("utf-8").replace("\r\n", "\n")


def test_a_terminal_gets_no_name_raw(here: Path) -> None:
    for number, name in enumerate(ALL):
        text = SONG.replace("Lantern", f"Song {number}") if number % 2 else "title: A\n"
        (here / f"{name}.yaml").write_text(text, "utf-8")
    forms = [f"{name}.yaml" for name in ALL]
    missing = [f"{name}.yml" for name in ALL]
    printed = good(shown(["check", *forms, *missing], here))
    assert "\x1b[36m\x1b[1mVerse\x1b[0m" in printed  # our own styles are still there
    for name in REAL:
        assert f"{name}.yml: there is no such file." in printed
    assert printed.count("there is no such file.") == len(ALL)


def test_a_terminal_gets_no_folder_raw_beside_the_progress_bar(here: Path) -> None:
    (here / "two.yaml").write_text(SONG.replace("Lantern", "Two"), "utf-8")
    folder = "".join(NAMES[name] for name in ("red", "line feed", "override", "C1", "not UTF-8"))
    printed = good(shown(["build", "song.yaml", "two.yaml", "--out", folder], here))
    assert "100%" in printed
    assert f"Wrote {printable(folder)}/Two.mid\n" in printed
    assert (here / folder / "Two.mid").is_file()


def test_a_wrong_option_is_quoted_without_its_sequences(here: Path) -> None:
    for typed in (["check", "--" + "".join(NAMES.values())], ["".join(NAMES.values())]):
        assert "Error: " in good(shown(typed, here))
