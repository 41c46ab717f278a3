"""What the pitch wheel does to a riff's notes: bends where the tab has them, and nowhere else.

A bent note (b) reaches a whole tone while it sounds, unless it is shorter than `SHORT_S`. A
shake (~) may waver by `SHAKE_CENTS`. A slide may take a note anywhere on its way. Every
other note stays unbent. A hand has fingers for `MOST_AT_ONCE` bent notes at once; one that starts
while as many others sound may stay unbent.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from backing.theory.pitch import note_name
from backing.verify.comparison.riffs import RiffCheck
from backing.verify.expected.riffs import RiffNote
from backing.verify.readers.voices import FineSetting, Notes, Voice
from backing.verify.report import Fault

WHOLE_TONE_CENTS = 200
SHAKE_CENTS = 50
#: How exactly a wheel's cents are compared.
NEAR_CENTS = 5
SHORT_S = 0.2
MOST_AT_ONCE = 4
#: What comes this soon after a note's start comes with it.
_SOON_S = 1e-6


def check_gestures(check: RiffCheck, notes: Notes, voices: Sequence[Voice]) -> list[Fault]:
    """Compare what the wheels of a guitar's voices do with its riffs.

    Args:
        check: the riffs' notes as they were found among `notes`.
        notes: all of the guitar's notes.
        voices: the voices whose notes those are. One whose wheel the reader can't tell is
            left out.
    """
    at_once = _sounding_together([pair for pair in check.found if _is_bent(pair[0])], notes)
    if not at_once and not any(voice.settings.bends for voice in voices):
        return []
    bends = {
        (start, pitch): voice.settings.bends
        for voice in voices
        if voice.settings.bends is not None
        for start, pitch in zip(voice.notes.starts, voice.notes.pitches, strict=True)
    }
    faults = []
    for note, place in check.found:
        start, pitch = notes.starts[place], notes.pitches[place]
        if note.most > 1 or (start, pitch) not in bends:
            continue  # strings of one pitch can't be told apart
        low, high = _extent(bends[start, pitch], start, notes.ends[place])
        crowded = at_once.get(place, 0) > MOST_AT_ONCE
        for says in _wrong(note, low, high, notes.ends[place] - start, crowded):
            faults.append(Fault(start, f"{note_name(pitch)} {says}"))
    return faults


def _is_bent(note: RiffNote) -> bool:
    return note.bent or note.shaken or note.slides


def _sounding_together(found: Sequence[tuple[RiffNote, int]], notes: Notes) -> dict[int, int]:
    """How many of these notes sound where each of them starts, by its place."""
    starts = sorted(notes.starts[place] for _, place in found)
    ends = sorted(notes.ends[place] for _, place in found)
    return {
        place: bisect_right(starts, notes.starts[place]) - bisect_right(ends, notes.starts[place])
        for _, place in found
    }


def _extent(bends: Sequence[FineSetting], start_s: float, end_s: float) -> tuple[float, float]:
    """How far down and up a wheel goes while a note sounds, in cents."""
    first = bisect_right(bends, (start_s + _SOON_S, 0.0))
    last = bisect_left(bends, (end_s - _SOON_S, 0.0), first)
    cents = [value for _, value in bends[max(0, first - 1) : last]] or [0.0]
    return min(cents), max(cents)


def _wrong(
    note: RiffNote, low: float, high: float, length_s: float, crowded: bool
) -> Iterator[str]:
    """What is wrong with how a note is bent."""
    if note.bent and length_s >= SHORT_S and high < WHOLE_TONE_CENTS - NEAR_CENTS and not crowded:
        yield f"isn't bent up a whole tone, but {high:.0f} cents"
    if note.slides:
        return
    wavers = NEAR_CENTS + SHAKE_CENTS * note.shaken
    most = WHOLE_TONE_CENTS * note.bent + wavers
    if high > most or low < -wavers:
        cents = high if high > most else low
        yield f"is bent {cents:+.0f} cents, which the tab doesn't say"
