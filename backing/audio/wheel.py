"""The engine that pip alone installs: midirenderer, which reads whole MIDI files."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from backing.audio.clicks import STRIKE_S
from backing.audio.job import Job, faded
from backing.errors import BackingError


def play(job: Job, progress: Callable[[int], None]) -> dict[int, Any]:
    """Write the raw files without the click; returns the click's sounds by key."""
    import numpy as np

    with open(job.soundfonts[-1], "rb") as file:
        soundfont = file.read()
    second = job.rate
    strikes = {}
    if job.click_keys:
        played = _played(job, soundfont, job.click_midi)
        for index, key in enumerate(job.click_keys):
            at = 2 * index * second
            strikes[key] = played[at : at + 2 * int(STRIKE_S * second)].copy()
    total = np.zeros(2 * job.frames, "f4")
    for part, midi in job.midis.items():
        samples = np.zeros(2 * job.frames, "f4")
        played = _played(job, soundfont, midi)[: len(samples)]
        samples[: len(played)] = played
        faded(samples, 0, job)
        total += samples
        if part in job.files:
            with open(job.files[part], "wb") as file:
                file.write(samples.tobytes())
    with open(job.mix, "wb") as file:
        file.write(total.data)
    progress(job.frames)
    return strikes


def _played(job: Job, soundfont: bytes, midi: bytes) -> Any:
    """A MIDI file as floats; midirenderer returns a 16-bit WAV file."""
    import midirenderer
    import numpy as np

    wav = bytes(midirenderer.render_wave_from(soundfont, midi))
    rate = int.from_bytes(wav[24:28], "little")
    if rate != job.rate or wav[34:36] != b"\x10\x00":
        raise BackingError(f"midirenderer gave sound of {rate} Hz, which was not expected.")
    start = wav.index(b"data", 36) + 8
    return np.frombuffer(wav[start : len(wav) - (len(wav) - start) % 4], "<i2").astype("f4") / 32768
