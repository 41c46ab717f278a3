"""Advice on a word that isn't known: a word like it, those to choose from, or where it belongs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice

from backing.text.lists import after_colon

#: What the song's own mapping is called.
SONG_TITLE = "a form"


def suggestion(word: str, known: Iterable[str], offered: Iterable[str] | None = None) -> str:
    """A suggestion among the known words, or a list of those that are offered (all of them)."""
    from difflib import get_close_matches

    words = list(islice(known, 500))
    lower = {k.lower(): k for k in reversed(words)}
    close = get_close_matches(word[:80].lower(), lower, n=1, cutoff=0.6)
    if close:
        return f"Did you mean {lower[close[0]]}?"
    listed = words if offered is None else list(offered)
    return after_colon("Choose from:", listed[:40]) if listed else ""


def in_places(places: Sequence[str]) -> str:
    """Advice to write a key in another mapping, named by its title."""
    others = [place for place in places if place != SONG_TITLE]
    listed = " or ".join(", ".join(some) for some in (others[:-1], others[-1:]) if some)
    if len(others) == len(places):
        return f"Write it in {listed}."
    if not others:
        return "Write it for the whole song, with no spaces before it."
    return f"Write it in {listed}, or for the whole song."
