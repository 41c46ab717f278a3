"""The child process that renders: a damaged soundfont can crash it, but not the command.

It answers one `Job` (see `system.child`). The raw files that the job names are the result; the
answer itself is None, or a BackingError that says why the engine failed.
"""

from __future__ import annotations

import gc
import threading
import time
from collections.abc import Callable
from contextlib import suppress

from backing.audio.job import Job
from backing.errors import BackingError, raise_shortage, reason
from backing.system.child import serve

#: The shortest time between two reports of the share done, in seconds.
REPORT_EVERY_S = 0.05


def main() -> None:
    """Answer the job on the standard input."""
    gc.disable()  # events are many and hold no cycles
    threading.Thread(target=_load_numpy, daemon=True).start()
    serve(_render)


def _load_numpy() -> None:
    """Load it while the job arrives; if that fails, it fails again where it is needed."""
    with suppress(Exception):
        import numpy  # noqa: F401


def _render(job: Job, report: Callable[[float], None]) -> None:
    from backing.audio.clicks import mix_in

    if job.engine == "fluidsynth":
        from backing.audio.synth_pool import play
    else:
        from backing.audio.wheel import play

    reported = 0.0

    def progress(frames: int) -> None:
        nonlocal reported
        now = time.monotonic()
        if now - reported >= REPORT_EVERY_S or frames == job.frames:
            reported = now
            report(frames / max(1, job.frames))

    try:
        mix_in(job, play(job, progress))
    except OSError as error:
        raise_shortage(error)
        raise BackingError(f"The sound can't be rendered: {reason(error)}.") from None
