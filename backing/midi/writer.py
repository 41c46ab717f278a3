"""Score to Standard MIDI File.

Source: the Standard MIDI File 1.0 specification (MIDI Manufacturers Association, RP-001)
and General MIDI system level 1 (RP-003). The file is of type 1 at 960 ticks a quarter: a
conductor track (title, General MIDI on, tempos, meters, key, section markers), a track of
chord names, one of words if there are any, then one track for each part. Every position is
rounded once, from its exact place; no position is counted from the one before it.
"""

from __future__ import annotations

from fractions import Fraction

from backing.errors import BackingError
from backing.midi.chunks import (
    KEY,
    LYRIC,
    MARKER,
    METER,
    TEMPO,
    TEXT,
    TRACK_NAME,
    Event,
    header_chunk,
    meta,
    text_event,
    track_chunk,
)
from backing.midi.device import for_device
from backing.midi.part_events import part_events
from backing.score import Score
from backing.theory.rhythm import Meter

TICKS_PER_QUARTER = 960

_TICKS_PER_WHOLE = 4 * TICKS_PER_QUARTER
_GENERAL_MIDI_ON = bytes.fromhex("F0 05 7E 7F 09 01 F7")
_MIDI_CLOCKS_PER_WHOLE = 96


def to_bytes(score: Score) -> bytes:
    """A score as a Standard MIDI File of type 1; the same score gives the same bytes.

    The notes are written where the score has them. What `play` returns is exact to the grid,
    and `midi_of` lets `humanize` move it first, so the two files differ. Volumes and velocities
    are those that suit most devices (see `midi.device`).

    Args:
        score: its positions in whole notes, each rounded once to one of 960 ticks a quarter.

    Raises:
        BackingError: it has more than 15 pitched parts, a note or event outside the song, or a
            value outside its range.
    """
    return _file(for_device(score), alone=False)


def as_it_is(score: Score) -> bytes:
    """A score with its volumes and velocities as they are, for an engine that reads files.

    Percussion is in one part, which has a volume. Errors are as those of `to_bytes`.
    """
    return _file(score, alone=True)


def _file(score: Score, alone: bool) -> bytes:
    end = ticks(score.end_whole)
    chunks = [
        track_chunk(_conductor(score), end),
        track_chunk(_chord_names(score), end),
        *(track_chunk(_words(score), end) for _ in score.words[:1]),
        *(track_chunk(events, end) for events in part_events(score, ticks, alone)),
    ]
    return header_chunk(len(chunks), TICKS_PER_QUARTER) + b"".join(chunks)


def ticks(whole: Fraction) -> int:
    """The tick nearest to a position in whole notes; a half goes up."""
    numerator, denominator = whole.as_integer_ratio()
    return (2 * _TICKS_PER_WHOLE * numerator + denominator) // (2 * denominator)


def _conductor(score: Score) -> list[Event]:
    # Where two changes fall on one tick, the later one is in force: the dict keeps it.
    tempos = {ticks(change.start_whole): change.quarter_bpm for change in score.tempos}
    meters = {ticks(change.start_whole): change.meter for change in score.meters}
    metas: list[Event] = [(0, text_event(TRACK_NAME, score.title))]
    metas += [(tick, meta(TEMPO, tempo_bytes(bpm))) for tick, bpm in tempos.items()]
    metas += [(tick, meta(METER, meter_bytes(meter))) for tick, meter in meters.items()]
    for tick, key in {ticks(change.start_whole): change.key for change in score.keys}.items():
        signature = key.signature.to_bytes(1, "big", signed=True)
        metas.append((tick, meta(KEY, signature + bytes((key.minor,)))))
    metas += [(ticks(place), text_event(MARKER, text)) for place, text in score.markers]
    # Metas come first at a tick; this track comes first in the file, so the
    # system-on still precedes every channel message.
    return sorted([*metas, (0, _GENERAL_MIDI_ON)], key=lambda event: event[0])


def _chord_names(score: Score) -> list[Event]:
    names = [(ticks(place), text_event(TEXT, text)) for place, text in score.chords]
    return [(0, text_event(TRACK_NAME, "Chords")), *sorted(names, key=lambda event: event[0])]


def _words(score: Score) -> list[Event]:
    """Lyrics, in a track apart: where programs that edit or show them look for them."""
    lyrics = [(ticks(place), text_event(LYRIC, text)) for place, text in score.words]
    return [(0, text_event(TRACK_NAME, "Words")), *sorted(lyrics, key=lambda event: event[0])]


def tempo_bytes(quarter_bpm: Fraction) -> bytes:
    """Microseconds a quarter, rounded to the nearest, a half up, in three bytes.

    Raises:
        BackingError: three bytes don't hold the tempo (below about 3.6 quarters a minute).
    """
    if quarter_bpm > 0:
        numerator, denominator = 60_000_000 * quarter_bpm.denominator, quarter_bpm.numerator
        microseconds = (2 * numerator + denominator) // (2 * denominator)
        if 1 <= microseconds <= 0xFFFFFF:
            return microseconds.to_bytes(3, "big")
    raise BackingError(
        f"a MIDI file can't hold a tempo of {quarter_bpm} quarter notes a minute. "
        "Write 4 to 60,000,000."
    )


def meter_bytes(meter: Meter) -> bytes:
    """nn dd cc bb: count, unit as a power of two, MIDI clocks a click, 32nds a quarter (8).

    The click is the beat; where beats are uneven, or too long for a byte, it is the unit.
    """
    click = int((meter.beat_whole or meter.unit_whole) * _MIDI_CLOCKS_PER_WHOLE)
    if click > 0xFF:
        click = int(meter.unit_whole * _MIDI_CLOCKS_PER_WHOLE)
    return bytes((meter.count, meter.unit.bit_length() - 1, click, 8))
