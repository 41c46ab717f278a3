"""The page's tab: each pass's riff as it is printed, note by note."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from backing.form.parts import GUITARS, title_of
from backing.form.tab import Riff
from backing.form.tab_cells import letters
from backing.page.page_json import RiffData, TabNoteData
from backing.players.part_settings import SettingsOf, settings_of
from backing.players.riff import Tabbed, riff_cues, written
from backing.timeline import Bar, Timeline


def riff_table(timeline: Timeline, at: Callable[[Fraction], float]) -> Iterator[RiffData]:
    """Each part's riffs, pass by pass.

    Args:
        at: a place in the file to seconds on the page.
    """
    for part in GUITARS:
        settings = settings_of(part.name, part.on)
        playing = (timeline.played[0].playing, *timeline.passes)
        if not any(settings(one).riff for one in playing):
            continue
        for index, notes in _notes_by_pass(timeline, settings, at).items():
            _end_at_next(notes)
            yield {
                "part": part.name,
                "title": title_of(part, timeline.form.instrument),
                "strings": len(timeline.form.tuning),
                "passIndex": max(0, index),
                "pickup": index < 0,
                "notes": notes,
            }


def _notes_by_pass(
    timeline: Timeline, settings: SettingsOf, at: Callable[[Fraction], float]
) -> dict[int, list[TabNoteData]]:
    """A part's numbers of tab, by the index of the pass that plays them; a pickup's is -1."""
    pass_of = {id(playing): index for index, playing in enumerate(timeline.passes)}
    cues = iter(riff_cues(timeline, settings))
    cue = next(cues, None)
    notes: dict[int, list[TabNoteData]] = {}
    columns = _Columns()
    for index, bar in enumerate(timeline.played):
        while cue is not None and cue.start_whole < bar.end_whole:
            if isinstance(cue.stroke, Tabbed):
                of_pass = notes.setdefault(pass_of.get(id(bar.playing), -1), [])
                riff = written(timeline.form, settings, bar.playing)
                of_pass.append(_tab_note(cue.stroke, cue.start_whole, bar, index, at))
                columns.complete(of_pass[-1], cue.stroke, riff)
            cue = next(cues, None)
    return notes


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
