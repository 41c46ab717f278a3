"""The child process that renders: a damaged bank can end it, but not the command.

It is told what to do by one pickled `Job` on its standard input, and says on what was its
standard output, a line each, `p FRAMES` as it goes on, and at the end `done`, or `error WORDS`;
what a library prints goes to the error stream, so that it is no word of ours. When its input
ends, its parent is gone, and it ends too.
"""

from __future__ import annotations

import gc
import os
import pickle
import sys
import threading
import time

from backing.audio.job import Job, Refused
from backing.system.child import words

#: Where the parent listens.
_words = 1
#: How often it hears how far the work is, in seconds.
SAY_S = 0.05


def main() -> None:
    """Do the job on the standard input."""
    global _words
    _words = words()
    gc.disable()  # events are many and hold no cycles
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
        from backing.audio.synth_pool import play
    else:
        from backing.audio.wheel import play

    said = 0.0

    def progress(frames: int) -> None:
        nonlocal said
        now = time.monotonic()
        if now - said >= SAY_S or frames == job.frames:
            said = now
            _say(f"p {frames}")

    mix_in(job, *play(job, progress))


def _end_with_parent() -> None:
    # The bare descriptor: a thread inside stdin's buffer would abort the interpreter's shutdown.
    while os.read(sys.stdin.fileno(), 4096):
        pass
    os._exit(1)


def _say(line: str) -> None:
    os.write(_words, (line.replace("\n", " ") + "\n").encode())
