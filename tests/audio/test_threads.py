"""Work side by side in threads."""

from __future__ import annotations

import time

import pytest

from backing.audio.side import Ended, Stop, side_by_side
from backing.errors import BackingError


def test_a_failure_ends_the_others() -> None:
    stop, went_on = Stop(), []

    def endless() -> None:
        try:
            while True:
                stop.check()
                time.sleep(0.01)
        except Ended:
            went_on.append("ended")
            raise

    def fails() -> None:
        raise BackingError("no")

    with pytest.raises(BackingError, match="no"):
        side_by_side([endless, fails, endless], 2, stop)
    assert went_on
