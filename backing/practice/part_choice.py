"""Who plays: parts left out, and a student's part that takes turns with the student."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction

from backing.players.part_settings import settings_of
from backing.players.riff import written
from backing.score import Note, Score, Track, sounding
from backing.timeline import Timeline

CLICK = "click"


def without(score: Score, timeline: Timeline, absent: frozenset[str]) -> Score:
    """A score without some parts; the click still counts in."""
    tracks = []
    for track in score.tracks:
        if track.part not in absent:
            tracks.append(track)
        elif track.part == CLICK and timeline.counted:
            counting = [note for note in track.notes if note.start_whole < timeline.start_whole]
            tracks.append(track._replace(notes=tuple(counting)))
    return score._replace(tracks=tuple(tracks))


def traded(score: Score, timeline: Timeline, bars: int) -> Score:
    """A score in which the student's part plays `bars` bars and rests for as many, by turns.

    A chord that is played before its bar line belongs to the bar after it.
    """
    part = timeline.form.instrument.part
    rests = list(_rests(timeline, part, bars))
    tracks = [_silenced(track, rests) if track.part == part else track for track in score.tracks]
    return score._replace(tracks=sounding(tracks))


def _rests(timeline: Timeline, part: str, bars: int) -> Iterator[tuple[Fraction, Fraction]]:
    """The start and the end of each rest of a part, in whole notes."""
    settings = settings_of(part, on=True)
    early = {
        span.slot_whole: span.start_whole
        for span in timeline.spans
        if written(timeline.form, settings, span.playing) is None
    }
    for index in range(bars, len(timeline.bars), 2 * bars):
        start = timeline.bars[index].start_whole
        if index + bars < len(timeline.bars):
            end = timeline.bars[index + bars].start_whole
            end = early.get(end, end)
        else:
            end = timeline.end_whole + timeline.ring_out_whole
        yield early.get(start, start), end


def _silenced(track: Track, rests: Sequence[tuple[Fraction, Fraction]]) -> Track:
    starts = [start for start, _ in rests]

    def resting(at: Fraction) -> bool:
        index = bisect_right(starts, at) - 1
        return index >= 0 and at < rests[index][1]

    def played(notes: Sequence[Note]) -> Iterator[Note]:
        for note in notes:
            index = bisect_right(starts, note.start_whole)
            if index and note.start_whole < rests[index - 1][1]:
                continue
            if index < len(rests) and note.end_whole > starts[index]:
                note = note._replace(end_whole=starts[index])
            yield note

    return track._replace(
        notes=tuple(played(track.notes)),
        bends=tuple(
            bend for bend in track.bends if not bend.semitones or not resting(bend.start_whole)
        ),
    )
