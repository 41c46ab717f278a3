"""The README's lines run as typed; `tests/audio/test_readme_sound.py` runs the lines with sound."""

from __future__ import annotations

import re
from pathlib import Path

from tour import ACTIVATE, ROOT, Shell, lines, tour

from backing.cli import COMMANDS

README = (ROOT / "README.md").read_text("utf-8")


def test_the_lines_run_as_typed_and_print_what_it_says(tmp_path: Path) -> None:
    assert tour(Shell(tmp_path), sound=False) == []


def test_every_command_is_shown_after_the_line_that_activates_the_environment() -> None:
    typed = [line.command for line in lines()]
    assert typed[0] == ACTIVATE
    assert len(typed) > 15
    for command in COMMANDS:
        assert any(f"{line} ".startswith(f"backing {command} ") for line in typed), command


def test_without_that_line_none_would_run(tmp_path: Path) -> None:
    shell = Shell(tmp_path)
    (check,) = [line for line in lines() if line.command.startswith("backing check forms/bakery")]
    assert shell.run(check).returncode == 127


def test_each_set_up_is_one_line_that_activates_the_environment_too() -> None:
    set_up = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    assert len(set_up) == 2
    for line in set_up:
        assert line.startswith(f"python3 -m venv .venv && {ACTIVATE} && pip install ")


def test_the_checks_before_a_merge_find_both_lines() -> None:
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    for sought in ("backing lesson forms/starter.yaml --out lesson", "'.[test]'"):
        assert f"command_of '{sought}'" in script or f'command_of "{sought}"' in script
        assert sum(sought in line for line in README.splitlines()) == 1


def test_the_block_for_windows_does_the_same_in_its_own_quoting() -> None:
    (block,) = re.findall(r"^```bat\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert "'" not in block
    assert "/" not in block
    (ours,) = [line for line in README.splitlines() if "backing lesson forms/starter.yaml" in line]
    unix = ours.replace("python3 ", "py ").replace(". .venv/bin/", ".venv\\Scripts\\")
    assert block.splitlines() == unix.replace("'", '"').replace("/", "\\").split(" && ")


def test_the_form_shown_is_the_starter() -> None:
    shown = re.findall(r"^```yaml\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)[0]
    starter = (ROOT / "forms" / "starter.yaml").read_text("utf-8")
    assert starter.endswith(f"\n\n{shown}")


def test_every_file_that_it_links_to_is_there() -> None:
    links = re.findall(r'\]\(([^)#]+)\)|src="([^"]+)"', README)
    files = {ROOT / (link or source) for link, source in links}
    assert len(files) >= 6
    assert [path for path in files if not path.exists()] == []


def test_it_is_short_and_has_one_word_for_one_thing() -> None:
    assert len(README.split()) <= 2_200
    for word in ("sound bank", "banks", "bank "):
        assert word not in README
