"""The form in playing order as the proof understands it: each pass, what applies in it, its bars.

Written from the rules in `forms/README.md` and the records in `form.model` alone, so that a
mistake in how the form is unrolled for the players can't confirm itself here.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product
from typing import Any

from backing.form.model import (
    ONE_OF_THESE,
    Cell,
    Entry,
    Form,
    PartSettings,
    PassSettings,
    Section,
    Settings,
    Tempo,
    WrittenBar,
)
from backing.form.parts import PARTS
from backing.theory.rhythm import COMMON_TIME, Meter
from backing.verify.expected.beats import ratio_at
from backing.verify.expected.plans import (
    Change,
    Click,
    PartPlan,
    Plan,
    PlannedBar,
    Slots,
    Swing,
)
from backing.verify.expected.words import words_of_bars


def planned(form: Form, nearest: Mapping[str, PartSettings]) -> Iterator[Plan]:
    """Each pass in playing order; `nearest` are part settings that override all others."""
    names, played = line_names(form), Counter[int]()
    turns = _turns(form)
    rounds = Counter(turns)
    for index in turns:
        entry = form.entries[index]
        section = form.sections[entry.section]
        each = entry.times if entry.bars else entry.times * section.times
        count = each * rounds[index]
        for _ in range(each):
            played[index] += 1
            number = played[index]
            label = f"{names[index]} ({number} of {count})" if count > 1 else names[index]
            yield _pass(form, nearest, index, number, count, label)


def _turns(form: Form) -> list[int]:
    """The lines of the form by their indexes, in playing order.

    A line's turn in a group sorts by where the group begins, then by the round, and so on inward;
    last comes the line itself.
    """
    begins: dict[int, int] = {}
    for index, entry in enumerate(form.entries):
        for group in entry.groups:
            begins.setdefault(group.number, index)
    found: list[tuple[tuple[int, ...], int]] = []
    for index, entry in enumerate(form.entries):
        for rounds in product(*(range(group.times) for group in entry.groups)):
            places = [begins[group.number] for group in entry.groups]
            key = [at for pair in zip(places, rounds, strict=True) for at in pair]
            found.append(((*key, index), index))
    return [index for _, index in sorted(found)]


def line_names(form: Form) -> list[str]:
    """What each line of the form is called in tables and markers.

    Its own label; or else its section, numbered where several lines play it under that name,
    and its bars where it plays only some.
    """
    unlabeled = Counter(entry.section for entry in form.entries if entry.label is None)
    so_far: Counter[str] = Counter()
    names = []
    for entry in form.entries:
        name = entry.label
        if name is None:
            so_far[entry.section] += 1
            name = entry.section[:1].upper() + entry.section[1:]
            if unlabeled[entry.section] > 1:
                name += f" {so_far[entry.section]}"
            if entry.bars:
                first, last = entry.bars
                name += f", bar {first}" if first == last else f", bars {first}-{last}"
        names.append(name)
    return names


def slots_of(bar: WrittenBar, meter: Meter) -> Slots:
    """A bar's cells with their starts: by units, by beats, or an equal number of beats each."""
    count = len(bar.cells)
    lengths = [meter.bar_whole / count] * count if count == meter.count else list(meter.beats)
    each = len(lengths) // count
    return [(sum(lengths[: i * each], Fraction(0)), cell) for i, cell in enumerate(bar.cells)]


def _pass(
    form: Form,
    nearest: Mapping[str, PartSettings],
    index: int,
    number: int,
    count: int,
    label: str,
) -> Plan:
    entry = form.entries[index]
    section = form.sections[entry.section]
    own = [special.settings for special in _specials(section, entry, number)]
    levels = [form.settings, section.settings, entry.settings, *own]
    written = [*levels, Settings(parts=nearest)]
    own_tempos = [level.tempo for level in own if level.tempo is not None]
    bpm, change = _tempo([level.tempo for level in levels], own_tempos, number, count)
    meter = _nearest(levels, "meter") or COMMON_TIME
    return Plan(
        label=label,
        section=entry.section,
        entry=index,
        transpose=entry.transpose,
        bpm=bpm,
        change=change,
        swing=_swing(levels, bpm),
        click=_click(_part(written, "click")),
        meter=meter,
        first_bar=entry.bars[0] - 1 if entry.bars else 0,
        parts={
            name: _part_plan(form, _part(written, name), part.on) for name, part in PARTS.items()
        },
        bars=_bars(entry, section, meter, number),
        words=words_of_bars(entry, section, number),
        dynamic=_nearest(levels, "dynamic") or "medium",
        lifted=bool(_nearest(levels, "lift")),
    )


def lead_in_plan(form: Form, first: Plan, nearest: Mapping[str, PartSettings]) -> Plan:
    """The plan of a pickup before the pass `first`: the riffs that it has itself, and no others.

    In `nearest`, a part that is off, or plays something other than riffs, has none in the pickup.
    """
    led = {name: own.values["riff"] for name, own in form.pickup_parts.items()}
    for name, settings in nearest.items():
        played = any(settings.values.get(key) for key in ("strum", "pick", "line"))
        if settings.on is False or played:
            led.pop(name, None)
    if not led:
        return first
    parts = dict(first.parts)
    for name, part in first.parts.items():
        others = {key: value for key, value in part.values.items() if key not in ONE_OF_THESE}
        if name in led:
            riff = led[name]
            riff = form.riffs[riff] if isinstance(riff, str) else riff
            parts[name] = PartPlan(True, {**others, "riff": riff})
        elif "riff" in part.values:
            parts[name] = PartPlan(False, part.values)
    return first._replace(parts=parts, leads_in=True)


def _specials(section: Section, entry: Entry, number: int) -> list[PassSettings]:
    """What the section and then the line set for pass `number` alone."""
    return [of[number] for of in (section.on_pass, entry.on_pass) if number in of]


def _nearest(levels: Sequence[Any], key: str) -> Any:
    """What the nearest level says about a key, song first and pass last; None where none does."""
    values = [getattr(level, key) for level in levels if level is not None]
    return next((value for value in reversed(values) if value is not None), None)


def _part(levels: Sequence[Settings], name: str) -> list[PartSettings]:
    """What each level sets for a part, if anything: its own settings, then its arrangement's."""
    found = []
    for level in levels:
        of_level = [level.parts, level.arrangement.parts] if level.arrangement else [level.parts]
        found += [parts[name] for parts in of_level if name in parts]
    return found


def _part_plan(form: Form, levels: Sequence[PartSettings], usually_on: bool) -> PartPlan:
    """A part's settings, the nearest level's key by key; a strum, pick or riff ends the others.

    A pattern's name is replaced by the form's pattern; the name of a built-in one stays.
    """
    values: dict[str, Any] = {}
    for level in levels:
        if any(key in level.values for key in ONE_OF_THESE):
            values = {key: value for key, value in values.items() if key not in ONE_OF_THESE}
        values.update(level.values)
    for key, named in (("strum", form.strums), ("pick", form.picks), ("riff", form.riffs)):
        if isinstance(values.get(key), str):
            values[key] = named.get(values[key], values[key])
    on = _nearest(levels, "on")
    return PartPlan(usually_on if on is None else on, values)


def _tempo(
    levels: Sequence[Tempo | None], of_pass: Sequence[Tempo], number: int, count: int
) -> tuple[Fraction, Change | None]:
    """Quarters a minute at a pass's start, and its change of tempo.

    A line changes its tempo once: in its last pass, or in its first where the change starts
    from the first bars; the passes after that one keep the tempo it led to. A change that a
    pass has for itself happens in that pass.
    """
    quarters = _nearest(levels, "beat_whole") * 4
    bpm = _nearest(levels, "bpm") * quarters
    to_bpm, from_first = _nearest(levels, "to_bpm"), bool(_nearest(levels, "from_first"))
    if to_bpm is None:
        return bpm, None
    for_itself = any(tempo.to_bpm is not None for tempo in of_pass)
    if for_itself or number == (1 if from_first else count):
        return bpm, Change(to_bpm * quarters, _nearest(levels, "over_bars"), from_first)
    starts_anew = any(tempo.bpm is not None for tempo in of_pass)
    return (to_bpm * quarters if from_first and not starts_anew else bpm), None


def _swing(levels: Sequence[Settings], bpm: Fraction) -> Swing | None:
    feel = _nearest(levels, "feel")
    if feel is None or feel.ratio == 1:
        return None
    return Swing(feel.level_whole, ratio_at(bpm) if feel.ratio is None else feel.ratio)


def _click(levels: Sequence[PartSettings]) -> Click:
    plays = _value(levels, "plays")
    return Click(
        _nearest(levels, "on") is not False,
        _value(levels, "sound") or "wood",
        _value(levels, "accent") is not False,
        _value(levels, "subdivide"),
        None if plays is None else (plays.bars, plays.cycle),
    )


def _value(levels: Sequence[PartSettings], key: str) -> Any:
    """A part's setting at the nearest level that has it; None where none does."""
    return next((part.values[key] for part in reversed(levels) if key in part.values), None)


def _bars(entry: Entry, section: Section, meter: Meter, number: int) -> list[PlannedBar]:
    """The bars of pass `number`: its rows and its ending, then what the line takes of them."""
    own = [special.rows for special in _specials(section, entry, number) if special.rows]
    rows = list([section.rows, *own][-1])
    if section.endings:
        rows += section.endings[_ending(entry, section.endings, number)]
    bars: list[PlannedBar] = []
    for bar in (bar for row in rows for bar in row):
        meter = bar.meter or meter
        bars.append((bars[-1][0] if bar.again else slots_of(bar, meter), meter))
    return bars if entry.bars is None else _cut(bars, *entry.bars)


def _ending(entry: Entry, endings: Mapping[int, object], number: int) -> int:
    """Which ending a pass takes: the line's own, the first for a cut, or each in turn."""
    if entry.ending:
        return entry.ending
    return 1 if entry.bars else (number - 1) % max(endings) + 1


def _cut(bars: list[PlannedBar], first: int, last: int) -> list[PlannedBar]:
    """Bars `first` to `last`; where they start with a slash, the chord before them is struck."""
    slots, meter = bars[first - 1]
    (start, cell), *others = slots
    if cell.goes_on:
        before = [c for slots, _ in bars[: first - 1] for _, c in slots if not c.goes_on][-1]
        struck = Cell(before.chord, before.marks - {"push"})
        bars[first - 1] = ([(start, struck), *others], meter)
    return bars[first - 1 : last]
