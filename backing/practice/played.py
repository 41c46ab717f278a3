"""A version played: its form moved, its bars stretched out round by round, its parts chosen."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.bars import MAX_BARS
from backing.form.model import Form
from backing.players import play
from backing.players.human import humanize
from backing.practice.moved import moved
from backing.practice.part_choice import answered, without
from backing.practice.rounds import Round, joined
from backing.practice.stretch import at_speed, bars_of, repeated, stretched
from backing.practice.versions import (
    GUITAR,
    PARTS,
    PLAIN,
    Version,
    check,
    decimal,
    last_step,
    marked,
    percent,
    titled,
)
from backing.score import Score
from backing.timeline import Timeline, unroll

#: The slowest tempo of a MIDI file: its three bytes hold so many microseconds a quarter.
SLOWEST_BPM = Fraction(60_000_000, 0xFFFFFF)


class Practiced(NamedTuple):
    """A version as it is played, and what is worth saying of it, a sentence each.

    `form` is the one that was played: moved where the version moves it.
    """

    score: Score
    form: Form
    version: Version
    sayings: tuple[str, ...] = ()


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
        BackingError: the form has no such bars, sections or key, or a riff can't be moved.
    """
    if version == PLAIN:
        score = play(unroll(form, count_in))
        return Practiced(humanize(score, form.human, seed), form, version)
    check(version)
    form, sayings = moved(form, version)
    timeline = unroll(form, count_in)
    first, last = bars_of(timeline, version.stretch)
    speeds = version.rounds
    if (last - first + 1 + version.between) * len(speeds) > MAX_BARS:
        raise BackingError(
            f"{form.title}: {len(speeds)} rounds come to more than {MAX_BARS:,} bars."
        )
    opening = at_speed(stretched(timeline, first, last), speeds[0])
    exact = play(opening)
    sayings += (*_of_parts(exact, version, form.title), *_of_ladder(version))
    take = _round(exact, opening, version)
    rounds = [_called(take, version, 1, opening.start_whole)]
    before = None
    for number, speed in enumerate(speeds[1:], 2):
        if speed != before:
            again = at_speed(repeated(timeline, first, last, version.between), speed)
            take, before = _round(play(again), again, version), speed
        rounds.append(_called(take, version, number))
    score = joined(rounds)._replace(title=titled(form.title, version))
    slowest = min(change.quarter_bpm for change in score.tempos)
    if slowest < SLOWEST_BPM:
        raise BackingError(
            f"{form.title}: at {percent(min(speeds))} it has {decimal(slowest)} quarters a minute, "
            "and no MIDI file holds fewer than 3.6. Write a higher percentage."
        )
    return Practiced(humanize(score, form.human, seed), form, version, sayings)


def _round(score: Score, timeline: Timeline, version: Version) -> Round:
    """A round as the version's parts play it."""
    if version.answer:
        score = answered(score, timeline, version.answer)
    if version.absent:
        score = without(score, timeline, version.absent)
    return Round(score, timeline.end_whole)


def _called(take: Round, version: Version, number: int, since: Fraction = Fraction(0)) -> Round:
    """A round whose markers from a place on say which it is."""
    markers = tuple(
        word if word.start_whole < since else word._replace(text=marked(version, word.text, number))
        for word in take.score.markers
    )
    return take._replace(score=take.score._replace(markers=markers))


def _of_parts(score: Score, version: Version, title: str) -> tuple[str, ...]:
    """What is to be said of the parts that a version leaves out.

    Raises:
        BackingError: nothing would be left to play, or no guitar to answer.
    """
    playing = {track.part for track in score.tracks}
    if not playing - version.absent:
        raise BackingError(f"{title}: no part is left to play (here are {_listed(playing)}).")
    if version.answer and GUITAR not in playing:
        raise BackingError(f"{title}: no guitar is there to answer ({_listed(playing)}).")
    asked = [part for part in PARTS if part in version.without | version.only]
    return tuple(
        f"The {part} {'do' if part == 'drums' else 'does'} not play here anyway."
        for part in asked
        if part not in playing
    )


def _listed(parts: set[str]) -> str:
    return ", ".join(part for part in PARTS if part in parts)


def _of_ladder(version: Version) -> tuple[str, ...]:
    short = last_step(version)
    if short is None:
        return ()
    step, others = (decimal(one * 100) for one in short)
    return (
        f"The ladder's last step is {step} points, not {others}, "
        f"to end on {percent(version.speeds[-1])}.",
    )
