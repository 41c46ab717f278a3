"""What the render worker gets, and what its engines share.

A raw file is little-endian float32, two channels interleaved.
"""

from __future__ import annotations

from typing import Any, NamedTuple

#: How many frames are mixed and written at a time.
CHUNK = 16384
FADE_S = 0.25


class Job(NamedTuple):
    """What to render. Events are (frame, part, channel, message); clicks (frame, key, amplitude).

    A channel modulo the number of parts is its part. `files` are raw files to write, by part;
    `mix` is the sum of everything, with the click. `midis` are whole MIDI files by part, for an
    engine that reads those; `click_midi` has one click per second, in the order of `click_keys`.
    Every click's amplitude, a share of an accent's, is multiplied by `click_gain`.
    `tuning` is how many cents higher everything with a pitch sounds than with A at 440 Hz.
    `shortened` has timecents by program: how much longer (or below 0, shorter) its notes end.
    `cores` is how many threads may render; the files are the same with any number.
    """

    engine: str
    soundfonts: tuple[str, ...]
    rate: int
    frames: int
    parts: tuple[str, ...]
    percussion: tuple[int, ...]
    events: list[tuple[int, int, int, bytes]]
    clicks: list[tuple[int, int, float]]
    click_keys: tuple[int, ...]
    mix: str
    files: dict[str, str]
    midis: dict[str, bytes]
    click_midi: bytes
    tuning: float = 0.0
    cores: int = 1
    click_gain: float = 1.0
    shortened: tuple[tuple[int, float], ...] = ()


def faded(samples: Any, start: int, job: Job) -> None:
    """Fade the last quarter second of a piece to silence, if `samples` reach into it."""
    import numpy as np

    fade = int(FADE_S * job.rate)
    end = start + len(samples) // 2
    first = max(start, job.frames - fade)
    if first < end:
        ramp = (job.frames - np.arange(first, end, dtype="f4")) / fade
        samples.reshape(-1, 2)[first - start :] *= ramp[:, None]
