"""What happened to a file as a whole, in one sentence, where it doesn't agree with its song."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from backing.form.parts import PARTS
from backing.verify.causes.clues import (
    SAME,
    UNPITCHED,
    Case,
    Line,
    Warp,
    case_of,
    line_of,
)
from backing.verify.causes.exchanges import exchanged
from backing.verify.causes.measuring import shifts
from backing.verify.causes.parts_alone import Alone, parts_alone
from backing.verify.causes.shifts import (
    ENOUGH,
    MISSING_COUNT_IN,
    PRICE,
    Guess,
    changed,
    cut_short,
    goes_on,
    late,
)
from backing.verify.causes.tempos import FEWEST, slightly_off, stretches
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.moments import Moment
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured
from backing.verify.report import ANOTHER_SONG

#: Below this share of the pitched evidence a file is another song's.
ANOTHER = 1 / 3
#: Songs share chords in other keys: below this share of the evidence that isn't counted.
SAME_IN_ANOTHER_KEY = 0.5
#: One clue of so many is looked at before all of them are.
GLANCE = 7
#: Changing from one shift to another costs this much evidence where songs are told apart.
CHANGE = 12.0


def cause_of(
    expected: Expected, moments: Mapping[str, Sequence[Moment]], account: Measured, leeway: Leeway
) -> str | None:
    """Find out what happened to a file that doesn't agree.

    Args:
        expected: what the file must hold.
        moments: when each part must start to play, by its name, in order.
        account: what a reader found in the file.
        leeway: how exactly its times can be compared.

    Returns:
        A sentence without its period, such as "everything is 2.500 s late"; None if no single
        cause explains at least nine tenths of the file.
    """
    if any(moments.values()) and not any(voice.notes for voice in account.voices):
        return "the file has no notes"
    case = case_of(expected, moments, account, leeway)
    if len(case.clues) < FEWEST:
        return None
    same = case.line()
    tried: dict[float, Line] = {}
    guesses = [Guess("", same.all, same.met())]
    if same.met() < 1:
        tried = {shift: case.line(Warp(1.0, shift)) for shift in shifts(case, expected)}
        guesses += late(case, expected, tried)
        guesses += stretches(case, expected, account)
        guesses += changed(case, same, tried)
        guesses += cut_short(case, same)
        guesses += exchanged(case, expected, same)
    best = _best(case, guesses)
    if best is None:
        return ANOTHER_SONG if is_another(case, same, tried) else None
    return best.says or slightly_off(case, expected, leeway) or goes_on(case) or None


def _best(case: Case, guesses: Sequence[Guess]) -> Guess | None:
    """The guess with the most evidence of those that explain enough."""
    full = [with_parts(case, guess) for guess in guesses]
    enough = [guess for guess in full if guess.share >= ENOUGH]
    if enough:
        return max(enough, key=lambda guess: guess.evidence)
    return in_another_key(case, guesses)


def with_parts(case: Case, guess: Guess) -> Guess:
    """A guess that also says which parts are missing or transposed as a whole."""
    if guess.warp is None:
        return guess
    alone = parts_alone(case, guess.warp)
    wrong = {*alone.missing, *alone.moved}
    if not wrong or wrong >= {name for name, of_part in case.moments.items() if of_part}:
        return guess
    line = case.line(guess.warp)
    kept = [w for clue, w in zip(case.clues, line.weights, strict=True) if clue.part not in wrong]
    gained = sum(kept) - line.all
    share = sum(weight > 0 for weight in kept) / len(kept) if kept else 0.0
    if guess.says.startswith(MISSING_COUNT_IN):
        share = max(share, guess.share)
    says = [guess.says, *in_words(alone, case)]
    return Guess(
        "; ".join(filter(None, says)),
        guess.evidence + gained - PRICE * len(wrong),
        share,
        guess.warp,
    )


def in_words(alone: Alone, case: Case) -> Iterator[str]:
    """Parts that are missing or transposed."""
    pitched = [name for name, of_part in case.moments.items() if of_part and name not in UNPITCHED]
    if alone.missing:
        verb = "are" if _plural(alone.missing) else "is"
        yield f"{_listed(alone.missing, case)} {verb} missing"
    for up in sorted(set(alone.moved.values())):
        names = [name for name, by in alone.moved.items() if by == up]
        everything = len(names) > 1 and len(names) == len(pitched)
        who = "everything" if everything else _listed(names, case)
        verb = "sound" if not everything and _plural(names) else "sounds"
        yield f"{who} {verb} {_higher(up)}"


def _plural(names: Sequence[str]) -> bool:
    return len(names) > 1 or PARTS[names[0]].is_plural


def _listed(names: Sequence[str], case: Case) -> str:
    """The bass, the guitar and the drums, in the order of the mix; or the student's ukulele."""
    called = {case.instrument.part: case.instrument.title.lower()}
    *most, last = [f"the {called.get(name, name)}" for name in PARTS if name in names]
    return f"{', '.join(most)} and {last}" if most else last


def _higher(up: int) -> str:
    """A distance of 1 to 11 semitones up, or the shorter way down."""
    count = up if up <= 6 else 12 - up
    return f"{count} semitone{'s' * (count > 1)} {'higher' if up <= 6 else 'lower'}"


def in_another_key(case: Case, guesses: Sequence[Guess]) -> Guess | None:
    """A guess with the whole file transposed as well, if that explains it.

    A short song's few chords are found somewhere in many long songs, in some key, so half of
    the file has to be explained too.
    """
    best: Guess | None = None
    for up in range(1, 12):
        higher = case.higher(up)
        for guess in guesses:
            if guess.warp is None:
                continue
            some = higher.weights(higher.rows[::GLANCE], guess.warp)
            if sum(weight > 0 for weight in some) < ENOUGH * 0.8 * len(some):
                continue
            line = higher.line(guess.warp)
            if line.met() < ENOUGH or (best is not None and line.all <= best.evidence):
                continue
            if case.used(line.weights) >= SAME_IN_ANOTHER_KEY:
                says = "; ".join(filter(None, [guess.says, f"everything sounds {_higher(up)}"]))
                best = Guess(says, line.all, line.met(), guess.warp)
    return best


# Another song


def is_another(case: Case, same: Line, tried: Mapping[float, Line]) -> bool:
    """Whether less than a third of the pitched evidence is met, wherever bars are looked for."""
    if not any(clue.pitched for clue in case.clues):
        return False  # many songs have the same beat
    if parts_alone(case, SAME).right:
        return False
    return best_agreement(case, same, tried) < ANOTHER


def best_agreement(case: Case, same: Line, tried: Mapping[float, Line]) -> float:
    """The most agreement that a file has with the song, bars moved or everything transposed."""
    pitched = [clue.pitched for clue in case.clues]
    lines = [
        line_of(
            [weight * is_pitched for weight, is_pitched in zip(line.weights, pitched, strict=True)]
        )
        for line in (same, *tried.values())
    ]
    moved = most_likely(case, lines)
    found = [min(case.agreement(moved), case.used(moved))]
    for up in range(1, 12):
        weights = case.higher(up).line().weights
        agreement = case.agreement(weights)
        if agreement > SAME_IN_ANOTHER_KEY:
            found.append(min(agreement, case.used(weights)))
    return max(found)


def most_likely(case: Case, lines: Sequence[Line]) -> list[float]:
    """Each bar's weights at the shift that it most likely has, if shifts seldom change."""
    clues, count = case.bars.clues, len(case.bars.numbers)
    best, back = [0.0] * len(lines), []
    for bar in range(count):
        top = max(range(len(lines)), key=best.__getitem__)
        change = best[top] - CHANGE
        back.append([at if kept >= change else top for at, kept in enumerate(best)])
        first, end = clues[bar], clues[bar + 1]
        best = [
            max(kept, change) + line.sums[end] - line.sums[first]
            for kept, line in zip(best, lines, strict=True)
        ]
    at = max(range(len(lines)), key=best.__getitem__)
    weights: list[float] = []
    for bar in reversed(range(count)):
        weights[:0] = lines[at].weights[clues[bar] : clues[bar + 1]]
        at = back[bar][at]
    return weights
