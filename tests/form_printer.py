"""A Form back to YAML, to prove that reading a form loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from io import StringIO
from itertools import groupby
from typing import Any, TypeVar

from backing.form.bars import print_bar
from backing.form.model import (
    USUALLY_HUMAN,
    Entry,
    Feel,
    Form,
    PartSettings,
    PassSettings,
    Rows,
    Section,
    Settings,
    Tempo,
)
from backing.form.parts import COMMON_KEYS, PARTS
from backing.form.pattern_records import (
    BassPattern,
    DrumPattern,
    PickPattern,
    Plays,
    Stroke,
    StrumPattern,
)
from backing.form.practice_options import OPTIONS
from backing.form.practice_records import Exercise, Practice
from backing.form.tab import Riff
from backing.form.words import print_words
from backing.text.percent import exact_decimal
from backing.theory.fretboard import Fingering
from backing.theory.general_midi import PERCUSSION
from backing.theory.instruments import GUITAR
from backing.theory.pitch import note_name
from backing.theory.rhythm import note_value_text
from backing.theory.shells import FULL

_T = TypeVar("_T")


def print_form(form: Form) -> str:
    """A form as YAML text."""
    from ruamel.yaml import YAML

    out = StringIO()
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.allow_unicode = True
    yaml.width = 10_000
    yaml.sort_base_mapping_type_on_output = False  # type: ignore[assignment]
    yaml.dump(_song(form), out)
    return out.getvalue()


def _song(form: Form) -> dict[str, Any]:
    song: dict[str, Any] = {"title": form.title}
    if form.by:
        song["by"] = form.by
    if form.student:
        song["for"] = form.student
    song |= _settings(form.settings)
    if form.key is not None:
        song["key"] = str(form.key)
    song["capo"] = str(form.capo)
    song["count-in"] = str(form.count_in_bars)
    if form.pickup is not None:
        song["pickup"] = bar = f"| {print_bar(form.pickup)} |"
        parts = {name: {"riff": _written(part.riff)} for name, part in form.pickup_parts.items()}
        if parts:
            song["pickup"] = {"bars": bar, "parts": parts}
    if form.instrument is not GUITAR:
        song["instrument"] = form.instrument.name
    if form.own_tuning != form.instrument.tuning:
        song["tuning"] = " ".join(map(note_name, form.own_tuning))
    if form.pitch_hz != 440:
        song["pitch"] = exact_decimal(form.pitch_hz)
    if form.human != USUALLY_HUMAN:
        song["human"] = str(form.human)
    if form.voicing != FULL:
        song["voicing"] = form.voicing
    for key, table in (
        ("shapes", form.shapes),
        ("strums", form.strums),
        ("picks", form.picks),
        ("riffs", form.riffs),
    ):
        if table:
            song[key] = {name: _written(value) for name, value in table.items()}
    if form.arrangements:
        song["arrangements"] = {
            name: _parts(arrangement.parts) for name, arrangement in form.arrangements.items()
        }
    song["sections"] = {name: _section(section) for name, section in form.sections.items()}
    song["form"] = list(_lines(form.entries, 0))
    if form.practice != Practice():
        song["practice"] = _practice(form.practice)
    return song


def _practice(practice: Practice) -> dict[str, Any]:
    out: dict[str, Any] = {"formats": list(practice.formats)} if practice.formats else {}
    if practice.exercises:
        out["set"] = [_exercise(exercise) for exercise in practice.exercises]
    return out


def _exercise(exercise: Exercise) -> dict[str, Any]:
    usual = Exercise()
    out = {
        option.key: option.write(getattr(exercise, option.field))
        for option in OPTIONS
        if getattr(exercise, option.field) != getattr(usual, option.field)
    }
    out |= {"note": exercise.note} if exercise.note else {}
    return out or {"speed": "100"}


def _section(section: Section) -> dict[str, Any]:
    out: dict[str, Any] = {"bars": print_bars(section.rows), "times": str(section.times)}
    if section.endings:
        out["endings"] = {str(number): print_bars(rows) for number, rows in section.endings.items()}
    out |= _settings(section.settings)
    return out | _on_pass(section.on_pass)


def _pass(written: PassSettings) -> dict[str, Any]:
    bars = {"bars": print_bars(written.rows)} if written.rows is not None else {}
    return bars | _settings(written.settings)


def _lines(entries: Iterable[Entry], depth: int) -> Iterator[Any]:
    for group, of_group in groupby(entries, key=lambda entry: entry.groups[depth : depth + 1]):
        if group:
            inside = ", ".join(_lines(list(of_group), depth + 1))
            yield f"({inside}) x{group[0].times}"
        else:
            yield from map(_line if depth else _entry, of_group)


def _line(entry: Entry) -> str:
    bars = " bars {}-{}".format(*entry.bars) if entry.bars is not None else ""
    return f"{entry.section}{bars} x{entry.times}"


def _entry(entry: Entry) -> dict[str, Any]:
    out: dict[str, Any] = {"section": entry.section, "times": str(entry.times)}
    if entry.bars is not None:
        out["bars"] = "{}-{}".format(*entry.bars)
    if entry.ending is not None:
        out["ending"] = str(entry.ending)
    if entry.label is not None:
        out["label"] = entry.label
    if entry.transpose:
        out["transpose"] = f"{entry.transpose:+d}"
    return out | _settings(entry.settings) | _on_pass(entry.on_pass)


def _on_pass(on_pass: Mapping[int, PassSettings]) -> dict[str, Any]:
    written = {str(number): _pass(of_pass) for number, of_pass in on_pass.items()}
    return {"on-pass": written} if written else {}


def _settings(settings: Settings) -> dict[str, Any]:
    out: dict[str, Any] = {}
    if settings.tempo is not None:
        out["tempo"] = _tempo(settings.tempo)
    if settings.meter is not None:
        out["meter"] = str(settings.meter)
    if settings.feel is not None:
        out["feel"] = _feel(settings.feel)
    for key, value in (("dynamic", settings.dynamic), ("note", settings.note)):
        if value is not None:
            out[key] = value
    if settings.lift is not None:
        out["lift"] = "on" if settings.lift else "off"
    if settings.words is not None:
        out["words"] = print_words(settings.words)
    if settings.per_row is not None:
        out["per-row"] = str(settings.per_row)
    if settings.parts:
        out["parts"] = _parts(settings.parts)
    if settings.arrangement is not None:
        out["arrangement"] = settings.arrangement.name
    return out


def _parts(parts: Mapping[str, PartSettings]) -> dict[str, object]:
    return {name: _part(name, part) for name, part in parts.items()}


def _tempo(tempo: Tempo) -> dict[str, str]:
    out: dict[str, str] = {}
    if tempo.bpm is not None and tempo.beat_whole is not None:
        out |= {"bpm": exact_decimal(tempo.bpm), "beat": note_value_text(tempo.beat_whole)}
    if tempo.to_bpm is not None:
        out |= {"to": exact_decimal(tempo.to_bpm), "over": str(tempo.over_bars)}
    if tempo.from_first is not None:
        out["from"] = "first" if tempo.from_first else "last"
    return out


def _feel(feel: Feel) -> str | dict[str, str]:
    if feel == Feel():
        return "straight"
    ratio = "by-tempo" if feel.ratio is None else f"{feel.ratio.numerator}/{feel.ratio.denominator}"
    return {"swing": ratio, "on": note_value_text(feel.level_whole)}


def _part(name: str, part: PartSettings) -> str | dict[str, object]:
    """A part's keys in the order of the table."""
    if part == PartSettings(on=False):
        return "off"
    keys = (key.name for key in (*COMMON_KEYS, *PARTS[name].keys))
    return {key: _written(part.values[key]) for key in keys if key in part.values} or "on"


def _written(value: object) -> object:
    """A value as a writer types it: a word or number, or a shape, pattern or riff in place."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, Fraction):
        return note_value_text(value)
    if isinstance(value, Plays):
        return f"{value.bars} of {value.cycle}"
    if isinstance(value, StrumPattern):
        return _pattern(value.step_whole, print_strum(value.bars))
    if isinstance(value, PickPattern):
        return _pattern(value.step_whole, print_pick(value.bars))
    if isinstance(value, BassPattern):
        return _pattern(value.step_whole, print_degrees(value.bars))
    if isinstance(value, DrumPattern):
        lines: dict[str, object] = {}
        for pitch, bars in value.lines:
            name = PERCUSSION[pitch]
            while name in lines:  # a drum's second line needs a name of its own; signs don't count
                name += "-"
            lines[name] = print_hits(bars)
        return _pattern(value.step_whole, lines)
    if isinstance(value, Riff):
        return _riff(value)
    if isinstance(value, Fingering) and value.fingers:
        return {"frets": str(value), "fingers": _fingers(value)}
    return str(value)


def _riff(riff: Riff) -> dict[str, object]:
    written: dict[str, object] = {
        "step": note_value_text(riff.step_whole),
        "tab": print_tab(riff),
    }
    if riff.rolled:
        written["chords"] = "rolled"
    return written | ({"plays-through": "on"} if riff.plays_through else {})


def _pattern(step_whole: Fraction, play: str | Mapping[str, object]) -> dict[str, object]:
    return {"step": note_value_text(step_whole), "play": play}


def _fingers(shape: Fingering) -> str:
    return "".join(
        "x" if fret is None and not f else str(f)
        for fret, f in zip(shape.frets, shape.fingers, strict=True)
    )


def print_bars(rows: Rows) -> str:
    """Rows of bars as a writer types them, one row a line."""
    return "\n".join("| " + " | ".join(map(print_bar, row)) + " |" for row in rows)


def print_strum(bars: Iterable[Iterable[Stroke]]) -> str:
    """Strokes as they are typed."""
    return _print(bars, lambda stroke: stroke.move + ">" * stroke.accent + "." * stroke.short)


def print_pick(bars: Iterable[Iterable[tuple[str, ...]]]) -> str:
    """Fingers as they are typed."""
    return _print(
        bars, lambda step: f"({''.join(step)})" if len(step) > 1 else step[0] if step else "-"
    )


def print_degrees(bars: Iterable[Iterable[str]]) -> str:
    """Degrees as they are typed."""
    return _print(bars, str)


def print_hits(bars: Iterable[Iterable[int]]) -> str:
    """A drum's line as it is typed."""
    return _print(bars, lambda hit: ("-", "x", "x>")[hit])


def _print(bars: Iterable[Iterable[_T]], token: Callable[[_T], str]) -> str:
    return " | ".join(" ".join(map(token, bar)) for bar in bars)


def print_tab(riff: Riff) -> str:
    """A riff as tab, a bar's own step in its top row."""
    rows = [
        ("", [bar.rows[string] for bar in riff.bars]) for string in range(len(riff.bars[0].rows))
    ]
    hands = range(len(riff.bars[0].fingers))
    rows += [("RH", [bar.fingers[hand] for bar in riff.bars]) for hand in hands]
    rows += [("PM", [bar.palm for bar in riff.bars])] if riff.bars[0].palm else []
    lines = []
    for place, (name, row) in enumerate(rows):
        pieces = []
        for bar, cells in zip(riff.bars, row, strict=True):
            own = (
                f"{note_value_text(bar.step_whole)}: " if bar.step_whole != riff.step_whole else ""
            )
            pieces.append((own if place == 0 else " " * len(own)) + cells)
        lines.append(f"{name}|" + "|".join(pieces) + "|")
    return "\n".join(lines) + "\n"
