"""How loud a soundfont's sounds are: each played note by note once, and measured.

Notes of every sound of the band are rendered one after another and weighted as ITU-R BS.1770 has
it. What is kept of each is its power in every tenth of a second, which is enough to predict how
loud any part is (see `audio.balance`), and of a stroke of percussion the power in each octave as
it starts, which shows what covers a click (see `audio.standing_out`). One soundfont takes about
3 s of processor time; the result is kept in the user's cache folder by the hashes of the soundfont
files.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from math import inf, log2, log10
from pathlib import Path
from typing import Any, NamedTuple

from backing.audio.engines import Engine
from backing.audio.soundfonts import Soundfont, bundled
from backing.errors import BackingError, ShortageError
from backing.score import Control, Note, Score, TempoChange, Track
from backing.system.work import writing
from backing.theory.device_levels import IN_BALANCE
from backing.theory.general_midi import MUTED_GUITAR

#: Changes with everything that changes what is measured.
EDITION = 2
#: The velocity that notes are measured at.
VELOCITY = 80
#: How long a note is held and then left to end, in tenths of a second: of a pitch, of percussion.
HELD, ENDING = 12, 3
STRUCK = 12
#: The middles of the octaves in which a stroke's first `STRIKE_S` are measured, in Hz.
OCTAVES_HZ = (125, 250, 500, 1000, 2000, 4000, 8000)
STRIKE_S = 0.05
#: The programs of strings that a hand stops, and how fast they fall then at least, in dB a second.
#: Common practice is silence at once. In two soundfonts most notes fall by 115 to 160, in one the
#: steel guitar's low strings by 11 to 20.
STOPPED: Sequence[int] = (24, 25, 27)
STOPPED_DB_S = 160.0
#: The most that an ending is shortened, in SoundFont's timecents: to a sixteenth.
MOST_SHORTENED = 4800.0
#: How many tenths of a second show how fast a held note falls.
_FALL = 4
#: Which pitches of each program are measured; a pitch between two counts as the nearer one.
_GUITAR, _BASS, _KEYS = range(40, 85, 2), range(23, 53), range(52, 77, 3)
PITCHES: Mapping[int, Sequence[int]] = {
    25: _GUITAR,
    24: _GUITAR,
    27: _GUITAR,
    MUTED_GUITAR: range(40, 85, 4),
    33: _BASS,
    16: _KEYS,
    48: _KEYS,
    0: _KEYS,
}
#: Which keys of each kit are measured.
KITS: Mapping[int, Sequence[int]] = {0: range(35, 82), 40: range(35, 60)}
#: A whole note lasts four seconds at this tempo, so a tenth of a second is a fortieth of it.
_TEMPO = TempoChange(Fraction(0), Fraction(60))
_TENTH = Fraction(1, 40)


class NotePower(NamedTuple):
    """A note's mean squares in tenths of a second, weighted: while it is held, and after its end.

    A sound that is struck and never ended has no `ending`, and has the powers of its start in
    `octaves`, which aren't weighted.
    """

    held: tuple[float, ...]
    ending: tuple[float, ...] = ()
    octaves: tuple[float, ...] = ()

    def at(self, tenth: int) -> float:
        """The power while it is held, which falls on evenly after what was measured."""
        if tenth < len(self.held):
            return self.held[tenth]
        before, last = self.held[-_FALL - 1], self.held[-1]
        fall = min(1.0, last / before) if before > 0 else 0.0
        return float(last * fall ** ((tenth - len(self.held) + 1) / _FALL))


class Calibration(NamedTuple):
    """Measured notes at velocity 80: by program and pitch, and by kit and key."""

    programs: Mapping[int, Mapping[int, NotePower]]
    kits: Mapping[int, Mapping[int, NotePower]]

    def note(self, program: int, pitch: int) -> NotePower:
        """The measured note nearest to a pitch of a program (or to that of the steel guitar)."""
        measured = self.programs.get(program) or next(iter(self.programs.values()))
        return measured[min(measured, key=lambda known: (abs(known - pitch), known))]

    def shortened(self) -> dict[int, float]:
        """By how much a stopped string's ending must be shorter, in timecents, by program.

        It is below 0 where the soundfont lets strings ring on; other programs are left out.
        """
        found = {}
        for program in STOPPED:
            falls = sorted(_fall_db_s(power) for power in self.programs.get(program, {}).values())
            fall = falls[len(falls) // 10] if falls else inf  # low strings ring longest
            if fall < STOPPED_DB_S:
                ratio = max(fall, 1.0) / STOPPED_DB_S
                found[program] = max(-MOST_SHORTENED, 1200 * log2(ratio))
        return found

    def stroke(self, kit: int, key: int) -> NotePower | None:
        """The measured stroke on a kit's key, or on the standard kit's; None for no such key."""
        return self.kits.get(kit, {}).get(key) or self.kits[0].get(key)


def _fall_db_s(power: NotePower) -> float:
    """How fast a note falls after its end, in dB a second."""
    first, *_, last = power.ending
    if last <= 0 or first <= 0:
        return inf
    return 10 * log10(first / last) / ((len(power.ending) - 1) / 10)


def calibration(soundfont: Soundfont, engine: Engine, folder: Path) -> Calibration:
    """A soundfont's measured notes, from the cache or measured now.

    Args:
        soundfont: the soundfont to play with.
        engine: the engine to play with.
        folder: where the raw sound goes, which is removed again.

    Raises:
        BackingError: the engine failed.
    """
    from backing.system.cache import cached

    def make() -> list[Any]:
        return _measured(soundfont, engine, folder)

    rows = cached("soundfonts", _key(soundfont, engine), make, _fits)
    return _from_rows(rows)


def measured_files(soundfont: Soundfont, engine: Engine) -> tuple[str, ...]:
    """What plays: the engine, and the hashes of the soundfonts; the bundled one plays what another
    one lacks.
    """
    paths = [soundfont.path.resolve()]
    try:
        paths.append(bundled().path.resolve())
    except ShortageError:
        raise
    except BackingError:
        pass
    return engine.key, *map(_digest_now, dict.fromkeys(paths))


def _digest_now(path: Path) -> str:
    status = path.stat()
    return _digest(path, status.st_size, status.st_mtime_ns)


@lru_cache(maxsize=16)
def _digest(path: Path, size: int, changed_ns: int) -> str:
    """A file's hash, made again where its size or its time is another one: a run may go on."""
    from backing.system.record import digest

    return digest(path)


def _key(soundfont: Soundfont, engine: Engine) -> str:
    texts = (str(EDITION), *measured_files(soundfont, engine))
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()


class _Row(NamedTuple):
    """A note to measure: a program or a kit, its pitch or key, and where it starts, in tenths."""

    is_kit: bool
    sound: int
    pitch: int
    start: int

    @property
    def length(self) -> int:
        return STRUCK if self.is_kit else HELD + ENDING

    @property
    def figures(self) -> int:
        """How many figures are kept of it."""
        return self.length + (len(OCTAVES_HZ) if self.is_kit else 0)


def _rows() -> Iterator[_Row]:
    """Every note that is measured, in order."""
    start = 0
    for is_kit, table in ((False, PITCHES), (True, KITS)):
        for sound, pitches in table.items():
            for pitch in pitches:
                row = _Row(is_kit, sound, pitch, start)
                yield row
                start += row.length


def _measured(soundfont: Soundfont, engine: Engine, folder: Path) -> list[Any]:
    """Each note as [is it a kit's, sound, pitch, [powers, and those in octaves]]."""
    from backing.audio.loudness import raw_blocks
    from backing.audio.meter import Meter
    from backing.audio.render import render

    apart = folder / "calibration"
    with writing(apart):
        apart.mkdir()
    rendered = render(_score(), apart, soundfont, engine)
    meter = Meter(rendered.rate)
    for block in raw_blocks(rendered.mix):
        meter.add(block)
    found = []
    for row in _rows():
        powers = meter.powers[row.start : row.start + row.length]
        if row.is_kit:
            powers = [
                *powers,
                *_octaves(rendered.mix, rendered.rate, row.start * rendered.rate // 10),
            ]
        short = [float(f"{power:.4g}") for power in powers]
        found.append([int(row.is_kit), row.sound, row.pitch, short])
    rendered.mix.unlink()
    return found


def _octaves(raw: Path, rate: int, frame: int) -> list[float]:
    """The powers in octaves of the first `STRIKE_S` after a frame of a raw file, fading out."""
    import numpy as np

    count = int(STRIKE_S * rate)
    samples = np.fromfile(raw, "<f4", 2 * count, offset=8 * frame).reshape(-1, 2).mean(axis=1)
    powers = np.abs(np.fft.rfft(samples * np.hanning(2 * count)[count:][: len(samples)])) ** 2
    places = np.fft.rfftfreq(len(samples), 1 / rate)
    edge = 2**0.5
    return [float(powers[(places >= hz / edge) & (places < hz * edge)].sum()) for hz in OCTAVES_HZ]


def _score() -> Score:
    """Every note that is measured, one after another; percussion's are in parts of their own."""
    notes: dict[tuple[bool, int], list[Note]] = {}
    end = 0
    for row in _rows():
        start = row.start * _TENTH
        lasts = (STRUCK - ENDING if row.is_kit else HELD) * _TENTH
        note = Note(start, start + lasts, row.pitch, VELOCITY)
        notes.setdefault((row.is_kit, row.sound), []).append(note)
        end = row.start + row.length
    tracks = [
        Track(
            f"{'kit' if is_kit else 'program'} {sound}",
            str(sound),
            None if is_kit else sound,
            IN_BALANCE,
            0,
            tuple(played),
            changes=(Control(Fraction(0), "program", sound),) if is_kit and sound else (),
        )
        for (is_kit, sound), played in notes.items()
    ]
    return Score("Calibration", tuple(tracks), (_TEMPO,), (), (), (), (), end * _TENTH)


def _fits(found: Any) -> bool:
    """Whether what was kept has every note that is measured now."""
    try:
        known = [(bool(kit), sound, pitch, len(powers)) for kit, sound, pitch, powers in found]
        numbers = all(isinstance(each, float | int) for *_, powers in found for each in powers)
    except (TypeError, ValueError):
        return False
    return numbers and known == [(row.is_kit, row.sound, row.pitch, row.figures) for row in _rows()]


def _from_rows(rows: Sequence[Any]) -> Calibration:
    programs: dict[int, dict[int, NotePower]] = {}
    kits: dict[int, dict[int, NotePower]] = {}
    for is_kit, sound, pitch, powers in rows:
        cut = STRUCK if is_kit else HELD
        held, rest = tuple(powers[:cut]), tuple(powers[cut:])
        power = NotePower(held, (), rest) if is_kit else NotePower(held, rest)
        (kits if is_kit else programs).setdefault(sound, {})[pitch] = power
    return Calibration(programs, kits)
