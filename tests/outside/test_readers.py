"""One built file read by mido, pretty_midi and music21: tempos, meters, bars, notes, duration.

What is expected is worked out by hand in conftest.py. Each reader is compared on what it
keeps: pretty_midi no markers; music21 whole quarters a minute, and notes cut at bar lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from io import BytesIO
from typing import TYPE_CHECKING, Any

import mido
import pretty_midi
import pytest
from music21 import meter as music21_meter
from music21 import midi as music21_midi
from music21 import tempo as music21_tempo

from backing.verify import expect

if TYPE_CHECKING:
    from outside.conftest import Song

#: Half a microsecond a quarter over the 52 of the song (SMF 1.0 keeps whole microseconds).
TOLERANCE_S = 0.5e-6 * 52


def test_our_own_sums(song: Song) -> None:
    """What the readers are compared with is exactly what Timeline and proof have."""
    timeline, expected = song.timeline, expect(song.timeline.form)
    assert len(timeline.count_in) + len(timeline.bars) == song.bars
    assert timeline.end_whole * 4 == song.quarters
    assert timeline.ring_out_whole * 4 == song.ring_out_quarters
    assert timeline.seconds(timeline.end_whole) == song.seconds
    assert expected.count_in_s + expected.seconds == song.seconds
    assert _whole((t.start_whole * 4, t.quarter_bpm) for t in timeline.tempos) == song.tempos
    assert _whole((t.start_quarters, t.quarter_bpm) for t in expected.tempos) == song.tempos


def _whole(pairs: Iterable[tuple[Fraction, Fraction]]) -> tuple[tuple[int, int], ...]:
    """Fractions that must be whole, as integers."""
    pairs = list(pairs)
    assert all(number.denominator == 1 for pair in pairs for number in pair)
    return tuple((int(at), int(bpm)) for at, bpm in pairs)


# mido


@pytest.fixture(scope="module")
def by_mido(song: Song) -> mido.MidiFile:
    return mido.MidiFile(file=BytesIO(song.data))


def placed(track: Any) -> Iterator[tuple[int, Any]]:
    tick = 0
    for message in track:
        tick += message.time
        yield tick, message


def test_mido_s_length(song: Song, by_mido: mido.MidiFile) -> None:
    """mido counts up to the end of the tracks: the last bar line and two seconds."""
    assert by_mido.length == pytest.approx(float(song.seconds) + 2, abs=TOLERANCE_S)


def test_mido_s_tempos_and_meters(song: Song, by_mido: mido.MidiFile) -> None:
    conductor = list(placed(by_mido.tracks[0]))
    tempos = [(tick / 960, m.tempo) for tick, m in conductor if m.type == "set_tempo"]
    assert tempos == [(at, round(60_000_000 / bpm)) for at, bpm in song.tempos]
    meters = [
        (tick / 960, m.numerator, m.denominator)
        for tick, m in conductor
        if m.type == "time_signature"
    ]
    assert meters == list(song.meters)


def test_mido_s_notes(song: Song, by_mido: mido.MidiFile) -> None:
    notes = {track.name: sum(m.type == "note_on" for m in track) for track in by_mido.tracks[3:]}
    assert notes == song.notes


# pretty_midi


@pytest.fixture(scope="module")
def by_pretty(song: Song) -> pretty_midi.PrettyMIDI:
    return pretty_midi.PrettyMIDI(BytesIO(song.data))


def seconds_at(song: Song, quarters: int) -> float:
    return float(song.timeline.seconds(Fraction(quarters, 4)))


def test_pretty_midi_s_tempos_and_meters(song: Song, by_pretty: pretty_midi.PrettyMIDI) -> None:
    times, bpms = by_pretty.get_tempo_changes()
    places = [seconds_at(song, at) for at, _ in song.tempos]
    assert times == pytest.approx(places, abs=TOLERANCE_S)
    assert bpms == pytest.approx([bpm for _, bpm in song.tempos], rel=1e-6)
    meters = by_pretty.time_signature_changes
    assert [(m.numerator, m.denominator) for m in meters] == [(n, d) for _, n, d in song.meters]
    places = [seconds_at(song, at) for at, _, _ in song.meters]
    assert [m.time for m in meters] == pytest.approx(places, abs=TOLERANCE_S)


def test_pretty_midi_s_bars(song: Song, by_pretty: pretty_midi.PrettyMIDI) -> None:
    """Its downbeats go on to the end of the last note, which is the last bar line."""
    timeline = song.timeline
    lines = [bar.start_whole for bar in (*timeline.count_in, *timeline.bars)]
    expected = [float(timeline.seconds(line)) for line in (*lines, timeline.end_whole)]
    assert len(expected) == song.bars + 1
    assert by_pretty.get_downbeats() == pytest.approx(expected, abs=TOLERANCE_S)


def test_pretty_midi_s_notes_and_end(song: Song, by_pretty: pretty_midi.PrettyMIDI) -> None:
    notes = {instrument.name: len(instrument.notes) for instrument in by_pretty.instruments}
    assert notes == song.notes
    # Nothing rings in the last bar, so that the last note ends on the last bar line.
    assert by_pretty.get_end_time() == pytest.approx(float(song.seconds), abs=TOLERANCE_S)


# music21


@pytest.fixture(scope="module")
def by_music21(song: Song) -> Any:
    file = music21_midi.MidiFile()
    file.readstr(song.data)
    return music21_midi.translate.midiFileToStream(file, quantizePost=False)


def test_music21_s_tempos_and_meters(song: Song, by_music21: Any) -> None:
    for part in by_music21.parts:
        flat = part.flatten()
        marks = flat.getElementsByClass(music21_tempo.MetronomeMark)
        assert tuple((mark.offset, mark.number) for mark in marks) == song.tempos
        meters = flat.getElementsByClass(music21_meter.TimeSignature)
        assert tuple((m.offset, m.numerator, m.denominator) for m in meters) == song.meters


def test_music21_s_bars_and_duration(song: Song, by_music21: Any) -> None:
    starts = [bar.start_whole * 4 for bar in (*song.timeline.count_in, *song.timeline.bars)]
    for part in by_music21.parts:
        assert [measure.offset for measure in part.getElementsByClass("Measure")] == starts
        marks = part.flatten().metronomeMarkBoundaries()
        assert marks[-1][1] == song.quarters
        seconds = sum(mark.durationToSeconds(end - start) for start, end, mark in marks)
        assert seconds == pytest.approx(float(song.seconds), abs=TOLERANCE_S)


def test_music21_s_notes(song: Song, by_music21: Any) -> None:
    counts = {}
    for part in by_music21.parts:
        struck = part.stripTies().flatten().notes
        counts[part.partName] = sum(len(getattr(each, "notes", (each,))) for each in struck)
    assert counts == song.notes
