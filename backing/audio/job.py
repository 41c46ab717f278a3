"""What the render worker gets, and what its engines share.

A raw file is little-endian float32, two channels interleaved.
"""

from __future__ import annotations

from typing import Any, NamedTuple

#: How many frames are mixed and written at a time.
CHUNK = 16384
FADE_S = 0.25


class Job(NamedTuple):
    """What to render. Events are (frame, part, channel, message); clicks (frame, key, velocity).

    A channel modulo the number of parts is its part. `files` are raw files to write, by part;
    `mix` is the sum of everything, with the click. `midis` are whole MIDI files by part, for an
    engine that reads those; `click_midi` has one click per second, in the order of `click_keys`.
    `tuning` is how many cents higher everything with a pitch sounds than with A at 440 Hz.
    `cores` is how many threads may render; the files are the same with any number.
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
    tuning: float = 0.0
    cores: int = 1


class Level:
    """The level of the parts, added up chunk by chunk: the RMS of the chunks that are not quiet."""

    def __init__(self) -> None:
        self.squares: list[float] = []

    def add(self, samples: Any) -> None:
        import numpy as np

        # Not `dot`: its library adds up in as many threads as the machine has cores.
        squares = np.square(samples, dtype="f8").sum()
        self.squares.append(float(squares) / max(1, len(samples)))

    @property
    def rms(self) -> float:
        """0 where there is no sound."""
        loud = max(self.squares, default=0.0) / 100
        counted = [square for square in self.squares if square > loud]
        return float((sum(counted) / len(counted)) ** 0.5) if counted else 0.0


def faded(samples: Any, start: int, job: Job) -> None:
    """Fade the last quarter second of a piece to silence, if `samples` reach into it."""
    import numpy as np

    fade = int(FADE_S * job.rate)
    end = start + len(samples) // 2
    first = max(start, job.frames - fade)
    if first < end:
        ramp = (job.frames - np.arange(first, end, dtype="f4")) / fade
        samples.reshape(-1, 2)[first - start :] *= ramp[:, None]
