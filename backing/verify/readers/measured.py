"""What a MIDI file holds, by two independent readers.

`by_summing` reads the file itself, by the specification, and adds up delta times;
`by_pretty_midi` uses the library pretty_midi, which keeps time in its own way and reads neither
markers nor texts. Times are seconds from the file's start.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from io import BytesIO
from itertools import islice
from math import inf
from typing import NamedTuple, TypeAlias

from backing.errors import BackingError
from backing.verify.readers.smf import (
    MARKER,
    TEMPO,
    TEXT,
    TIME_SIGNATURE,
    TRACK_NAME,
    MidiFile,
    Track,
    read_midi,
)

#: pretty_midi calls files with later ticks corrupt (its `MAX_TICK`).
PRETTY_MIDI_MOST_TICKS = 10_000_000
#: It takes about 5 seconds for this many bytes, and no song of fewer ticks comes near.
PRETTY_MIDI_MOST_BYTES = 2 << 20
#: More than any form plays; a damaged file could have them without end.
MOST_BAR_LINES = 25_000
MOST_ONSETS = 2_000_000
#: Microseconds a quarter until a tempo comes: 120 quarters a minute (SMF 1.0, RP-001).
DEFAULT_TEMPO_US = 500_000
#: Characters of an error that pretty_midi raises.
MOST_WHY = 120

Meter: TypeAlias = "tuple[int, int, int]"
"""The tick where it starts, the count and the unit."""


class Onset(NamedTuple):
    """A note's start and pitch."""

    start_s: float
    pitch: int


@dataclass(slots=True)
class Measured:
    """What one reader found; None is what it can't read."""

    reader: str
    tick_quarters: Fraction
    last_tick: int | None = None
    tempos: list[tuple[float, float]] = field(default_factory=list)
    """Seconds from the start, and quarters a minute from there on; inf at 0 microseconds."""
    bar_lines: list[float] = field(default_factory=list)
    """Up to the file's end or, if `track_ends` is None, up to the last event."""
    meters: list[tuple[float, int, int]] = field(default_factory=list)
    clicks: list[Onset] = field(default_factory=list)
    bass: list[Onset] = field(default_factory=list)
    struck: set[str] = field(default_factory=set)
    """The names of the tracks that have a note."""
    guitar: list[tuple[float, float]] = field(default_factory=list)
    """From when to when each of the guitar's notes sounds, if `by_summing` was to list them."""
    title: str | None = None
    markers: list[tuple[float, str]] | None = None
    chords: list[tuple[float, str]] | None = None
    track_ends: list[float] | None = None


def by_summing(data: bytes, guitar: bool = False) -> Measured:
    """Read a file's bytes event by event; `guitar` also lists when the guitar's notes sound.

    Raises:
        BackingError: not a whole MIDI file, or one of a kind that can't be compared.
    """
    return _Summing(read_midi(data), guitar).measure()


class _Summing:
    def __init__(self, file: MidiFile, guitar: bool) -> None:
        self.file = file
        self.guitar = guitar
        self.tempo_ticks, self.tempo_us, self.tempo_s = [0], [DEFAULT_TEMPO_US], [0.0]

    def measure(self) -> Measured:
        self._learn_tempos(
            (tick, int.from_bytes(content[:3], "big")) for tick, content in self._every(TEMPO)
        )
        out = Measured("our own reader", Fraction(1, self.file.ticks_per_quarter))
        out.tempos = [
            (s, 60e6 / us if us else inf) for s, us in zip(self.tempo_s, self.tempo_us, strict=True)
        ]
        meters = _with_default(
            (tick, content[0], 1 << content[1]) for tick, content in self._every(TIME_SIGNATURE)
        )
        end = max((track.end for track in self.file.tracks), default=0)
        out.last_tick = end
        out.meters = [(self._seconds(tick), n, d) for tick, n, d in meters]
        lines = _bar_ticks(meters, self.file.ticks_per_quarter, end)
        out.bar_lines = [self._seconds(tick) for tick in lines]
        out.track_ends = [self._seconds(track.end) for track in self.file.tracks]
        out.title, out.markers, out.chords = "", [], []
        for index, track in enumerate(self.file.tracks):
            name = next((content for _, kind, content in track.metas if kind == TRACK_NAME), b"")
            if not index:
                out.title = _text(name)
            self._take_texts(out, track, index)
            self._take_notes(out, track, _text(name))
        return out

    def _every(self, kind: int) -> list[tuple[int, bytes]]:
        """All tracks' meta events of one kind, in order of time."""
        found = [
            (tick, content)
            for track in self.file.tracks
            for tick, of_kind, content in track.metas
            if of_kind == kind
        ]
        return sorted(found, key=lambda event: event[0])

    def _take_texts(self, out: Measured, track: Track, index: int) -> None:
        for tick, kind, content in track.metas:
            if kind == MARKER and out.markers is not None:
                out.markers.append((self._seconds(tick), _text(content)))
            elif kind == TEXT and index and out.chords is not None:
                out.chords.append((self._seconds(tick), _text(content)))

    def _take_notes(self, out: Measured, track: Track, name: str) -> None:
        if any(velocity for _, _, velocity in track.notes()):
            out.struck.add(name)
        onsets = {"Click": out.clicks, "Bass": out.bass}.get(name)
        if onsets is not None:
            struck = ((tick, pitch) for tick, pitch, velocity in track.notes() if velocity)
            room = MOST_ONSETS - len(onsets)
            onsets += [Onset(self._seconds(tick), pitch) for tick, pitch in islice(struck, room)]
        if self.guitar and name.startswith("Guitar"):
            out.guitar += self._sounding(track)

    def _sounding(self, track: Track) -> Iterator[tuple[float, float]]:
        """A track's notes from their starts to their ends."""
        since: dict[int, deque[int]] = {}
        for tick, pitch, velocity in track.notes():
            if velocity:
                since.setdefault(pitch, deque()).append(tick)
            elif since.get(pitch):
                yield self._seconds(since[pitch].popleft()), self._seconds(tick)

    def _learn_tempos(self, changes: Iterable[tuple[int, int]]) -> None:
        ticks, us = self.tempo_ticks, self.tempo_us
        for tick, tempo in changes:
            if tick == ticks[-1]:
                us[-1] = tempo
            else:
                ticks.append(tick)
                us.append(tempo)
        total = 0  # tick-microseconds: whole numbers, so summing loses nothing
        for index in range(1, len(ticks)):
            total += (ticks[index] - ticks[index - 1]) * us[index - 1]
            self.tempo_s.append(total / self.file.ticks_per_quarter / 1e6)

    def _seconds(self, tick: int) -> float:
        at = bisect_right(self.tempo_ticks, tick) - 1
        since = tick - self.tempo_ticks[at]
        return self.tempo_s[at] + float(
            since * self.tempo_us[at] / self.file.ticks_per_quarter / 1e6
        )


def by_pretty_midi(data: bytes) -> Measured:
    """Read a file's bytes through pretty_midi.

    Raises:
        BackingError: pretty_midi can't read it.
    """
    import warnings

    try:
        with warnings.catch_warnings():
            # pretty_midi and numpy warn about things that are compared anyway.
            warnings.simplefilter("ignore")
            return _read_by_pretty_midi(data)
    except Exception as error:  # it raises many kinds, and not only while opening a file
        why = " ".join(str(error).split())[:MOST_WHY] or type(error).__name__
        raise BackingError(f"pretty_midi can't read it ({why}).") from None


def _read_by_pretty_midi(data: bytes) -> Measured:
    import pretty_midi

    midi = pretty_midi.PrettyMIDI(BytesIO(data))
    out = Measured("pretty_midi", Fraction(1, midi.resolution))
    times, tempi = midi.get_tempo_changes()
    out.tempos = [(float(t), float(q)) for t, q in zip(times, tempi, strict=True)]
    meters = _with_default(
        (int(midi.time_to_tick(m.time)), m.numerator, m.denominator)
        for m in midi.time_signature_changes
    )
    out.meters = [(float(midi.tick_to_time(tick)), n, d) for tick, n, d in meters]
    end = int(midi.time_to_tick(midi.get_end_time()))
    lines = _bar_ticks(meters, midi.resolution, end)
    out.bar_lines = [float(midi.tick_to_time(tick)) for tick in lines]
    for instrument in midi.instruments:
        onsets = [Onset(float(note.start), int(note.pitch)) for note in instrument.notes]
        if onsets:
            out.struck.add(instrument.name)
        if instrument.name.startswith("Guitar"):
            out.guitar += [(float(note.start), float(note.end)) for note in instrument.notes]
        if instrument.is_drum and instrument.name == "Click":
            out.clicks += onsets
        elif instrument.name == "Bass":
            out.bass += onsets
    return out


def _with_default(meters: Iterable[Meter]) -> list[Meter]:
    """Meters from tick 0 on: 4/4 until a time signature comes (SMF 1.0, RP-001)."""
    known = list(meters)
    return known if known and not known[0][0] else [(0, 4, 4), *known]


def _bar_ticks(meters: Sequence[Meter], ticks_per_quarter: int, end: int) -> list[int]:
    """The bar lines that the meters make; a meter starts a bar wherever it is."""
    lines: list[int] = []
    for (tick, n, d), until in zip(meters, [m[0] for m in meters[1:]] + [end + 1], strict=True):
        bar = max(1, ticks_per_quarter * 4 * n // d)
        lines += range(tick, until, bar)[: MOST_BAR_LINES - len(lines)]
    return lines


def _text(content: bytes) -> str:
    """Our files' texts are UTF-8; other bytes are read as Latin-1."""
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("latin-1")
