"""What the child that renders is asked to do, and what its engines share.

A raw file is little-endian float32, two channels interleaved.
"""

from __future__ import annotations

from typing import Any, NamedTuple

#: Frames that are mixed and written at once.
CHUNK = 16384
FADE_S = 0.25


class Job(NamedTuple):
    """What to render. Events are (frame, part, channel, message); clicks (frame, key, velocity).

    A channel modulo the number of parts is its part. `files` are raw files to write, by part;
    `mix` is the sum of all, the click included. `cores` is how many threads may render.
    `midis` are whole MIDI files by part, for an engine that reads those; `click_midi` has
    a click a second, in the order of `click_keys`. `tuning` is how many cents higher than
    A at 440 Hz all sounds that has pitch.
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
