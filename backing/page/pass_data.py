"""The page's passes: their names and bars, and what the form asks of the click."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from backing.form import parts
from backing.form.passes import labels
from backing.page.page_json import BarData, PassClickData, PassData
from backing.players.click import DEFAULT_SOUND
from backing.players.part_settings import settings_of
from backing.text.bars import pass_name
from backing.theory.device_levels import IN_BALANCE
from backing.theory.rhythm import note_value_text
from backing.timeline import Pass, Timeline


def pass_table(timeline: Timeline, bars: Sequence[BarData]) -> list[PassData]:
    """Every pass in playing order; `bars` are all played bars."""
    names = list(labels(timeline.form))
    counts = [len(list(group)) for _, group in groupby(timeline.bars, lambda b: id(b.playing))]
    found: list[PassData] = []
    first_like: dict[str, int] = {}  # by what is seen of a pass, the first that looks so
    first = len(timeline.played) - len(timeline.bars)
    for index, (playing, count) in enumerate(zip(timeline.passes, counts, strict=True)):
        settings, name = playing.settings, names[playing.entry]
        note = "" if settings.note == timeline.form.settings.note else settings.note or ""
        seen = repr((playing.section, note, _seen(bars[first : first + count])))
        found.append(
            {
                "name": name,
                "number": playing.number,
                "passes": playing.of,
                "text": pass_name(name, playing.number, playing.of),
                "section": playing.section,
                "first": first,
                "last": first + count - 1,
                "note": note,
                "alike": first_like.get(seen),
                "click": _click(playing),
            }
        )
        first_like.setdefault(seen, index)
        first += count
    return found


def _click(playing: Pass) -> PassClickData:
    click = settings_of(parts.CLICK, parts.PARTS[parts.CLICK].on)(playing)
    subdivide, plays, volume = parts.SUBDIVIDE.of(click), parts.PLAYS.of(click), click.volume
    return {
        "on": bool(click.on),
        "sound": click.sound or DEFAULT_SOUND,
        "subdivide": note_value_text(subdivide) if subdivide else "",
        "accent": parts.ACCENT.of(click) is not False,
        "plays": (plays.bars, plays.cycle) if plays else None,
        "gain": round(((IN_BALANCE if volume is None else volume) / IN_BALANCE) ** 2, 4),
    }


def _seen(bars: Sequence[BarData]) -> list[object]:
    """What is seen of bars on the chart."""
    return [
        (
            bar["grid"],
            bar["row"],
            bar["ending"],
            bar["words"],
            [(slot["share"], slot["chord"], slot["marks"]) for slot in bar["chords"]],
        )
        for bar in bars
    ]
