"""The places where a file disagrees, in order of time, each said once for all readers."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from backing.text.times import clock
from backing.verify.comparison.places import BarNames
from backing.verify.comparison.tolerance import Tolerance
from backing.verify.report import Detail, Finding, Verdict

#: The faults that are kept of one finding.
MOST_FAULTS = 20


def details(
    findings: Sequence[Finding], bars: BarNames, tolerance: Tolerance
) -> tuple[tuple[Detail, ...], bool]:
    """All places of all disagreements, and whether a finding may have more than it kept.

    A detail names its reader where another reader found that the same question agrees.
    """
    disputed = {each.what for each in findings if each.verdict is Verdict.AGREES}
    found: dict[tuple[str, str, str], Detail] = {}
    more = False
    for finding in findings:
        if finding.agrees:
            continue
        more = more or len(finding.details) >= MOST_FAULTS
        reader = finding.reader if finding.what in disputed else ""
        for fault in finding.details:
            at_s = max(0.0, fault.at_s)
            bar = bars.at(at_s, tolerance(at_s))
            detail = Detail(at_s, bar, finding.what, fault.says, reader)
            found.setdefault((clock(at_s), finding.what, fault.says), detail)
        if not finding.details:
            detail = Detail(None, "", finding.what, finding.says, reader)
            found.setdefault(("", finding.what, finding.says), detail)
    return tuple(sorted(found.values(), key=_time)), more


def _time(detail: Detail) -> float:
    return -inf if detail.at_s is None else detail.at_s
