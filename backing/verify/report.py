"""What a comparison finds, and a file's texts as they are quoted in its messages."""

from collections.abc import Iterable
from typing import NamedTuple

#: Characters of a file's text that a message quotes; no chord symbol is longer.
MOST_QUOTED = 60


class Finding(NamedTuple):
    """What one reader says about one question.

    `what` names the question, `says` answers it. `worst_s` is the largest difference between
    times, in seconds.
    """

    reader: str
    what: str
    agrees: bool
    says: str
    worst_s: float = 0.0


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


class Report(NamedTuple):
    """Everything that was found about a file.

    `tolerance_s` is how far a time at the end of the song may be off, in seconds. `left_out`
    says which reader wasn't used, and why.
    """

    title: str
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]
    tolerance_s: float
    left_out: str = ""

    @property
    def agrees(self) -> bool:
        """Whether every finding agrees."""
        return all(finding.agrees for finding in self.findings)

    @property
    def worst_s(self) -> float:
        """The largest difference between times, in seconds."""
        return max((finding.worst_s for finding in self.findings), default=0.0)

    @property
    def disagreements(self) -> tuple[Finding, ...]:
        """The findings that don't agree."""
        return tuple(finding for finding in self.findings if not finding.agrees)


def listed(meters: Iterable[tuple[int, int]]) -> str:
    """Meters in words, the first six of them; a file's unit goes up to 2 to the 255th."""
    every = [f"{n}/{d}" if d < 1 << 16 else f"{n}/2^{d.bit_length() - 1}" for n, d in meters]
    return ", ".join(every[:6]) + (" ..." if len(every) > 6 else "")


def tempo_text(us: int) -> str:
    """Quarters a minute, from microseconds a quarter, of which a file may have 0."""
    return f"{60e6 / us:.3f}" if us else "infinitely many"


def quoted(text: str | None) -> str:
    """A file's text, on one line however long it is and whatever it holds."""
    text = text or ""
    return repr(text if len(text) <= MOST_QUOTED else text[:MOST_QUOTED] + "...")


def plain(text: str) -> str:
    """A file's text as it is where it can be printed, quoted otherwise."""
    return text if text.isprintable() and len(text) <= MOST_QUOTED else quoted(text)
