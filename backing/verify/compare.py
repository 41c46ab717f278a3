"""What is expected against what each reader found: findings, and the report on all of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

from backing.form.model import Form
from backing.practice.versions import PLAIN, Version
from backing.verify.comparison.band import check_band, struck_parts
from backing.verify.comparison.details import MOST_FAULTS, details
from backing.verify.comparison.keys import check_keys
from backing.verify.comparison.kits import check_kits
from backing.verify.comparison.labels import check_labels
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.mix import check_mix
from backing.verify.comparison.places import BarNames, FileTime
from backing.verify.comparison.reading import Reading
from backing.verify.comparison.rows import table_rows
from backing.verify.comparison.time_map import check_time
from backing.verify.comparison.tolerance import Tolerance
from backing.verify.comparison.voices import Assignment, assign
from backing.verify.expected.band import ExpectedPart, expected_band, left_out_band
from backing.verify.expected.clockwork import clockwork
from backing.verify.expected.records import Expected
from backing.verify.expected.song_maths import expect
from backing.verify.readers.measured import Measured
from backing.verify.report import Fault, Finding, PartCount, Report


def expected_of(form: Form, version: Version | None = None, count_in: bool = True) -> Expected:
    """What a file of a form, or of a practice version of it, must hold.

    `count_in` is False for a file without the count-in.

    Raises:
        BackingError: the form has no such bars, sections or key.
    """
    if version is None or version == PLAIN:
        return expect(form, count_in)
    from backing.verify.expected.practice_maths import expect_version

    return expect_version(form, version, count_in)


def compare(expected: Expected, accounts: Sequence[Measured], with_cause: bool = True) -> Report:
    """Compare what is expected with each reader's account; the table shows the first reader's.

    `with_cause` is whether to look for what explains a disagreement, which takes longer.
    """
    form = clockwork(expected.tempos)
    band = expected_band(expected, form)
    findings: list[Finding] = []
    parts: list[PartCount] = []
    for account in accounts:
        reading = Reading(
            expected,
            account,
            form,
            FileTime(account, form),
            Tolerance(expected.tempos, account.tick_quarters),
        )
        assigned = _assigned(reading, band)
        assigned, checks = check_band(band, assigned, _leeway(reading))
        findings += check_time(reading)
        checks = [check for check in checks if check.moments or check.notes or check.faults]
        findings += (_part_finding(reading, check) for check in checks)
        findings += _endless_notes(reading)
        findings += check_mix(reading, assigned.parts)
        findings += check_kits(reading, *struck_parts(band), assigned.percussion)
        findings += check_keys(reading)
        findings += check_labels(reading)
        parts = parts or [PartCount(*check[:4]) for check in checks if check.part in band]
    first, instrument = accounts[0], expected.band.instrument
    tolerance = Tolerance(expected.tempos, first.tick_quarters)
    places, more = details(findings, BarNames(expected), tolerance)
    disagrees = not all(finding.agrees for finding in findings)
    return Report(
        title=expected.title,
        titles={instrument.part: instrument.title},
        rows=tuple(table_rows(expected, first)),
        findings=tuple(findings),
        tolerance_s=tolerance(float(expected.count_in_s + expected.seconds)),
        parts=tuple(parts),
        cause=_cause(expected, band, first) if with_cause and disagrees else "",
        details=places,
        more_details=more,
    )


def _leeway(reading: Reading) -> Leeway:
    return Leeway(reading.account.reader, float(reading.expected.human_s), reading.tolerance)


def _assigned(reading: Reading, band: Mapping[str, ExpectedPart]) -> Assignment:
    """Which of the file's voices play which part."""
    left_out = partial(left_out_band, reading.expected, reading.form)
    return assign(band, reading.account.voices, _leeway(reading), left_out)


def _endless_notes(reading: Reading) -> Iterator[Finding]:
    """A note that nothing ends would sound until the player is switched off."""
    starts = sorted(reading.account.endless)[:MOST_FAULTS]
    if starts:
        yield reading.differs("note ends", [Fault(at_s, "a note never ends") for at_s in starts])


def _cause(expected: Expected, band: Mapping[str, ExpectedPart], account: Measured) -> str:
    """The one thing that explains what disagrees, empty if there is none."""
    from backing.verify.causes.cause import cause_of

    tolerance = Tolerance(expected.tempos, account.tick_quarters)
    leeway = Leeway(account.reader, float(expected.human_s), tolerance)
    moments = {name: part.moments for name, part in band.items()}
    return cause_of(expected, moments, account, leeway) or ""


def _part_finding(reading: Reading, check: PartCheck) -> Finding:
    if check.faults:
        return reading.differs(check.part, check.faults, check.worst_s)
    says = f"{check.moments:,} {check.unit}, {check.notes:,} notes"
    return reading.agrees(check.part, says, check.worst_s)
