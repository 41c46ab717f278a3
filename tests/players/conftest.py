"""What the players' tests share: a form's text played, and its parts asked for by name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import pytest

from backing.form import read_form_text
from backing.players import play
from backing.players.arm import swept
from backing.score import Note, Score
from backing.timeline import Timeline, unroll


@dataclass(frozen=True)
class Played:
    """A form's timeline and score."""

    timeline: Timeline
    score: Score

    def notes(self, part: str) -> list[Note]:
        """A part's notes in order of start; none where it has no track."""
        found = [note for track in self.score.tracks if track.part == part for note in track.notes]
        return sorted(found, key=lambda note: note.start_whole)

    def strokes(self, part: str = "guitar") -> list[tuple[Fraction, list[Note]]]:
        """A guitar's notes gathered to strokes: its first note's start, its notes as struck."""
        strokes: list[tuple[Fraction, list[Note]]] = []
        for note in self.notes(part):
            if strokes and self.seconds(note.start_whole) - self.seconds(strokes[-1][0]) < 0.081:
                strokes[-1][1].append(note)
            else:
                strokes.append((note.start_whole, [note]))
        return strokes

    def swept(self, percent: int = 0, seed: int = 0) -> Played:
        """The same with its strokes spread over time."""
        return Played(self.timeline, swept(self.score, percent, seed))

    def seconds(self, whole: Fraction) -> Fraction:
        return self.timeline.seconds(whole)


@pytest.fixture(scope="session")
def played() -> Callable[[str], Played]:
    """Play a form: its text without title, tempo and count-in unless they are the matter."""

    def build(text: str) -> Played:
        given = [line.split(":")[0] for line in text.splitlines() if line[:1].isalpha()]
        usual = {"title": "Trial", "tempo": "120", "count-in": "0"}
        head = "".join(f"{key}: {value}\n" for key, value in usual.items() if key not in given)
        timeline = unroll(read_form_text(head + text))
        return Played(timeline, play(timeline))

    return build
