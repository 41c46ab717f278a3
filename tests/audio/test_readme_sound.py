"""The README's whole tour as typed, with sound."""

from __future__ import annotations

from pathlib import Path

from tour import Shell, lines, tour


def test_the_whole_tour_runs_as_typed(tmp_path: Path) -> None:
    assert sum(line.needs_sound for line in lines()) >= 3
    assert tour(Shell(tmp_path), sound=True) == []
