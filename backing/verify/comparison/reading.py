"""One reader's account of a file beside what is expected."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from backing.text.times import clock
from backing.verify.comparison.places import FileTime
from backing.verify.comparison.tolerance import Tolerance
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured
from backing.verify.report import Fault, Finding, Verdict


class Reading(NamedTuple):
    """What one reader found beside what is expected, and how to compare their times.

    `form` are the form's tempos, and `file` the file's.
    """

    expected: Expected
    account: Measured
    form: Clockwork
    file: FileTime
    tolerance: Tolerance

    def differs(self, what: str, faults: Sequence[Fault], worst_s: float = 0.0) -> Finding:
        """A disagreement with its places."""
        first = min(faults)
        says = f"at {clock(max(0.0, first.at_s))}: {first.says}"
        return Finding(self.account.reader, what, Verdict.DISAGREES, says, worst_s, tuple(faults))

    def agrees(self, what: str, says: str, worst_s: float = 0.0) -> Finding:
        """An agreement."""
        return Finding(self.account.reader, what, Verdict.AGREES, says, worst_s)

    def lost(self, what: str, says: str) -> Finding:
        """A label that is missing."""
        return Finding(self.account.reader, what, Verdict.LOST, says)
