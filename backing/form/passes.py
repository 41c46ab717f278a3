"""Passes: how many a line of the form plays, which ending each takes, what each is called."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from backing.form.model import Entry, Form, PassSettings, Rows, Section, Settings, Tempo
from backing.theory.rhythm import COMMON_TIME, Meter


def passes_played(entry: Entry, section: Section) -> int:
    """How many passes one line of the form plays, in all rounds of its groups."""
    return passes_at_once(entry, section) * entry.rounds


def passes_at_once(entry: Entry, section: Section) -> int:
    """How many passes one line of the form plays in one round of its groups."""
    return entry.times * (1 if entry.bars else section.times)


def ending_of(entry: Entry, section: Section, number: int) -> int | None:
    """Which ending pass `number` (from 1) of an entry takes; None where the section has none."""
    if not section.endings:
        return None
    if entry.ending is not None:
        return entry.ending
    return 1 if entry.bars else (number - 1) % max(section.endings) + 1


def set_by_pass(entry: Entry, section: Section, number: int) -> PassSettings | None:
    """What pass `number` of an entry sets for itself: the entry's over the section's."""
    of_section, of_entry = section.on_pass.get(number), entry.on_pass.get(number)
    if of_section is None or of_entry is None:
        return of_section if of_entry is None else of_entry
    return of_entry.under(of_section)


def varied_passes(entry: Entry, section: Section) -> tuple[int, ...]:
    """Which passes of an entry set something for themselves, in order."""
    total, listed = passes_played(entry, section), {*section.on_pass, *entry.on_pass}
    if total < len(listed):  # many lines of the form may play few of many passes
        return tuple(number for number in range(1, total + 1) if number in listed)
    return tuple(sorted(number for number in listed if number <= total))


def pass_rows(entry: Entry, section: Section, number: int) -> Rows:
    """All rows that pass `number` of an entry draws its bars from: its body, then its ending."""
    written = set_by_pass(entry, section, number)
    rows = written.rows if written is not None and written.rows is not None else section.rows
    ending = ending_of(entry, section, number)
    return rows + (section.endings[ending] if ending is not None else ())


def full_bars(entry: Entry, section: Section, number: int) -> int:
    """How many bars pass `number` has before an entry's `bars A-B` cuts it."""
    written = set_by_pass(entry, section, number)
    plain = _plain_bars(entry, section, number)
    if written is None or written.rows is None:
        return plain
    return plain - section.body_bars + (sum(map(len, written.rows)) or section.body_bars)


def _plain_bars(entry: Entry, section: Section, number: int) -> int:
    """How many bars pass `number` has if it sets no bars for itself, before any cut."""
    ending = ending_of(entry, section, number)
    return section.body_bars + (section.ending_bars[ending] if ending is not None else 0)


def pass_bars(entry: Entry, section: Section, number: int) -> int:
    """How many bars pass `number` of an entry plays."""
    if entry.bars is not None:
        return entry.bars[1] - entry.bars[0] + 1
    return full_bars(entry, section, number)


def bars_played(entry: Entry, section: Section) -> int:
    """How many bars one line of the form plays in all."""
    total = passes_played(entry, section)
    if entry.bars is not None:
        return total * (entry.bars[1] - entry.bars[0] + 1)
    cycle = max(section.endings, default=1) if entry.ending is None else 1
    of_cycle = [_plain_bars(entry, section, number + 1) for number in range(cycle)]
    rounds, over = divmod(total, cycle)
    varied = sum(
        full_bars(entry, section, number) - _plain_bars(entry, section, number)
        for number in varied_passes(entry, section)
    )
    return rounds * sum(of_cycle) + sum(of_cycle[:over]) + varied


def pass_settings(song: Settings, entry: Entry, section: Section, number: int) -> Settings:
    """What holds in pass `number` of an entry: song, section, entry and pass merged, the last
    as the section has it and then as the entry has it.

    The tempo is the pass's own: it holds a change only where this pass changes, and where
    the first pass changed from its first bars, the later ones start where that led.
    """
    settings = entry.settings.under(section.settings.under(song))
    written = set_by_pass(entry, section, number)
    own = written.settings.tempo if written is not None else None
    if written is not None:
        settings = written.settings.under(settings)
    tempo = settings.tempo
    if tempo is None or tempo.to_bpm is None or (own is not None and own.to_bpm is not None):
        return settings
    if number == (1 if tempo.from_first else passes_played(entry, section)):
        return settings
    led = tempo.from_first and (own is None or own.bpm is None)
    bpm = tempo.to_bpm if led else tempo.bpm
    return settings._replace(tempo=Tempo(bpm, tempo.beat_whole))


def settings_by_pass(song: Settings, entry: Entry, section: Section, of: int) -> list[Settings]:
    """What applies in each of `of` passes, in order.

    Passes that are alike share one object, however many there are.
    """
    listed = {*section.on_pass, *entry.on_pass}
    differing = {1, of, *(number for number in range(1, of + 1) if number in listed)}
    unlisted = max((of, *listed)) + 1
    usual = pass_settings(song, entry, section, unlisted)
    if of not in listed and usual == pass_settings(song, entry, section, of):
        differing -= {of}
    return [
        pass_settings(song, entry, section, number) if number in differing else usual
        for number in range(1, of + 1)
    ]


def first_meter(entry: Entry, section: Section, song: Settings) -> Meter:
    """The meter of the first bar that an entry plays."""
    meter = pass_settings(song, entry, section, 1).meter or COMMON_TIME
    bars = [bar for row in pass_rows(entry, section, 1) for bar in row]
    for bar in bars[: entry.bars[0] if entry.bars else 1]:
        meter = bar.meter or meter
    return meter


def labels(form: Form) -> Iterator[str]:
    """What each line of the form is called: its label, or its section, counted where it returns."""
    plays = Counter(entry.section for entry in form.entries if entry.label is None)
    seen: Counter[str] = Counter()
    for entry in form.entries:
        if entry.label is not None:
            yield entry.label
            continue
        seen[entry.section] += 1
        name = entry.section[0].upper() + entry.section[1:]
        name = f"{name} {seen[entry.section]}" if plays[entry.section] > 1 else name
        if entry.bars is not None:
            first, last = entry.bars
            name += f", bar {first}" if first == last else f", bars {first}-{last}"
        yield name


def begins(label: str, name: str) -> bool:
    """Whether a line's label begins with a name that ends where a word does, ignoring case."""
    start, rest = label[: len(name)], label[len(name) :]
    return start.casefold() == name.casefold() and not rest[:1].isalnum()


def pass_label(label: str, number: int, of: int) -> str:
    """A pass's own name: its line's, counted where the line plays several."""
    return f"{label} ({number} of {of})" if of > 1 else label
