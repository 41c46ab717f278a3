"""The page's tab: each pass's riff as it is printed, note by note."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from backing.form.parts import GUITARS, title_of
from backing.page.page_json import RiffData, TabNoteData
from backing.players.part_settings import SettingsOf, settings_of
from backing.players.riff import Tabbed, riff_cues
from backing.timeline import Bar, Timeline


def riff_table(timeline: Timeline, at: Callable[[Fraction], float]) -> Iterator[RiffData]:
    """Each part's riffs, pass by pass.

    Args:
        at: a place in the file to seconds on the page.
    """
    for part in GUITARS:
        settings = settings_of(part.name, part.on)
        if not any(settings(one).riff for one in timeline.passes):
            continue
        for index, notes in _notes_by_pass(timeline, settings, at).items():
            _end_at_next(notes)
            yield {
                "part": part.name,
                "title": title_of(part, timeline.form.instrument),
                "strings": len(timeline.form.tuning),
                "passIndex": index,
                "notes": notes,
            }


def _notes_by_pass(
    timeline: Timeline, settings: SettingsOf, at: Callable[[Fraction], float]
) -> dict[int, list[TabNoteData]]:
    """A part's numbers of tab, by the index of the pass that plays them."""
    pickup_bars = len(timeline.played) - len(timeline.bars)
    pass_of = {id(playing): index for index, playing in enumerate(timeline.passes)}
    cues = iter(riff_cues(timeline, settings))
    cue = next(cues, None)
    notes: dict[int, list[TabNoteData]] = {}
    for index, bar in enumerate(timeline.bars, pickup_bars):
        while cue is not None and cue.start_whole < bar.end_whole:
            if isinstance(cue.stroke, Tabbed):
                of_pass = notes.setdefault(pass_of[id(bar.playing)], [])
                of_pass.append(_tab_note(cue.stroke, cue.start_whole, bar, index, at))
            cue = next(cues, None)
    return notes


def _tab_note(
    tabbed: Tabbed, start: Fraction, bar: Bar, index: int, at: Callable[[Fraction], float]
) -> TabNoteData:
    note = tabbed.note
    return {
        "bar": index,
        "at": at(start),
        "end": at(tabbed.until_whole),
        "share": float((start - bar.start_whole) / bar.meter.bar_whole),
        "string": note.string,
        "fret": "x" if note.fret is None else str(note.fret + bar.playing.transpose),
        "how": (note.link or "") + "b" * note.bend + "~" * note.shake,
    }


def _end_at_next(notes: Sequence[TabNoteData]) -> None:
    """Let each note last at most to the next on its string."""
    following: dict[int, float] = {}
    for note in reversed(notes):
        note["end"] = min(note["end"], following.get(note["string"], note["end"]))
        following[note["string"]] = note["at"]
