"""What a riff strikes in one pass: every number of the tab that sounds, and until when.

Places are quarters from the pass's start.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from operator import attrgetter, itemgetter
from typing import NamedTuple

from backing.form.tab import Riff
from backing.verify.expected.cues import STOPPED_QUARTERS
from backing.verify.expected.records import PlayedBar, PlayedChord
from backing.verify.expected.tab import Number, read_tab
from backing.verify.expected.tiling import places

#: How far apart places may be that are the same, in quarters.
_SAME = 1e-9
#: The longest that a muted number sounds: a sixteenth.
MUTED_QUARTERS = Fraction(1, 4)
#: How far apart the strings of a rolled chord start, at most: a 96th of a whole note.
ROLL_QUARTERS = Fraction(1, 24)


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
    """The stops of a pass: each one's place, the end of what it cuts short, the next chord.

    Args:
        chords: of the whole round, in order of time.
        bars: of the pass.
    """
    end = bars[-1].end
    first, last = (
        bisect_left(chords, place, key=attrgetter("slot")) for place in (bars[0].start, end)
    )
    own = chords[first:last]
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
    ghost: bool = False
    plain: bool = False
    muted: bool = False

    @property
    def is_bent(self) -> bool:
        """Whether the pitch wheel moves."""
        return self.bent or self.shaken or self.slides


class Quiet(NamedTuple):
    """Where a pass is silent; see `Silence`. Places are quarters from the pass's start.

    Rests and stops are in order of time, and none begins before the one before it is over.
    """

    rests: tuple[tuple[float, float], ...]
    stops: tuple[tuple[float, float, float], ...]

    def is_stopped(self, at: float) -> bool:
        """Whether a stop lets nothing be struck at a place."""
        before = bisect_left(self.stops, at - _SAME, key=itemgetter(0)) - 1
        return before >= 0 and at < self.stops[before][2] - _SAME

    def is_at_rest(self, at: float) -> bool:
        """Whether a place lies in a rest."""
        before = bisect_right(self.rests, at + _SAME, key=itemgetter(0)) - 1
        return before >= 0 and at < self.rests[before][1] - _SAME

    def cuts(self, at: float) -> Iterator[float]:
        """Where a note that is struck at a place is cut short: by the next rest, the next stop."""
        rest = bisect_right(self.rests, at, key=itemgetter(0))
        yield from (first for first, _ in self.rests[rest : rest + 1])
        stop = bisect_right(self.stops, at - _SAME, key=itemgetter(0))
        yield from (ends for _, ends, _ in self.stops[stop : stop + 1])


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
    start, end = bars[0].start, float(bars[-1].end - bars[0].start)
    follows: dict[int, tuple[float, Number]] = {}
    found = []
    for place, at, most, number in reversed(list(_written(riff, bars))):
        if quiet.is_stopped(float(place - start)):
            continue
        struck_at = float(at - start)
        until, following = follows.get(number.string, (end, None))
        follows[number.string] = struck_at, number
        slides = following is not None and following.link in ("/", "\\")
        if number.muted and until - struck_at > MUTED_QUARTERS - _SAME:
            slides = False  # it is over before the slide
        if not quiet.is_at_rest(struck_at) and not number.rest:
            cuts = quiet.cuts(float(place - start))
            until = min([until, *cuts, *(float(cut - start) for cut in most)])
            found.append(Struck(struck_at, until, number, slides))
    return reversed(found)


def _written(
    riff: Riff, bars: Sequence[PlayedBar]
) -> Iterator[tuple[Fraction, Fraction, Sequence[Fraction], Number]]:
    """Each number with its place, where it is played, and what its own signs cut it short to.

    A short number sounds half as long as it is to the next one, on any string, or to the bar line;
    a muted one a sixteenth at most. Rolled strings are picked one after another, low ones first,
    and all within half of the time to the next number. Places are quarters from the file's start.
    """
    tab = read_tab(riff)
    for bar in bars:
        numbers = [
            (at, number)
            for at, number in places(bar, tab[bar.pattern_bar % len(tab)])
            if at < bar.end
        ]
        columns = sorted({at for at, _ in numbers})
        following = dict(zip(columns, [*columns, bar.end][1:], strict=True))
        for column, group in groupby(numbers, key=lambda one: one[0]):
            together = [number for _, number in group]
            half = (following[column] - column) / 2
            picked = [number for number in together if number.is_picked]
            for number in together:
                turn = picked.index(number) if riff.rolled and number.is_picked else 0
                at = column + min(ROLL_QUARTERS, half / max(1, len(picked))) * turn
                cuts = [column + half] if number.short else []
                cuts += [at + MUTED_QUARTERS] if number.muted else []
                yield column, at, cuts, number


def pitched(
    struck: Sequence[Struck], damped: Sequence[int], fret_0: Sequence[int]
) -> Iterator[Laid]:
    """What is struck, given what each string sounds damped and at fret 0, the highest first."""
    for at, until, number, slides in struck:
        string = number.string - 1
        if number.fret is None:
            yield Laid(at, damped[string], (until,), damped=True, muted=True)
            continue
        yield Laid(
            at,
            fret_0[string] + number.above_open,
            (until,),
            bent=number.bent,
            shaken=number.shaken,
            slides=slides,
            ghost=number.ghost,
            plain=number.is_picked and not number.ghost,
            muted=number.muted and not (number.bent or number.shaken or slides),
        )


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
            min(len(together), _channels(together)),
            all(note.ghost for note in together),
            all(note.plain for note in together),
            all(note.muted for note in together),
        )


def _channels(together: Sequence[Laid]) -> int:
    """On how many channels notes of one pitch may start: one for each that is bent, one for those
    that are muted, and one for all others."""
    muted = sum(note.muted for note in together)
    return sum(note.is_bent for note in together) + 1 + (0 < muted < len(together))
