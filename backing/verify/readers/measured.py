"""What a MIDI file holds, by two independent readers.

`by_summing` reads the file itself, by the specification, and adds up delta times;
`by_pretty_midi` uses the library pretty_midi, which keeps time in its own way and reads lyrics,
but neither markers nor texts. Times are seconds from the file's start.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from io import BytesIO
from math import inf
from operator import attrgetter
from typing import Any, TypeAlias

from backing.errors import BackingError, raise_shortage
from backing.system.shortages import NUMPY_BYTES, need_memory
from backing.verify.readers.channels import (
    Control,
    channel_settings,
    kits_of_notes,
    notes_by_channel,
    settings_by_channel,
)
from backing.verify.readers.smf import (
    KEY_SIGNATURE,
    LYRIC,
    MARKER,
    TEMPO,
    TEXT,
    TIME_SIGNATURE,
    TRACK_NAME,
    MidiFile,
    Track,
    read_midi,
)
from backing.verify.readers.voices import (
    NO_SETTINGS,
    PERCUSSION,
    ChannelSettings,
    Notes,
    Voice,
)

#: pretty_midi calls files with later ticks corrupt (its `MAX_TICK`).
PRETTY_MIDI_MOST_TICKS = 10_000_000
#: It takes about a second for this many bytes; a song of four minutes has 60,000 or so.
PRETTY_MIDI_MOST_BYTES = 256 << 10
#: More than any form plays; a damaged file could have them without end.
MOST_BAR_LINES = 25_000
#: Microseconds a quarter until a tempo comes: 120 quarters a minute (SMF 1.0, RP-001).
DEFAULT_TEMPO_US = 500_000
#: Characters of an error that pretty_midi raises.
MOST_WHY = 120

Meter: TypeAlias = "tuple[int, int, int]"
"""The tick where it starts, the count and the unit."""
Key: TypeAlias = "tuple[float, int, bool]"
"""Seconds from the start, sharps (or, below 0, flats), and whether the key is minor."""


@dataclass(slots=True)
class Measured:
    """What one reader found; None is what it can't read."""

    reader: str
    tick_quarters: Fraction
    last_tick: int | None = None
    tempos: list[tuple[float, float]] = field(default_factory=list)
    """Seconds from the start, and quarters a minute from there on; inf at 0 microseconds."""
    tempo_quarters: list[float] = field(default_factory=list)
    """Where each of the tempos starts, in quarters."""
    quarter_seconds: list[float] = field(default_factory=list)
    """How long a quarter lasts at each of them."""
    bar_lines: list[float] = field(default_factory=list)
    """Up to the file's end or, if `track_ends` is None, up to the last event."""
    meters: list[tuple[float, int, int]] = field(default_factory=list)
    signatures: int = 0
    """How many time signatures the file has; without any it is in 4/4."""
    metronomes: list[tuple[float, int]] | None = None
    """MIDI clocks from click to click, as time signatures say."""
    voices: list[Voice] = field(default_factory=list)
    endless: list[float] = field(default_factory=list)
    """The starts of notes that nothing ends; such a note lasts as long as its track."""
    keys: list[Key] | None = None
    """Key signatures of all tracks; one that repeats the key before it is dropped."""
    title: str | None = None
    markers: list[tuple[float, str]] | None = None
    chords: list[tuple[float, str]] | None = None
    words: list[tuple[float, str]] | None = None
    """Lyrics."""
    track_ends: list[float] | None = None


def by_summing(data: bytes) -> Measured:
    """Read a file's bytes event by event.

    Raises:
        BackingError: not a whole MIDI file, or one of a kind that can't be compared.
    """
    return _Summing(read_midi(data)).measure()


class _Summing:
    def __init__(self, file: MidiFile) -> None:
        self.file = file
        self.tempo_ticks, self.tempo_us, self.tempo_s = [0], [DEFAULT_TEMPO_US], [0.0]
        self.seconds_by_tick: dict[int, float] = {}
        self.settings: dict[int, ChannelSettings] = {}
        self.kits: list[list[int]] = []

    def measure(self) -> Measured:
        self._learn_tempos(
            (tick, int.from_bytes(content[:3], "big")) for tick, content in self._every(TEMPO)
        )
        out = Measured("our own reader", Fraction(1, self.file.ticks_per_quarter))
        out.tempos = [
            (s, 60e6 / us if us else inf) for s, us in zip(self.tempo_s, self.tempo_us, strict=True)
        ]
        out.tempo_quarters = [tick / self.file.ticks_per_quarter for tick in self.tempo_ticks]
        out.quarter_seconds = [us / 1e6 for us in self.tempo_us]
        self._take_meters(out)
        out.track_ends = [self._seconds(track.end) for track in self.file.tracks]
        out.keys = list(self._keys())
        self.settings = settings_by_channel(self.file.tracks, self._seconds)
        out.title, out.markers, out.chords, out.words = "", [], [], []
        self.kits = kits_of_notes(self.file.tracks, PERCUSSION)
        for index, track in enumerate(self.file.tracks):
            name = next((content for _, kind, content in track.metas if kind == TRACK_NAME), b"")
            if not index:
                out.title = _text(name)
            self._take_texts(out, track)
            out.voices += self._voices(index, _text(name), out.endless)
        return out

    def _take_meters(self, out: Measured) -> None:
        signatures = self._every(TIME_SIGNATURE)
        out.signatures = len(signatures)
        out.metronomes = [(self._seconds(tick), content[2]) for tick, content in signatures]
        meters = _with_default((tick, content[0], 1 << content[1]) for tick, content in signatures)
        end = max((track.end for track in self.file.tracks), default=0)
        out.last_tick = end
        out.meters = [(self._seconds(tick), n, d) for tick, n, d in meters]
        lines = _bar_ticks(meters, self.file.ticks_per_quarter, end)
        out.bar_lines = [self._seconds(tick) for tick in lines]

    def _every(self, kind: int) -> list[tuple[int, bytes]]:
        """All tracks' meta events of one kind, in order of time."""
        found = [
            (tick, content)
            for track in self.file.tracks
            for tick, of_kind, content in track.metas
            if of_kind == kind
        ]
        return sorted(found, key=lambda event: event[0])

    def _take_texts(self, out: Measured, track: Track) -> None:
        for tick, kind, content in track.metas:
            if kind == MARKER and out.markers is not None:
                out.markers.append((self._seconds(tick), _text(content)))
            elif kind == TEXT and out.chords is not None:
                out.chords.append((self._seconds(tick), _text(content)))
            elif kind == LYRIC and out.words is not None:
                out.words.append((self._seconds(tick), _text(content)))

    def _voices(self, index: int, name: str, endless: list[float]) -> Iterator[Voice]:
        """What each channel plays in a track; the starts of notes that never end join `endless`."""
        for channel, rows in sorted(notes_by_channel(self.file.tracks[index]).items()):
            starts_s, ends_s = self._all_seconds(rows.starts), self._all_seconds(rows.ends)
            notes = Notes(starts_s, ends_s, rows.pitches, rows.velocities)
            endless += (starts_s[place] for place in rows.endless)
            kits = self.kits[index] if channel == PERCUSSION else ()
            yield Voice(name, channel, notes, self.settings.get(channel, NO_SETTINGS), kits)

    def _keys(self) -> Iterator[Key]:
        before = None
        for tick, content in self._every(KEY_SIGNATURE):
            key = (content[0] - 256 if content[0] > 127 else content[0], content[1] == 1)
            if key != before:
                yield self._seconds(tick), *key
            before = key

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

    def _all_seconds(self, ticks: Sequence[int]) -> list[float]:
        """The times of many ticks; where tempos change, each tick is looked up once."""
        if len(self.tempo_ticks) == 1:
            us, quarter = self.tempo_us[0], self.file.ticks_per_quarter
            return [tick * us / quarter / 1e6 for tick in ticks]
        seconds = self.seconds_by_tick
        for tick in set(ticks).difference(seconds):
            seconds[tick] = self._seconds(tick)
        return [seconds[tick] for tick in ticks]

    def _seconds(self, tick: int) -> float:
        at = bisect_right(self.tempo_ticks, tick) - 1
        since = tick - self.tempo_ticks[at]
        return self.tempo_s[at] + float(
            since * self.tempo_us[at] / self.file.ticks_per_quarter / 1e6
        )


def by_pretty_midi(data: bytes) -> Measured:
    """Read a file's bytes through pretty_midi.

    Raises:
        BackingError: pretty_midi can't read it, or there is not enough memory for it.
    """
    import warnings

    try:
        with warnings.catch_warnings():
            # pretty_midi and numpy warn about things that are compared anyway.
            warnings.simplefilter("ignore")
            need_memory(NUMPY_BYTES)
            return _read_by_pretty_midi(data)
    except Exception as error:  # it raises many kinds, and not only while opening a file
        raise_shortage(error)
        why = " ".join(str(error).split())[:MOST_WHY]
        if " " not in why:  # a word alone, such as the key that a table doesn't have
            why = f"{type(error).__name__}: {why}" if why else type(error).__name__
        raise BackingError(f"pretty_midi can't read it ({why}).") from None


def _read_by_pretty_midi(data: bytes) -> Measured:
    import pretty_midi

    midi = pretty_midi.PrettyMIDI(BytesIO(data))
    out = Measured("pretty_midi", Fraction(1, midi.resolution))
    times, tempi = midi.get_tempo_changes()
    out.tempos = [(float(t), float(q)) for t, q in zip(times, tempi, strict=True)]
    out.tempo_quarters = [midi.time_to_tick(t) / midi.resolution for t in times]
    out.quarter_seconds = [60 / float(q) for q in tempi]
    out.signatures = len(midi.time_signature_changes)
    meters = _with_default(
        (int(midi.time_to_tick(m.time)), m.numerator, m.denominator)
        for m in midi.time_signature_changes
    )
    out.meters = [(float(midi.tick_to_time(tick)), n, d) for tick, n, d in meters]
    end = int(midi.time_to_tick(midi.get_end_time()))
    lines = _bar_ticks(meters, midi.resolution, end)
    out.bar_lines = [float(midi.tick_to_time(tick)) for tick in lines]
    out.keys = [
        (float(key.time), _sharps(key.key_number), key.key_number >= 12)
        for key in midi.key_signature_changes
    ] or None
    out.voices = list(_voices_of(midi.instruments))
    # It reads texts as Latin-1, which gives every byte back.
    lyrics = ((float(one.time), one.text.encode("latin-1")) for one in midi.lyrics)
    out.words = [(at_s, _text(content)) for at_s, content in lyrics]
    return out


def _voices_of(instruments: Iterable[Any]) -> Iterator[Voice]:
    """pretty_midi's instruments as voices, each on a channel of its own but for percussion."""
    for number, instrument in enumerate(instruments):
        rows = sorted((n.start, n.end, n.pitch, n.velocity) for n in instrument.notes)
        if rows:
            starts, ends, pitches, velocities = zip(*rows, strict=True)
            notes = Notes(starts, ends, pitches, velocities)
            channel = PERCUSSION if instrument.is_drum else number + (number >= PERCUSSION)
            # Its instruments have the program at each note's end, so the kits can't be told.
            yield Voice(instrument.name, channel, notes, _as_kept(instrument), kits=None)


def _as_kept(instrument: Any) -> ChannelSettings:
    """An instrument's settings as far as pretty_midi keeps them.

    It sees only those of the instrument's own track, and a program that isn't set is 0 to it.
    """
    controls = [
        Control(float(change.time), change.number, change.value)
        for change in sorted(instrument.control_changes, key=attrgetter("time"))
    ]
    wheel = [(float(bend.time), int(bend.pitch)) for bend in instrument.pitch_bends]
    program = int(instrument.program)
    settings = channel_settings([(0.0, program)] if program else [], controls, sorted(wheel))
    return ChannelSettings(
        programs=settings.programs or None,
        volumes=settings.volumes or None,
        pans=settings.pans or None,
        bends=settings.bends or None,
        tuning=settings.tuning or None,
        reverbs=settings.reverbs or None,
        expressions=settings.expressions or None,
    )


def _sharps(key_number: int) -> int:
    """A signature of a key of pretty_midi's, which spells none: 12 major ones, then 12 minor."""
    tonic, minor = key_number % 12, key_number >= 12
    return ((tonic + 3 * minor) * 7 + 5) % 12 - 5


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
