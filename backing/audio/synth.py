"""One FluidSynth: its C library, with the few calls needed here."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterable, Mapping
from typing import Any

from backing.errors import BackingError
from backing.system.shortages import LITTLE_BYTES, need_memory

#: FluidSynth's own gain; samples are floats, so the level is set later and nothing clips.
GAIN = 0.4
#: A small room, hardly noticeable, and a chorus only for the programs that use one.
REVERB = {"room-size": 0.35, "damp": 0.3, "width": 0.8, "level": 0.6}
CHORUS = {"nr": 3.0, "level": 1.0, "speed": 0.3, "depth": 5.0}
ALL = -1
#: What must be left once the soundfonts are loaded, in bytes.
SPARE_BYTES = 16 << 20
#: The fine tuning's number among generators (SoundFont 2.01, 8.1.3).
FINE_TUNE = 52
#: And that of the length of an ending, in timecents.
VOLUME_RELEASE = 38


class Synth:
    """A synthesizer with soundfonts loaded; each of its `groups` has separate effects.

    A channel modulo `groups` is the group that it sounds in. `shortened` has timecents to add to
    the length of a program's endings.

    Raises:
        BackingError: it can't be started, or can't read a soundfont.
        MemoryError, OSError: that is because of too little memory, or too many open files.
    """

    def __init__(self, soundfonts: Iterable[str], rate: int, channels: int, groups: int) -> None:
        from backing.audio.engines import load_fluidsynth

        fluidsynth = load_fluidsynth()
        self.fl, self.fs, self.groups = fluidsynth._fl, fluidsynth, groups
        self.shortened: Mapping[int, float] = {}
        self._percussion: set[int] = set()
        settings = fluidsynth.new_fluid_settings()
        numbers = {"synth.sample-rate": float(rate), "synth.gain": GAIN}
        numbers |= {f"synth.reverb.{name}": value for name, value in REVERB.items()}
        numbers |= {f"synth.chorus.{name}": value for name, value in CHORUS.items() if name != "nr"}
        whole = {"synth.midi-channels": 16 * -(-channels // 16)}
        whole |= {"synth.chorus.nr": int(CHORUS["nr"]), "synth.cpu-cores": 1}
        for name in ("audio-channels", "audio-groups", "effects-groups"):
            whole[f"synth.{name}"] = groups
        for name, value in numbers.items():
            fluidsynth.fluid_settings_setnum(settings, name.encode(), value)
        for name, number in whole.items():
            fluidsynth.fluid_settings_setint(settings, name.encode(), number)
        self.synth = fluidsynth.new_fluid_synth(settings)
        if not self.synth:
            need_memory(LITTLE_BYTES)
            raise BackingError("FluidSynth can't be started.")
        self.pointer = ctypes.c_void_p(self.synth)
        for path in soundfonts:
            if fluidsynth.fluid_synth_sfload(self.synth, os.fsencode(path), 1) < 0:
                with open(path, "rb"):
                    need_memory(os.path.getsize(path) + LITTLE_BYTES)
                raise BackingError(f"{path}: FluidSynth can't read this soundfont. Choose another.")
        need_memory(SPARE_BYTES)  # it leaves notes out where it gets none

    def drums(self, channels: Iterable[int]) -> None:
        """Make these channels percussion instead of channel 10 of General MIDI."""
        self.fl.fluid_synth_set_channel_type(self.pointer, 9, 0)
        self._percussion |= set(channels)
        for channel in self._percussion:
            self.fl.fluid_synth_set_channel_type(self.pointer, channel, 1)
            self.fs.fluid_synth_program_change(self.synth, channel, 0)

    def tune(self, channels: Iterable[int], cents: float) -> None:
        """Make channels sound higher by a number of cents, to the nearest whole cent.

        FluidSynth cuts a voice's pitch down to whole cents (seen in 2.3.1), and a soundfont's own
        pitches are whole cents, so half a cent more makes it round.
        """
        for channel in channels:
            self._set(channel, FINE_TUNE, cents + 0.5)

    def _set(self, channel: int, generator: int, amount: float) -> None:
        """Add an amount to a generator of all notes on a channel."""
        self.fl.fluid_synth_set_gen(self.pointer, channel, generator, ctypes.c_float(amount))

    def reverb(self, on: bool, group: int = ALL) -> None:
        """Switch a group's reverb, or all of them."""
        self.fl.fluid_synth_reverb_on(self.pointer, group, int(on))

    def chorus(self, on: bool, group: int = ALL) -> None:
        """Switch a group's chorus, or all of them."""
        self.fl.fluid_synth_chorus_on(self.pointer, group, int(on))

    def send(self, channel: int, message: bytes) -> None:
        """Send a message to a channel; the channel in the message is ignored."""
        kind = message[0] & 0xF0
        if kind == 0x90:
            self.fs.fluid_synth_noteon(self.synth, channel, message[1], message[2])
        elif kind == 0x80:
            self.fs.fluid_synth_noteoff(self.synth, channel, message[1])
        elif kind == 0xB0:
            self.fs.fluid_synth_cc(self.synth, channel, message[1], message[2])
        elif kind == 0xC0:
            self.fs.fluid_synth_program_change(self.synth, channel, message[1])
            if self.shortened and channel not in self._percussion:
                self._set(channel, VOLUME_RELEASE, self.shortened.get(message[1], 0.0))
        elif kind == 0xE0:
            wheel = message[1] | message[2] << 7
            self.fs.fluid_synth_pitch_bend(self.synth, channel, wheel)

    @property
    def voices(self) -> int:
        """How many voices sound."""
        return int(self.fl.fluid_synth_get_active_voice_count(self.pointer))

    def hush(self) -> None:
        """End all sound at once, and reset the channels."""
        self.fl.fluid_synth_all_sounds_off(self.pointer, ALL)
        self.fs.fluid_synth_system_reset(self.synth)

    def process(self, frames: int, planes: Planes, at: int, effects: Planes | None = None) -> None:
        """Add frames to planes of floats, two for each group, from frame `at` on.

        Each group's reverb and chorus go into its own two planes, or all into `effects`:
        four planes for each group, two of the reverb and two of the chorus.
        """
        dry = planes.pointers(at)
        wet = planes.doubled(at) if effects is None else effects.pointers(at)
        self.fl.fluid_synth_process(self.pointer, frames, len(wet), wet, len(dry), dry)


class Planes:
    """Rows of float32 samples, silent at first, and where they lie in memory."""

    def __init__(self, rows: int, frames: int) -> None:
        import numpy as np

        self.samples: Any = np.zeros((rows, frames), "f4")
        start, step = self.samples.ctypes.data, self.samples.strides[0]
        self._starts = [start + row * step for row in range(rows)]
        pairs = [self._starts[row : row + 2] * 2 for row in range(0, rows, 2)]
        self._doubled = [start for pair in pairs for start in pair]

    def pointers(self, at: int) -> Any:
        """The address of each row, from frame `at` on."""
        return (ctypes.c_void_p * len(self._starts))(*[start + 4 * at for start in self._starts])

    def doubled(self, at: int) -> Any:
        """As `pointers`, but each pair of rows twice: for the reverb, and for the chorus."""
        return (ctypes.c_void_p * len(self._doubled))(*[start + 4 * at for start in self._doubled])
