"""A score to raw sound, in a child process: the mix and, if requested, each part alone."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction
from math import log2
from pathlib import Path
from threading import Event, Thread
from types import MappingProxyType
from typing import NamedTuple

from backing.audio.clicks import ACCENT_VELOCITY, amplitudes
from backing.audio.clicks import PART as CLICK
from backing.audio.engines import FLUIDSYNTH, Engine
from backing.audio.frames import frame_at
from backing.audio.job import Job
from backing.audio.kits import with_kits_of
from backing.audio.soundfonts import PERCUSSION_BANK, Soundfont, bundled, validate
from backing.errors import BackingError, ShortageError
from backing.midi.controllers import STANDARD_HZ
from backing.midi.part_events import PERCUSSION_CHANNEL, part_events
from backing.midi.writer import as_it_is
from backing.score import Note, Score, TempoChange, Track
from backing.system.cores import usable_cores
from backing.system.shortages import DISK, MEMORY, has_memory
from backing.system.workers import ProcessError, Worker
from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT

RATE = 44100
#: What midirenderer, which cuts releases short, gets after the end, in whole notes.
PAD_WHOLE = Fraction(4)

#: What an engine needs besides its soundfonts, in bytes. If there is less after a crash, that is
#: taken to be the reason.
ENGINE_BYTES = 256 << 20
#: How long a child may report nothing, in seconds. Loading a soundfont takes the longest.
SILENT_S = 120.0


#: What warnings call the kits.
_KITS = {STANDARD_KIT: "drums", BRUSH_KIT: "brushes"}


class Rendered(NamedTuple):
    """Raw files (little-endian float32, stereo), all of the same length, and what made them.

    `soundfont` is the one that plays; `warnings` are sentences for the user.
    """

    mix: Path
    stems: Mapping[str, Path]
    frames: int
    rate: int
    engine: Engine
    soundfont: Soundfont
    warnings: tuple[str, ...] = ()


def render(
    score: Score,
    folder: Path,
    soundfont: Soundfont,
    engine: Engine,
    rate: int = RATE,
    stems: bool = False,
    progress: Callable[[float], None] = lambda share: None,
    cores: int | None = None,
    click_gain: float = 1.0,
    shortened: Mapping[int, float] = MappingProxyType({}),
) -> Rendered:
    """Render a score into raw files in a folder that exists.

    Args:
        score: as it should sound; a part at volume 100 is as loud as the engine plays it.
        folder: where the raw files go.
        soundfont: the soundfont to play with; the bundled one plays what it lacks.
        engine: the engine to play with.
        rate: frames per second, if the engine allows a choice.
        stems: whether each part gets a file too; their sum is the mix.
        progress: called with the share done, 0 to 1.
        cores: how many may be used at once; None uses all that this process may use.
        click_gain: what the click's amplitude is multiplied by.
        shortened: what FluidSynth adds to the length of a program's endings, in timecents.

    Raises:
        BackingError: the engine failed, or the disk is full; then the files are not complete.
    """
    rate = engine.rate or rate
    score = with_kits_of(score, validate(soundfont.path).presets)
    fonts, warnings = _with_stand_in(soundfont, score, engine)
    parts = tuple(dict.fromkeys(track.part for track in score.tracks))
    files = {part: folder / f"{part}.raw" for part in parts} if stems else {}
    job = _job(score, engine, rate, fonts, folder / "mix.raw", files)._replace(
        cores=cores or usable_cores(), click_gain=click_gain, shortened=tuple(shortened.items())
    )
    _run(job, soundfont, progress)
    for path in (folder / "mix.raw", *files.values()):
        if path.stat().st_size != 8 * job.frames:
            raise ShortageError(DISK)
    return Rendered(folder / "mix.raw", files, job.frames, rate, engine, fonts[-1], tuple(warnings))


def _with_stand_in(
    soundfont: Soundfont, score: Score, engine: Engine
) -> tuple[list[Soundfont], list[str]]:
    """The soundfonts to load, the one that plays last, and warnings about what it lacks."""
    presets = validate(soundfont.path).presets
    lacking = sorted(presets_of(score) - presets)
    if not lacking:
        return [soundfont], []
    stand_in = bundled()
    what = ", ".join(
        _KITS.get(program, "drums") if bank == PERCUSSION_BANK else f"program {program + 1}"
        for bank, program in lacking
    )
    if stand_in.path.resolve() == soundfont.path.resolve():
        return [soundfont], [f"{soundfont.path.name} has no {what}."]
    fonts = [stand_in, soundfont] if engine.key == FLUIDSYNTH else [stand_in]
    whose = what if engine.key == FLUIDSYNTH else "everything"
    warning = f"{soundfont.path.name} has no {what}: {stand_in.path.name} plays {whose}."
    return fonts, [warning]


def presets_of(score: Score) -> set[tuple[int, int]]:
    """The presets that a score plays, as pairs (bank, program)."""
    presets = set()
    for track in score.tracks:
        bank = PERCUSSION_BANK if track.program is None else 0
        presets.add((bank, track.program or STANDARD_KIT))
        presets |= {(bank, change.value) for change in track.changes if change.what == "program"}
    return presets


def _job(
    score: Score,
    engine: Engine,
    rate: int,
    fonts: Iterable[Soundfont],
    mix: Path,
    files: Mapping[str, Path],
) -> Job:
    at = frame_at(score.tempos, rate)
    played = score._replace(tracks=tuple(t for t in score.tracks if t.part != CLICK))
    parts = tuple(dict.fromkeys(track.part for track in played.tracks))
    clicks = sorted(
        (at(note.start_whole), note.pitch, amplitude)
        for track in score.tracks
        if track.part == CLICK
        for note, amplitude in amplitudes(track)
    )
    keys = tuple(sorted({key for _, key, _ in clicks}))
    for_fluidsynth = engine.key == FLUIDSYNTH
    untuned = played._replace(pitch_hz=Fraction(STANDARD_HZ))
    events, percussion = _events(untuned, parts, at) if for_fluidsynth else ([], ())
    return Job(
        engine=engine.key,
        soundfonts=tuple(str(font.path.resolve()) for font in fonts),
        rate=rate,
        frames=at(score.end_whole),
        parts=parts,
        percussion=percussion,
        events=events,
        clicks=clicks,
        click_keys=keys,
        mix=str(mix),
        files={part: str(path) for part, path in files.items()},
        midis={} if for_fluidsynth else _midis(played, parts if files else ()),
        click_midi=b"" if for_fluidsynth else _click_midi(keys),
        tuning=1200 * log2(score.pitch_hz / STANDARD_HZ),
    )


def _events(
    score: Score, parts: tuple[str, ...], at: Callable[[Fraction], int]
) -> tuple[list[tuple[int, int, int, bytes]], tuple[int, ...]]:
    """Events in order of frame, and the percussion's channels.

    A track's channel modulo the number of parts is its part's index, so an engine that sends
    channels to outputs by that rule sends each part to a separate output.
    """
    events: list[tuple[int, int, int, bytes]] = []
    percussion = []
    taken: dict[int, int] = {}
    for track, messages in zip(score.tracks, part_events(score, at, alone=True), strict=True):
        part = parts.index(track.part)
        channel = part + len(parts) * taken.setdefault(part, 0)
        taken[part] += 1
        if track.program is None:
            percussion.append(channel)
        events += [
            (frame, part, channel, message) for frame, message in messages if message[0] < 0xF0
        ]
    events.sort(key=_frame)
    return events, tuple(percussion)


def _frame(event: tuple[int, int, int, bytes]) -> int:
    return event[0]


def _midis(score: Score, parts: tuple[str, ...]) -> dict[str, bytes]:
    """MIDI files with room for the last releases: one for each part, or one for all."""
    score = score._replace(end_whole=score.end_whole + PAD_WHOLE)
    if not parts:
        return {"": as_it_is(score)}
    return {
        part: as_it_is(score._replace(tracks=tuple(t for t in score.tracks if t.part == part)))
        for part in parts
    }


def _click_midi(keys: Iterable[int]) -> bytes:
    """An accented click per second, dry: its channel sends nothing to the reverb and the chorus."""
    notes = tuple(
        Note(Fraction(second, 2), Fraction(2 * second + 1, 4), key, ACCENT_VELOCITY)
        for second, key in enumerate(keys)
    )
    if not notes:
        return b""
    track = Track(CLICK, "Click", None, 100, 0, notes)
    tempo = TempoChange(Fraction(0), Fraction(120))
    end = Fraction(len(notes) + 4, 2)
    data = as_it_is(Score("Click", (track,), (tempo,), (), (), (), (), end))
    # Two controllers before the first note: no reverb (91), no chorus (93).
    name = b"\x00\xff\x03\x05Click"
    dry = bytes((0, 0xB0 | PERCUSSION_CHANNEL, 91, 0, 0, 0xB0 | PERCUSSION_CHANNEL, 93, 0))
    at = data.rindex(b"MTrk")
    length = int.from_bytes(data[at + 4 : at + 8], "big") + len(dry)
    body = data[at + 8 :].replace(name, name + dry, 1)
    return data[:at] + b"MTrk" + length.to_bytes(4, "big") + body


# The child.


def _run(job: Job, soundfont: Soundfont, progress: Callable[[float], None]) -> None:
    worker = Worker("backing.audio.render_worker")
    try:
        watchdog = _Watchdog(worker.process, _longest_silence_s(job))

        def on_share(share: float) -> None:
            watchdog.reset()
            progress(share)

        try:
            answer = worker.ask(job, on_share)
        finally:
            watchdog.stop()
    finally:
        worker.end(patience_s=0)
    if watchdog.has_killed:
        raise BackingError(
            f"{job.soundfonts[-1]}: the engine made no progress for {watchdog.most_s:.0f} seconds. "
            "This soundfont is probably damaged. Choose another."
        )
    if isinstance(answer, ProcessError):
        raise _crash(answer, job, soundfont)
    if isinstance(answer, BackingError):
        raise answer


def _longest_silence_s(job: Job) -> float:
    """How long the child may report nothing: midirenderer reports only at the end."""
    music_s = 0.0 if job.engine == FLUIDSYNTH else job.frames / job.rate
    return max(SILENT_S, music_s)


class _Watchdog:
    """Kills a child that reports nothing for too long: a damaged soundfont can hang an engine."""

    def __init__(self, child: subprocess.Popen[bytes], most_s: float) -> None:
        self.most_s = most_s
        self.has_killed = False
        self._child = child
        self._reported = Event()
        self._stopped = False
        self._thread = Thread(target=self._run, daemon=True)
        self._thread.start()

    def reset(self) -> None:
        """Start the time again."""
        self._reported.set()

    def stop(self) -> None:
        """Stop watching."""
        self._stopped = True
        self._reported.set()
        self._thread.join()

    def _run(self) -> None:
        while self._reported.wait(self.most_s):
            self._reported.clear()
            if self._stopped:
                return
        self.has_killed = True
        self._child.kill()


def _crash(ended: ProcessError, job: Job, soundfont: Soundfont) -> BackingError:
    if ended.shortage is not None:
        return ShortageError(ended.shortage)
    if not has_memory(sum(map(os.path.getsize, job.soundfonts)) + ENGINE_BYTES):
        return ShortageError(MEMORY)
    if ended.signal:
        return BackingError(
            f"{soundfont.path}: the engine crashed on this soundfont (signal {ended.signal}). "
            "It is probably damaged. Choose another."
        )
    return BackingError(f"{soundfont.path}: {ended}")
