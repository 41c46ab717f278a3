"""The words of the chart's head, margin and roadmap."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from backing.chart.records import ChartOptions, Head, Line, Stop
from backing.form.model import (
    Arrangement,
    Entry,
    Feel,
    Form,
    PassSettings,
    Section,
    Settings,
    Tempo,
)
from backing.form.parts import PARTS, title_of
from backing.form.passes import ending_of, labels
from backing.form.playing_order import in_groups, with_counts
from backing.practice.exercise_notes import exercise_notes
from backing.text.bars import bar_range, bars
from backing.text.counts import moved, ordinal, times
from backing.text.credits import credits_
from backing.text.feel import feel
from backing.text.lists import same_values
from backing.text.percent import exact_decimal
from backing.text.tempo import direction, over
from backing.text.tuning import tuned
from backing.theory.instruments import GUITAR, Instrument
from backing.theory.keys import Key
from backing.theory.rhythm import Meter
from backing.theory.shells import VOICINGS
from backing.timeline import Bar, Timeline

#: Keys of parts whose value may be a pattern's name.
_PATTERNS = ("strum", "pick", "riff", "line", "beat")


def signs_of(text: str) -> str:
    """A note's or key's name with printed signs."""
    return text[:1] + text[1:].replace("#", "♯").replace("b", "♭")


def key_name(key: Key) -> str:
    """A key in words: A, F♯ minor."""
    return key.tonic.pretty + (" minor" if key.minor else "")


def head(form: Form, options: ChartOptions) -> Head:
    """Title, writer, tempo, and lines of facts."""
    tempo = form.settings.tempo or Tempo()
    first = [str(form.meter)]
    if form.settings.feel is not None and form.settings.feel != Feel():
        first.append(_feel(form.settings.feel))
    if form.settings.dynamic:
        first.append(form.settings.dynamic)
    if form.settings.arrangement is not None:
        first.append(arrangement_words(form.settings.arrangement))
    if form.count_in_bars:
        first.append(f"count-in of {bars(form.count_in_bars)}")
    second = [f"for {form.instrument.name}"] if form.instrument is not GUITAR else []
    second += _keys(form, options)
    if form.own_tuning != form.instrument.tuning:
        second.append(tuned(form.own_tuning, form.key, signs_of))
    second += filter(None, [VOICINGS[form.voicing]])
    if form.pitch_hz != 440:
        second.append(f"A at {exact_decimal(form.pitch_hz)} Hz")
    facts = tuple(", ".join(line) for line in (first, second) if line)
    notes = tuple(filter(None, (form.settings.note, *exercise_notes(form))))
    by = credits_(form.by, form.student)
    return Head(form.title, by, tempo_line(tempo, tempo), facts, notes)


def _keys(form: Form, options: ChartOptions) -> Iterator[str]:
    key = form.key
    sounding = key.transposed(form.capo) if key is not None else None
    if not form.capo:
        if key is not None:
            yield f"key of {key_name(key)}"
        return
    if options.sounding:
        yield f"chords as they sound{f', in {key_name(sounding)}' if sounding else ''}"
        yield f"shapes for capo {form.capo}{f', in {key_name(key)}' if key else ''}"
        return
    yield f"capo {form.capo}"
    if key is not None and sounding is not None:
        yield f"shapes in {key_name(key)}"
        yield f"sounds in {key_name(sounding)}"


def tempo_line(tempo: Tempo, now: Tempo) -> Line:
    """A tempo and how it changes.

    Args:
        tempo: as it is set here.
        now: the tempo that holds here, with what is set elsewhere.
    """
    text = exact_decimal(tempo.bpm) if tempo.bpm is not None else ""
    line = Line("tempo", text, tempo.beat_whole or now.beat_whole)
    if tempo.to_bpm is None or now.over_bars is None:
        return line
    faster = now.bpm is not None and tempo.to_bpm > now.bpm
    stretch = over(now.over_bars, bool(now.from_first))
    return line._replace(how=direction(faster), to=exact_decimal(tempo.to_bpm), over=stretch)


def margin_lines(settings: Settings, song: Meter, now: Settings) -> Iterator[Line]:
    """What a section or a pass sets itself, for the margin; `now` is all that holds there."""
    if settings.meter is not None and settings.meter != song:
        yield Line("words", f"in {settings.meter}")
    if settings.tempo is not None:
        yield tempo_line(settings.tempo, now.tempo or settings.tempo)
    if settings.feel is not None:
        yield Line("words", _feel(settings.feel))
    if settings.dynamic is not None:
        yield Line("words", settings.dynamic)
    if settings.arrangement is not None:
        yield Line("words", arrangement_words(settings.arrangement))
    if settings.note:
        yield Line("note", settings.note)


def arrangement_words(arrangement: Arrangement) -> str:
    """An arrangement in words: `simple arrangement`."""
    return f"{arrangement.name} arrangement"


def changed_passes(
    on_pass: Mapping[int, PassSettings], form: Form, outer: Settings
) -> Iterator[str]:
    """What passes that keep their bars change: `third time: loud`; `outer` holds around them."""
    for numbers, changes in same_values(on_pass):
        said = ", ".join(_changes(changes.settings, form, outer))
        if said and changes.rows is None:
            yield f"{which_time(numbers)}: {said}"


def _changes(own: Settings, form: Form, outer: Settings) -> list[str]:
    """What a pass changes, in words."""
    lines = [line.words for line in margin_lines(own, form.meter, own.under(outer))]
    return [*lines, *part_changes(own, form.instrument)]


def part_changes(own: Settings, instrument: Instrument) -> Iterator[str]:
    """What the parts that are written at one place do: off, a named pattern, or another change."""
    for name, settings in own.parts.items():
        part = PARTS[name]
        title = title_of(part, instrument).lower()
        names = [value for key in _PATTERNS if isinstance(value := settings.values.get(key), str)]
        if settings.on is False:
            yield f"{title} off"
        elif names:
            yield f"{title} {'play' if part.is_plural else 'plays'} {names[0]}"
        else:
            yield f"{title} {'change' if part.is_plural else 'changes'}"


def which_time(passes: Sequence[int]) -> str:
    """Which passes: second and third time."""
    return " and ".join(ordinal(number) for number in passes) + " time"


def roadmap(timeline: Timeline, shown_as: dict[tuple[str, int], str]) -> Iterator[Stop]:
    """The form list, line by line; a group of lines is one.

    Args:
        shown_as: what the block that shows a section (moved so far) is called.
    """
    form = timeline.form
    names = list(labels(form))
    lengths: dict[int, list[int]] = {}
    first_bars: dict[int, Bar] = {}
    for _, of_pass in groupby(timeline.bars, key=lambda bar: id(bar.playing)):
        played = list(of_pass)
        lengths.setdefault(played[0].playing.entry, []).append(len(played))
        first_bars.setdefault(played[0].playing.entry, played[0])
    for indexes, text in in_groups(form.entries, list(with_counts(form, names, "×")), "×"):
        index, first = indexes[0], first_bars[indexes[0]]
        at = first.number, timeline.seconds(first.start_whole)
        entry = form.entries[index]
        if entry.groups:
            yield Stop(*at, text, "", bars(sum(sum(lengths[one]) for one in indexes)))
            continue
        section = form.sections[entry.section]
        details = _details(entry, section, form, names[index], shown_as)
        counts, note = _counts(lengths[index]), entry.settings.note or ""
        yield Stop(*at, names[index], ", ".join(details), counts, note)


def _counts(lengths: Sequence[int]) -> str:
    """How long a line is: `8 bars` or `8 bars, twice`; the sum of all passes if they differ."""
    if len(lengths) == 1:
        return bars(lengths[0])
    if len(set(lengths)) == 1:
        return f"{bars(lengths[0])}, {times(len(lengths))}"
    return f"{bars(sum(lengths))} in {len(lengths)} passes"


def _details(
    entry: Entry,
    section: Section,
    form: Form,
    name: str,
    shown_as: dict[tuple[str, int], str],
) -> Iterator[str]:
    shown = shown_as[section.name, entry.transpose]
    if not name.casefold().startswith(shown.casefold()):
        yield f"as {shown}"
    if entry.bars is not None and entry.label is not None:
        yield bar_range(*entry.bars, dash="–")
    ending = ending_of(entry, section, 1)
    if ending is not None and entry.bars is None and entry.ending is not None:
        yield f"{ordinal(ending)} ending"
    if entry.transpose:
        yield f"moved {moved(entry.transpose)}"
    settings = entry.settings
    now = settings.under(section.settings.under(form.settings))
    for line in margin_lines(settings._replace(note=None), form.meter, now):
        yield line.words
    yield from part_changes(settings, form.instrument)
    yield from changed_passes(entry.on_pass, form, now)


def _feel(feel_: Feel) -> str:
    return feel(feel_.ratio, feel_.level_whole)
