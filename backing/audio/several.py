"""Many songs as sound, a core each, and never more at work than there are cores.

Each song is rendered in a child process of its own; what is then done to it here lets go of
the interpreter for most of its time. One song more than there are cores is at work, so that
a core is not left alone while another's song waits its turn here. Memory depends on how many
are at work, not on how many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from threading import Lock
from typing import NamedTuple

from backing.audio.build import Sounds, Wanted, build_audio
from backing.audio.render import usable_cores
from backing.audio.side import Stop, side_by_side
from backing.errors import BackingError
from backing.score import Score


class Song(NamedTuple):
    """What `build_audio` is told of one song; `proved` is called in a thread."""

    score: Score
    stem: Path
    wanted: Wanted
    proved: Callable[[Path], None] = lambda path: None


def build_several(
    songs: Sequence[Song],
    jobs: int | None = None,
    progress: Callable[[float], None] = lambda share: None,
    each: Callable[[Sounds | BackingError], None] = lambda made: None,
) -> list[Sounds | BackingError]:
    """Write every song's sound, side by side; what came of each, in their order.

    A song that fails is passed over, and its error returned. At Ctrl-C every child is ended
    and every unfinished file taken away before the interrupt goes on.

    Args:
        songs: their stems must differ.
        jobs: how many cores may be used at once; None is all that this process may use.
        progress: hears the share of all songs that is rendered, 0 to 1; never in two threads
            at once.
        each: hears of every song as it is done, in the order in which they end.
    """
    jobs = jobs or usable_cores()
    cores = max(1, jobs // max(1, len(songs)))
    stop, lock, shares = Stop(), Lock(), [0.0] * len(songs)

    def one(number: int, song: Song) -> Sounds | BackingError:
        def heard(share: float) -> None:
            stop.check()
            with lock:
                if share > shares[number]:
                    shares[number] = share
                    progress(sum(shares) / len(shares))

        made: Sounds | BackingError
        try:
            heard(0.0)
            made = build_audio(song.score, song.stem, song.wanted, heard, song.proved, cores)
        except BackingError as error:
            made = error
        with lock:
            each(made)
        return made

    works = [partial(one, number, song) for number, song in enumerate(songs)]
    return side_by_side(works, 1 if jobs == 1 else jobs + 1, stop)
