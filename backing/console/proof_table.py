"""Tables and JSON of what a form should give and what was found in a file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import TypeAlias

from backing.form.parts import PARTS
from backing.text.bars import bar_numbers, bars
from backing.text.counts import plural
from backing.text.printable import printable
from backing.text.times import clock
from backing.text.width import width
from backing.verify import Expected, Report
from backing.verify.report import ANOTHER_SONG, ENDS, Detail, PartCount, Row, Verdict

#: What a report calls parts, where it isn't the parts' own titles.
Titles: TypeAlias = "Mapping[str, str]"
NO_TITLES: Titles = MappingProxyType({})
#: The places of a disagreement that are printed; JSON has all that were kept.
MOST_DETAILS = 5


def as_json(expected: Expected, report: Report | None = None) -> dict[str, object]:
    """A form's table for scripts: seconds as numbers, starts counted from the start of the file.

    `seconds` is the form alone, without the count-in and the ring-out.
    """
    found = report.rows if report else (None,) * len(expected.passes)
    out: dict[str, object] = {
        "title": expected.title,
        "bars": expected.played_bars,
        **({"rounds": expected.rounds} if expected.rounds > 1 else {}),
        "seconds": float(expected.seconds),
        "count_in_seconds": float(expected.count_in_s),
        "sections": [
            {
                "label": row.label,
                "first_bar": row.first_bar,
                "bars": row.bars,
                "start_seconds": float(row.start_s),
                "seconds": float(row.seconds),
                **_found_json(of_file),
            }
            for row, of_file in zip(expected.passes, found, strict=True)
        ],
    }
    if report is not None:
        out["agrees"] = report.agrees
        out["lost"] = list(report.lost)
        out["noted"] = list(report.noted)
        out["cause"] = report.cause
        out["worst_difference_seconds"] = report.worst_s
        out["tolerance_seconds"] = report.tolerance_s
        out["left_out"] = report.left_out
        out["parts"] = [part._asdict() for part in report.parts]
        out["details"] = [_detail_json(detail) for detail in report.details]
        out["findings"] = [
            {
                "reader": f.reader,
                "what": f.what,
                "agrees": f.agrees,
                "verdict": f.verdict.value,
                "says": f.says,
            }
            for f in report.findings
        ]
    return out


def head(expected: Expected) -> str:
    """Title, bars and length on one line."""
    return f"{expected.title}: {totals(expected)}"


def totals(expected: Expected) -> str:
    """Bars and length, and the count-in before them."""
    line = bars(expected.played_bars)
    if expected.rounds > 1:
        line += f" in {plural(expected.rounds, 'round')}"
    line += f", {clock(expected.seconds)}"
    count = len(expected.count_in_bars)
    if count:
        line += f", after {bars(count)} of count-in ({clock(expected.count_in_s)})"
    return line


def proof_table(report: Report) -> list[str]:
    """Each pass with its start and length, as expected and as found; then what was compared."""
    rows: list[tuple[str, ...]] = [("section", "bars", "start", "found", "length", "found")]
    rows += [_proof_row(row) for row in report.rows]
    return [*_columns(rows), *(f"  {_part_line(part, report.titles)}" for part in report.parts)]


def _part_line(part: PartCount, titles: Titles) -> str:
    """A part and its counts: Guitar: 412 strokes, 1,961 notes."""
    counts = [_counted(part.compared, part.unit)]
    if part.unit != "notes" or part.notes != part.compared:
        counts.append(_counted(part.notes, "notes"))
    return f"{_title(part.part, titles)}: {', '.join(counts)}"


def _counted(count: int, unit: str) -> str:
    return f"{count:,} {unit.removesuffix('s') if count == 1 else unit}"


def _title(what: str, titles: Titles) -> str:
    """A question's name; a part's is its title, which `titles` may have."""
    return titles.get(what, PARTS[what].title) if what in PARTS else what


def verdict(report: Report) -> list[str]:
    """What was compared, and the worst difference against the tolerance; or what disagrees."""
    if not report.agrees:
        return list(_disagreement(report))
    by = " and ".join(dict.fromkeys(finding.reader for finding in report.findings))
    checked = ", ".join(_checked(report))
    lines = [f"All agree, read back by {by}: {checked}."]
    if report.lost or report.noted:
        lost = f" Lost on the way: {', '.join(report.lost)}." if report.lost else ""
        lines = [f"The music agrees.{lost}", f"Read back by {by}: {checked}."]
    lines += report.noted
    lines.append(
        f"Worst difference {report.worst_s * 1000:.3f} ms, "
        f"tolerance {report.tolerance_s * 1000:.3f} ms."
    )
    if report.left_out:
        lines.append(f"{report.left_out}.")
    return lines


def _checked(report: Report) -> Iterable[str]:
    """The questions whose answer agrees; the table has the parts."""
    agree = (finding.what for finding in report.findings if finding.verdict is Verdict.AGREES)
    return dict.fromkeys("every part" if what in PARTS else what for what in agree)


def _disagreement(report: Report) -> Iterator[str]:
    """The cause if one is known, a few places, and what was lost or differs besides."""
    what = ", ".join(
        dict.fromkeys(_in_words(finding.what, report.titles) for finding in report.disagreements)
    )
    yield f"Disagrees: {report.cause or what}."
    if report.cause == ANOTHER_SONG:
        return
    for detail in report.details[:MOST_DETAILS]:
        yield f"  {detail_line(detail, report.titles)}"
    more = len(report.details) - MOST_DETAILS
    if more > 0:
        yield f"  and {'at least ' if report.more_details else ''}{more:,} more"
    lost = [what for what in report.lost if what != ENDS]  # they end where the music does
    if lost:
        yield f"Also lost on the way: {', '.join(lost)}."
    if not report.cause:  # which would explain these, too
        yield from report.noted
    if report.left_out:
        yield f"{report.left_out}."


def detail_line(detail: Detail, titles: Titles = NO_TITLES) -> str:
    """One place where a file disagrees: at 0:12.500, bar 7: the guitar: no stroke."""
    says = detail.says
    if detail.what in PARTS or detail.at_s is None:
        says = f"{_in_words(detail.what, titles)}: {says}"
    if detail.at_s is not None:
        says = f"at {clock(detail.at_s)}, {detail.bar}: {says}"
    return says + (f" (found only by {detail.reader})" if detail.reader else "")


def _in_words(what: str, titles: Titles) -> str:
    return f"the {_title(what, titles).lower()}" if what in PARTS else what


def _detail_json(detail: Detail) -> dict[str, object]:
    """A place in a file; `reader` is null where every reader that was asked found it."""
    return {
        "at_seconds": detail.at_s,
        "bar": detail.bar or None,
        "what": detail.what,
        "says": detail.says,
        "reader": detail.reader or None,
    }


def _found_json(row: Row | None) -> dict[str, float | None]:
    if row is None:
        return {}
    return {
        "found_start_seconds": row.found_start_s,
        "found_seconds": row.found_seconds,
    }


def _bars(first: int, count: int) -> str:
    return bar_numbers(first, first + count - 1) if first else "-"  # bars that only count


def _proof_row(row: Row) -> tuple[str, ...]:
    found = [clock(s) if s is not None else "-" for s in (row.found_start_s, row.found_seconds)]
    return (
        row.label,
        _bars(row.first_bar, row.bars),
        clock(row.start_s),
        found[0],
        clock(row.seconds),
        found[1],
    )


def _columns(rows: Iterable[tuple[str, ...]]) -> list[str]:
    """Columns, the first one aligned left and the others right, by printed width."""
    rows = [tuple(map(printable, row)) for row in rows]
    widths = [max(width(row[at]) for row in rows) for at in range(len(rows[0]))]
    widths[0] = min(widths[0], 40)
    lines = []
    for first, *rest in rows:
        cells = [first + " " * (widths[0] - width(first))]
        cells += [
            " " * (wide - width(cell)) + cell for cell, wide in zip(rest, widths[1:], strict=True)
        ]
        lines.append("  " + "  ".join(cells))
    return lines
