"""Songs for the proofs of the bass and the pad, and their notes as a reader finds them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from random import Random
from typing import Any

from form_strategies import METERS, QUALITIES
from proof_files import by_name

from backing.form import Form, read_form_text
from backing.form.practice_records import Ladder
from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.human import humanize
from backing.practice import PLAIN, Stretch, Version, play_version
from backing.theory.keys import parse_key
from backing.theory.rhythm import parse_meter
from backing.timeline import unroll
from backing.verify.compare import expected_of
from backing.verify.comparison.bass import check_bass
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.pad import check_pad
from backing.verify.expected.bass import ExpectedBass, expect_bass
from backing.verify.expected.clockwork import Clockwork, clockwork
from backing.verify.expected.pad import ExpectedPad, expect_pad
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured, by_summing
from backing.verify.readers.voices import NO_NOTES, Notes

LINES = (
    "roots", "beats", "root-fifth", "walking",
    "{step: 1/8, play: '1 - 3 5 - 8 b7 #4 | 5 - 13 - 2'}", "{step: 1/8t, play: '5 - 1 6 4 b3'}",
)  # fmt: skip
SOUNDS = ("organ", "strings", "piano")
MARKS = ("", "", "", "", "", "", "(push)", "(stop)", "(ring)", "(push stop)", "(push ring)")
BASSES = ("", "", "", "/C", "/E", "/G", "/F#", "/Bb")
ROOTS = ("C", "D", "E", "F", "G", "A", "B", "F#", "Bb", "Eb")
FEELS = ("straight", "straight", "swing", "{swing: 3/2}", "{swing: 3/1, on: 1/16}")

PART_CHECKS: dict[str, tuple[Any, Any]] = {
    "bass": (expect_bass, check_bass),
    "pad": (expect_pad, check_pad),
}

#: Versions of a song of at least six bars with the key G.
VERSIONS: dict[str, Version] = {
    "a loop": Version(stretch=Stretch(bars=(2, 5)), loop=3),
    "a loop with bars between": Version(stretch=Stretch(bars=(4, 6)), loop=2, between=1),
    "a ladder": Version(Ladder(Fraction(60, 100), Fraction(1), Fraction(20, 100)).speeds),
    "a ladder of bars": Version(
        Ladder(Fraction(6, 10), Fraction(1), Fraction(1, 5)).speeds, stretch=Stretch(bars=(3, 4))
    ),
    "up": Version(transpose=3),
    "down": Version(transpose=-14),
    "another key": Version(key=parse_key("Eb")),
    "another capo": Version(capo=5),
    "the same shapes": Version(transpose=2, keep_shapes=True),
    "without the guitar": Version(without=frozenset({"guitar"})),
    "without the bass": Version(without=frozenset({"bass"})),
    "only the pad": Version(only=frozenset({"pad"})),
}


def tempo_song(bpm: int, more: str, bars: str, form: str = "[tune x2]") -> Form:
    """A song of one section."""
    return read_form_text(
        f"title: Trial\ntempo: {{bpm: {bpm}, beat: 1/4}}\nkey: G\n{more}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: {form}\n'
    )


def drawn_song(pick: Random, line: str, meter: str | None = None) -> Form:
    """Eight bars of chords, marks and rests at random, played twice and once moved."""
    meter = meter or pick.choice(METERS)
    beats = len(parse_meter(meter).beats)

    def chord() -> str:
        if pick.random() < 0.06:
            return "N.C."
        symbol = pick.choice(ROOTS) + pick.choice(QUALITIES) + pick.choice(BASSES)
        return symbol + pick.choice(MARKS)

    def bar() -> str:
        if pick.random() < 0.4:
            return chord()
        later = (chord() if pick.random() < 0.4 else "/" for _ in range(beats - 1))
        return " ".join([chord(), *later])

    bars = " | ".join(["Am7", *(bar() for _ in range(7))])
    more = (
        f"meter: {meter}\ncapo: {pick.randint(0, 5)}\nfeel: {pick.choice(FEELS)}\n"
        f"parts: {{click: off, guitar: off, bass: {{line: {line}}}, "
        f"pad: {{sound: {pick.choice(SOUNDS)}}}}}\n"
        + pick.choice(("", f'pickup: "| 2/4 N.C. {chord()} |"'))
    )
    moved = f"{{section: tune, transpose: {pick.choice(('+3', '-2'))}, times: 1}}"
    return tempo_song(pick.randint(50, 260), more, f"| {bars} |", f"[tune x2, {moved}]")


@dataclass(frozen=True)
class Played:
    """A part of a file: what is expected of it, the notes that were found, and how to compare."""

    part: str
    song: Expected
    expected: ExpectedBass | ExpectedPad
    notes: Notes
    leeway: Leeway
    clock: Clockwork

    def check(self, notes: Notes | None = None) -> PartCheck:
        """The file's own notes compared, or others in their place."""
        check: PartCheck = PART_CHECKS[self.part][1](
            self.expected, self.notes if notes is None else notes, self.leeway
        )
        return check

    def seconds(self, at_s: float, quarters: float) -> float:
        """How long some quarters last at a time."""
        tempo = [s <= at_s + 1e-9 for s in self.clock.starts_s].count(True) - 1
        return quarters * self.clock.quarter_s[tempo]


def played(
    form: Form,
    part: str,
    human: int = 0,
    seed: int = 0,
    version: Version = PLAIN,
    reader: Callable[[bytes], Measured] = by_summing,
) -> Played:
    """A part of a file that is made of a form, `human` percent off the grid."""
    form = form._replace(human=human)
    if version == PLAIN:
        score = humanize(play(unroll(form)), human, seed)
    else:
        score = play_version(form, version, seed=seed).score
    song = expected_of(form, version)
    account = reader(to_bytes(score))
    clock = clockwork(song.tempos)
    expect: Callable[..., Any] = PART_CHECKS[part][0]
    expected = expect(song, part, clock)
    # Half a tick at the slowest tempo, and half a microsecond for every quarter of the file.
    half_tick_s = float(account.tick_quarters) / 2 * max(clock.quarter_s)
    off_s = half_tick_s + 0.5e-6 * float(song.played[-1].end) + 1e-9
    leeway = Leeway(account.reader, float(song.human_s), lambda _: off_s)
    notes = by_name(account.voices, form).get(part, NO_NOTES)
    return Played(part, song, expected, notes, leeway, clock)


# Notes changed


def with_note(notes: Notes, index: int, **changes: Any) -> Notes:
    """Notes with one of them changed, in order of their starts."""
    rows = [list(row) for row in zip(*notes, strict=True)]
    for name, value in changes.items():
        rows[index][Notes._fields.index(name)] = value
    return of_rows(rows)


def without_note(notes: Notes, index: int) -> Notes:
    """Notes without one of them."""
    return of_rows([row for at, row in enumerate(zip(*notes, strict=True)) if at != index])


def doubled_note(notes: Notes, index: int, up: int) -> Notes:
    """Notes with one of them played twice, the second time some semitones higher."""
    rows = list(zip(*notes, strict=True))
    start, end, pitch, velocity = rows[index]
    return of_rows([*rows, (start, end, pitch + up, velocity)])


def of_rows(rows: list[Any]) -> Notes:
    """Notes of rows (start, end, pitch, velocity) in any order."""
    if not rows:
        return NO_NOTES
    return Notes(*zip(*sorted(map(tuple, rows)), strict=True))
