"""Clicks in audio, looked for where a form says that there is one, or none.

A click's sound is learned from the count-in, where it is alone, or else from its first clicks;
then its shape is looked for around every place.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from statistics import median
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.verify.expected.records import Expected, ExpectedClick

if TYPE_CHECKING:
    from backing.verify.sound.onsets import Shape

#: How much like the learned click a place in a song must sound to hold one.
LIKE = 0.32
#: Under a loud beat `FAINTLY` is enough, if the click is as late as the others of its sound to
#: within `SAME_S` seconds; by chance, 1 place in 300 is.
FAINTLY, SAME_S = 0.2, 0.0001
#: Where there is this many times a click's energy, even a click that is there is less alike.
COVERED = 1 / LIKE**2
#: How many clicks a sound is learned from, if it isn't alone in the count-in, and how many it has
#: at least, or it is hard to tell from the music.
ENOUGH, FEW = 64, 8
#: How far a click may be from its exact time: an engine's block of 64 samples is 1.45 ms.
TOLERANCE_S = 0.002
#: An onset in the count-in reaches this share of its peak.
LOUD = 0.35
#: How much of the count-in's last beat the click is alone in: strokes lead into bar 1 after that.
ALONE = 0.4
#: The count-in is silent if half of its peaks are below this (an engine may pop once).
SILENT = 0.001
#: Between clicks without music: how long one may sound and how early the next may begin, what
#: is quiet compared with a click's peak, and in what share of the gaps it must be quiet.
AFTER_S, BEFORE_S, QUIET, MOSTLY = 0.08, 0.01, 0.02, 0.9
#: How long a time each peak stands for, how long the blocks are that are read, both in seconds,
#: and how many clicks are matched at once.
STEP_S, BLOCK_S, BATCH = 0.005, 30, 256

Sound = tuple[str, bool]
"""A click's sound, and whether it is accented."""
NOWHERE: Mapping[Sound, float] = MappingProxyType({})


def sound_of(click: ExpectedClick) -> Sound:
    """A click's sound, and whether it is accented."""
    return click.sound, click.accented


class FoundClick(NamedTuple):
    """Where a click's shape fits best: how late that is in seconds, how alike it is (0 to 1), and
    how many times the click's energy is there.
    """

    click: ExpectedClick
    late_s: float
    alike: float
    energy: float = 1.0

    @property
    def is_covered(self) -> bool:
        """Whether other sounds there are so loud that a click can't be told from them."""
        return self.energy >= COVERED

    @property
    def sound(self) -> Sound:
        """The click's sound, and whether it is accented."""
        return sound_of(self.click)


def usual_lateness(found: Sequence[FoundClick]) -> dict[Sound, float]:
    """How late each sound's clear clicks are, in seconds: the median."""
    clear: dict[Sound, list[float]] = {}
    for one in found:
        if one.alike >= LIKE:
            clear.setdefault(one.sound, []).append(one.late_s)
    return {sound: median(late) for sound, late in clear.items()}


def clicks_among(found: Sequence[FoundClick]) -> list[FoundClick]:
    """Those that are clicks: clearly like their sound, or faintly and just where others lie."""
    usual = usual_lateness(found)

    def is_click(one: FoundClick) -> bool:
        late_s = usual.get(one.sound)
        near = late_s is not None and abs(one.late_s - late_s) <= SAME_S
        return one.alike >= LIKE or (one.alike >= FAINTLY and near)

    return [one for one in found if is_click(one)]


class ClickSearch:
    """An open sound file, read as often as needed.

    `frames` is its number of samples, once it has been read to its end. `unclear` are the sounds
    that were never alone, and too rare to be told from the music.
    """

    def __init__(self, expected: Expected, file: Any) -> None:
        self.expected = expected
        self.file = file
        self.rate = int(file.samplerate)
        self.frames = 0
        self.unclear: set[Sound] = set()
        self._step = int(STEP_S * self.rate)
        self._peaks: list[float] = []

    def learn(
        self, clicks: Sequence[ExpectedClick], clicked: bool | None
    ) -> dict[Sound, Shape] | None:
        """Each sound's shape, from the count-in or else its first clicks.

        None if no click plays or, where `clicked` is None, the count-in is silent.
        """
        import numpy as np

        from backing.verify.sound.onsets import learn

        counted = self.counted_s()
        chosen = sorted(_to_learn_from(clicks, counted))
        if not chosen:
            return None
        windows: dict[Sound, list[Any]] = {}
        early = []
        for click, window, _ in self._windows(chosen):
            windows.setdefault(sound_of(click), []).append(window)
            if click.at_s < counted:
                early.append(float(np.abs(window).max()))
        if clicked is None and early and float(np.median(early)) < SILENT:
            return None
        alone = {sound_of(click) for click in chosen if click.at_s < counted}
        shapes = {
            sound: learn(np.stack(these), self.rate)
            if sound in alone
            else self._learn_under_music(sound, np.stack(these))
            for sound, these in windows.items()
        }
        return {sound: shape for sound, shape in shapes.items() if shape is not None}

    def _learn_under_music(self, sound: Sound, windows: Any) -> Shape | None:
        """The shape of a sound that is never alone. Music may start a little before each click."""
        import numpy as np

        from backing.verify.sound.onsets import learn, learn_in_place, match, reach

        shape = learn(windows, self.rate)
        if shape is None:
            return None
        late_s = float(np.median(match(windows, shape).places) - reach(self.rate)) / self.rate
        if abs(late_s) <= TOLERANCE_S:
            return shape
        in_place = learn_in_place(windows, self.rate)
        if in_place is None and len(windows) < FEW:
            self.unclear.add(sound)
            return None
        return in_place or shape

    def is_unclear(self, click: ExpectedClick) -> bool:
        """Whether a click's sound couldn't be told from the music when it was learned."""
        return sound_of(click) in self.unclear

    def counted_s(self) -> Fraction:
        """Where the bars end in which the click is alone, in seconds."""
        expected = self.expected
        bars = expected.count_in_bars
        if any(label == "Pickup" for _, label in expected.lead_in):
            return bars[-1].start_s
        return expected.count_in_s

    def find(
        self,
        clicks: Sequence[ExpectedClick],
        shapes: dict[Sound, Shape],
        usual: Mapping[Sound, float] = NOWHERE,
    ) -> list[FoundClick]:
        """Look around every place where a click should or shouldn't be; reads to the file's end.

        Where it is known how late a sound `usual`ly is, look there alone.
        """
        import numpy as np

        from backing.verify.sound.onsets import match, reach

        out: list[FoundClick] = []
        near = SAME_S * self.rate
        batch: dict[Sound, list[tuple[ExpectedClick, Any, float]]] = {key: [] for key in shapes}

        def empty(key: Sound) -> None:
            of = batch[key]
            within = None
            if key in usual:
                middle = reach(self.rate) + usual[key] * self.rate
                within = int(middle - near), math.ceil(middle + near)
            matches = match(np.stack([window for _, window, _ in of]), shapes[key], within)
            for (click, _, part), place, like, energy in zip(of, *matches, strict=True):
                late = (float(place) - reach(self.rate) - part) / self.rate
                out.append(FoundClick(click, late, float(like), float(energy)))
            of.clear()

        for click, window, part in self._windows(clicks, to_end=True):
            key = sound_of(click)
            if key in shapes:
                batch[key].append((click, window, part))
                if len(batch[key]) == BATCH:
                    empty(key)
        for key, of in batch.items():
            if of:
                empty(key)
        return sorted(out)

    def onsets(self, until_s: float) -> int:
        """How many onsets the count-in has, where the click is alone."""
        import numpy as np

        from backing.verify.sound.onsets import rises

        self.file.seek(0)
        frames = round(until_s * self.rate)
        block = _one_channel(self.file.read(frames, dtype="float32", always_2d=True))
        signal = np.diff(block, prepend=np.float32(0))
        return len(rises(signal, self.rate, LOUD * float(np.abs(signal).max())))

    def too_many(self, clicks: Sequence[ExpectedClick]) -> list[float]:
        """Where something sounds between the clicks, in seconds, if there is no music.

        There is no music if the second half of nearly every gap between two clicks is silent.
        """
        import numpy as np

        peaks, step_s = np.array(self._peaks), self._step / self.rate
        at = [float(click.at_s) for click in clicks if click.plays]
        if not len(peaks) or len(at) < 2:
            return []
        loud = np.median(
            [peaks[int(t / step_s) : int((t + AFTER_S) / step_s) + 1].max() for t in at]
        )
        gaps = list(zip(at, [*at[1:], len(peaks) * step_s], strict=True))
        if at[-1] < self.counted_s():
            gaps.pop()  # after the count-in there is music, and no click
        halves = [peaks[int((a + b) / 2 / step_s) : int((b - BEFORE_S) / step_s)] for a, b in gaps]
        silent = [half.max(initial=0.0) < QUIET * loud for half in halves]
        if sum(silent) < MOSTLY * len(silent):
            return []
        found = []
        for a, b in gaps:
            first = int((a + AFTER_S) / step_s) + 1
            gap = peaks[first : int((b - BEFORE_S) / step_s)]
            if gap.max(initial=0.0) >= LOUD * loud:
                found.append((first + int(np.argmax(gap))) * step_s)
        return found

    def _windows(
        self, clicks: Sequence[ExpectedClick], to_end: bool = False
    ) -> Iterator[tuple[ExpectedClick, Any, float]]:
        """Each click's window, and the part of a sample that its exact place is past `reach`.

        The file is read once from its start in blocks; `to_end` reads all of it.
        """
        import numpy as np

        from backing.verify.sound.onsets import LEAD, reach, span

        size, before = span(self.rate), reach(self.rate) + LEAD
        waiting = iter(clicks)
        click = next(waiting, None)
        kept, start = np.zeros(before + 1, np.float32), -before - 1
        for block in self._blocks():
            kept = np.concatenate([kept, block])
            signal = np.diff(kept)
            while click is not None:
                exact = float(click.at_s * self.rate)
                at = round(exact) - before - start - 1
                if at + size > len(signal):
                    break
                yield click, signal[at : at + size].copy(), exact - round(exact)
                click = next(waiting, None)
            drop = max(0, len(kept) - 2 * size)
            kept, start = kept[drop:], start + drop
            if click is None and not to_end:
                return

    def _blocks(self) -> Iterator[Any]:
        """The file's samples as one channel; counts them on the way, and keeps their peaks."""
        import numpy as np

        self.frames = 0
        self._peaks = []
        step = self._step
        for block in self._pieces(BLOCK_S * self.rate // step * step):
            self.frames += len(block)
            steps = block[: len(block) // step * step].reshape(-1, step)
            self._peaks += np.maximum(steps.max(axis=1), -steps.min(axis=1)).tolist()
            yield block

    def _pieces(self, size: int) -> Iterator[Any]:
        """One channel, `size` samples at a time; the last piece is shorter and may be empty."""
        import numpy as np

        self.file.seek(0)
        if (self.file.format, self.file.subtype) == ("WAV", "PCM_16"):
            count = size
            while count == size:  # converting to floats here is much quicker
                whole = self.file.read(size, dtype="int16", always_2d=True)
                count = len(whole)
                yield _one_channel(whole.astype(np.float32)) / 32768
            return
        buffer = np.empty((size, self.file.channels), np.float32)
        count = size
        while count == size:
            # A header may promise more samples than there are; what isn't read stays NaN.
            buffer.fill(np.nan)
            self.file.read(size, dtype="float32", out=buffer, fill_value=np.nan)
            missing = np.isnan(buffer[:, 0])
            count = int(np.argmax(missing)) if missing.any() else size
            yield _one_channel(buffer[:count])


def _to_learn_from(clicks: Sequence[ExpectedClick], counted_s: Fraction) -> Iterator[ExpectedClick]:
    """The first clicks of each sound: those of the count-in alone, if it has that sound."""
    taken: dict[Sound, list[ExpectedClick]] = {}
    for click in clicks:
        of = taken.setdefault(sound_of(click), [])
        enough = len(of) >= ENOUGH or (of and of[0].at_s < counted_s <= click.at_s)
        if click.plays and not enough:
            of.append(click)
            yield click


def _one_channel(block: Any) -> Any:
    """The channels' mean; a matrix product takes less than half as long as a sum."""
    import numpy as np

    channels = block.shape[1]
    return block @ np.full(channels, 1 / channels, np.float32)
