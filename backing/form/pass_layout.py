"""Each pass's bars laid over their meters, and what a line of the form takes of them."""

from __future__ import annotations

from collections.abc import Sequence

from backing.form.layout import LaidBar, lay_out
from backing.form.model import Entry, Form
from backing.form.passes import ending_of, pass_rows, set_by_pass
from backing.theory.rhythm import Meter


class Layouts:
    """The laid bars of a form's passes, worked out once for all passes that are alike."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self._known: dict[tuple[str, int | None, int | None, Meter], tuple[LaidBar, ...]] = {}

    def of(self, entry: Entry, number: int, meter: Meter) -> tuple[LaidBar, ...]:
        """The bars that pass `number` (from 1) of an entry plays, starting in `meter`."""
        section = self.form.sections[entry.section]
        own = set_by_pass(entry, section, number)
        rows_at = id(own.rows) if own is not None and own.rows is not None else None
        key = (section.name, ending_of(entry, section, number), rows_at, meter)
        if key not in self._known:
            rows = pass_rows(entry, section, number)
            self._known[key] = lay_out([bar for row in rows for bar in row], meter)
        whole = self._known[key]
        return whole if entry.bars is None else _cut(whole, *entry.bars)


def _cut(bars: Sequence[LaidBar], first: int, last: int) -> tuple[LaidBar, ...]:
    """Bars `first` to `last` (from 1); a slash at their start repeats the chord before them."""
    kept = list(bars[first - 1 : last])
    meter, (start, *others) = kept[0]
    if start.cell.goes_on:
        before = next(
            cell
            for bar in reversed(bars[: first - 1])
            for _, cell in reversed(bar.cells)
            if not cell.goes_on
        )
        again = start.cell._replace(
            chord=before.chord, marks=before.marks - {"push"}, goes_on=False
        )
        kept[0] = LaidBar(meter, (start._replace(cell=again), *others))
    return tuple(kept)
