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

from backing.errors import BackingError
from backing.form.model import Form
from backing.text.times import clock
from backing.verify.clicks import Heard, Listening, found_among
from backing.verify.compare import Finding, expected_of
from backing.verify.expected import Expected
from backing.verify.proof import must_be_a_file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from backing.practice.versions import Version

    Signal = NDArray[np.float32]

READER = "samples"
#: Samples a second. Below, a click is too short to listen for; above, no file is made, and
#: a damaged header would ask for all memory.
LEAST_RATE, MOST_RATE = 1_000, 768_000
#: Samples in an MP3 frame; its encoder's delay is less than one.
FRAME = 1152
#: Frames that an encoder's delay and its last frames may come to.
MOST_FRAMES = 3
#: How far a click may lie from the maths: an engine's block of 64 samples is 1.45 ms.
TOLERANCE_S = 0.002
#: How far the last click may have drifted from the first, along the line that fits them all.
DRIFT_S = 0.001
#: How much like the learned click a place must sound to be taken for one too many.
TOO_LIKE = 0.75
#: Seconds of a count-in that are searched for clicks too many.
COUNTED_S = 60


class AudioReport(NamedTuple):
    """What was found in a file.

    Times are in seconds. A click's attack takes a while, and where in it one hears the
    onset is a matter of choice: `offset_s` is how late its sound's attack lies by `onsets.EDGE`,
    the same for all clicks of a sound (of two sounds, the later one's); `worst_s` is the
    farthest that any click strays from that, and `drift_s` from the first click to the last.
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
    def disagreements(self) -> tuple[Finding, ...]:
        """What is wrong."""
        return tuple(finding for finding in self.findings if not finding.agrees)

    @property
    def agrees(self) -> bool:
        """Whether every finding agrees."""
        return not self.disagreements

    @property
    def length_only(self) -> bool:
        """Whether no click was there to prove more than the length."""
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
    return hold_audio(expected_of(form, version, count_in, clicks=True), path, clicked)


def hold_audio(expected: Expected, path: str | Path, clicked: bool | None = None) -> AudioReport:
    """Hold audio against what is expected, its clicks listed, as `verify_audio` does.

    Memory stays flat in the file's length.
    """
    with _opened(path) as file:
        return _Judge(expected, file, clicked).report()


@contextmanager
def _opened(path: str | Path) -> Iterator[Any]:
    must_be_a_file(path, "an audio file")
    try:
        import numpy  # noqa: F401
        import soundfile
    except (ImportError, OSError):
        raise BackingError(
            "Reading audio needs numpy and soundfile: pip install 'backing[audio]'."
        ) from None
    try:
        with soundfile.SoundFile(str(path)) as file:
            # soundfile seeks after each read of a file that can seek, and an MP3 then begins
            # afresh without what its last frame left over: 22 ms come out wrong.
            file.seekable = lambda: False
            if not LEAST_RATE <= file.samplerate <= MOST_RATE:
                raise BackingError(
                    f"{path}: it has {file.samplerate:,} samples a second. "
                    f"Give an audio file of {LEAST_RATE:,} to {MOST_RATE:,}."
                )
            yield file
    except soundfile.LibsndfileError as error:
        why = str(error.error_string).rstrip(".")
        raise BackingError(
            f"{path}: it can't be read as audio ({why}). Give a WAV, FLAC, Ogg or MP3 file."
        ) from None


class _Judge:
    def __init__(self, expected: Expected, file: Any, clicked: bool | None) -> None:
        self.expected = expected
        self.clicked = clicked
        self.listening = Listening(expected, file)
        self.rate = self.listening.rate
        self.mp3 = file.format == "MP3"

    @property
    def frames(self) -> int:
        return self.listening.frames

    def report(self) -> AudioReport:
        clicks = self.expected.clicks
        owed = sum(click.plays for click in clicks)
        shapes = None
        if owed and self.clicked is not False:
            shapes = self.listening.learn(clicks, self.clicked)
        heard = self.listening.listen(clicks, shapes or {})
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
        return self.mp3 and not self.frames % FRAME

    def _judge(self, report: AudioReport, heard: Sequence[Heard], owed: int) -> AudioReport:
        import numpy as np

        there = found_among([one for one in heard if one.click.plays])
        found = report._replace(clicks_found=len(there), clicks_expected=owed)
        if not there:
            says = f"none of {owed} is heard"
            none = Finding(READER, "clicks", False, says)
            return found._replace(findings=(*report.findings, none))
        late = np.array([one.late for one in there])
        at = np.array([float(one.click.at_s) for one in there])
        sounds = [(one.click.sound, one.click.accented) for one in there]
        attacks = {
            sound: float(np.median(late[[each == sound for each in sounds]]))
            for sound in sorted(set(sounds))
        }
        strays = late - np.array([attacks[sound] for sound in sounds])
        offset = max(attacks.values(), key=abs)
        allowed = 0.0
        over_s = report.seconds - report.expected_s
        if self._untrimmed() and over_s * self.rate > 1:
            allowed = min(over_s, FRAME / self.rate)
        taken = min(max(float(np.median(late)), 0.0), allowed)
        away = np.abs(late - taken)
        drift = 0.0
        if len(at) > 2:
            drift = float(np.polyfit(at - at[0], strays, 1)[0] * (at[-1] - at[0]))
        worst = float(np.abs(strays).max())
        found = found._replace(worst_s=worst, drift_s=drift, offset_s=offset)
        return found._replace(
            findings=(
                *report.findings,
                self._count(there, owed, [one for one in heard if not one.click.plays]),
                self._places(there, away),
                _drift(drift),
            )
        )

    def _count(self, there: Sequence[Heard], owed: int, silent: Sequence[Heard]) -> Finding:
        if len(there) != owed:
            return Finding(READER, "clicks", False, f"{len(there)} are heard, not {owed}")
        until = min(self.listening.counted_s(), Fraction(COUNTED_S))
        counted = sum(one.click.at_s < until for one in there)
        if counted and (found := self.listening.struck(until)) != counted:
            says = f"the count-in has {found} onsets, not {counted}"
            return Finding(READER, "clicks", False, says)
        for one in silent:
            if one.like >= TOO_LIKE and abs(one.late) <= TOLERANCE_S:
                says = f"one is heard at {clock(one.click.at_s)}, where none belongs"
                return Finding(READER, "clicks", False, says)
        if places := self.listening.too_many(self.expected.clicks):
            says = f"between them something is struck at {clock(places[0])}"
            return Finding(READER, "clicks", False, says)
        return Finding(READER, "clicks", True, f"{owed} heard, as many as there must be")

    def _places(self, there: Sequence[Heard], away: NDArray[np.float64]) -> Finding:
        import numpy as np

        wrong = np.flatnonzero(away > TOLERANCE_S)
        worst = float(away.max())
        if len(wrong):
            one = there[int(wrong[0])]
            side = "late" if one.late > 0 else "early"
            says = f"at {clock(one.click.at_s)} it is {abs(one.late) * 1000:.1f} ms {side}"
            return Finding(READER, "click times", False, f"{says}, as {len(wrong)} are", worst)
        return Finding(READER, "click times", True, f"{len(there)} where they belong", worst)


def _drift(drift_s: float) -> Finding:
    says = f"{drift_s * 1000:+.3f} ms from the first click to the last"
    return Finding(READER, "drift", abs(drift_s) <= DRIFT_S, says, abs(drift_s))
