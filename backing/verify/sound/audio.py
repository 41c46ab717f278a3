"""Audio compared with a form: its length by counting samples, its clicks by their sound.

What libsndfile 1.2.2 does was measured with impulses and decaying tones at 44.1 and
48 kHz: WAV, FLAC, Ogg Vorbis and MP3 (LAME) come back with the number of samples that
went in and every impulse at its own sample. An MP3 without its encoder's tag comes back
1105 samples late and in whole frames of 1152 (if its bit rate varies, too,
libsndfile guesses its length, and the file can't be proven). So the length must be right to a
sample, unless an MP3 is a whole number of frames: then it may be longer by `MOST_FRAMES`, and
its clicks may be as late as it is longer, at most a frame. How late they are is measured.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.errors import BackingError, naming, raise_shortage
from backing.form.model import Form
from backing.system.install import install_command
from backing.system.shortages import LITTLE_BYTES, NUMPY_BYTES, need_memory
from backing.text.times import clock
from backing.verify.compare import expected_of
from backing.verify.expected.click import every_click
from backing.verify.expected.records import Expected, ExpectedClick
from backing.verify.proof import size_of_file
from backing.verify.report import Finding, Verdict, verdict_of
from backing.verify.sound.clicks import (
    ALONE,
    TOLERANCE_S,
    ClickSearch,
    FoundClick,
    Sound,
    clicks_among,
    usual_lateness,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from backing.practice.versions import Version
    from backing.verify.sound.onsets import Shape

    Signal = NDArray[np.float32]

READER = "samples"
#: Samples a second. A click of fewer is too short to recognize; more aren't used in practice,
#: and a damaged header would use up all memory.
LEAST_RATE, MOST_RATE = 1_000, 768_000
#: Samples in an MP3 frame; its encoder's delay is less than one.
FRAME = 1152
#: The most frames that an encoder's delay and its last frames add.
MOST_FRAMES = 3
#: How far the last click may drift from the first, along the line that fits them all.
DRIFT_S = 0.001
#: What share of the clicks louder sounds may cover.
MOST_COVERED = 0.1
#: How much like the learned click a place must sound to count as one too many.
TOO_LIKE = 0.75
#: Seconds of a count-in that are searched for clicks too many.
COUNTED_S = 60


class AudioReport(NamedTuple):
    """What was found in a sound file. Times are in seconds.

    A click's attack takes a moment, and where in it the onset lies is a matter of definition:
    `offset_s` is how late the attack of a click's sound is by ours, the same for all clicks of
    that sound (of two sounds, the larger). `worst_s` is how far any click strays from that,
    and `drift_s` how much from the first click to the last. `rate` is samples a second. Of the
    clicks that weren't found, `clicks_covered` lie under sounds so loud that none can be told.
    Beside those, `clicks_unclear` have a sound that is never alone and too rare to be learned.
    """

    title: str
    findings: tuple[Finding, ...]
    seconds: float
    expected_s: float
    rate: int
    clicks_found: int = 0
    clicks_expected: int = 0
    clicks_covered: int = 0
    clicks_unclear: int = 0
    worst_s: float = 0.0
    drift_s: float = 0.0
    offset_s: float = 0.0

    @property
    def disagreements(self) -> tuple[Finding, ...]:
        """The findings that don't agree."""
        return tuple(finding for finding in self.findings if not finding.agrees)

    @property
    def agrees(self) -> bool:
        """Whether every finding agrees."""
        return not self.disagreements

    @property
    def length_only(self) -> bool:
        """Whether only the length was proven, because no click was there."""
        return not any(finding.what == "clicks" for finding in self.findings)


def verify_audio(
    form: Form,
    path: str | Path,
    count_in: bool = True,
    clicked: bool | None = None,
    version: Version | None = None,
) -> AudioReport:
    """Check a sound file against its form: its length in samples, and where its clicks are.

    >>> import backing
    >>> form = backing.read_form("song.yaml")
    >>> report = backing.verify_audio(form, "Two Gates.wav")
    >>> report.agrees, report.clicks_found, report.worst_s < 0.002
    (True, 20, True)

    Args:
        form: as read.
        path: a WAV, FLAC, Ogg or MP3 file of 1,000 to 768,000 samples a second.
        count_in: False for a file without the count-in.
        clicked: whether clicks must be in it; None means no if the count-in is silent.
        version: the practice version that the file holds; None is the song as written.

    Raises:
        BackingError: the file can't be opened or read as audio, or numpy and soundfile aren't
            installed.
    """
    return compare_audio(expected_of(form, version, count_in), path, clicked)


def compare_audio(expected: Expected, path: str | Path, clicked: bool | None = None) -> AudioReport:
    """Compare a sound file with what is expected, as `verify_audio` does.

    It needs no more memory for a longer file.
    """
    with naming(path, "can't be checked"), _opened(path) as file:
        return _Comparison(expected, file, clicked).report()


@contextmanager
def _opened(path: str | Path) -> Iterator[Any]:
    size_of_file(path, "an audio file")
    try:
        need_memory(NUMPY_BYTES)
        import numpy  # noqa: F401
        import soundfile
    except (ImportError, OSError, MemoryError) as error:
        raise_shortage(error)
        raise BackingError(
            f"Reading audio needs numpy and soundfile. To install them: {install_command('audio')}"
        ) from None
    try:
        # Bytes, since the library can't encode a name that isn't UTF-8; Windows has none such.
        name = str(path) if os.name == "nt" else os.fsencode(path)
        with soundfile.SoundFile(name) as file:
            # soundfile seeks after each read of a file that can seek; an MP3 decoder then loses
            # what its last frame left over, and 22 ms come out wrong.
            file.seekable = lambda: False
            if not LEAST_RATE <= file.samplerate <= MOST_RATE:
                raise BackingError(
                    f"{path}: it has {file.samplerate:,} samples a second. "
                    f"Give an audio file of {LEAST_RATE:,} to {MOST_RATE:,}."
                )
            yield file
    except soundfile.LibsndfileError as error:
        with open(path, "rb"):  # it may be that no more files can be opened
            need_memory(LITTLE_BYTES)
        why = str(error.error_string).rstrip(".")
        raise BackingError(
            f"{path}: it can't be read as audio ({why}). Give a WAV, FLAC, Ogg or MP3 file."
        ) from None


class _Comparison:
    """One file with what is expected of it."""

    def __init__(self, expected: Expected, file: Any, clicked: bool | None) -> None:
        self.expected = expected
        self.clicks = every_click(expected)
        self.clicked = clicked
        self.search = ClickSearch(expected, file)
        self.rate = self.search.rate
        self.mp3 = file.format == "MP3"

    def report(self) -> AudioReport:
        shapes = None
        if self.clicked is not False and _playing(self.clicks):
            shapes = self.search.learn(self.clicks, self.clicked)
        judged = [click for click in self.clicks if not self.search.is_unclear(click)]
        found = self.search.find(judged, shapes or {})  # reads to the end, so frames are known
        found = self._found_again(found, shapes or {})
        report = AudioReport(
            self.expected.title,
            (self._length(),),
            self.search.frames / self.rate,
            float(self.expected.end_s),
            self.rate,
            clicks_unclear=_playing(self.clicks) - _playing(judged),
        )
        if shapes is None or not _playing(judged):
            return report
        return self._with_clicks(report, found, _playing(judged))

    def _length(self) -> Finding:
        frames, wanted = self.search.frames, self.expected.end_s * self.rate
        over = frames - round(wanted)
        most = MOST_FRAMES * FRAME if self._untrimmed() else 1
        agrees = -1 <= over <= most
        says = f"{frames} samples at {self.rate} Hz"
        if not agrees:
            says += f", {abs(over)} too {'many' if over > 0 else 'few'}"
        return Finding(
            READER, "length", verdict_of(agrees), says, abs(float(frames - wanted)) / self.rate
        )

    def _untrimmed(self) -> bool:
        """Whether a decoder left an MP3's delay in."""
        return self.mp3 and not self.search.frames % FRAME

    def _with_clicks(
        self, report: AudioReport, found: Sequence[FoundClick], wanted: int
    ) -> AudioReport:
        """The report with what was found about the clicks."""
        playing = [one for one in found if one.click.plays]
        there = clicks_among(playing)
        covered = len({one.click for one in playing if one.is_covered} - {o.click for o in there})
        report = report._replace(
            clicks_found=len(there), clicks_expected=wanted, clicks_covered=covered
        )
        if not there:
            none = Finding(READER, "clicks", Verdict.DISAGREES, f"none of {wanted} is there")
            return report._replace(findings=(*report.findings, none))
        measured = _measured(there, self._delay_s(report))
        silent = [one for one in found if not one.click.plays]
        findings = (
            self._count(there, wanted, covered, silent),
            _places(there, measured.away_s),
            _drift(measured.drift_s),
        )
        return report._replace(
            findings=report.findings + findings,
            worst_s=measured.worst_s,
            drift_s=measured.drift_s,
            offset_s=measured.offset_s,
        )

    def _found_again(self, found: list[FoundClick], shapes: dict[Sound, Shape]) -> list[FoundClick]:
        """What was found, with another look for missing clicks just where the others lie."""
        there = {one.click for one in clicks_among(found)}
        missing = [one.click for one in found if one.click.plays and one.click not in there]
        usual = usual_lateness(found)
        if not missing or not usual:
            return found
        again = {one.click: one for one in self.search.find(missing, shapes, usual)}
        return [again.get(one.click, one) for one in found]

    def _delay_s(self, report: AudioReport) -> float:
        """How late all clicks may be: as much as an untrimmed MP3 is longer, at most a frame."""
        over_s = report.seconds - report.expected_s
        if self._untrimmed() and over_s * self.rate > 1:
            return min(over_s, FRAME / self.rate)
        return 0.0

    def _count(
        self,
        there: Sequence[FoundClick],
        wanted: int,
        covered: int,
        silent: Sequence[FoundClick],
    ) -> Finding:
        if len(there) + covered != wanted or covered > MOST_COVERED * wanted:
            return Finding(
                READER, "clicks", Verdict.DISAGREES, f"{len(there)} are there, not {wanted}"
            )
        until = min(self.search.counted_s(), Fraction(COUNTED_S))
        early = [float(one.click.at_s) for one in there if one.click.at_s < until]
        counted = len(early)
        alone_s = early[-1] + ALONE * (float(until) - early[-1]) if early else 0.0
        if early and (onsets := self.search.onsets(alone_s)) != counted:
            says = f"the count-in has {onsets} onsets, not {counted}"
            return Finding(READER, "clicks", Verdict.DISAGREES, says)
        for one in silent:
            if one.alike >= TOO_LIKE and abs(one.late_s) <= TOLERANCE_S:
                says = f"one sounds at {clock(one.click.at_s)}, where there should be none"
                return Finding(READER, "clicks", Verdict.DISAGREES, says)
        if places := self.search.too_many(self.clicks):
            says = f"something else sounds between them, at {clock(places[0])}"
            return Finding(READER, "clicks", Verdict.DISAGREES, says)
        says = f"{wanted}, as many as there should be"
        says += f"; {covered} of them under louder sounds" if covered else ""
        return Finding(READER, "clicks", Verdict.AGREES, says)


class _Measured(NamedTuple):
    """How far clicks lie from their exact times, in seconds; `away_s` has each one's distance."""

    away_s: NDArray[np.float64]
    worst_s: float
    drift_s: float
    offset_s: float


def _measured(there: Sequence[FoundClick], delay_s: float) -> _Measured:
    """Measure the clicks, all of which may be late by `delay_s` at most."""
    import numpy as np

    late = np.array([one.late_s for one in there])
    at = np.array([float(one.click.at_s) for one in there])
    sounds = [one.sound for one in there]
    attacks = {
        sound: float(np.median(late[[each == sound for each in sounds]]))
        for sound in sorted(set(sounds))
    }
    strays = late - np.array([attacks[sound] for sound in sounds])
    delay = min(max(float(np.median(late)), 0.0), delay_s)
    drift = 0.0
    if len(at) > 2:
        drift = float(np.polyfit(at - at[0], strays, 1)[0] * (at[-1] - at[0]))
    worst, offset = float(np.abs(strays).max()), max(attacks.values(), key=abs)
    return _Measured(np.abs(late - delay), worst, drift, offset)


def _playing(clicks: Sequence[ExpectedClick]) -> int:
    return sum(click.plays for click in clicks)


def _places(there: Sequence[FoundClick], away_s: NDArray[np.float64]) -> Finding:
    import numpy as np

    wrong = np.flatnonzero(away_s > TOLERANCE_S)
    worst = float(away_s.max())
    if len(wrong):
        one = there[int(wrong[0])]
        side = "late" if one.late_s > 0 else "early"
        says = f"{len(wrong)} off, the first at {clock(one.click.at_s)} by "
        says += f"{abs(one.late_s) * 1000:.1f} ms ({side})"
        return Finding(READER, "click times", Verdict.DISAGREES, says, worst)
    return Finding(READER, "click times", Verdict.AGREES, f"{len(there)} where they belong", worst)


def _drift(drift_s: float) -> Finding:
    says = f"{drift_s * 1000:+.3f} ms from the first click to the last"
    return Finding(READER, "drift", verdict_of(abs(drift_s) <= DRIFT_S), says, abs(drift_s))
