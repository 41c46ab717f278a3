"""What a student changes while it plays, as sound and live: it continues where it should."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from page.browser.maths import Maths, clicks_of
from page.browser.opened import Opened
from page.browser.test_page_sound import RATE, found_at, template
from playwright.sync_api import Page

# As sound


@pytest.mark.parametrize(
    ("name", "asked", "first"),
    [
        # A loop with a count-in before each round; a riff with a bend; a song's end and its ring.
        # No note may lie just between two frames, where a digit would move it.
        ("short", {"from": 2, "to": 6, "percent": 110, "countIn": 1, "between": 1}, {}),
        ("rich", {"from": 21, "to": 25, "percent": 90}, {}),
        ("short", {"from": 13, "to": 16, "percent": 97}, {"repeat": False}),
    ],
)
def test_changes_that_change_nothing_cannot_be_heard(
    opens: Callable[..., Opened], name: str, asked: dict[str, Any], first: dict[str, Any]
) -> None:
    """However often it is planned anew, every sample of every part stays as it is."""
    opened = opens(name)
    luck = random.Random(name)
    start = {"at": 0, "set": first}
    times = sorted(luck.choices([luck.uniform(0, 7) for _ in range(40)], k=80))
    percent = asked.get("percent", 100)
    changes = [
        {"at": at, "set": {"percent": percent}, "percent": percent}
        if n % 2
        else {"at": at, "set": {}}
        for n, at in enumerate(times)
    ]
    still, _ = opened.play([start], 7, **asked)
    changed, _ = opened.play([start, *changes], 7, **asked)
    assert np.abs(still).max() > 0.05
    assert np.abs(changed - still).max() < 1e-6


@pytest.mark.parametrize("name", ["short", "rich"])
def test_every_click_is_on_time_across_changes(
    opens: Callable[..., Opened], songs: dict[str, dict[str, Any]], name: str
) -> None:
    """Speeds that are set many times at a moment, a loop and its end, the whole song, its ring."""
    opened, song = opens(name), songs[name]
    last = len(song["bars"]) - 1
    changes = [
        *({"at": 1.3 + 0.01 * n, "set": {}, "percent": 100 - n} for n in range(30)),
        *({"at": 3, "set": {}, "percent": 70 + n} for n in range(5)),
        {"at": 4, "set": {"stretch": [2, 3], "repeat": True}},
        {"at": 4.1, "set": {"faster": 10, "upTo": 100}},
        *({"at": 9 + 0.3 * n, "set": {}, "percent": 120 - n} for n in range(8)),
        {"at": 13, "set": {"stretch": None, "repeat": False}},
        {"at": 16, "set": {"stretch": [last, last], "repeat": True}},
        {"at": 16, "set": {"repeat": False}},
    ]
    sound, made = opened.play(
        changes, 26, sides=1,
        **{"from": 1, "to": last + 1, "countIn": 1, "only": [], "clickOn": True, "subdivide": ""},
        volume=60,
    )  # fmt: skip
    settings = {
        "percent": 100, "stretch": [1, last], "repeat": True, "countIn": 1, "between": 0,
        "faster": 0, "upTo": 130,
    }  # fmt: skip
    maths = Maths(song, settings, 1, 0.03)
    assert len(made["planned"]) == len(changes)
    for at, change in zip(made["planned"], changes, strict=True):
        maths.change(at, {**change, "replan": True}, None)
    maths.go_to(26)
    rest = sound[:, 0].astype("f8")
    loudest = np.abs(rest).max()
    kinds = {kind: template(opened, "wood", kind) for kind in ("accent", "plain")}
    wanted = sorted(clicks_of(song, maths.spans))
    assert len(wanted) > 30
    for at, kind in wanted:
        frame, level = found_at(rest, kinds[kind], round(at * RATE))
        assert abs(frame - at * RATE) <= 1, at
        assert level > 0.1
        whole = kinds[kind][: len(rest) - frame]
        rest[frame : frame + len(whole)] -= level * whole
    assert np.abs(rest).max() < 0.01 * loudest


# Live

#: What is changed while it plays, by the audio clock as its control is used.
NOTE_CHANGES = """() => {
  window.changed = [];
  const note = (percent) => window.changed.push([window.practicePage.state().audioTime, percent]);
  const slider = document.getElementById("tempo");
  slider.addEventListener("input", () => note(Number(slider.value)), true);
  document.addEventListener("keydown", (event) => {
    if (event.key === "+") note(Number(document.getElementById("percent").value) + 1);
  }, true);
}"""
#: Seconds that a timer may be late by, and a change be heard later or earlier.
LATE_S = 0.1


@pytest.mark.parametrize("stretch", [None, (4, 5)])
def test_it_plays_on_while_the_tempo_is_dragged(
    opens: Callable[..., Opened], songs: dict[str, dict[str, Any]], stretch: tuple[int, int] | None
) -> None:
    """The slider by the mouse, + five times, [ held down; in the song and in a loop."""
    opened, song = opens("short", viewport={"width": 1280, "height": 900}), songs["short"]
    page = opened.page
    page.select_option("#count-in", "0")
    if stretch:
        page.select_option("#from", f"{stretch[0]}")
        page.select_option("#until", f"{stretch[1]}")
    page.evaluate(NOTE_CHANGES)
    page.click("#play")
    page.wait_for_timeout(100)
    first = opened.state()
    drag(page, 40)
    for _ in range(5):
        page.keyboard.press("+")
    settings = {
        "percent": 100, "stretch": stretch, "repeat": stretch is not None, "countIn": 0,
        "between": 0, "faster": 0, "upTo": 100,
    }  # fmt: skip
    bar = stretch[0] if stretch else 0
    since = first["songTime"] - song["bars"][bar]["start"]
    maths = Maths(song, settings, bar, first["audioTime"] - first["latency"] - since)
    changed = page.evaluate("() => window.changed")
    assert len(changed) > 30
    assert [percent - changed[-6][1] for _, percent in changed[-5:]] == [1, 2, 3, 4, 5]
    for at, percent in changed:
        maths.change(at + 0.2, {"set": {}, "percent": percent, "replan": True}, None)
    page.wait_for_timeout(500)
    state = opened.state()
    assert state["playing"]
    maths.go_to(state["audioTime"] - state["latency"])
    assert (state["round"], state["percent"]) == (maths.round, maths.percent)
    assert state["songTime"] == pytest.approx(maths.song, abs=LATE_S)
    for _ in range(12):
        page.keyboard.down("[")
    page.keyboard.up("[")
    here = opened.state()
    assert here["playing"]
    assert here["repeat"]
    assert here["stretch"] == [here["bar"], stretch[1] if stretch else len(song["bars"]) - 1]
    page.wait_for_timeout(200)
    then = opened.state()
    assert then["playing"]
    assert (then["round"], then["songTime"]) > (here["round"], here["songTime"])


def drag(page: Page, moves: int) -> None:
    """Move the tempo's slider there and back by the mouse."""
    box = page.locator("#tempo").bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    shares = [0.70 - 0.35 * min(n, 1.2 * moves - n) / moves for n in range(moves + 1)]
    page.mouse.move(box["x"] + box["width"] * shares[0], middle)
    page.mouse.down()
    for share in shares[1:]:
        page.mouse.move(box["x"] + box["width"] * share, middle)
    page.mouse.up()
