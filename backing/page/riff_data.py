"""The page's tab: each pass's riff as it is printed, and a bass student's line, note by note."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Protocol, TypeVar

from backing.form.parts import PARTS, TABBED, title_of
from backing.form.tab import Riff
from backing.form.tab_cells import letters
from backing.page.page_json import RiffData, RiffKind, TabNoteData
from backing.players.bass import places_of, play
from backing.players.part_settings import SettingsOf, settings_of
from backing.players.riff import Tabbed, riff_cues, written
from backing.theory.fretboard import Neck
from backing.timeline import Bar, Timeline

BASS = PARTS["bass"]


def riff_table(timeline: Timeline, at: Callable[[Fraction], float]) -> list[RiffData]:
    """Each part's riffs, pass by pass, and a bass student's line.

    What two parts play alike in a pass is there once, with both names.

    Args:
        at: a place in the file to seconds on the page.
    """
    found: dict[tuple[object, ...], RiffData] = {}
    titles: dict[tuple[object, ...], list[str]] = {}
    for riff in _riffs_of_parts(timeline, at):
        of_bass = riff["part"] == BASS.name
        of_notes = (tuple(note.items()) for note in riff["notes"])
        key = (of_bass, riff["passIndex"], riff["pickup"], *of_notes)
        found.setdefault(key, riff)
        titles.setdefault(key, []).append(riff["title"])
    students = timeline.form.instrument.part
    named = {riff["part"] for riff in found.values() if riff["kind"] != "unseen"} != {students}
    for key, riff in found.items():
        riff["title"] = " and ".join(titles[key])
        riff["named"] = named or len(titles[key]) > 1
    return list(found.values())


def _riffs_of_parts(timeline: Timeline, at: Callable[[Fraction], float]) -> Iterator[RiffData]:
    instrument = timeline.form.instrument
    for part in TABBED:
        settings = settings_of(part.name, part.on)
        kind: RiffKind = "unseen" if instrument.is_bass and part is not BASS else "riff"
        strings = timeline.form.strings_of(part.name)
        neck = timeline.form.neck_of(part.name)
        tables = [(kind, _riff_notes(timeline, settings, strings, at))]
        if instrument.is_bass and part is BASS:
            tables.append(("line", _line_notes(timeline, settings, at)))
        for kind, by_pass in tables:
            for index, notes in by_pass.items():
                _end_at_next(notes)
                yield {
                    "part": part.name,
                    "title": title_of(part, instrument),
                    "named": False,
                    "kind": kind,
                    "strings": len(strings),
                    "frets": neck.frets,
                    "movable": _is_movable(notes, len(strings), neck),
                    "passIndex": max(0, index),
                    "pickup": index < 0,
                    "notes": notes,
                }


def _is_movable(notes: Sequence[TabNoteData], strings: int, neck: Neck) -> bool:
    """Whether notes have other places along the neck: no harmonic has, and no short string."""
    return not any(
        "<" in note["how"]
        or (neck.has_short_string and note["string"] == strings and note["fret"].isdigit())
        for note in notes
    )


def _riff_notes(
    timeline: Timeline,
    settings: SettingsOf,
    strings: Sequence[int],
    at: Callable[[Fraction], float],
) -> dict[int, list[TabNoteData]]:
    """A part's numbers of tab, by the index of the pass that plays them; a pickup's is -1."""
    if not any(settings(one.playing).riff for one in timeline.played):
        return {}
    notes: dict[int, list[TabNoteData]] = {}
    columns = _Columns()
    cues = [cue for cue in riff_cues(timeline, settings, strings) if cue.stroke is not None]
    for cue, index, bar in _in_bars(timeline, cues):
        if isinstance(cue.stroke, Tabbed):
            note = _tab_note(cue.stroke, cue.start_whole, bar, index, at)
            notes.setdefault(_pass_of(timeline, bar), []).append(note)
            columns.complete(note, cue.stroke, written(timeline.form, settings, bar.playing))
    return notes


def _line_notes(
    timeline: Timeline, settings: SettingsOf, at: Callable[[Fraction], float]
) -> dict[int, list[TabNoteData]]:
    """The bass's line as tab, by the index of the pass that plays it."""
    form = timeline.form
    line = [note for note in play(timeline, settings) if note.string is None]
    held = dict(zip(line, places_of(line, form), strict=True))
    notes: dict[int, list[TabNoteData]] = {}
    for note, index, bar in _in_bars(timeline, line):
        notes.setdefault(_pass_of(timeline, bar), []).append(
            {
                "bar": index,
                "at": at(note.start_whole),
                "end": at(note.end_whole),
                "share": float((note.start_whole - bar.start_whole) / bar.meter.bar_whole),
                "string": len(form.bass_tuning) - held[note].string,
                "fret": str(held[note].fret),
                "how": "",
                "hand": "",
                "muted": False,
                "rolled": False,
            }
        )
    return notes


class _Placed(Protocol):
    """Something with a place in whole notes."""

    @property
    def start_whole(self) -> Fraction: ...


_P = TypeVar("_P", bound=_Placed)


def _in_bars(timeline: Timeline, found: Sequence[_P]) -> Iterator[tuple[_P, int, Bar]]:
    """What starts in each bar of the song, with the bar and its index on the page."""
    starts = [bar.start_whole for bar in timeline.played]
    for one in found:
        place = bisect_right(starts, one.start_whole) - 1
        if place >= 0:
            yield one, place, timeline.played[place]


def _pass_of(timeline: Timeline, bar: Bar) -> int:
    """The index of a bar's pass; a pickup's is -1."""
    return next((i for i, one in enumerate(timeline.passes) if one is bar.playing), -1)


def _tab_note(
    tabbed: Tabbed, start: Fraction, bar: Bar, index: int, at: Callable[[Fraction], float]
) -> TabNoteData:
    note = tabbed.note
    signs = {
        "b": note.bend,
        "~": note.shake,
        ".": note.short,
        "(": note.ghost,
        "<": note.harmonic,
    }
    alone = "r" if note.rests else "x"
    return {
        "bar": index,
        "at": at(start),
        "end": at(tabbed.until_whole),
        "share": float((tabbed.place_whole - bar.start_whole) / bar.meter.bar_whole),
        "string": note.string,
        "fret": alone if note.fret is None else str(note.fret + bar.playing.transpose),
        "how": (note.link or "") + "".join(sign for sign, has in signs.items() if has),
        "hand": "",
        "muted": note.muted,
        "rolled": False,
    }


class _Columns:
    """Completes the numbers of tab, given one after another, by what stands in their column."""

    def __init__(self) -> None:
        self.letters: dict[int, dict[Fraction, str]] = {}
        self.place: Fraction | None = None
        self.picked: list[TabNoteData] = []

    def complete(self, note: TabNoteData, tabbed: Tabbed, riff: Riff | None) -> None:
        """Give a number its letters, if it is its column's first, and say whether it is rolled."""
        assert riff is not None
        if tabbed.place_whole != self.place:
            self.place, self.picked = tabbed.place_whole, []
        if not tabbed.note.is_picked:
            return
        if id(riff) not in self.letters:
            self.letters[id(riff)] = letters(riff)
        if not self.picked:
            note["hand"] = self.letters[id(riff)].get(tabbed.note.start_whole, "")
        self.picked.append(note)
        if riff.rolled and len(self.picked) > 1:
            for each in self.picked:
                each["rolled"] = True


def _end_at_next(notes: Sequence[TabNoteData]) -> None:
    """Let each note last at most to the next on its string."""
    following: dict[int, float] = {}
    for note in reversed(notes):
        note["end"] = min(note["end"], following.get(note["string"], note["end"]))
        following[note["string"]] = note["at"]
