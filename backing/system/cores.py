"""How many of the machine's cores there are to work with."""

from __future__ import annotations

import os


def usable_cores() -> int:
    """How many of the machine's cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
