"""What a MIDI file holds, by two readers that did not write it.

`by_summing` adds up the delta times of plain mido messages; `by_pretty_midi` asks
pretty_midi, which keeps time in its own way and knows neither markers nor texts.
Times are seconds from the file's start.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from io import BytesIO
from typing import Any, NamedTuple

from backing.errors import DisagreementError

#: pretty_midi takes longer files for damaged (its `MAX_TICK`).
PRETTY_MIDI_MOST_TICKS = 10_000_000
#: More than any form plays; a damaged file could draw them without end.
MOST_BAR_LINES = 25_000


class Onset(NamedTuple):
    """A note's start and pitch."""

    start_s: float
    pitch: int


@dataclass(slots=True)
class Measured:
    """One reader's account. What a reader can't tell is None."""

    reader: str
    tick_quarters: Fraction
    last_tick: int | None = None
    tempos: list[tuple[float, float]] = field(default_factory=list)
    """Seconds from the start, and quarters a minute from there on."""
    bar_lines: list[float] = field(default_factory=list)
    """Up to the file's end or, where `track_ends` is None, the last event that was seen."""
    meters: list[tuple[float, int, int]] = field(default_factory=list)
    clicks: list[Onset] = field(default_factory=list)
    bass: list[Onset] = field(default_factory=list)
    struck: set[str] = field(default_factory=set)
    """The names of the tracks that have a note."""
    guitar: list[tuple[float, float]] = field(default_factory=list)
    """From when to when the guitar's notes sound, where that was asked for."""
    title: str | None = None
    markers: list[tuple[float, str]] | None = None
    chords: list[tuple[float, str]] | None = None
    track_ends: list[float] | None = None


def by_summing(data: bytes, guitar: bool = False) -> Measured:
    """Read a file's bytes message by message; `guitar` lists how long its notes sound, too.

    Raises:
        DisagreementError: not a whole MIDI file, or one counted in frames.
    """
    import mido

    try:
        file = mido.MidiFile(file=BytesIO(data))
    except Exception as error:  # mido raises many kinds for damaged files
        raise DisagreementError(
            f"it can't be read as MIDI ({error or type(error).__name__})."
        ) from None
    if not 0 < file.ticks_per_beat < 0x8000:
        raise DisagreementError("it counts frames, not ticks a quarter.")
    return _Summing(file, guitar).measure()


class _Summing:
    def __init__(self, file: Any, guitar: bool) -> None:
        self.file = file
        self.guitar = guitar
        self.tempo_ticks, self.tempo_us, self.tempo_s = [0], [500_000], [0.0]

    def measure(self) -> Measured:
        placed = [_placed(track) for track in self.file.tracks]
        metas = sorted(
            (m for track in placed for m in track if m[1].type in ("set_tempo", "time_signature")),
            key=lambda m: m[0],
        )
        self._learn_tempos([(tick, m.tempo) for tick, m in metas if m.type == "set_tempo"])
        out = Measured("summing reader", Fraction(1, self.file.ticks_per_beat))
        out.tempos = [(s, 60e6 / us) for s, us in zip(self.tempo_s, self.tempo_us, strict=True)]
        meters = [
            (tick, m.numerator, m.denominator) for tick, m in metas if m.type == "time_signature"
        ]
        end = max((track[-1][0] for track in placed if track), default=0)
        out.last_tick = end
        out.meters = [(self._seconds(tick), n, d) for tick, n, d in meters]
        out.bar_lines = [self._seconds(tick) for tick in self._bar_ticks(meters, end)]
        out.track_ends = [self._seconds(track[-1][0]) for track in placed if track]
        out.markers, out.chords = [], []
        for index, track in enumerate(placed):
            self._take(out, track, index)
        return out

    def _take(self, out: Measured, track: list[tuple[int, Any]], index: int) -> None:
        name = next((m.name for _, m in track if m.type == "track_name"), "")
        for tick, m in track:
            if m.type == "marker" and out.markers is not None:
                out.markers.append((self._seconds(tick), _utf8(m.text)))
            elif m.type == "text" and index and out.chords is not None:
                out.chords.append((self._seconds(tick), _utf8(m.text)))
            elif m.type == "note_on" and m.velocity:
                out.struck.add(name)
                if name == "Click":
                    out.clicks.append(Onset(self._seconds(tick), m.note))
                elif name == "Bass":
                    out.bass.append(Onset(self._seconds(tick), m.note))
        if self.guitar and name.startswith("Guitar"):
            out.guitar += self._sounding(track)
        if not index:
            out.title = _utf8(name)

    def _sounding(self, track: list[tuple[int, Any]]) -> Iterator[tuple[float, float]]:
        """A track's notes from their starts to their ends."""
        since: dict[int, list[int]] = {}
        for tick, m in track:
            if m.type == "note_on" and m.velocity:
                since.setdefault(m.note, []).append(tick)
            elif m.type in ("note_on", "note_off") and since.get(m.note):
                yield self._seconds(since[m.note].pop(0)), self._seconds(tick)

    def _learn_tempos(self, changes: list[tuple[int, int]]) -> None:
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
            self.tempo_s.append(total / self.file.ticks_per_beat / 1e6)

    def _seconds(self, tick: int) -> float:
        at = bisect_right(self.tempo_ticks, tick) - 1
        since = tick - self.tempo_ticks[at]
        return self.tempo_s[at] + float(since * self.tempo_us[at] / self.file.ticks_per_beat / 1e6)

    def _bar_ticks(self, meters: list[tuple[int, int, int]], end: int) -> list[int]:
        """Bar lines as the meters draw them; a meter opens a bar wherever it stands."""
        if not meters or meters[0][0]:
            meters = [(0, 4, 4), *meters]
        lines: list[int] = []
        for (tick, n, d), until in zip(meters, [m[0] for m in meters[1:]] + [end + 1], strict=True):
            bar = max(1, self.file.ticks_per_beat * 4 * n // d)
            lines += range(tick, until, bar)[:MOST_BAR_LINES]
        return lines[:MOST_BAR_LINES]


def by_pretty_midi(data: bytes) -> Measured:
    """Read a file's bytes through pretty_midi.

    Raises:
        DisagreementError: pretty_midi can't read it.
    """
    import warnings

    import pretty_midi

    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore", RuntimeWarning
            )  # tempo outside track 0: compared anyway
            midi = pretty_midi.PrettyMIDI(BytesIO(data))
    except Exception as error:  # as for mido
        raise DisagreementError(
            f"pretty_midi can't read it ({error or type(error).__name__})."
        ) from None
    out = Measured("pretty_midi", Fraction(1, midi.resolution))
    times, tempi = midi.get_tempo_changes()
    out.tempos = [(float(t), float(q)) for t, q in zip(times, tempi, strict=True)]
    out.meters = [(float(m.time), m.numerator, m.denominator) for m in midi.time_signature_changes]
    out.bar_lines = _pretty_bar_lines(midi)
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


def _pretty_bar_lines(midi: Any) -> list[float]:
    """Bar lines up to the last event, from pretty_midi's meters and its own clock."""
    end = midi.get_end_time()
    meters = [
        (midi.time_to_tick(m.time), m.numerator, m.denominator) for m in midi.time_signature_changes
    ]
    ends = [m[0] for m in meters[1:]] + [midi.time_to_tick(end) + 1]
    lines: list[int] = []
    for (tick, n, d), until in zip(meters, ends, strict=True):
        lines += range(tick, until, max(1, midi.resolution * 4 * n // d))[:MOST_BAR_LINES]
    return [float(midi.tick_to_time(tick)) for tick in lines[:MOST_BAR_LINES]]


def _placed(track: Any) -> list[tuple[int, Any]]:
    tick, placed = 0, []
    for message in track:
        tick += message.time
        placed.append((tick, message))
    return placed


def _utf8(text: str) -> str:
    """mido hands bytes over as Latin-1; our files are UTF-8."""
    try:
        return text.encode("latin-1").decode("utf-8")
    except (UnicodeEncodeError, UnicodeDecodeError):
        return text
