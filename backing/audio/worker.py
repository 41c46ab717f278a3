"""The child process that renders: a damaged bank can end it, but not the command.

It is told what to do by one pickled `Job` on its standard input, and says on what was its
standard output, a line each, `p FRAMES` as it goes on, and at the end `done`, or `error WORDS`;
what a library prints goes to the error stream, so that it is no word of ours. When its input
ends, its parent is gone, and it ends too.

A raw file is little-endian float32, two channels interleaved. Parts are rendered in whole
blocks of FluidSynth's 64 frames, each event on the block nearest to its frame.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
from typing import Any, NamedTuple

BLOCK = 64
CHUNK = 256 * BLOCK
#: FluidSynth's own gain; samples are floats, so the level is set later and nothing clips.
GAIN = 0.4
#: A small room, more felt than heard, and a chorus only for the programs that ask for one.
REVERB = {"room-size": 0.35, "damp": 0.3, "width": 0.8, "level": 0.6}
CHORUS = {"nr": 3.0, "level": 1.0, "speed": 0.3, "depth": 5.0}
CLICK_S = 0.4
FADE_S = 0.25

#: Where the parent listens.
_words = 1


class Job(NamedTuple):
    """What to render. Events are (frame, part, channel, message); clicks (frame, key, velocity).

    `files` are raw files to write, by part; `mix` is the sum of all, the click included.
    `midis` are whole MIDI files by part, for an engine that reads those; `click_midi` has
    a click a second, in the order of `click_keys`.
    """

    engine: str
    soundfonts: tuple[str, ...]
    rate: int
    frames: int
    parts: tuple[str, ...]
    percussion: tuple[int, ...]
    events: list[tuple[int, int, int, bytes]]
    clicks: list[tuple[int, int, int]]
    click_keys: tuple[tuple[int, int], ...]
    mix: str
    files: dict[str, str]
    midis: dict[str, bytes]
    click_midi: bytes


def main() -> None:
    """Do the job on the standard input."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides, and ends this process
    global _words
    _words = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    job: Job = pickle.load(sys.stdin.buffer)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    threading.Thread(target=__import__, args=("numpy",), daemon=True).start()
    try:
        from backing.audio.clicks import mix_in

        strikes, level = _fluidsynth(job) if job.engine == "fluidsynth" else _midirenderer(job)
        mix_in(job, strikes, level)
    except OSError as error:
        _say(f"error {error.strerror or error}")
    except Refused as error:
        _say(f"error {error}")
    else:
        _say("done")


class Refused(Exception):
    """Why an engine can't render, as a sentence for the user."""


def _end_with_parent() -> None:
    # The bare descriptor: a thread inside stdin's buffer would abort the interpreter's shutdown.
    while os.read(sys.stdin.fileno(), 4096):
        pass
    os._exit(1)


def _say(line: str) -> None:
    os.write(_words, (line.replace("\n", " ") + "\n").encode())


class Level:
    """The loudness of the parts as they go by: the root of their mean square where they sound."""

    def __init__(self) -> None:
        self.squares: list[float] = []

    def add(self, samples: Any) -> None:
        import numpy as np

        self.squares.append(float(np.dot(samples, samples)) / max(1, len(samples)))

    @property
    def rms(self) -> float:
        """0 where there is no sound."""
        loud = max(self.squares, default=0.0) / 100
        heard = [square for square in self.squares if square > loud]
        return float((sum(heard) / len(heard)) ** 0.5) if heard else 0.0


def faded(samples: Any, start: int, job: Job) -> None:
    """Bring the last quarter second of a piece down to silence, where `samples` reach into it."""
    import numpy as np

    fade = int(FADE_S * job.rate)
    end = start + len(samples) // 2
    first = max(start, job.frames - fade)
    if first < end:
        ramp = (job.frames - np.arange(first, end, dtype="f4")) / fade
        samples.reshape(-1, 2)[first - start :] *= ramp[:, None]


# FluidSynth


class _Synth:
    """FluidSynth's C library, with the few calls needed here."""

    def __init__(self, job: Job) -> None:
        import ctypes

        from backing.audio.engines import load_fluidsynth

        fluidsynth = load_fluidsynth()
        self.c, self.fl, self.fs = ctypes, fluidsynth._fl, fluidsynth
        self.groups = len(job.parts) if job.files else 1
        settings = fluidsynth.new_fluid_settings()
        channels = 16 * (max((event[2] for event in job.events), default=0) // 16 + 1)
        numbers = {"synth.sample-rate": float(job.rate), "synth.gain": GAIN}
        numbers |= {f"synth.reverb.{name}": value for name, value in REVERB.items()}
        numbers |= {f"synth.chorus.{name}": value for name, value in CHORUS.items() if name != "nr"}
        whole = {"synth.midi-channels": channels, "synth.chorus.nr": int(CHORUS["nr"])}
        whole |= {f"synth.{name}": self.groups for name in ("audio-channels", "audio-groups")}
        whole |= {"synth.effects-groups": self.groups, "synth.cpu-cores": 1}
        for name, value in numbers.items():
            fluidsynth.fluid_settings_setnum(settings, name.encode(), value)
        for name, number in whole.items():
            fluidsynth.fluid_settings_setint(settings, name.encode(), number)
        self.synth = fluidsynth.new_fluid_synth(settings)
        if not self.synth:
            raise Refused("FluidSynth can't be started.")
        self.pointer = ctypes.c_void_p(self.synth)
        for path in job.soundfonts:
            if fluidsynth.fluid_synth_sfload(self.synth, os.fsencode(path), 1) < 0:
                raise Refused(f"{path}: FluidSynth can't read this soundfont. Choose another.")
        self.fl.fluid_synth_write_float.argtypes = [ctypes.c_void_p, ctypes.c_int] + [
            ctypes.c_void_p,
            ctypes.c_int,
            ctypes.c_int,
        ] * 2

    def drums(self, channels: tuple[int, ...]) -> None:
        """Make these channels percussion, and all others not."""
        for channel in channels:
            self.fl.fluid_synth_set_channel_type(self.pointer, channel, 1)
            self.fs.fluid_synth_program_change(self.synth, channel, 0)

    def effects(self, on: bool) -> None:
        self.fl.fluid_synth_set_reverb_on(self.pointer, int(on))
        self.fl.fluid_synth_set_chorus_on(self.pointer, int(on))

    def send(self, channel: int, message: bytes) -> None:
        kind = message[0] & 0xF0
        if kind == 0x90:
            self.fs.fluid_synth_noteon(self.synth, channel, message[1], message[2])
        elif kind == 0x80:
            self.fs.fluid_synth_noteoff(self.synth, channel, message[1])
        elif kind == 0xB0:
            self.fs.fluid_synth_cc(self.synth, channel, message[1], message[2])
        elif kind == 0xC0:
            self.fs.fluid_synth_program_change(self.synth, channel, message[1])
        elif kind == 0xE0:
            wheel = message[1] | message[2] << 7
            self.fs.fluid_synth_pitch_bend(self.synth, channel, wheel)

    def write(self, frames: int, into: Any, at: int) -> None:
        """Render frames into an interleaved buffer of floats, from its frame `at` on."""
        address = self.c.c_void_p(into.ctypes.data)
        self.fl.fluid_synth_write_float(
            self.pointer, frames, address, 2 * at, 2, address, 2 * at + 1, 2
        )

    def process(self, frames: int, into: Any, at: int) -> None:
        """Add frames to planes of floats, two a part, from frame `at` on."""
        size = into.itemsize
        out = [into.ctypes.data + (row * into.shape[1] + at) * size for row in range(len(into))]
        # Each part has a reverb and a chorus of its own, which go into its own two planes.
        wet = [side for part in range(self.groups) for side in out[2 * part : 2 * part + 2] * 2]
        planes = (self.c.c_void_p * len(out))(*out)
        effects = (self.c.c_void_p * len(wet))(*wet)
        self.fl.fluid_synth_process(self.pointer, frames, len(wet), effects, len(out), planes)


def _fluidsynth(job: Job) -> tuple[dict[tuple[int, int], Any], float]:
    import numpy as np

    synth = _Synth(job)
    synth.effects(False)
    synth.drums((9,))
    strikes = {}
    for key, velocity in job.click_keys:
        planes = np.zeros((2 * synth.groups, int(CLICK_S * job.rate) // BLOCK * BLOCK), "f4")
        synth.send(9, bytes((0x99, key, velocity)))
        synth.process(planes.shape[1], planes, 0)
        strikes[key, velocity] = (planes[0::2].sum(0) + planes[1::2].sum(0)).repeat(2)
        synth.fs.fluid_synth_all_sounds_off(synth.synth, 9)
        synth.fs.fluid_synth_system_reset(synth.synth)
    synth.effects(True)
    synth.fl.fluid_synth_set_channel_type(synth.pointer, 9, 0)
    synth.drums(job.percussion)
    return strikes, (_stems if job.files else _mix)(job, synth)


def _mix(job: Job, synth: _Synth) -> float:
    import numpy as np

    level, buffer = Level(), np.zeros(2 * CHUNK, "f4")
    with open(job.mix, "wb") as file:
        for start, count in _chunks(job, synth.send, lambda n, at: synth.write(n, buffer, at)):
            samples = buffer[: 2 * count]
            faded(samples, start, job)
            level.add(samples)
            file.write(samples.tobytes())
    return level.rms


def _stems(job: Job, synth: _Synth) -> float:
    import numpy as np

    level, planes = Level(), np.zeros((2 * len(job.parts), CHUNK), "f4")
    files = [open(job.files[part], "wb") for part in job.parts]  # noqa: SIM115
    mix, one = np.zeros((CHUNK, 2), "f4"), np.zeros((CHUNK, 2), "f4")
    with open(job.mix, "wb") as file:
        for start, count in _chunks(job, synth.send, lambda n, at: synth.process(n, planes, at)):
            mix[:] = 0
            for index, stem in enumerate(files):
                one[:, 0], one[:, 1] = planes[2 * index], planes[2 * index + 1]
                faded(one[:count].reshape(-1), start, job)
                mix += one
                stem.write(one[:count].tobytes())
            level.add(mix[:count].reshape(-1))
            file.write(mix[:count].tobytes())
            planes[:] = 0
    for stem in files:
        stem.close()
    return level.rms


def _chunks(job: Job, send: Any, render: Any) -> Any:
    """Send events and render between them; yields each chunk's first frame and length."""
    events = iter(job.events)
    event = next(events, None)
    for start in range(0, job.frames, CHUNK):
        at = 0
        while at < CHUNK:
            while event is not None and (event[0] + BLOCK // 2) // BLOCK * BLOCK <= start + at:
                send(event[2], event[3])
                event = next(events, None)
            following = CHUNK
            if event is not None:
                following = min(CHUNK, (event[0] + BLOCK // 2) // BLOCK * BLOCK - start)
            render(following - at, at)
            at = following
        _say(f"p {min(start + CHUNK, job.frames)}")
        yield start, min(CHUNK, job.frames - start)


# midirenderer


def _midirenderer(job: Job) -> tuple[dict[tuple[int, int], Any], float]:
    import numpy as np

    with open(job.soundfonts[-1], "rb") as file:
        bank = file.read()
    second = job.rate
    strikes = {}
    if job.click_keys:
        played = _played(job, bank, job.click_midi)
        for index, key in enumerate(job.click_keys):
            at = 2 * index * second
            strikes[key] = played[at : at + 2 * int(CLICK_S * second)].copy()
    level = Level()
    total = np.zeros(2 * job.frames, "f4")
    for part, midi in job.midis.items():
        samples = np.zeros(2 * job.frames, "f4")
        heard = _played(job, bank, midi)[: len(samples)]
        samples[: len(heard)] = heard
        faded(samples, 0, job)
        total += samples
        if part in job.files:
            with open(job.files[part], "wb") as file:
                file.write(samples.tobytes())
    for at in range(0, len(total), 2 * CHUNK):
        level.add(total[at : at + 2 * CHUNK])
    with open(job.mix, "wb") as file:
        file.write(total.data)
    _say(f"p {job.frames}")
    return strikes, level.rms


def _played(job: Job, bank: bytes, midi: bytes) -> Any:
    """A MIDI file as floats: what comes back is a WAV file of 16 bits."""
    import midirenderer
    import numpy as np

    wav = bytes(midirenderer.render_wave_from(bank, midi))
    rate = int.from_bytes(wav[24:28], "little")
    if rate != job.rate or wav[34:36] != b"\x10\x00":
        raise Refused(f"midirenderer gave sound of {rate} Hz, which was not expected.")
    start = wav.index(b"data", 36) + 8
    return np.frombuffer(wav[start : len(wav) - (len(wav) - start) % 4], "<i2").astype("f4") / 32768
