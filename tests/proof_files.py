"""A form's file as the comparison of one part is given it, and notes with something changed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from backing.form import Form
from backing.form.parts import PARTS, title_of
from backing.midi.writer import to_bytes
from backing.practice import PLAIN, Version, play_version
from backing.verify import Expected, expected_of
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.clockwork import Clockwork, clockwork
from backing.verify.readers.measured import by_summing
from backing.verify.readers.voices import NO_NOTES, Notes, Voice, merged

ROOT = Path(__file__).parents[1]
DEMOS = sorted((ROOT / "forms").glob("*.yaml"))


class PartFile(NamedTuple):
    """What a version's file must hold, and each part's notes in it."""

    expected: Expected
    clock: Clockwork
    leeway: Leeway
    parts: dict[str, Notes]

    def notes(self, part: str) -> Notes:
        return self.parts.get(part, NO_NOTES)

    @property
    def eighth_s(self) -> float:
        """An eighth note at the first tempo."""
        return 30 / float(self.expected.tempos[0].quarter_bpm)


def part_file(
    form: Form, version: Version = PLAIN, seed: int = 0, count_in: bool = True
) -> PartFile:
    """A version of a form, played, written and read back."""
    data = to_bytes(play_version(form, version, count_in, seed).score)
    expected = expected_of(form, version, count_in)
    account = by_summing(data)
    tick_s = float(account.tick_quarters) * 60 / float(min(t.quarter_bpm for t in expected.tempos))
    leeway = Leeway(account.reader, float(expected.human_s), lambda at_s: tick_s + 1e-6 * at_s * 10)
    return PartFile(expected, clockwork(expected.tempos), leeway, by_name(account.voices, form))


def by_name(voices: Sequence[Voice], form: Form) -> dict[str, Notes]:
    """The notes of each part, by the names that our writer gives tracks."""
    return {
        name: merged(v.notes for v in voices if f"{v.name} ".startswith(f"{title} "))
        for name, part in PARTS.items()
        for title in [title_of(part, form.instrument)]
    }


def changed(notes: Notes, place: int, how: str, eighth_s: float) -> Notes:
    """Notes of which one is a semitone off, an eighth off, gone, doubled, short or long."""
    rows = [list(row) for row in zip(*notes, strict=True)]
    row = rows[place]
    match how:
        case "a semitone up":
            row[2] += 1
        case "a semitone down":
            row[2] -= 1
        case "an eighth late":
            row[0], row[1] = row[0] + eighth_s, row[1] + eighth_s
        case "an eighth early":
            row[0], row[1] = row[0] - eighth_s, row[1] - eighth_s
        case "gone":
            del rows[place]
        case "doubled":
            rows.append(list(row))
        case "cut short":
            row[1] = row[0] + 0.02
        case "held":
            row[1] = row[1] + 8 * eighth_s
    rows.sort()
    starts, ends, pitches, velocities = zip(*rows, strict=True)
    return Notes(starts, ends, [int(p) for p in pitches], [int(v) for v in velocities])
