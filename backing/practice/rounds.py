"""Rounds joined into one score, with exact bar lines and each round's own mix.

What would sound past a round's end is cut there, so that rounds follow without a gap
and none sounds into the next; only the last one rings out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple, TypeVar

from backing.practice.versions import PARTS
from backing.score import (
    Bend,
    Control,
    KeyChange,
    MeterChange,
    Note,
    Score,
    TempoChange,
    Track,
    Words,
)

Event = TypeVar("Event", Bend, Control, KeyChange, MeterChange, TempoChange, Words)
Change = TypeVar("Change", KeyChange, MeterChange, TempoChange)


class Round(NamedTuple):
    """What is played in a round, and its last bar line, in whole notes from its start."""

    score: Score
    end_whole: Fraction


def joined(rounds: Sequence[Round]) -> Score:
    """Rounds as one score, with the first one's title."""
    if len(rounds) == 1:
        return rounds[0].score
    placed: list[tuple[Fraction, Score]] = []
    at = Fraction(0)
    for number, (score, end) in enumerate(rounds, 1):
        placed.append((at, score if number == len(rounds) else _cut(score, end)))
        at += end
    last_at, last = placed[-1]
    return last._replace(
        title=rounds[0].score.title,
        tracks=tuple(_tracks(placed)),
        tempos=_changes(event for at, one in placed for event in _moved(one.tempos, at)),
        meters=_changes(event for at, one in placed for event in _moved(one.meters, at)),
        keys=_changes(event for at, one in placed for event in _moved(one.keys, at)),
        markers=tuple(event for at, one in placed for event in _moved(one.markers, at)),
        chords=tuple(event for at, one in placed for event in _moved(one.chords, at)),
        words=tuple(event for at, one in placed for event in _moved(one.words, at)),
        end_whole=last_at + last.end_whole,
    )


def _cut(score: Score, end: Fraction) -> Score:
    """A score that is silent from `end` on."""
    return score._replace(tracks=tuple(_cut_track(track, end) for track in score.tracks))


def _cut_track(track: Track, end: Fraction) -> Track:
    return track._replace(
        notes=tuple(
            note if note.end_whole <= end else note._replace(end_whole=end)
            for note in track.notes
            if note.start_whole < end
        ),
        bends=tuple(bend for bend in track.bends if bend.start_whole < end),
        changes=tuple(change for change in track.changes if change.start_whole < end),
    )


def _tracks(placed: Sequence[tuple[Fraction, Score]]) -> Iterator[Track]:
    """Each part's tracks with the notes of all rounds, in the order of the mix."""
    of: dict[tuple[str, str], list[tuple[Fraction, Track]]] = {}
    for at, score in placed:
        for track in score.tracks:
            of.setdefault((track.part, track.name), []).append((at, track))
    for _, takes in sorted(of.items(), key=lambda named: PARTS.index(named[0][0])):
        _, first = takes[0]
        yield first._replace(
            notes=tuple(note for at, take in takes for note in _notes(take, at)),
            bends=tuple(bend for at, take in takes for bend in _moved(take.bends, at)),
            changes=tuple(_controls(takes)),
        )


def _controls(takes: Sequence[tuple[Fraction, Track]]) -> Iterator[Control]:
    """Each round's changes, after those that set the mix back to a round's start."""
    now: dict[str, int] = {}
    for at, take in takes:
        starts = (
            Control(at, "program", take.program or 0),
            Control(at, "volume", take.volume),
            Control(at, "pan", take.pan),
            Control(at, "expression", take.expression),
            Control(at, "level_lu", take.level_lu),
        )
        for change in starts:
            if now.get(change.what, change.value) != change.value:
                yield change
            now[change.what] = change.value
        for change in _moved(take.changes, at):
            now[change.what] = change.value
            yield change


def _notes(track: Track, at: Fraction) -> Iterable[Note]:
    if not at:
        return track.notes
    return (
        note._replace(
            start_whole=note.start_whole + at,
            end_whole=note.end_whole + at,
            bends=_moved(note.bends, at),
        )
        for note in track.notes
    )


def _moved(events: Sequence[Event], at: Fraction) -> tuple[Event, ...]:
    return tuple(event._replace(start_whole=event.start_whole + at) for event in events)


def _changes(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Changes without those that change nothing."""
    kept: list[Change] = []
    for change in changes:
        if not kept or kept[-1][1] != change[1]:
            kept.append(change)
    return tuple(kept)
