"""Demo songs for tests of causes: their files, their moments by hand, and damage done to scores."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import mido

from backing.form import Form, read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.human import humanize
from backing.score import Note, Score
from backing.timeline import unroll
from backing.verify.causes.cause import cause_of
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.moments import Moment, mask
from backing.verify.expected.records import Expected
from backing.verify.expected.song_maths import expect
from backing.verify.readers.measured import Measured, by_summing

FORMS = Path(__file__).resolve().parents[1] / "forms"
DEMOS = tuple(sorted(path.stem for path in FORMS.glob("*.yaml")))


class Song(NamedTuple):
    """A form, its exact score, what a file of it must hold, and when its parts start to play."""

    form: Form
    score: Score
    expected: Expected
    moments: dict[str, tuple[Moment, ...]]

    def bar(self, number: int) -> Fraction:
        """Where a bar starts, in whole notes; the one after the last is the end."""
        bars = self.expected.bars
        if number > len(bars):
            end = bars[-1]
            return end.start_quarters / 4 + end.meter.bar_whole
        return bars[number - 1].start_quarters / 4


@cache
def song(name: str) -> Song:
    """A demo."""
    return song_of((FORMS / f"{name}.yaml").read_text(encoding="utf-8"))


def song_of(text: str) -> Song:
    """A form's text as a song."""
    form = read_form_text(text)
    timeline = unroll(form)
    score = play(timeline)
    expected = expect(form)
    moments: dict[str, list[Moment]] = {}
    for track in score.tracks:
        moments.setdefault(track.part, []).extend(
            _percussion(track.notes, expected)
            if track.program is None
            else _strokes(track.part, track.notes, expected)
        )
    return Song(
        form, score, expected, {name: tuple(sorted(each)) for name, each in moments.items()}
    )


def seconds(expected: Expected, whole: Fraction) -> float:
    """The time of a place."""
    tempos = expected.tempos
    at = bisect_right(tempos, whole * 4, key=lambda tempo: tempo.start_quarters) - 1
    tempo = tempos[at]
    return float(tempo.start_s + (whole * 4 - tempo.start_quarters) * 60 / tempo.quarter_bpm)


def _percussion(notes: tuple[Note, ...], expected: Expected) -> list[Moment]:
    return [Moment(seconds(expected, note.start_whole), 1 << note.pitch) for note in notes]


def _strokes(part: str, notes: tuple[Note, ...], expected: Expected) -> list[Moment]:
    """Notes less than 90 ms apart are one stroke, which may have all of its chord's tones."""
    strokes: list[tuple[float, set[int]]] = []
    for note in sorted(notes):
        at_s = seconds(expected, note.start_whole)
        if strokes and at_s - strokes[-1][0] < 0.09:
            strokes[-1][1].add(note.pitch % 12)
        else:
            strokes.append((at_s, {note.pitch % 12}))
    if part == "bass":
        return [Moment(at_s, mask(pitches)) for at_s, pitches in strokes]
    starts = [float(chord.start_s) for chord in expected.chords]
    wide = []
    for at_s, pitches in strokes:
        near = expected.chords[max(0, bisect_right(starts, at_s + 0.01) - 1)].sounding
        tones = near.tones if near and pitches <= near.tones else frozenset[int]()
        wide.append(Moment(at_s, mask(pitches | tones)))
    return wide


def cause(song: Song, data: bytes) -> str | None:
    """What is wrong with a file of a song."""
    return cause_in(song, by_summing(data))


def cause_in(song: Song, account: Measured) -> str | None:
    """What is wrong with a file that has been read."""
    expected = song.expected
    tolerance: Callable[[float], float] = lambda at_s: (  # noqa: E731
        float(account.tick_quarters) / 2 * 60 / float(expected.tempos[0].quarter_bpm)
        + 0.5e-6 * at_s * 4
    )
    leeway = Leeway(account.reader, float(expected.human_s), tolerance)
    return cause_of(expected, song.moments, account, leeway)


def built(song: Song, score: Score | None = None) -> bytes:
    """A file, as human as its form says."""
    return to_bytes(humanize(score or song.score, song.form.human))


# Damage


def with_gap(score: Score, at: Fraction, length: Fraction) -> Score:
    """Everything from a place on comes later."""
    return _moved(score, lambda start: start + length if start >= at else start)


def without(score: Score, at: Fraction, until: Fraction) -> Score:
    """What is between two places is cut out, and the rest comes earlier."""
    kept = _with_notes(score, lambda note: not at <= note.start_whole < until)
    return _moved(kept, lambda start: start - (until - at) if start >= until else min(start, at))


def exchanged(score: Score, one: Fraction, other: Fraction, length: Fraction) -> Score:
    """Two stretches of the same length change places."""

    def moved(start: Fraction) -> Fraction:
        if one <= start < one + length:
            return start + other - one
        return start + one - other if other <= start < other + length else start

    return _moved(score, moved, tempos=False)


def copied(score: Score, source: Fraction, target: Fraction, length: Fraction) -> Score:
    """What is at one place is also at another, instead of what belongs there."""
    tracks = []
    for track in score.tracks:
        notes = [n for n in track.notes if not target <= n.start_whole < target + length]
        notes += [
            note._replace(
                start_whole=note.start_whole + target - source,
                end_whole=note.end_whole + target - source,
            )
            for note in track.notes
            if source <= note.start_whole < source + length
        ]
        tracks.append(track._replace(notes=tuple(sorted(notes))))
    return score._replace(tracks=tuple(tracks))


def transposed(score: Score, up: int, parts: frozenset[str]) -> Score:
    """Some parts sound higher."""
    return score._replace(
        tracks=tuple(
            track._replace(notes=tuple(n._replace(pitch=n.pitch + up) for n in track.notes))
            if track.part in parts
            else track
            for track in score.tracks
        )
    )


def without_parts(score: Score, parts: frozenset[str]) -> Score:
    """Some parts don't play."""
    return score._replace(tracks=tuple(t for t in score.tracks if t.part not in parts))


def only_until(score: Score, at: Fraction) -> Score:
    """Nothing starts from a place on."""
    return _with_notes(score, lambda note: note.start_whole < at)


def _with_notes(score: Score, keep: Callable[[Note], bool]) -> Score:
    tracks = (track._replace(notes=tuple(filter(keep, track.notes))) for track in score.tracks)
    return score._replace(tracks=tuple(track for track in tracks if track.notes))


def _moved(score: Score, moved: Callable[[Fraction], Fraction], tempos: bool = True) -> Score:
    """A score with all that starts somewhere starting elsewhere; the first tempo stays."""

    def note_moved(note: Note) -> Note:
        start = moved(note.start_whole)
        return note._replace(
            start_whole=start, end_whole=note.end_whole + start - note.start_whole, bends=()
        )

    changes = {
        max(Fraction(0), moved(one.start_whole) if index else one.start_whole): one.quarter_bpm
        for index, one in enumerate(score.tempos)
    }
    return score._replace(
        tracks=tuple(
            track._replace(notes=tuple(sorted(map(note_moved, track.notes))), bends=(), changes=())
            for track in score.tracks
        ),
        tempos=tuple(
            tempo._replace(start_whole=at, quarter_bpm=bpm)
            for tempo, (at, bpm) in zip(score.tempos, sorted(changes.items()), strict=False)
        )
        if tempos
        else score.tempos,
        end_whole=max(score.end_whole, moved(score.end_whole)),
    )


def in_ticks(data: bytes, factor: float) -> bytes:
    """A file with all its notes at other ticks, its tempo unchanged."""
    return _through(data, lambda tick, event: (round(tick * factor), event))


def at_tempo(data: bytes, factor: float) -> bytes:
    """A file with all its tempos faster by a factor."""

    def faster(tick: int, event: mido.MetaMessage) -> tuple[int, mido.MetaMessage]:
        if event.type == "set_tempo":
            event = event.copy(tempo=round(event.tempo / factor))
        return tick, event

    return _through(data, faster)


def _through(data: bytes, change: Callable[..., tuple[int, mido.MetaMessage]]) -> bytes:
    file = mido.MidiFile(file=BytesIO(data))
    for track in file.tracks:
        tick = 0
        events = []
        for event in track:
            tick += event.time
            events.append(change(tick, event))
        before = 0
        track.clear()
        for at, event in events:
            track.append(event.copy(time=at - before))
            before = at
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()
