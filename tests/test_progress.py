"""The progress that is shown never goes down, whatever is reported late, twice or out of order."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from backing.commands.printing import share_to_steps
from backing.errors import BackingError
from backing.form import read_form_text
from backing.practice.versions import PLAIN
from backing.tracks import parallel
from backing.tracks.one import Built, Piece
from backing.tracks.parallel import make_all

FORM = read_form_text("title: A\ntempo: 90\nsections: {a: {bars: A}}\nform: [a]\n")
#: What one piece reports: forward, back, twice, and past its end.
REPORTED = (0.25, 0.5, 0.25, 0.5, 0.0, 0.75, 0.5, 1.0, 0.9, 1.0)


def saved(
    piece: Piece, progress: Callable[[float], None] = lambda share: None, cores: int | None = None
) -> Built:
    for share in REPORTED:
        progress(share)
    raise BackingError("nothing is made here")


@pytest.mark.parametrize("count", [1, 3])
def test_the_share_of_all_pieces_never_goes_down(
    count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parallel, "save", saved)
    shares: list[float] = []
    make_all([Piece(FORM, tmp_path / str(n), PLAIN) for n in range(count)], shares.append)
    assert all(before < after for before, after in pairwise(shares))
    assert shares[-1] == 1.0
    assert len(shares) == 4 * count


@pytest.mark.parametrize("steps", [1, 7, 300])
def test_a_bar_only_moves_forward_and_ends_full(steps: int) -> None:
    dice = random.Random(steps)
    moves: list[int] = []
    move = share_to_steps(steps, moves.append)
    for _ in range(200):
        move(dice.random())
    move(1.0)
    move(0.2)
    assert min(moves) > 0
    assert sum(moves) == steps
