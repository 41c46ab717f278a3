"""Runs ended by signal 9 and run again; `tests/bench/kill.py` does a hundred, with sound."""

from __future__ import annotations

from pathlib import Path

from bench.kill import trials


def test_a_run_after_a_killed_one_makes_the_same_folder(tmp_path: Path) -> None:
    tally = trials(5, tmp_path, audio=False, seed=7)
    assert tally.ended >= 5
