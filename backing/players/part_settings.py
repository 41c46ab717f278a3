"""What each pass of a song asks of a part."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from backing.form.model import PartSettings
from backing.timeline import Pass

SettingsOf: TypeAlias = Callable[[Pass], PartSettings]


def settings_of(part: str, on: bool) -> SettingsOf:
    """A part's settings by pass; `on` is never None, but as given where the form says nothing."""
    # By identity: a pass holds mappings, so has no hash, and its timeline outlives this table.
    known: dict[int, tuple[Pass, PartSettings]] = {}

    def look_up(playing: Pass) -> PartSettings:
        if id(playing) not in known:
            settings = playing.settings.parts.get(part, PartSettings())
            if settings.on is None:
                settings = settings._replace(on=on)
            known[id(playing)] = playing, settings
        return known[id(playing)][1]

    return look_up
