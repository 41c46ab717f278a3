"""A page in a browser, and its schedule rendered there."""

from __future__ import annotations

from base64 import b64decode
from typing import Any, NamedTuple

import numpy as np
from playwright.sync_api import Page

#: A render by the hook, its samples as base64 of float32: so they come over quickest.
RENDER = """async ([sides, way, ...asked]) => {
  const made = await window.practicePage[way](...asked);
  const text = (samples) => {
    const bytes = new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength);
    if (bytes.toBase64) return bytes.toBase64();
    let binary = "";
    for (let at = 0; at < bytes.length; at += 32768) {
      binary += String.fromCharCode(...bytes.subarray(at, at + 32768));
    }
    return btoa(binary);
  };
  return { ...made, channels: made.channels.slice(0, sides).map(text) };
}"""


class Opened(NamedTuple):
    """A page that is open and ready to sound, and all that it printed or asked for."""

    page: Page
    complaints: list[str]
    requests: list[str]

    def render(self, sides: int = 2, **asked: Any) -> tuple[Any, dict[str, Any]]:
        """The page's own schedule as sound, frames by two channels, and what else the hook says."""
        return self._rendered(sides, "renderOffline", asked)

    def play(
        self, changes: list[dict[str, Any]], seconds: float, sides: int = 2, **asked: Any
    ) -> tuple[Any, dict[str, Any]]:
        """Live playing as sound, with changes that a student makes on the way."""
        return self._rendered(sides, "playOffline", asked, changes, seconds)

    def _rendered(self, sides: int, *how: Any) -> tuple[Any, dict[str, Any]]:
        made = self.page.evaluate(RENDER, [sides, *how])
        channels = [np.frombuffer(b64decode(one), "<f4") for one in made.pop("channels")]
        return np.stack(channels, axis=1), made

    def state(self) -> dict[str, Any]:
        found: dict[str, Any] = self.page.evaluate("() => window.practicePage.state()")
        return found
