"""The README's tour runs as typed; `tests/audio/test_readme_sound.py` runs the lines with sound."""

from __future__ import annotations

from pathlib import Path

from tour import ACTIVATE, Shell, lines, tour


def test_the_tour_runs_as_typed_and_prints_what_it_says(tmp_path: Path) -> None:
    assert tour(Shell(tmp_path), sound=False) == []


def test_the_first_line_after_the_set_up_switches_the_environment_on() -> None:
    typed = [line.command for line in lines()]
    assert typed[0] == ACTIVATE
    assert len(typed) > 15
    for command in ("new", "check", "build", "lesson", "verify", "chart", "page", "capo", "drill"):
        assert any(line.startswith(f"backing {command} ") for line in typed), command


def test_without_it_no_line_would_run(tmp_path: Path) -> None:
    shell = Shell(tmp_path)
    (check,) = [line for line in lines() if line.command.startswith("backing check forms/orch")]
    assert shell.run(check).returncode == 127
