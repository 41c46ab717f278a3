"""The click, added to the sound at exact frames.

Each sound is rendered once, without reverb or chorus, and cut so that it starts with its first
audible frame: the first above a hundredth of its peak. Softer clicks are below an accent in
proportion to their velocities. How loud an accent is beside the parts is a matter of the balance.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from backing.score import with_settings
from backing.theory.device_levels import IN_BALANCE

if TYPE_CHECKING:
    from backing.audio.job import Job
    from backing.score import Note, Track

ACCENT_VELOCITY = 112
#: What counts as audible, as a share of a click's peak.
AUDIBLE = 0.01
#: How much of a click is rendered.
STRIKE_S = 0.4
PART = "click"


def amplitudes(track: Track) -> Iterator[tuple[Note, float]]:
    """The click's notes, each with its amplitude as a share of an accent's in balance."""
    for note, now in with_settings(track):
        yield note, note.velocity / ACCENT_VELOCITY * (now.volume / IN_BALANCE) ** 2


def mix_in(job: Job, strikes: dict[int, Any]) -> None:
    """Add the clicks to the raw mix, and write a file of them alone if the job names one.

    Args:
        job: where the clicks are, and the files.
        strikes: an accent's stereo float samples by key.
    """
    import numpy as np

    sounds = {key: ready(samples, job.rate) for key, samples in strikes.items()}
    names = [job.mix]
    if PART in job.files:
        names.append(job.files[PART])
        with open(job.files[PART], "wb") as file:
            file.truncate(8 * job.frames)
    for name in names:
        with open(name, "r+b") as file:
            for frame, key, amplitude in job.clicks:
                sound = sounds[key][: job.frames - frame] * np.float32(amplitude * job.click_gain)
                file.seek(8 * frame)
                there = np.frombuffer(file.read(sound.nbytes), "<f4")
                file.seek(8 * frame)
                file.write(there + sound.reshape(-1))


def ready(samples: Any, rate: int) -> Any:
    """A click cut at its first audible frame, centered, and faded out; frames by two."""
    import numpy as np

    middle = samples.reshape(-1, 2).mean(axis=1)
    top = float(np.abs(middle).max(initial=0.0))
    if top == 0.0:
        return np.zeros((0, 2), "f4")
    middle = middle[int(np.argmax(np.abs(middle) >= AUDIBLE * top)) :]
    last = int(np.nonzero(np.abs(middle) >= AUDIBLE * top / 10)[0][-1]) + 1
    middle = middle[:last].copy()
    fade = min(last, rate // 200)
    middle[last - fade :] *= np.linspace(1, 0, fade, dtype="f4")
    return np.repeat(middle.astype("<f4")[:, None], 2, axis=1)
