"""What a lesson keeps of each file in the folder's record (`system.record`): what it was made of.

The record depends on nothing but the files, so that two runs that come to the same files leave
the same record.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from backing.system import record


class Entry(NamedTuple):
    """A file of the lesson: its key (what it was made of), its digests as in `system.record`, and
    of a version its milliseconds, its tempos in bpm, and what is worth saying of it, a sentence
    each.
    """

    key: str
    digests: tuple[str, ...]
    ms: int = 0
    bpm: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def about(self) -> dict[str, Any]:
        """What stands in the folder's record."""
        return {
            "key": self.key,
            "ms": self.ms,
            "bpm": list(self.bpm),
            "notes": list(self.notes),
        }

    @property
    def written(self) -> record.Entry:
        """The entry of the folder's record."""
        return record.Entry(self.digests, self.about)


def read(folder: Path) -> dict[str, Entry]:
    """The files that a lesson made in a folder; those that other commands made are not listed."""
    found = {name: _entry(entry) for name, entry in record.read(folder).items()}
    return {name: entry for name, entry in found.items() if entry is not None}


def _entry(said: record.Entry) -> Entry | None:
    about: Mapping[str, Any] = said.about
    try:
        key, ms = about["key"], about["ms"]
        bpm, notes = tuple(map(str, about["bpm"])), tuple(map(str, about["notes"]))
    except (KeyError, TypeError):
        return None
    if not isinstance(key, str) or not isinstance(ms, int):
        return None
    return Entry(key, said.digests, ms, bpm, notes)
