"""What stands in a folder that a command wrote to."""

from __future__ import annotations

import json
from pathlib import Path

RECORD = ".backing.json"


def shown(folder: Path) -> list[str]:
    """The names in a folder, in order, but for the hidden record, which must list these only."""
    names = sorted(path.name for path in folder.iterdir())
    if RECORD in names:
        names.remove(RECORD)
        assert recorded(folder) <= set(names)
    return names


def recorded(folder: Path) -> set[str]:
    """The names in a folder's record."""
    return set(json.loads((folder / RECORD).read_text("utf-8"))["files"])
