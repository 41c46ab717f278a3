"""Anything a student changes at any moment, by the hundred: the page's own plan against the maths.

The page's player is driven with a clock and a desk that `drive.js` makes up, without any sound.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from itertools import pairwise
from typing import Any, NamedTuple

import pytest
from page.browser.maths import SAME, Maths, Span, clicks_of
from page.browser.runs import a_run
from playwright.sync_api import Page

#: A note may start so long before the bar that it belongs to: a beat, or what people are early by.
EARLY_S = 0.5
#: People mean a place so many seconds off.
STRAY_S = 0.015
#: Half a frame, and what doubles lose.
NEAR_S = 0.5 / 44100 + 1e-9
#: Where a look comes late, a stroke's strings may be so far apart from where they belong.
LATE_LOOK_S = 0.1
#: From the start to the first sound, as in the player.
LEAD_S = 0.03
RUNS = 30


class Played(NamedTuple):
    """A run: its song, what the page made of it (see `drive.js`), and the maths of it."""

    song: dict[str, Any]
    made: dict[str, Any]
    maths: Maths


@pytest.fixture(scope="module", params=["short", "rich"])
def played(
    request: pytest.FixtureRequest, modules: Page, songs: dict[str, dict[str, Any]]
) -> list[Played]:
    song = songs[request.param]
    luck = random.Random(request.param)
    runs = [a_run(song, luck) for _ in range(RUNS)]
    text = modules.evaluate(
        """async (text) => {
          const [song, runs] = JSON.parse(text);
          const { drive } = await import("/drive.js");
          return JSON.stringify(runs.map((run) => drive(song, run)));
        }""",
        json.dumps([song, runs]),
    )
    return [
        Played(song, made, maths_of(song, run, made))
        for run, made in zip(runs, json.loads(text), strict=True)
    ]


def maths_of(song: dict[str, Any], run: dict[str, Any], made: dict[str, Any]) -> Maths:
    """The maths of a run, up to where the page has put things on its clock."""
    maths = Maths(song, dict(run["settings"]), run["bar"], run["at"] + lead_of(song, run))
    for step, seen in zip(run["steps"], made["seen"], strict=False):  # what ended has fewer
        for change, found in zip(step["changes"], seen["made"], strict=True):
            maths.change(found["at"], change, (found["round"], found["kind"]))
    maths.go_to(made["until"])
    return maths


def lead_of(song: dict[str, Any], run: dict[str, Any]) -> float:
    """Seconds from Play to the first bar: time for the notes that come before it."""
    bar, percent = song["bars"][run["bar"]], run["settings"]["percent"]
    if run["settings"]["countIn"] > (0 if bar["number"] else 1):
        return LEAD_S
    early = [
        bar["start"] - at_entry(bar, note)
        for note in notes_of(song).values()
        if place_of(note) >= pushed_of(bar) - STRAY_S and note[0] < bar["start"]
    ]
    return LEAD_S + max([0.0, *early]) * 100 / percent


def test_legs_follow_one_another_without_gaps(played: list[Played]) -> None:
    for _, made, _ in played:
        for seen in made["seen"]:
            legs = seen["legs"]
            assert legs
            for leg, following in pairwise(legs):
                assert leg["end"] == following["at"]
                assert leg["at"] < leg["end"]
                if leg["round"] == following["round"]:
                    assert leg["to"] == following["from"]
                else:
                    assert following["round"] == leg["round"] + 1
            last = legs[-1]
            assert last["end"] > seen["until"] or last["kind"] == "ring"
            assert (last["kind"] == "ring") == last["final"]


def test_the_song_is_where_it_was_worked_out(played: list[Played]) -> None:
    """At moments between every two changes: round, kind, speed, bar and place in it."""
    compared = Counter[str]()
    for _, made, maths in played:
        before = 0.0
        for seen in made["seen"]:
            until, legs = seen["until"], seen["legs"]
            for share in (0.0137, 0.371, 0.983):
                at = before + (until - before) * share
                if until - before < 1e-6 or at < legs[0]["at"]:
                    continue
                leg = next(leg for leg in legs if at < leg["end"])
                span = next(span for span in maths.spans if at < span.end)
                assert leg["kind"] == span.kind
                assert (leg["round"], leg["first"]) == (span.round, span.first)
                assert leg["percent"] == span.percent
                here = leg["from"] + (at - leg["at"]) * leg["percent"] / 100
                there = span.song_from + (at - span.at) * span.percent / 100
                assert here == pytest.approx(there, abs=1e-6)
                compared[leg["kind"]] += 1
            before = max(before, until)
    assert min(compared[kind] for kind in ("count", "bars", "ring")) > 30, compared


def test_playing_ends_when_the_ring_ends(played: list[Played]) -> None:
    ended = 0
    for _, made, maths in played:
        assert made["playing"] == (made["over"] is None)
        if not made["playing"]:
            ended += 1
            assert maths.kind == "ring"
            assert made["over"] > maths.rest.end - SAME
    assert 3 < ended < len(played) - 3


def test_a_change_is_heard_as_soon_as_possible(played: list[Played]) -> None:
    """What is on the clock is left: that is 0.2 s, or 2.5 s from when the page was last hidden."""
    for _, made, _ in played:
        hidden = -10.0
        for seen in made["seen"]:
            if seen["hidden"]:
                hidden = seen["now"]
            for change in seen["made"]:
                assert change["at"] <= max(change["now"] + 0.2, hidden + 2.5) + SAME
                if change["kind"] == "ring" and change["planned"]:
                    assert change["at"] >= change["now"]


def test_every_click_sounds_once_and_on_time(played: list[Played]) -> None:
    for song, made, maths in played:
        until = made["until"] - 0.000437  # at the very end a digit says whether one is out
        clicks = clicks_of(song, maths.spans, made["plays"])
        wanted = sorted(click for click in clicks if click[0] < until)
        found = sorted(click for click in made["clicks"] if click[0] < until)
        assert [kind for _, kind in found] == [kind for _, kind in wanted]
        for (here, _), (there, _) in zip(found, wanted, strict=True):
            assert here == pytest.approx(there, abs=NEAR_S)


def test_every_note_sounds_once_and_on_time(played: list[Played]) -> None:
    """In each round; where it begins and ends a note may belong to the other side of the line."""
    seen = Counter[str]()
    entered: dict[tuple[int, bool], set[Key]] = {}
    notes = notes_of(played[0].song)
    for song, made, maths in played:
        voices = voices_of(made)
        for number in range(1, maths.round + 1):
            spans = [span for span in maths.spans if span.round == number and span.kind != "count"]
            if not spans or spans[0].kind != "bars":
                continue
            line = Line(song, maths, number, spans, made)
            found = {key: voices.pop((number, key), None) for key in notes}
            for key, voice in found.items():
                assert voice or not line.must_hear(key, notes[key]), (key, notes[key])
                if voice:
                    seen[line.check(notes[key], voice)] += 1
                    seen["bent"] += len(notes[key]) > 5
            if line.end > line.entry + EARLY_S:  # what a round begins with is always the same
                early = {key for key in notes if found[key] and notes[key][0] < line.entry}
                assert entered.setdefault((spans[0].first, bool(line.counts)), early) == early
        begun = any(span[:2] == ("bars", maths.round) for span in maths.spans)
        entry = maths.at if maths.kind == "bars" and not begun else maths.rest.end
        for (number, _), voice in voices.items():  # the next round's first notes
            assert number == maths.round + begun
            assert entry - EARLY_S < voice["start"] < made["until"] <= entry + SAME
    assert seen[ON_TIME] > 10_000, seen
    assert seen[EARLY] > 100, seen
    assert seen[HURRIED] < 0.05 * seen[EARLY], seen
    assert sum(made["taken"] for _, made, _ in played) < 0.05 * seen[EARLY]
    assert seen[AT_THE_START] > 0, seen
    assert seen[LATE] > 0, seen
    assert seen["bent"] > 20 or not any(len(note) > 5 for note in notes.values()), seen


#: A part and a number of one of its notes.
Key = tuple[str, int]
ON_TIME, AT_THE_START = "on its time", "as the round starts"
EARLY, HURRIED = "as long before the round as the line", "when it was too late for that"
LATE = "at a bar line up to which the round was to go for a while"


def notes_of(song: dict[str, Any]) -> dict[Key, list[Any]]:
    return {
        (part["name"], index): note
        for part in song["parts"]
        for index, note in enumerate(part["notes"])
    }


def place_of(note: list[Any]) -> float:
    """Where a note's stroke lies."""
    return float(note[0] + note[4])


def pushed_of(bar: dict[str, Any]) -> float:
    """Where a bar's first chord is struck: on its line or before it."""
    first = bar["chords"][:1]
    return min([bar["start"], *(slot["at"] for slot in first if slot["share"] == 0)])


def at_entry(bar: dict[str, Any], note: list[Any]) -> float:
    """When a note of a bar's start is played in a round that starts there."""
    if place_of(note) < bar["start"] - STRAY_S:
        return float(note[0] + bar["start"] - pushed_of(bar))
    return float(note[0])


def voices_of(made: dict[str, Any]) -> dict[tuple[int, Key], dict[str, Any]]:
    """What sounded, by its round and its note."""
    found: dict[tuple[int, Key], dict[str, Any]] = {}
    for voice in made["voices"]:
        part, index = voice["note"]
        assert (voice["round"], (part, index)) not in found, "sounds twice"
        found[voice["round"], (part, index)] = voice
    return found


class Line:
    """A round's bars and ring as one line of song time, which ends where the next round begins."""

    def __init__(
        self,
        song: dict[str, Any],
        maths: Maths,
        number: int,
        spans: list[Span],
        made: dict[str, Any],
    ) -> None:
        self.bars, self.spans, self.over = song["bars"], spans, made["over"] or float("inf")
        legs = [leg for seen in made["seen"] for leg in seen["legs"] if leg["round"] == number]
        self.lasts = [leg["last"] for leg in legs if leg["kind"] == "bars"]
        self.entry = spans[0].song_from
        self.end = max(span.song_to for span in spans if span.kind == "bars")
        self.counts = [s for s in maths.spans if s.round == number and s.kind == "count"]
        self.limit = float("inf")
        if number < maths.round:
            self.limit = spans[-1].song_to
        else:
            self.spans = [*spans, maths.rest]
            if maths.settings["repeat"]:
                self.limit = self.bars[maths.last]["end"]

    def audio(self, song_s: float) -> float:
        for span in self.spans:
            if song_s < span.song_to:
                return span.audio(song_s)
        return self.spans[-1].audio(song_s)

    def before(self, song_s: float) -> float:
        """A song time before the round: in its count-in, or as if it had begun earlier."""
        for span in self.counts:
            if span.song_from <= song_s < span.song_to:
                return span.audio(song_s)
        return self.spans[0].audio(song_s)

    def must_hear(self, key: Key, note: list[Any]) -> bool:
        """Whether a note surely sounds: its stroke lies in the round, or it is held far into its
        first bar.

        The riff of the part `lead` isn't struck again where it goes on.
        """
        start, end = note[:2]
        held = start < self.entry and end - self.entry > 0.5 * (end - start) and key[0] != "lead"
        stroke = start < self.entry <= place_of(note) + STRAY_S
        if self.end <= self.entry + SAME:
            return False
        last = max(n for n, bar in enumerate(self.bars) if bar["start"] < self.end - SAME)
        following = self.bars[last + 1 : last + 2]
        until = min([self.end, *(pushed_of(bar) - STRAY_S for bar in following)])
        inside = self.entry <= start < self.end and place_of(note) < until
        return inside or stroke or held

    def check(self, note: list[Any], voice: dict[str, Any]) -> str:
        """A note's voice starts, ends and is bent where the maths say; how it starts."""
        how, start = self._start(note, voice["start"])
        if voice["held"]:
            # A note that a line leaves next to nothing of still sounds for a moment.
            if note[1] > start + 0.03:
                ends = self.audio(min(self.limit, note[1]))
                assert voice["end"] == pytest.approx(ends, abs=1e-6)
            assert voice["releases"] == [voice["end"]]
            assert voice["stops"] > min(voice["end"], self.over)
        for when, up in note[5] if len(note) > 5 else []:
            at = max(voice["start"], self.audio(when))
            ratios = [ratio for time, ratio in voice["bends"] if time <= at + 1e-6]
            assert ratios[-1] == pytest.approx(voice["rate"] * 2 ** (up / 12))
        return how

    def _start(self, note: list[Any], found: float) -> tuple[str, float]:
        """How a note was started, and the song time of that."""
        start = note[0]
        if start >= self.entry and abs(found - self.audio(start)) <= NEAR_S:
            return ON_TIME, start
        if start < self.entry:
            return self._before(note, found)
        bar = next(n for n, bar in enumerate(self.bars) if note[0] < bar["start"] + SAME)
        line = self.bars[bar]["start"]
        assert line - EARLY_S < start < line
        assert min(self.lasts) < bar
        assert self.audio(start) - NEAR_S <= found <= self.audio(line + EARLY_S)
        return LATE, line

    def _before(self, note: list[Any], found: float) -> tuple[str, float]:
        """The same of a note that starts before the round."""
        bar = next(bar for bar in self.bars if bar["start"] == self.entry)
        if (
            found >= self.audio(self.entry) - NEAR_S
            and abs(found - self.audio(self.entry)) <= NEAR_S
        ):
            return AT_THE_START, self.entry
        wanted = at_entry(bar, note)
        at = self.audio(wanted) if wanted >= self.entry else self.before(wanted)
        if abs(found - at) <= NEAR_S:
            return EARLY, wanted
        # The seam was moved when a look came too late, or too late for this note.
        assert at - LATE_LOOK_S < found <= max(self.audio(self.entry), at + LATE_LOOK_S)
        return HURRIED, self.entry
