"""FluidSynth plays a job: the parts are shared out to synthesizers, which threads run at once.

The library releases the interpreter while it works, so threads use several cores, and it loads a
soundfont's samples once for all of them. Sound is rendered in whole blocks of its 64 frames; each
event is on the block nearest to its frame.

In FluidSynth 2.3.1 the loudness of a voice's first 64 frames starts from what another note left in
its slot (seen: notes alone and among others differ there and nowhere else). So the first 1.5 ms of
an attack depend a little on what else the synthesizer plays. That is why the song alone decides
which synthesizer plays what, and in which order the sounds are added up: on any number of cores the
bytes are the same. A mix is the sum of its stems, and the same with or without them, within the
rounding of floats.
"""

from __future__ import annotations

import threading
from collections import defaultdict, deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from math import isfinite
from queue import Queue
from typing import Any, NamedTuple

from backing.audio.clicks import ACCENT_VELOCITY, STRIKE_S
from backing.audio.job import CHUNK, Job, faded
from backing.audio.synth import Planes, Synth
from backing.errors import BackingError

BLOCK = 64
#: How many voices a synthesizer must play on average to be worth its effects: they take as much
#: time as about 7 voices (measured with two songs of 10 and 47 voices).
VOICES_EACH = 20
#: How far a thread may be ahead of what is written, in chunks.
AHEAD = 16
#: How many notes are tried at once, and for how many frames.
TRIED, TRIED_FRAMES = 48, 32 * BLOCK
#: A part whose chorus is below this share of its peak (100 dB under it) has none.
INAUDIBLE = 1e-5
#: How long a voice sounds on after its note ends, in seconds: a guess, used only to make shares.
RELEASE_S = 0.5
GM_DRUMS = 9


class Share(NamedTuple):
    """Parts by number, and which of them send to the chorus."""

    parts: tuple[int, ...]
    chorused: frozenset[int]


def play(job: Job, progress: Callable[[int], None]) -> dict[int, Any]:
    """Write the raw files without the click; returns the click's sounds by key."""
    trial = Synth(job.soundfonts, job.rate, 1 + max([15, *(event[2] for event in job.events)]), 1)
    strikes = _strikes(job, trial)
    shares = _shares(job, trial)
    _mix(job, shares, _chunks(job, shares), progress)
    return strikes


def _strikes(job: Job, synth: Synth) -> dict[int, Any]:
    """Each accented click alone and dry: interleaved samples by key."""
    frames = int(STRIKE_S * job.rate) // BLOCK * BLOCK
    synth.reverb(False)
    synth.chorus(False)
    strikes = {}
    for key in job.click_keys:
        planes = Planes(2, frames)
        synth.send(GM_DRUMS, bytes((0x99, key, ACCENT_VELOCITY)))
        synth.process(frames, planes, 0)
        strikes[key] = planes.samples.mean(0).repeat(2)
        synth.hush()
    return strikes


# Which synthesizer plays which parts.


def _shares(job: Job, synth: Synth) -> list[Share]:
    """The parts, shared out so that all shares have about the same work, the largest first.

    This depends on the song and the soundfont alone, never on the machine.
    """
    costs, chorused = _costs(job, synth)
    voices = sum(costs) * job.rate / max(1, job.frames)
    count = max(1, min(int(voices / VOICES_EACH), sum(cost > 0 for cost in costs)))
    loads, lists = [0.0] * count, [[] for _ in range(count)]  # type: list[float], list[list[int]]
    for part in sorted(range(len(costs)), key=lambda part: -costs[part]):
        lightest = loads.index(min(loads))
        loads[lightest] += costs[part]
        lists[lightest].append(part)
    return [Share(tuple(sorted(parts)), frozenset(parts) & chorused) for parts in lists]


def _costs(job: Job, synth: Synth) -> tuple[list[float], frozenset[int]]:
    """Each part's seconds of sounding voices, and the parts that send to the chorus.

    Each note is tried once, because only the engine knows how many voices it has.
    """
    lasts: list[dict[tuple[int, int, int], float]] = [defaultdict(float) for _ in job.parts]
    since: dict[tuple[int, int], tuple[int, int]] = {}
    programs: dict[int, int] = {}
    for frame, part, channel, message in job.events:
        kind = message[0] & 0xF0
        if kind == 0xC0:
            programs[channel] = message[1]
        elif kind == 0x90:
            since[channel, message[1]] = frame, programs.get(channel, 0)
        elif kind == 0x80 and (channel, message[1]) in since:
            start, program = since.pop((channel, message[1]))
            key = channel, program, message[1]
            lasts[part][key] += (frame - start) / job.rate + RELEASE_S
    synth.chorus(True)
    synth.drums(job.percussion)
    costs, chorused = [], []
    for part, keys in enumerate(lasts):
        voices, chorus = _tried(synth, list(keys))
        costs.append(sum(keys[key] * count for key, count in voices.items()))
        if chorus:
            chorused.append(part)
    return costs, frozenset(chorused)


def _tried(
    synth: Synth, keys: Sequence[tuple[int, int, int]]
) -> tuple[dict[tuple[int, int, int], int], bool]:
    """How many voices each note has, and whether any of them sends to the chorus."""
    import numpy as np

    voices, chorus = {}, False
    for at in range(0, len(keys), TRIED):
        for channel, program, key in keys[at : at + TRIED]:
            before = synth.voices
            synth.send(channel, bytes((0xC0, program)))
            synth.send(channel, bytes((0x90, key, 100)))
            voices[channel, program, key] = synth.voices - before
        dry, wet = Planes(2, TRIED_FRAMES), Planes(4, TRIED_FRAMES)
        synth.process(TRIED_FRAMES, dry, 0, wet)
        from_chorus = float(np.abs(wet.samples[2:]).max())
        chorus = chorus or from_chorus > INAUDIBLE * float(np.abs(dry.samples).max())
        synth.fl.fluid_synth_all_sounds_off(synth.pointer, -1)
    synth.process(TRIED_FRAMES, Planes(2, TRIED_FRAMES), 0)
    return voices, chorus


# The threads.


def _chunks(job: Job, shares: Sequence[Share]) -> Iterator[list[Any]]:
    """For each chunk, the planes of every share, in the order of the shares."""
    threads = min(job.cores, len(shares))
    if threads <= 1:
        return map(list, zip(*(_planes(job, share) for share in shares), strict=True))
    queues = [_rendered_ahead(job, shares[number::threads]) for number in range(threads)]
    return (_in_order(queues, len(shares)) for _ in range(0, job.frames, CHUNK))


def _in_order(queues: Sequence[Queue[Any]], shares: int) -> list[Any]:
    """The next chunk of every share, from queues that take turns."""
    return [_taken(queues[number % len(queues)]) for number in range(shares)]


def _rendered_ahead(job: Job, shares: Sequence[Share]) -> Queue[Any]:
    """A queue of the chunks of some shares, in turn, from a thread that starts at once."""
    queue: Queue[Any] = Queue(AHEAD * len(shares))

    def run() -> None:
        try:
            for chunks in zip(*(_planes(job, share) for share in shares), strict=True):
                for planes in chunks:
                    queue.put(planes)
        except Exception as error:
            queue.put(error)

    threading.Thread(target=run, daemon=True).start()
    return queue


def _taken(queue: Queue[Any]) -> Any:
    planes = queue.get()
    if isinstance(planes, Exception):
        raise planes
    return planes


def _planes(job: Job, share: Share) -> Iterator[Any]:
    """A share's chunks in order, two planes of samples for each group."""
    own = {
        channel: _own_channel(channel, share, len(job.parts))
        for channel in {event[2] for event in job.events if event[1] in share.parts}
    }
    groups = max(1, len(share.parts)) if job.files else 1
    synth = _synth_for(job, share, own, groups)
    events = deque(event for event in job.events if event[1] in share.parts)
    for start in range(0, job.frames, CHUNK):
        planes, at = Planes(2 * groups, CHUNK), 0
        while at < CHUNK:
            while events and _block(events[0][0]) <= start + at:
                _, _, channel, message = events.popleft()
                synth.send(own[channel], message)
            following = min(CHUNK, _block(events[0][0]) - start) if events else CHUNK
            synth.process(following - at, planes, at)
            at = following
        yield planes.samples


def _synth_for(job: Job, share: Share, own: Mapping[int, int], groups: int) -> Synth:
    """A synthesizer for a share of the parts; `own` maps the job's channels to its channels."""
    synth = Synth(job.soundfonts, job.rate, max(own.values(), default=0) + 1, groups)
    synth.shortened = dict(job.shortened)
    synth.drums(own[channel] for channel in job.percussion if channel in own)
    synth.tune((own[c] for c in own if c not in job.percussion), job.tuning)
    if job.files:
        for group, part in enumerate(share.parts):
            synth.chorus(part in share.chorused, group)
    else:
        synth.chorus(bool(share.chorused))
    return synth


def _own_channel(channel: int, share: Share, parts: int) -> int:
    """A channel in a share's synthesizer; there too, the channel modulo the parts is the part."""
    return share.parts.index(channel % parts) + len(share.parts) * (channel // parts)


def _block(frame: int) -> int:
    return (frame + BLOCK // 2) // BLOCK * BLOCK


def _mix(
    job: Job,
    shares: Sequence[Share],
    chunks: Iterator[list[Any]],
    progress: Callable[[int], None],
) -> None:
    """Write the sum of the shares' chunks."""
    import numpy as np

    with ExitStack() as stack:
        mix = stack.enter_context(open(job.mix, "wb"))
        stems = [stack.enter_context(open(job.files[p], "wb")) for p in job.parts if job.files]
        for start in range(0, job.frames, CHUNK):
            count = min(CHUNK, job.frames - start)
            total: Any = None
            for share, planes in zip(shares, next(chunks), strict=True):
                for group in range(len(planes) // 2):
                    sound = np.empty((count, 2), "f4")
                    sound[:, 0], sound[:, 1] = planes[2 * group : 2 * group + 2, :count]
                    faded(sound.reshape(-1), start, job)
                    total = sound if total is None else total + sound
                    if job.files and share.parts:
                        stems[share.parts[group]].write(sound.data)
            if not isfinite(float(total.sum())):
                raise BackingError(
                    f"{job.soundfonts[-1]}: it gives numbers that are not sound. Choose another."
                )
            mix.write(total.data)
            progress(start + count)
