"""A file's labels: its title, section markers, chord names, words, and where its tracks end.

The music is the same without them, so what is missing is lost and no more. A marker, chord
name or word that contradicts the form is a disagreement: it would lead a player astray. Another
title is only noted. Labels may be in any track, as other programs move them, and are compared at
their places, so a wrong tempo isn't found again in each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import islice
from typing import NamedTuple

from backing.form.parts import PARTS
from backing.text.times import clock
from backing.theory.chords import ChordError, parse_chord
from backing.theory.instruments import INSTRUMENTS
from backing.verify.comparison.reading import Reading
from backing.verify.expected.records import ExpectedChord, Sounding
from backing.verify.report import ENDS, MOST_QUOTED, Fault, Finding, Verdict, plain, quoted

NO_CHORD = "N.C."
FIRST_LETTERS = (*"ABCDEFGN",)
#: More different names than any form has; a damaged file could have them without end.
MOST_NAMES = 1_000
#: The faults that are kept of one kind of label.
MOST_FAULTS = 20
#: What our tracks are named; a file whose first track has such a name lost its title.
TRACK_NAMES = {
    "Chords",
    "Words",
    *(part.title for part in PARTS.values()),
    *(instrument.title for instrument in INSTRUMENTS.values()),
}


class Label(NamedTuple):
    """A text that must be in the file, and its time in seconds."""

    at_s: float
    text: str
    chord: ExpectedChord | None = None


def check_labels(reading: Reading) -> Iterator[Finding]:
    """A finding for each kind of label, and one more where some are lost and others wrong.

    What the reader can't read isn't compared.
    """
    account = reading.account
    if account.title is not None:
        yield _title(reading, account.title)
    if account.markers is not None:
        yield from _markers(reading, account.markers)
    if account.chords is not None:
        yield from _chords(reading, account.chords)
    if account.words is not None:
        yield from _words(reading, account.words)
    if account.track_ends is not None:
        yield _ends(reading, account.track_ends)


def _title(reading: Reading, title: str) -> Finding:
    if title == reading.expected.title:
        return reading.agrees("title", "the same as the form's")
    if not title or title in TRACK_NAMES:
        return reading.lost("title", "title")
    says = f"The file's title is {quoted(title)}, not {reading.expected.title!r}."
    return Finding(reading.account.reader, "title", Verdict.NOTED, says)


def _markers(reading: Reading, found: Sequence[tuple[float, str]]) -> Iterator[Finding]:
    wanted = [Label(float(at_s), text) for at_s, text in reading.expected.lead_in]
    wanted += [Label(float(row.start_s), row.label) for row in reading.expected.passes]
    kind = _Kind("sections", "markers", lambda label, text: label.text == text, _wrong_marker)
    yield from _found(reading, kind, wanted, found)


def _wrong_marker(label: Label | None, text: str) -> str:
    if label is None:
        return f"the marker {quoted(text)}, where no section starts"
    return f"the marker {quoted(text)}, not {label.text!r}"


def _chords(reading: Reading, found: Sequence[tuple[float, str]]) -> Iterator[Finding]:
    wanted = [
        Label(float(chord.start_s), chord.written, chord) for chord in reading.expected.chords
    ]
    texts = dict.fromkeys(text for _, text in found if text[:1] in FIRST_LETTERS)
    chords = {text for text in islice(texts, MOST_NAMES) if text == NO_CHORD or _sounding(text)}
    names = [(at_s, text) for at_s, text in found if text in chords]
    kind = _Kind("chords", "chord names", _is_chord, _wrong_chord)
    yield from _found(reading, kind, wanted, names)


def _is_chord(label: Label, text: str) -> bool:
    """Whether a chord name sounds as the slot's chord; at N.C. it must say so."""
    assert label.chord is not None
    if label.chord.sounding is None:
        return text == NO_CHORD
    return text != NO_CHORD and _sounding(text) == label.chord.sounding


def _wrong_chord(label: Label | None, text: str) -> str:
    if label is None:
        return f"the chord name {plain(text)}, where no chord changes"
    return f"the chord name {plain(text)} isn't how the form's {label.text} sounds"


def _words(reading: Reading, found: Sequence[tuple[float, str]]) -> Iterator[Finding]:
    """Lyrics at their bars; the blanks and line ends around them are for display."""
    wanted = [Label(float(bar.start_s), bar.words) for bar in reading.expected.bars if bar.words]
    texts = [(at_s, text.strip()) for at_s, text in found]
    texts = [(at_s, text) for at_s, text in texts if text]
    if wanted or texts:
        kind = _Kind("words", "words", lambda label, text: label.text == text, _wrong_words)
        yield from _found(reading, kind, wanted, texts)


def _wrong_words(label: Label | None, text: str) -> str:
    if label is None:
        return f"the words {quoted(text)}, where none are sung"
    return f"the words {quoted(text)}, not {label.text!r}"


class _Kind(NamedTuple):
    """Texts of one kind: what they are called, when one is right, and what to say otherwise."""

    what: str
    plural: str
    fits: Callable[[Label, str], bool]
    wrong: Callable[[Label | None, str], str]


def _found(
    reading: Reading, kind: _Kind, wanted: Sequence[Label], found: Sequence[tuple[float, str]]
) -> Iterator[Finding]:
    """Match texts with the places where they must be."""
    texts = sorted((reading.file.by_form(at_s), text) for at_s, text in found)
    match = _Match(reading, kind)
    match.walk(wanted, texts)
    missing = match.name_the_moved()
    if match.faults:
        yield reading.differs(kind.what, match.faults[:MOST_FAULTS], match.worst_s)
    if missing:
        every = missing == len(wanted)
        yield reading.lost(
            kind.what, kind.plural if every else f"{missing} of {len(wanted)} {kind.plural}"
        )
    elif not match.faults:
        yield reading.agrees(kind.what, f"{len(wanted)} where they belong", match.worst_s)


class _Match:
    """Texts in order of time given to the labels that they stand for."""

    def __init__(self, reading: Reading, kind: _Kind) -> None:
        self.reading = reading
        self.kind = kind
        self.faults: list[Fault] = []
        self.missing: list[Label] = []
        #: Texts where none must be.
        self.more: list[tuple[float, str]] = []
        self.worst_s = 0.0

    def walk(self, wanted: Sequence[Label], texts: Sequence[tuple[float, str]]) -> None:
        """Give every label the texts at its time; the same text twice counts once."""
        at = 0
        for label in wanted:
            within = self.reading.tolerance(label.at_s)
            while at < len(texts) and texts[at][0] < label.at_s - within:
                self.more.append(texts[at])
                at += 1
            first = at
            while at < len(texts) and texts[at][0] <= label.at_s + within:
                at += 1
            self._at_one_time(label, texts[first:at])
        self.more += texts[at:]

    def _at_one_time(self, label: Label, texts: Sequence[tuple[float, str]]) -> None:
        if not texts:
            self.missing.append(label)
        for at_s, text in texts:
            self.worst_s = max(self.worst_s, abs(at_s - label.at_s))
            if not self.kind.fits(label, text):
                self.faults.append(Fault(label.at_s, self.kind.wrong(label, text)))

    def name_the_moved(self) -> int:
        """Turn texts at wrong times into faults; how many labels are missing besides.

        A text whose label is missing elsewhere was moved from there.
        """
        missing = list(self.missing)
        for at_s, text in self.more[:MOST_FAULTS]:
            fits = [label for label in missing if self.kind.fits(label, text)]
            if not fits:
                self.faults.append(Fault(at_s, self.kind.wrong(None, text)))
                continue
            label = min(fits, key=lambda each: abs(each.at_s - at_s))
            missing.remove(label)
            self.worst_s = max(self.worst_s, abs(label.at_s - at_s))
            self.faults.append(Fault(at_s, f"{plain(text)} belongs at {clock(label.at_s)}"))
        return max(0, len(missing) - len(self.more[MOST_FAULTS:]))


def _ends(reading: Reading, ends: Sequence[float]) -> Finding:
    """Every track ends where the song has rung out."""
    end_s, worst = float(reading.expected.end_s), 0.0
    if not ends:
        return reading.lost(ENDS, ENDS)
    for at_s in ends:
        difference = abs(reading.file.by_form(at_s) - end_s)
        if difference > reading.tolerance(end_s):
            return reading.lost(ENDS, ENDS)
        worst = max(worst, difference)
    return reading.agrees(ENDS, f"{len(ends)} where they belong", worst)


def _sounding(text: str) -> Sounding | None:
    """A chord name as it sounds; None if it isn't a chord symbol."""
    return _parsed(text) if len(text) <= MOST_QUOTED else None


@lru_cache(maxsize=2048)
def _parsed(text: str) -> Sounding | None:
    try:
        chord = parse_chord(text)
    except ChordError:
        return None
    return Sounding(chord.root.pitch_class, chord.pitch_classes, chord.bass_class)
