"""The child process that renders: a damaged bank can end it, but not the command.

It is told what to do by one pickled `Job` on its standard input, and says on what was its
standard output, a line each, `p FRAMES` as it goes on, and at the end `done`, or `error WORDS`;
what a library prints goes to the error stream, so that it is no word of ours. When its input
ends, its parent is gone, and it ends too.

A raw file is little-endian float32, two channels interleaved.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
import threading
from typing import Any, NamedTuple

#: Frames that are mixed and written at once.
CHUNK = 16384
FADE_S = 0.25

#: Where the parent listens.
_words = 1


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


class Refused(Exception):
    """Why an engine can't render, as a sentence for the user."""


def main() -> None:
    """Do the job on the standard input."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides, and ends this process
    gc.disable()  # events are many and hold no cycles
    global _words
    _words = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    job: Job = pickle.load(sys.stdin.buffer)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    threading.Thread(target=__import__, args=("numpy",), daemon=True).start()
    try:
        _render(job)
    except OSError as error:
        _say(f"error {error.strerror or error}")
    except Refused as error:
        _say(f"error {error}")
    else:
        _say("done")


def _render(job: Job) -> None:
    from backing.audio.clicks import mix_in

    if job.engine == "fluidsynth":
        from backing.audio.playing import play
    else:
        from backing.audio.wheel import play

    def progress(frames: int) -> None:
        _say(f"p {frames}")

    mix_in(job, *play(job, progress))


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
