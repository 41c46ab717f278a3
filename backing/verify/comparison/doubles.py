"""Voices of a part that play the same notes.

Bent notes of a riff each have a voice of their own, so where two strings bend the same pitch at
the same time, two voices are right and a third one isn't.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.band import ExpectedPart
from backing.verify.expected.riffs import ExpectedRiffs
from backing.verify.readers.voices import Voice

#: Of two voices that share more of their notes than this one doubles the other.
DOUBLED = 0.5


def doubles(
    voices: Sequence[Voice], alike: Callable[[float, int], int] = lambda start, pitch: 1
) -> Iterator[tuple[int, int]]:
    """Which voices play what an earlier one plays, and the earlier one.

    Args:
        voices: of one part.
        alike: how many voices may start a pitch at a time in seconds.
    """
    if len(voices) < 2:
        return
    struck = [set(zip(voice.notes.starts, voice.notes.pitches, strict=True)) for voice in voices]
    times = Counter(note for notes in struck for note in notes)
    too_many = {note for note, count in times.items() if count > 1 and count > alike(*note)}
    for first, second in combinations(range(len(voices)), 2):
        shared = len(struck[first] & struck[second] & too_many)
        if shared > DOUBLED * max(len(struck[first]), len(struck[second])):
            yield second, first


def strings_alike(part: ExpectedPart | None, leeway: Leeway) -> Callable[[float, int], int]:
    """How many strings of a part's riffs may start a pitch, in any octave, at a time.

    Args:
        part: what the part must play.
        leeway: how far a time may be off.
    """
    riffs = getattr(part, "riffs", ExpectedRiffs())
    several = sorted(
        (note.at_s, note.pitch % 12, note.most)
        for each in riffs.passes
        for note in next(iter(each.notes.values()), ())
        if note.most > 1
    )
    starts = [at_s for at_s, _, _ in several]

    def alike(start: float, pitch: int) -> int:
        reach = leeway.human_s + leeway.tolerance(start)
        first, last = bisect_left(starts, start - reach), bisect_right(starts, start + reach)
        near = (most for _, tone, most in several[first:last] if tone == pitch % 12)
        return max(near, default=1)

    return alike
