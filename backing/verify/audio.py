"""Audio held against a form: its length by counting samples, its clicks by listening.

What libsndfile 1.2.2 does was measured with impulses and decaying tones at 44.1 and
48 kHz: WAV, FLAC, Ogg Vorbis and MP3 (LAME) come back with the number of samples that
went in and every impulse at its own sample. An MP3 without its encoder's tag comes back
1105 samples late and in whole frames of 1152 (where its bit rate varies besides,
libsndfile guesses its length: then it can't be proven). So the length must be right to a sample,
unless an MP3 is a whole number of frames: then it may be longer by `MOST_FRAMES`, and
its clicks may lie later by what it is longer, at most a frame. How much later they do
lie is measured from the clicks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.errors import BackingError, DisagreementError
from backing.form.model import Form
from backing.verify.compare import Finding
from backing.verify.expected import Expected, ExpectedClick, expect

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Signal = NDArray[np.float32]

READER = "samples"
#: Samples in an MP3 frame; its encoder's delay is less than one.
FRAME = 1152
#: Frames that an encoder's delay and its last frames may come to.
MOST_FRAMES = 3
#: How far a click may lie from the maths: an engine's block of 64 samples is 1.45 ms.
TOLERANCE_S = 0.002
#: How far the last click may have drifted from the first, along the line that fits them all.
DRIFT_S = 0.001
#: How much like the learned click a place must sound to hold one: in a song, and where it is
#: taken for one too many.
LIKE, TOO_LIKE = 0.4, 0.75
#: The clicks that a sound is learned from.
LESSONS = 16
#: Seconds of a count-in that are searched for clicks too many.
COUNTED_S = 60
#: An onset in the count-in reaches this share of its peak.
LOUD = 0.35
#: Where half of its peaks are below this the count-in is silent (an engine may pop once).
SILENT = 0.001
BLOCK_S = 30


class AudioReport(NamedTuple):
    """What was found in a file.

    Times are in seconds: `worst_s` the farthest click from its place once `offset_s` is
    taken off; `offset_s` the median difference; `drift_s` from the first click to the last.
    """

    title: str
    findings: tuple[Finding, ...]
    seconds: float
    expected_s: float
    rate: int
    clicks_found: int = 0
    clicks_expected: int = 0
    worst_s: float = 0.0
    drift_s: float = 0.0
    offset_s: float = 0.0

    @property
    def agrees(self) -> bool:
        """Whether every finding agrees."""
        return all(finding.agrees for finding in self.findings)

    @property
    def length_only(self) -> bool:
        """Whether no click was there to prove more than the length."""
        return not any(finding.what == "clicks" for finding in self.findings)


class _Heard(NamedTuple):
    """A click's place in samples, as measured, how far it lies from the maths, how alike."""

    click: ExpectedClick
    late: float
    like: float


def verify_audio(
    form: Form, path: str | Path, count_in: bool = True, clicked: bool | None = None
) -> AudioReport:
    """Hold a WAV, FLAC, Ogg or MP3 file against a form. Memory stays flat in its length.

    Args:
        clicked: whether a click must be in it; None takes a silent count-in for "no".

    Raises:
        BackingError: the file can't be opened, or numpy and soundfile are missing.
        DisagreementError: it can't be read as audio.
    """
    expected = expect(form, count_in, clicks=True)
    with _opened(path) as file:
        return _Listening(expected, file, clicked).report()


@contextmanager
def _opened(path: str | Path) -> Iterator[Any]:
    try:
        import numpy  # noqa: F401
        import soundfile
    except (ImportError, OSError):
        raise BackingError(
            "Reading audio needs numpy and soundfile: pip install 'backing[audio]'."
        ) from None
    try:
        with Path(path).open("rb"):
            pass
    except OSError as error:
        raise BackingError(
            f"{path}: can't be read ({error.strerror or error}). Give an audio file."
        ) from None
    try:
        with soundfile.SoundFile(str(path)) as file:
            # soundfile seeks after each read of a file that can seek, and an MP3 then begins
            # afresh without what its last frame left over: 22 ms come out wrong.
            file.seekable = lambda: False
            yield file
    except soundfile.LibsndfileError as error:
        why = str(error.error_string).rstrip(".")
        raise DisagreementError(f"{path}: it can't be read as audio ({why}).") from None


class _Listening:
    def __init__(self, expected: Expected, file: Any, clicked: bool | None) -> None:
        self.expected = expected
        self.file = file
        self.rate = int(file.samplerate)
        self.clicked = clicked
        self.frames = 0

    def report(self) -> AudioReport:
        clicks = self.expected.clicks
        owed = sum(click.heard for click in clicks)
        shapes = self._learn(clicks) if owed and self.clicked is not False else None
        heard = list(self._listen(clicks, shapes or {}))
        length = self._length()
        report = AudioReport(
            self.expected.title,
            (length,),
            self.frames / self.rate,
            float(self.expected.end_s),
            self.rate,
        )
        return report if shapes is None else self._judge(report, heard, owed)

    def _length(self) -> Finding:
        wanted = self.expected.end_s * self.rate
        over = self.frames - round(wanted)
        most = MOST_FRAMES * FRAME if self._untrimmed() else 1
        agrees = -1 <= over <= most
        says = f"{self.frames} samples at {self.rate} Hz, {abs(over)} too "
        says += "many" if over > 0 else "few"
        if agrees:
            says = f"{self.frames} samples at {self.rate} Hz"
        return Finding(READER, "length", agrees, says, abs(float(self.frames - wanted)) / self.rate)

    def _untrimmed(self) -> bool:
        """Whether a decoder left an MP3's delay in."""
        return bool(self.file.format == "MP3" and not self.frames % FRAME)

    def _judge(self, report: AudioReport, heard: Sequence[_Heard], owed: int) -> AudioReport:
        import numpy as np

        there = [one for one in heard if one.click.heard and one.like >= LIKE]
        found = report._replace(clicks_found=len(there), clicks_expected=owed)
        if not there:
            says = f"none of {owed} is heard"
            none = Finding(READER, "clicks", False, says)
            return found._replace(findings=(*report.findings, none))
        late = np.array([one.late for one in there])
        at = np.array([float(one.click.at_s) for one in there])
        offset = float(np.median(late))
        allowed = 0.0
        over_s = report.seconds - report.expected_s
        if self._untrimmed() and over_s * self.rate > 1:
            allowed = min(over_s, FRAME / self.rate)
        taken = min(max(offset, 0.0), allowed)
        away = np.abs(late - taken)
        drift = float(np.polyfit(at - at[0], late, 1)[0] * (at[-1] - at[0])) if len(at) > 2 else 0.0
        found = found._replace(worst_s=float(away.max()), drift_s=drift, offset_s=offset)
        return found._replace(
            findings=(
                *report.findings,
                self._count(there, owed, [one for one in heard if not one.click.heard]),
                self._places(there, away),
                _drift(drift),
            )
        )

    def _count(self, there: Sequence[_Heard], owed: int, silent: Sequence[_Heard]) -> Finding:
        if len(there) != owed:
            return Finding(READER, "clicks", False, f"{len(there)} are heard, not {owed}")
        until = min(self._counted_s(), Fraction(COUNTED_S))
        counted = sum(one.click.at_s < until for one in there)
        if counted and (found := self._onsets(until)) != counted:
            says = f"the count-in has {found} onsets, not {counted}"
            return Finding(READER, "clicks", False, says)
        for one in silent:
            if one.like >= TOO_LIKE and abs(one.late) <= TOLERANCE_S:
                says = f"one is heard at {_clock(one.click.at_s)}, where none belongs"
                return Finding(READER, "clicks", False, says)
        return Finding(READER, "clicks", True, f"{owed} heard, as many as there must be")

    def _onsets(self, until_s: Fraction) -> int:
        """How often something is struck in the count-in, where the click is alone."""
        import numpy as np

        from backing.verify.onsets import rises

        self.file.seek(0)
        frames = round((float(until_s) - 0.01) * self.rate)
        block = self.file.read(frames, dtype="float32", always_2d=True).mean(axis=1)
        signal = np.diff(block, prepend=np.float32(0))
        return len(rises(signal, self.rate, LOUD * float(np.abs(signal).max())))

    def _places(self, there: Sequence[_Heard], away: NDArray[np.float64]) -> Finding:
        import numpy as np

        wrong = np.flatnonzero(away > TOLERANCE_S)
        worst = float(away.max())
        if len(wrong):
            one = there[int(wrong[0])]
            side = "late" if one.late > 0 else "early"
            says = f"at {_clock(one.click.at_s)} it is {abs(one.late) * 1000:.1f} ms {side}"
            return Finding(READER, "click times", False, f"{says}, as {len(wrong)} are", worst)
        return Finding(READER, "click times", True, f"{len(there)} where they belong", worst)

    def _learn(self, clicks: Sequence[ExpectedClick]) -> dict[tuple[str, bool], Any] | None:
        """Each sound's shape, from the count-in or else its first clicks; None without any."""
        import numpy as np

        from backing.verify.onsets import learn

        counted = self._counted_s()
        lessons: dict[tuple[str, bool], list[ExpectedClick]] = {}
        for click in clicks:
            of = lessons.setdefault((click.sound, click.accented), [])
            enough = len(of) >= LESSONS or (of and of[0].at_s < counted <= click.at_s)
            if click.heard and not enough:
                of.append(click)
        chosen = sorted(click for of in lessons.values() for click in of)
        if not chosen:
            return None
        windows: dict[tuple[str, bool], list[Any]] = {key: [] for key in lessons}
        for click, window, _ in self._windows(chosen):
            windows[click.sound, click.accented].append(window)
        early = [w for c, w, _ in self._windows([c for c in chosen if c.at_s < counted])]
        peaks = [float(np.abs(window).max()) for window in early]
        if self.clicked is None and peaks and float(np.median(peaks)) < SILENT:
            return None
        shapes = {}
        for key, these in windows.items():
            shape = learn(np.stack(these), self.rate) if these else None
            if shape is not None:
                shapes[key] = shape
        return shapes

    def _counted_s(self) -> Fraction:
        """Where the bars end in which the click is alone."""
        expected = self.expected
        bars = expected.count_in_bars
        if any(label == "Pickup" for _, label in expected.lead_in):
            return bars[-1].start_s
        return expected.count_in_s

    def _listen(
        self, clicks: Sequence[ExpectedClick], shapes: dict[tuple[str, bool], Any]
    ) -> Iterator[_Heard]:
        """Every place at which a click belongs or must not be, by its sound's shape."""
        import numpy as np

        from backing.verify.onsets import match, reach

        batch: dict[tuple[str, bool], list[tuple[ExpectedClick, Any, float]]] = {}

        def heard(of: list[tuple[ExpectedClick, Any, float]], shape: Any) -> Iterator[_Heard]:
            places, likes = match(np.stack([window for _, window, _ in of]), shape)
            for (click, _, part), place, like in zip(of, places, likes, strict=True):
                late = (int(place) - reach(self.rate) - part) / self.rate
                yield _Heard(click, late, float(like))

        out: list[_Heard] = []
        for click, window, part in self._windows(clicks, to_end=True):
            key = (click.sound, click.accented)
            if key not in shapes:
                continue
            of = batch.setdefault(key, [])
            of.append((click, window, part))
            if len(of) == 256:
                out += heard(of, shapes[key])
                of.clear()
        for key, of in batch.items():
            if of:
                out += heard(of, shapes[key])
        yield from sorted(out)

    def _windows(
        self, clicks: Sequence[ExpectedClick], to_end: bool = False
    ) -> Iterator[tuple[ExpectedClick, Any, float]]:
        """Each click's window, and the part of a sample that its exact place is past `reach`.

        The file is read once from its start in blocks, and to its end where samples count.
        """
        import numpy as np

        from backing.verify.onsets import LEAD, reach, span

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
        """The file's samples as one channel; they are counted on the way."""
        import numpy as np

        self.file.seek(0)
        self.frames = 0
        size = BLOCK_S * self.rate
        buffer = np.empty((size, self.file.channels), np.float32)
        count = size
        while count == size:
            # A header may promise more samples than there are: what isn't read stays NaN.
            buffer.fill(np.nan)
            self.file.read(size, dtype="float32", out=buffer, fill_value=np.nan)
            missing = np.isnan(buffer[:, 0])
            count = int(np.argmax(missing)) if missing.any() else size
            self.frames += count
            yield buffer[:count].mean(axis=1)


def _drift(drift_s: float) -> Finding:
    says = f"{drift_s * 1000:+.3f} ms from the first click to the last"
    return Finding(READER, "drift", abs(drift_s) <= DRIFT_S, says, abs(drift_s))


def _clock(seconds: Any) -> str:
    """Minutes and seconds to the millisecond."""
    ms = round(float(seconds) * 1000)
    return f"{ms // 60000}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"
