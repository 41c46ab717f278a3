"""The chart's words: head, margin and roadmap in plain words with counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from backing.chart.records import ChartOptions, Head, Line, Stop
from backing.form.model import Entry, Feel, Form, Section, Settings, Tempo
from backing.form.passes import ending_of, labels
from backing.form.printer import number
from backing.theory.fretboard import STANDARD_TUNING
from backing.theory.keys import Key
from backing.theory.pitch import note_name
from backing.theory.rhythm import COMMON_TIME, Meter
from backing.timeline import Timeline

_TIMES = {2: "twice", 3: "three times", 4: "four times"}
_ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth"}


def times(count: int) -> str:
    """Twice, three times, 5 times."""
    return _TIMES.get(count, f"{count} times")


def ordinal(count: int) -> str:
    """First, second, 7th."""
    return _ORDINALS.get(count) or f"{count}{'th' if 10 < count % 100 < 20 else _suffix(count)}"


def _suffix(count: int) -> str:
    return {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")


def runs(numbers: Sequence[int]) -> str:
    """An ending's passes, three or more in a row as one range: 1.–3., 5."""
    found: list[list[int]] = []
    for one in numbers:
        if found and one == found[-1][-1] + 1:
            found[-1].append(one)
        else:
            found.append([one])
    return ", ".join(
        f"{run[0]}.–{run[-1]}." if len(run) > 2 else ", ".join(f"{one}." for one in run)
        for run in found
    )


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
        first.append(feel(form.settings.feel))
    if form.settings.dynamic:
        first.append(form.settings.dynamic)
    if form.count_in_bars:
        first.append(f"count-in of {bars(form.count_in_bars)}")
    second = list(_keys(form, options))
    if form.tuning != STANDARD_TUNING:
        flats = form.key is not None and form.key.signature < 0
        names = " ".join(signs_of(note_name(n, flats)).rstrip("-0123456789") for n in form.tuning)
        second.append(f"tuned {names}, low to high")
    if form.pitch_hz != 440:
        second.append(f"A at {number(form.pitch_hz)} Hz")
    facts = tuple(", ".join(line) for line in (first, second) if line)
    return Head(form.title, form.by, tempo_line(tempo, tempo), facts, form.settings.note or "")


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
        tempo: as it is said here.
        now: what holds here, all told.
    """
    text = number(tempo.bpm) if tempo.bpm is not None else ""
    line = Line("tempo", text, tempo.beat_whole or now.beat_whole)
    if tempo.to_bpm is None or now.over_bars is None:
        return line
    which = "first" if now.from_first else "last"
    over = "bar" if now.over_bars == 1 else f"{now.over_bars} bars"
    faster = now.bpm is not None and tempo.to_bpm > now.bpm
    how = "gathering speed to" if faster else "slowing to"
    return line._replace(how=how, to=number(tempo.to_bpm), over=f"over the {which} {over}")


def feel(one: Feel) -> str:
    """A feel in words."""
    if one.ratio == 1:
        return "straight"
    notes = "sixteenths" if one.level_whole == Fraction(1, 16) else "eighths"
    if one.ratio is None:
        return f"swung {notes}, by tempo"
    how = "" if one.ratio == 2 else f" {one.ratio.numerator} to {one.ratio.denominator}"
    return f"swung {notes}{how}"


def said_of(settings: Settings, song: Meter, now: Settings) -> Iterator[Line]:
    """What a section or a pass sets for itself, for the margin; `now` is all that holds there."""
    if settings.meter is not None and settings.meter != song:
        yield Line("words", f"in {settings.meter}")
    if settings.tempo is not None:
        yield tempo_line(settings.tempo, now.tempo or settings.tempo)
    if settings.feel is not None:
        yield Line("words", feel(settings.feel))
    if settings.dynamic is not None:
        yield Line("words", settings.dynamic)
    if settings.note:
        yield Line("note", settings.note)


def bars(count: int) -> str:
    """So many bars."""
    return "1 bar" if count == 1 else f"{count} bars"


def clock(seconds: Fraction) -> str:
    """Minutes and seconds: 1:05."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def roadmap(timeline: Timeline, shown_as: dict[tuple[str, int], str]) -> Iterator[Stop]:
    """The form list, line by line.

    Args:
        shown_as: what the block that shows a section (moved so far) is called.
    """
    form = timeline.form
    names = list(labels(form))
    for index, of_entry in groupby(timeline.bars, key=lambda bar: bar.playing.entry):
        played = list(of_entry)
        entry = form.entries[index]
        section = form.sections[entry.section]
        lengths = [len(list(of_pass)) for _, of_pass in groupby(played, lambda b: b.playing.number)]
        first = played[0]
        said = _said(entry, section, form.settings, names[index], shown_as)
        yield Stop(
            first.number,
            timeline.seconds(first.start_whole),
            names[index],
            ", ".join(said),
            _counts(lengths),
            entry.settings.note or "",
        )


def _counts(lengths: Sequence[int]) -> str:
    """How long a line is: 8 bars, 8 bars, twice, or all bars where passes differ."""
    if len(lengths) == 1:
        return bars(lengths[0])
    if len(set(lengths)) == 1:
        return f"{bars(lengths[0])}, {times(len(lengths))}"
    return f"{bars(sum(lengths))} in {len(lengths)} passes"


def _said(
    entry: Entry,
    section: Section,
    song: Settings,
    name: str,
    shown_as: dict[tuple[str, int], str],
) -> Iterator[str]:
    shown = shown_as[section.name, entry.transpose]
    if not name.casefold().startswith(shown.casefold()):
        yield f"as {shown}"
    if entry.bars is not None and entry.label is not None:
        one, last = entry.bars
        yield f"bar {one}" if one == last else f"bars {one}–{last}"
    ending = ending_of(entry, section, 1)
    if ending is not None and entry.bars is None and entry.ending is not None:
        yield f"{ordinal(ending)} ending"
    if entry.transpose:
        yield f"moved {'up' if entry.transpose > 0 else 'down'} {steps(abs(entry.transpose))}"
    settings = entry.settings
    now = settings.under(section.settings.under(song))
    for line in said_of(settings._replace(note=None), song.meter or COMMON_TIME, now):
        yield line.words


def steps(semitones: int) -> str:
    """A distance in words."""
    whole = {1: "a semitone", 2: "a tone"}
    return whole.get(semitones, f"{semitones} semitones")
