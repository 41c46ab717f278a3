"""Where in the song a time is, and where in the form's time a place of the file would be."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured


class BarNames:
    """The bar at a time, in words: "bar 7", "in the count-in", "after the last bar"."""

    def __init__(self, expected: Expected) -> None:
        named = list(_bars(expected))
        named.append((float(expected.count_in_s + expected.seconds), "after the last bar"))
        self.starts = [at_s for at_s, _ in named]
        self.names = [name for _, name in named]

    def at(self, at_s: float, early_s: float) -> str:
        """The bar at a time; what comes at most `early_s` before a bar line is in its bar."""
        return self.names[max(0, bisect_right(self.starts, at_s + early_s) - 1)]


def _bars(expected: Expected) -> Iterator[tuple[float, str]]:
    """The start of each bar with its name; passes say how bars are numbered."""
    pickups = {at_s for at_s, label in expected.lead_in if label == "Pickup"}
    for bar in expected.count_in_bars:
        what = "pickup" if bar.start_s in pickups else "count-in"
        yield float(bar.start_s), f"in the {what}"
    firsts = {row.start_s: row.first_bar for row in expected.passes}
    number = 0
    for bar in expected.bars:
        if bar.only_counts:
            yield float(bar.start_s), "in the count-in"
            continue
        number = firsts.get(bar.start_s, number)
        yield float(bar.start_s), f"bar {number}"
        number += 1


class FileTime:
    """A file's tempos: from quarters to its seconds and back, and to the form's seconds."""

    def __init__(self, account: Measured, form: Clockwork) -> None:
        self.form = form
        times = [at_s for at_s, _ in account.tempos]
        self.clock = Clockwork(account.tempo_quarters, times, account.quarter_seconds)

    def quarters(self, at_s: float) -> float:
        """The place of a time in the file. Where a tempo is 0 all places have one time."""
        clock = self.clock
        at = max(0, bisect_right(clock.starts_s, at_s) - 1)
        since, each = at_s - clock.starts_s[at], clock.quarter_s[at]
        return clock.quarters[at] + (since / each if each else 0.0)

    def by_form(self, at_s: float) -> float:
        """The time that a place of the file has at the form's tempos.

        What is compared at its place isn't found wrong again because a tempo is wrong.
        """
        return self.form.seconds(self.quarters(at_s))
