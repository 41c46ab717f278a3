"""What a lesson keeps about each file in the folder's record (`system.record`).

The record depends on nothing but the files, so two runs that end with the same files leave the
same record.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from backing.system import record


class Entry(NamedTuple):
    """A file of the lesson: its key (what it was made from) and its digests as in `system.record`.

    A version also has its length in milliseconds, its tempos in bpm, and its notes, which are
    sentences for the player.
    """

    key: str
    digests: tuple[str, ...]
    ms: int = 0
    bpm: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def about(self) -> dict[str, Any]:
        """What the folder's record holds about it, apart from its digests."""
        return {
            "key": self.key,
            "ms": self.ms,
            "bpm": list(self.bpm),
            "notes": list(self.notes),
        }

    @property
    def in_folder(self) -> record.Entry:
        """This entry as the folder's record has it."""
        return record.Entry(self.digests, self.about)


def read(folder: Path) -> dict[str, Entry]:
    """The files that a lesson made in a folder, without those that other commands made."""
    found = {name: _entry(entry) for name, entry in record.read(folder).items()}
    return {name: entry for name, entry in found.items() if entry is not None}


def _entry(recorded: record.Entry) -> Entry | None:
    about: Mapping[str, Any] = recorded.about
    try:
        key, ms = about["key"], about["ms"]
        bpm, notes = tuple(map(str, about["bpm"])), tuple(map(str, about["notes"]))
    except (KeyError, TypeError):
        return None
    if not isinstance(key, str) or not isinstance(ms, int):
        return None
    return Entry(key, recorded.digests, ms, bpm, notes)
