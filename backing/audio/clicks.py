"""The click, added to the sound at exact frames.

Each sound at each velocity is rendered once, without reverb or chorus, and cut so that it starts
with its first audible frame: the first above a hundredth of its peak. Its level is set apart from
the parts: an accent's peak is 16 dB above their average level, and softer clicks are below it in
proportion to their velocities, so the click is audible over everything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backing.audio.job import Job

ACCENT_OVER_DB = 16.0
ACCENT_VELOCITY = 112
#: An accent's peak if nothing else sounds, and the level up to which that is so: an engine's
#: reverb is never quite silent.
ALONE, SILENT = 0.5, 1e-6
#: What counts as audible, as a share of a click's peak.
AUDIBLE = 0.01
#: How much of a click is rendered.
STRIKE_S = 0.4
PART = "click"


def mix_in(job: Job, strikes: dict[tuple[int, int], Any], rms: float) -> None:
    """Add the clicks to the raw mix, and write a file of them alone if the job names one.

    Args:
        job: where the clicks are, and the files.
        strikes: stereo float samples by key and velocity.
        rms: the average level of the parts; 0 if there are none.
    """
    import numpy as np

    accent = rms * 10 ** (ACCENT_OVER_DB / 20) if rms > SILENT else ALONE
    sounds = {
        key: ready(samples, accent * key[1] / ACCENT_VELOCITY, job.rate)
        for key, samples in strikes.items()
    }
    names = [job.mix]
    if PART in job.files:
        names.append(job.files[PART])
        with open(job.files[PART], "wb") as file:
            file.truncate(8 * job.frames)
    for name in names:
        with open(name, "r+b") as file:
            for frame, key, velocity in job.clicks:
                sound = sounds[key, velocity][: job.frames - frame]
                file.seek(8 * frame)
                there = np.frombuffer(file.read(sound.nbytes), "<f4")
                file.seek(8 * frame)
                file.write(there + sound.reshape(-1))


def ready(samples: Any, peak: float, rate: int) -> Any:
    """A click cut at its first audible frame, centered, faded out, at a peak; frames by two."""
    import numpy as np

    middle = samples.reshape(-1, 2).mean(axis=1)
    top = float(np.abs(middle).max(initial=0.0))
    if top == 0.0:
        return np.zeros((0, 2), "f4")
    middle = middle[int(np.argmax(np.abs(middle) >= AUDIBLE * top)) :]
    last = int(np.nonzero(np.abs(middle) >= AUDIBLE * top / 10)[0][-1]) + 1
    middle = middle[:last] * (peak / top)
    fade = min(last, rate // 200)
    middle[last - fade :] *= np.linspace(1, 0, fade, dtype="f4")
    return np.repeat(middle.astype("<f4")[:, None], 2, axis=1)
