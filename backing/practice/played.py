"""A version played: its form moved, its bars played round by round, its parts chosen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.kinds import BadValue
from backing.form.model import Form
from backing.form.parts import PARTS as PART_TABLE
from backing.form.practice_options import check_length, parts_in_words
from backing.players import play
from backing.players.arm import swept
from backing.players.human import humanize
from backing.practice.arranging import arranged_for
from backing.practice.moved import moved
from backing.practice.part_choice import traded, without
from backing.practice.rounds import Round, joined
from backing.practice.steps import Step, marked, steps
from backing.practice.stretch import at_speed, bars_of, repeated, stretched
from backing.practice.versions import (
    PARTS,
    PLAIN,
    Version,
    as_error,
    check,
    last_step,
    titled,
)
from backing.score import Score
from backing.text.percent import decimal, percent
from backing.timeline import Timeline, unroll

#: The slowest tempo of a MIDI file, whose three bytes hold the microseconds of a quarter.
SLOWEST_BPM = Fraction(60_000_000, 0xFFFFFF)


class Practiced(NamedTuple):
    """A version as it is played, with notes for the user, one sentence each.

    `form` is the one that was played: moved where the version moves it.
    """

    score: Score
    form: Form
    version: Version
    notes: tuple[str, ...] = ()


def play_version(
    form: Form, version: Version = PLAIN, count_in: bool = True, seed: int = 0
) -> Practiced:
    """Play a practice version of a form, as people play it.

    Args:
        form: as read.
        version: `Version()` is the song as written.
        count_in: False leaves the first count-in out, not those between rounds.
        seed: which of many performances, all as human as the form says; any whole number.

    Returns:
        The score (exact whole notes), the form as it was moved, and sentences for the user.

    Raises:
        BackingError: the form has no such bars, sections or key, a riff can't be moved, or the
            version is too long or too slow.
    """
    if version == PLAIN:
        score = play(unroll(form, count_in))
        return Practiced(humanize(score, form.human, seed), form, version)
    check(version, students=form.instrument.part)
    form, notes = moved(arranged_for(form, version), version)
    timeline = unroll(form, count_in)
    stretch = bars_of(timeline, version.stretch)
    _check_length(form, version, stretch)
    rounds = steps(version, *stretch)
    opening = at_speed(stretched(timeline, rounds[0].first, rounds[0].last), rounds[0].speed)
    exact = play(opening)
    notes += (*_part_notes(exact, version, form), *_ladder_notes(version))
    first = _round(exact, opening, version)
    takes = [
        _with_labels(first, partial(marked, version, rounds, number=1), opening.start_whole),
        *_later_rounds(timeline, version, rounds),
    ]
    takes = [
        take._replace(score=swept(take.score, form.human, seed, number))
        for number, take in enumerate(takes)
    ]
    title = titled(form.title, version, form.instrument)
    score = joined(takes)._replace(title=title)
    _check_tempo(form, version, score)
    return Practiced(humanize(score, form.human, seed), form, version, notes)


def _check_length(form: Form, version: Version, stretch: tuple[int, int]) -> None:
    first, last = stretch
    try:
        bars = last - first + 1
        check_length(len(version.rounds), bars, version.between, version.build_up)
    except BadValue as bad:
        raise as_error(bad, form.title) from None


def _check_tempo(form: Form, version: Version, score: Score) -> None:
    slowest = min(change.quarter_bpm for change in score.tempos)
    if slowest < SLOWEST_BPM:
        raise BackingError(
            f"{form.title}: at {percent(min(version.speeds))} it has {decimal(slowest)} quarters a "
            f"minute, and a MIDI file can't hold fewer than {decimal(SLOWEST_BPM)}. "
            "Write a higher percentage."
        )


def _later_rounds(
    timeline: Timeline, version: Version, rounds: tuple[Step, ...]
) -> Iterator[Round]:
    """Every round but the first; of those alike that follow one another, one is played."""
    before = None
    for number, step in enumerate(rounds[1:], 2):
        if step != before:
            again = at_speed(repeated(timeline, step.first, step.last, step.counted), step.speed)
            take, before = _round(play(again), again, version), step
        yield _with_labels(take, partial(marked, version, rounds, number=number))


def _round(score: Score, timeline: Timeline, version: Version) -> Round:
    """A round as the version's parts play it."""
    if version.trade:
        score = traded(score, timeline, version.trade)
    if version.absent:
        score = without(score, timeline, version.absent)
    return Round(score, timeline.end_whole)


def _with_labels(take: Round, label: Callable[[str], str], since: Fraction = Fraction(0)) -> Round:
    """A round whose markers from `since` on tell its number, its bars and its speed."""
    markers = tuple(
        word if word.start_whole < since else word._replace(text=label(word.text))
        for word in take.score.markers
    )
    return take._replace(score=take.score._replace(markers=markers))


def _part_notes(score: Score, version: Version, form: Form) -> tuple[str, ...]:
    """What the user should know of the parts that a version leaves out.

    Raises:
        BackingError: no part would be left to play, or none is there to trade with.
    """
    title, instrument = form.title, form.instrument
    playing = {track.part for track in score.tracks}
    parts = parts_in_words(playing, instrument) or "no parts"
    if not playing - version.absent:
        raise BackingError(f"{title}: no part is left to play. The song has {parts}.")
    if version.trade and instrument.part not in playing:
        name = instrument.title.lower()
        raise BackingError(f"{title}: there is no {name} to trade with. The song has {parts}.")
    named = [part for part in PARTS if part in version.without | version.only]
    return tuple(
        f"The {parts_in_words([part], instrument)} "
        f"{'do' if PART_TABLE[part].is_plural else 'does'}n't play here anyway."
        for part in named
        if part not in playing
    )


def _ladder_notes(version: Version) -> tuple[str, ...]:
    short = last_step(version)
    if short is None:
        return ()
    step, others = (decimal(one * 100) for one in short)
    return (
        f"The ladder's last step is {step} percentage points, not {others}, "
        f"to end on {percent(version.speeds[-1])}.",
    )
