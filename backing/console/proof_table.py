"""Tables and JSON of what a form should give and what was found in a file."""

from __future__ import annotations

from collections.abc import Sequence

from backing.text.bars import bar_numbers, bars
from backing.text.counts import plural
from backing.text.times import clock
from backing.text.width import width
from backing.verify import Expected, Report
from backing.verify.report import Row


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
        out["worst_difference_seconds"] = report.worst_s
        out["tolerance_seconds"] = report.tolerance_s
        out["left_out"] = report.left_out
        out["findings"] = [
            {"reader": f.reader, "what": f.what, "agrees": f.agrees, "says": f.says}
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


def proof_table(report: Report) -> str:
    """Each pass with its start and length, as expected and as found."""
    rows: list[tuple[str, ...]] = [("section", "bars", "start", "found", "length", "found")]
    rows += [_proof_row(row) for row in report.rows]
    return _columns(rows)


def verdict(report: Report) -> str:
    """What was compared, and the worst difference against the tolerance; or what disagrees."""
    readers = list(dict.fromkeys(finding.reader for finding in report.findings))
    by = " and ".join(readers)
    left_out = f"\n{report.left_out}" if report.left_out else ""
    if report.agrees:
        checked = ", ".join(dict.fromkeys(finding.what for finding in report.findings))
        return (
            f"All agree, read back by {by}: {checked}.\n"
            f"Worst difference {report.worst_s * 1000:.3f} ms, "
            f"tolerance {report.tolerance_s * 1000:.3f} ms.{left_out}"
        )
    return "\n".join(f"Disagrees ({f.reader}): {f.what}: {f.says}." for f in report.disagreements)


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


def _columns(rows: Sequence[tuple[str, ...]]) -> str:
    """Columns, the first one aligned left and the others right, by printed width."""
    widths = [max(width(row[at]) for row in rows) for at in range(len(rows[0]))]
    widths[0] = min(widths[0], 40)
    lines = []
    for first, *rest in rows:
        cells = [first + " " * (widths[0] - width(first))]
        cells += [
            " " * (wide - width(cell)) + cell for cell, wide in zip(rest, widths[1:], strict=True)
        ]
        lines.append("  " + "  ".join(cells))
    return "\n".join(lines)
