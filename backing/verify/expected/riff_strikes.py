"""What a riff strikes in one pass: every number of the tab that sounds, and until when.

Places are quarters from the pass's start.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from backing.form.tab import Riff
from backing.verify.expected.cues import STOPPED_QUARTERS
from backing.verify.expected.records import PlayedBar, PlayedChord
from backing.verify.expected.tab import Number, read_tab
from backing.verify.expected.tiling import places

#: How far apart places may be that are the same, in quarters.
_SAME = 1e-9


class Silence(NamedTuple):
    """Where a riff is silent; places are quarters.

    In `rests`, from a place to another, nothing is struck and nothing sounds. At a stop what
    sounds goes on to its second place, and nothing is struck between its first and its third.
    """

    rests: Sequence[tuple[Fraction, Fraction]]
    stops: Sequence[tuple[Fraction, Fraction, Fraction]]


def stops_in(
    chords: Sequence[PlayedChord], bars: Sequence[PlayedBar]
) -> Iterator[tuple[Fraction, Fraction, Fraction]]:
    """The stops of a pass: each one's place, the end of what it cuts short, the next chord."""
    end = bars[-1].end
    own = [chord for chord in chords if bars[0].start <= chord.slot < end]
    for number, chord in enumerate(own, 1):
        if "stop" in chord.marks:
            following = own[number].slot if number < len(own) else end
            yield chord.slot, min(chord.slot + STOPPED_QUARTERS, following), following


class Laid(NamedTuple):
    """A note of a riff as `RiffNote` has it, in quarters from its pass's start."""

    at: float
    pitch: int
    ends: tuple[float, ...]
    damped: bool = False
    bent: bool = False
    shaken: bool = False
    slides: bool = False
    most: int = 1

    @property
    def is_bent(self) -> bool:
        """Whether the pitch wheel moves."""
        return self.bent or self.shaken or self.slides


class Quiet(NamedTuple):
    """Where a pass is silent; see `Silence`. Places are quarters from the pass's start."""

    rests: tuple[tuple[float, float], ...]
    stops: tuple[tuple[float, float, float], ...]

    def is_stopped(self, at: float) -> bool:
        """Whether a stop lets nothing be struck at a place."""
        return any(first + _SAME < at < last - _SAME for first, _, last in self.stops)

    def cuts(self, at: float) -> Iterator[float]:
        """Where a note that is struck at a place may be cut short."""
        yield from (first for first, _ in self.rests if first > at)
        yield from (ends for first, ends, _ in self.stops if first > at - _SAME)


class Struck(NamedTuple):
    """A number of the tab: when it is played, and until when its string sounds it at most.

    Both are quarters from the pass's start. `slides` is whether a slide leads to the next
    number on its string.
    """

    at: float
    until: float
    number: Number
    slides: bool


def struck(riff: Riff, bars: Sequence[PlayedBar], quiet: Quiet) -> Iterator[Struck]:
    """All that is struck, in order; nothing is in silence, and nothing sounds into it."""
    tab, start, end = read_tab(riff), bars[0].start, bars[-1].end
    numbers = [
        (float(at - start), number)
        for bar in bars
        for at, number in places(bar, tab[bar.pattern_bar % len(tab)])
        if at < bar.end
    ]
    follows: dict[int, tuple[float, Number]] = {}
    found = []
    for at, number in reversed(numbers):
        if quiet.is_stopped(at):
            continue
        until, following = follows.get(number.string, (float(end - start), None))
        follows[number.string] = at, number
        slides = following is not None and following.link in ("/", "\\")
        if not any(first - _SAME <= at < last - _SAME for first, last in quiet.rests):
            until = min([until, *quiet.cuts(at)])
            found.append(Struck(at, until, number, slides))
    return reversed(found)


def pitched(
    struck: Sequence[Struck], damped: Sequence[int], fret_0: Sequence[int]
) -> Iterator[Laid]:
    """What is struck, given what each string sounds damped and at fret 0, the highest first."""
    for at, until, number, slides in struck:
        string, fret, _, bent, shaken = number
        if fret is None:
            yield Laid(at, damped[string - 1], (until,), damped=True)
        else:
            pitch = fret_0[string - 1] + fret
            yield Laid(at, pitch, (until,), False, bent, shaken, slides)


def sharing(notes: Iterable[Laid]) -> Iterator[Laid]:
    """Notes of a pass, those of one pitch that overlap with each other's ends, or made one.

    On one channel a note ends where its pitch is struck again, which then sounds until the
    later of both ends; on two channels both sound as they are written.
    """
    last: dict[int, tuple[list[Laid], float]] = {}  # by pitch: the last group, and its end
    groups: list[list[Laid]] = []
    for note in notes:
        group, end = last.get(note.pitch, ([], 0.0))
        if not group or end <= note.at + _SAME:
            group, end = [], 0.0
            groups.append(group)
        group.append(note)
        last[note.pitch] = group, max(end, note.ends[0])
    yield from sorted(one for group in groups for one in _made_one(group))


def _made_one(group: Sequence[Laid]) -> Iterator[Laid]:
    """A group of notes of one pitch that overlap, each with the ends that it may have."""
    every = {note.at for note in group} | {note.ends[0] for note in group if not note.damped}
    for at, same in groupby(group, key=lambda note: note.at):
        together = list(same)
        yield Laid(
            at,
            group[0].pitch,
            tuple(sorted(end for end in every if end > at)),
            any(note.damped for note in together),
            any(note.bent for note in together),
            any(note.shaken for note in together),
            any(note.slides for note in together),
            min(len(together), sum(note.is_bent for note in together) + 1),
        )
