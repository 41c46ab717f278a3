"""What a comparison finds, and a file's texts as they are quoted in its messages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import Enum
from types import MappingProxyType
from typing import NamedTuple

#: Characters of a file's text that a message quotes; no chord symbol is longer.
MOST_QUOTED = 60
#: Labels that go wrong with any wrong time.
ENDS = "ends of tracks"
#: The cause of a file that has nothing to do with its form: then nothing else needs saying.
ANOTHER_SONG = "this is another song"


class Fault(NamedTuple):
    """Something that a part plays wrong: its time in seconds, and what it is."""

    at_s: float
    says: str


class Verdict(Enum):
    """What a finding says about a file.

    Music and labels are two things: what was lost on the way is a label that isn't there, and
    what is only noted can't be heard as wrong. Neither makes a file disagree.
    """

    AGREES = "agrees"
    DISAGREES = "disagrees"
    LOST = "lost"
    NOTED = "noted"


class Finding(NamedTuple):
    """What one reader says about one question.

    `what` names the question and `says` answers it. In a finding that is lost, `says` is what
    is missing, as it reads after "Lost on the way: "; in one that is noted, it is a whole
    sentence. `worst_s` is the largest difference between times, in seconds. `details` are the
    places where the file disagrees; without any, `says` alone tells what is wrong.
    """

    reader: str
    what: str
    verdict: Verdict
    says: str
    worst_s: float = 0.0
    details: tuple[Fault, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether the music agrees: only a disagreement says that it doesn't."""
        return self.verdict is not Verdict.DISAGREES


def verdict_of(agrees: bool) -> Verdict:
    """The verdict on a question of the music."""
    return Verdict.AGREES if agrees else Verdict.DISAGREES


class Row(NamedTuple):
    """A pass in the table: its start and length in seconds, expected and as found in the file.

    What wasn't found is None.
    """

    label: str
    first_bar: int
    bars: int
    start_s: float
    seconds: float
    found_start_s: float | None = None
    found_seconds: float | None = None


class PartCount(NamedTuple):
    """How much of a part was compared: 412 strokes, and the file's 1,961 notes.

    `unit` is what was counted, in the plural.
    """

    part: str
    compared: int
    unit: str
    notes: int


class Detail(NamedTuple):
    """One place where a file disagrees.

    `bar` says which bar, as in "bar 7"; what concerns the whole file has no time and no bar.
    `what` is the question, such as a part's name. `reader` is empty where every reader that was
    asked found it, and otherwise names the one that did.
    """

    at_s: float | None
    bar: str
    what: str
    says: str
    reader: str = ""


class Report(NamedTuple):
    """Everything that was found about a file.

    `tolerance_s` is how far a time at the end of the song may be off, in seconds. `cause` is the
    one thing that explains what disagrees, if there is one, and `details` are the places, in
    order of time; `more_details` says that there are others that weren't kept. `left_out` says
    which reader wasn't used, and why. `titles` name parts that the form calls otherwise: the
    guitar of a ukulele student.
    """

    title: str
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]
    tolerance_s: float
    parts: tuple[PartCount, ...] = ()
    cause: str = ""
    details: tuple[Detail, ...] = ()
    more_details: bool = False
    left_out: str = ""
    titles: Mapping[str, str] = MappingProxyType({})

    @property
    def agrees(self) -> bool:
        """Whether the music agrees; labels may be lost."""
        return all(finding.agrees for finding in self.findings)

    @property
    def worst_s(self) -> float:
        """The largest difference between times, in seconds."""
        return max((finding.worst_s for finding in self.findings), default=0.0)

    @property
    def disagreements(self) -> tuple[Finding, ...]:
        """The findings that don't agree."""
        return tuple(finding for finding in self.findings if not finding.agrees)

    @property
    def lost(self) -> tuple[str, ...]:
        """The labels that are missing, each said once."""
        return self._says(Verdict.LOST)

    @property
    def noted(self) -> tuple[str, ...]:
        """Sentences about differences that leave the music as it is."""
        return self._says(Verdict.NOTED)

    def _says(self, verdict: Verdict) -> tuple[str, ...]:
        said = (finding.says for finding in self.findings if finding.verdict is verdict)
        return tuple(dict.fromkeys(said))


def listed(meters: Iterable[tuple[int, int]]) -> str:
    """Meters in words, the first six of them; a file's unit goes up to 2 to the 255th."""
    every = [f"{n}/{d}" if d < 1 << 16 else f"{n}/2^{d.bit_length() - 1}" for n, d in meters]
    return ", ".join(every[:6]) + (" ..." if len(every) > 6 else "")


def two_tempos(found_s: float, wanted_s: float) -> tuple[str, str]:
    """Two tempos in quarters a minute, with as many decimals as it takes to tell them apart.

    They are given by the seconds that a quarter lasts, which may be 0 in a file.
    """
    for decimals in range(3, 10):
        found, wanted = (_tempo(each, decimals) for each in (found_s, wanted_s))
        if found != wanted:
            break
    return found, wanted


def _tempo(quarter_s: float, decimals: int) -> str:
    if not quarter_s:
        return "infinitely many"
    text = f"{60 / quarter_s:.{decimals}f}"
    return text.rstrip("0").rstrip(".")


def quoted(text: str | None) -> str:
    """A file's text, on one line however long it is and whatever it holds."""
    text = text or ""
    return repr(text if len(text) <= MOST_QUOTED else text[:MOST_QUOTED] + "...")


def plain(text: str) -> str:
    """A file's text as it is where it can be printed, quoted otherwise."""
    return text if text.isprintable() and len(text) <= MOST_QUOTED else quoted(text)
