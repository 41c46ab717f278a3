"""When each bar plays while a student changes things, by arithmetic apart from the page's own.

A playing is walked through from change to change. Song time is in seconds at the tempo as written,
audio time in seconds of the clock; a count-in is song time that runs up to its bar's line, and the
ring is song time that runs on after the last bar.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

#: Nearer times are one.
SAME = 1e-9
#: After a stretch within the song so much rings, in seconds.
SHORT_RING = 0.4
SLOWEST, FASTEST = 30, 130


class Span(NamedTuple):
    """A piece of a playing at one speed.

    `last` is the bar that its round was to end with, `played` how many bars were played before
    its round.
    """

    kind: str
    round: int
    first: int
    last: int
    song_from: float
    song_to: float
    at: float
    end: float
    percent: float
    played: int

    def audio(self, song_s: float) -> float:
        return self.at + (song_s - self.song_from) * 100 / self.percent


class Maths:
    """Where a playing of a song's data stands; `spans` is what was played so far."""

    def __init__(self, song: dict[str, Any], settings: dict[str, Any], bar: int, at: float) -> None:
        self.bars, self.ring_s = song["bars"], song["ring"]
        self.settings = settings
        self.spans: list[Span] = []
        self.kind, self.round, self.at, self.percent = "", 0, at, settings["percent"]
        self.played = 0
        self._enter(bar, settings["countIn"])

    def go_to(self, until: float, found: tuple[int, str] | None = None) -> None:
        """Play up to an audio time.

        Args:
            until: the time.
            found: the round and kind that the page has there. Where a round ends within `SAME` of
                that time, one number's last digit says whether the next one has begun.
        """
        while self.kind != "ring":
            end = self.rest.end
            near = abs(end - until) < SAME
            if end > until and not near:
                break
            if near and found == (self.round, self.kind):
                break
            self._keep(end, self.to)
            self._turn()
        if until > self.at:
            self._keep(until, self.song + (until - self.at) * self.percent / 100)

    def change(self, at: float, change: dict[str, Any], found: tuple[int, str] | None) -> None:
        """Change settings, and plan anew if that is asked for, from an audio time on."""
        self.go_to(at, found)
        self.settings.update(change["set"])
        if not change["replan"]:
            return
        asked = change.get("percent")
        self.percent = asked or self.percent
        repeat = self.settings["repeat"]
        if self.kind == "ring" and self.song > self.ring_from + SAME:
            if repeat:
                self._next(asked)
            return
        begun = [n for n, bar in enumerate(self.bars) if bar["start"] < self.song - SAME]
        old = self.last
        self.last = max([self._stretch()[1], self.first, *begun[-1:]])
        if self.kind == "count":
            return
        self.to = self.bars[self.last]["end"]
        if self.kind == "ring" and self.last == old and not repeat:
            self.to = self.song + self._ring()
        elif self.to > self.song + SAME:
            self.kind = "bars"
        else:
            self._turn(asked)

    def _turn(self, percent: float | None = None) -> None:
        """What is played is over: on to what follows."""
        if self.kind == "count":
            self.kind, self.song, self.to = "bars", self.entry, self.bars[self.last]["end"]
        elif self.settings["repeat"]:
            self._next(percent)
        else:
            self.kind, self.ring_from = "ring", self.song
            self.to = self.song + self._ring()

    def _next(self, percent: float | None) -> None:
        """The next round, faster if that is asked for and no speed was set in this very moment."""
        if percent is None and self.settings["faster"] and self.percent < self.settings["upTo"]:
            raised = min(self.settings["upTo"], self.percent + self.settings["faster"])
            self.percent = max(SLOWEST, min(FASTEST, raised))
        self.played += self.last - self.first + 1
        self._enter(self._stretch()[0], self.settings["between"])

    def _enter(self, bar: int, counted: int) -> None:
        self.round += 1
        self.first, self.last = bar, max(bar, self._stretch()[1])
        self.entry = self.bars[bar]["start"]
        counted -= 0 if self.bars[bar]["number"] else 1
        length = self.bars[bar]["end"] - self.entry
        self.kind = "count" if counted > 0 else "bars"
        self.song = self.entry - max(0, counted) * length
        self.to = self.entry if counted > 0 else self.bars[self.last]["end"]

    def _stretch(self) -> tuple[int, int]:
        return self.settings["stretch"] or (0, len(self.bars) - 1)

    def _ring(self) -> float:
        return self.ring_s if self.last == len(self.bars) - 1 else SHORT_RING

    def _keep(self, end: float, song: float) -> None:
        self.spans.append(self.rest._replace(song_to=song, end=end))
        self.at, self.song = end, song

    @property
    def rest(self) -> Span:
        """What is still to be played of what plays now, if nothing changes."""
        end = self.at + (self.to - self.song) * 100 / self.percent
        return Span(
            self.kind, self.round, self.first, self.last,
            self.song, self.to, self.at, end, self.percent, self.played,
        )  # fmt: skip


def clicks_of(
    song: dict[str, Any], spans: list[Span], plays: Sequence[int] = (1, 1)
) -> Iterator[tuple[float, str]]:
    """Every beat of so many bars of so many, and of the count-ins: when, and with which sound."""
    for span in spans:
        bars = song["bars"][: span.last + 1]
        backs = [0]
        if span.kind == "ring":
            continue
        if span.kind == "count":
            bars = bars[span.first : span.first + 1]
            backs = [1, 2, 3, 4]
        for number, bar in enumerate(bars):
            place = span.played + number - span.first
            if span.kind == "bars" and place % plays[1] >= plays[0]:
                continue
            levels = song["grids"][bar["grid"]]["levels"]
            for beat, level in zip(bar["beats"], levels, strict=True):
                for back in backs:
                    at = beat - back * (bar["end"] - bar["start"])
                    # A beat at a span's very end is the next one's.
                    if span.song_from - SAME <= at < span.song_to - SAME:
                        yield span.audio(at), "accent" if level == "accent" else "plain"
