"""All lines of the README run as typed, those with sound too."""

from __future__ import annotations

from pathlib import Path

from tour import Shell, lines, tour


def test_all_lines_run_as_typed(tmp_path: Path) -> None:
    assert sum(line.needs_sound for line in lines()) >= 3
    assert tour(Shell(tmp_path), sound=True) == []
