"""What is marked while it plays, what the keys and taps do, and what is remembered."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from page.browser.opened import Opened
from page.songs import WICKED
from playwright.sync_api import Browser

from backing.form import Form
from backing.verify import expect

#: From the tap to the first sound, in milliseconds, at the best of so many taps: other work on the
#: machine may hold up any one of them.
MOST_MS, TAPS = 100, 4


def bars_of(form: Form) -> list[Fraction]:
    """The bar lines in the song's own seconds, the pickup's first where there is one."""
    expected = expect(form)
    lines = [bar.start_s - expected.count_in_s for bar in expected.bars]
    if form.pickup is not None:
        lines.insert(0, expected.count_in_bars[-1].start_s - expected.count_in_s)
    return lines


@pytest.mark.parametrize("name", ["short", "rich"])
def test_the_bar_at_a_time_is_the_one_worked_out(
    opens: Callable[..., Opened], forms: dict[str, Form], name: str
) -> None:
    opened = opens(name)
    lines = bars_of(forms[name])
    end = lines[0] + expect(forms[name]).seconds
    times = [float(lines[0] + (end - lines[0]) * n / 997) for n in range(997)]
    times += [float(line) + shift for line in lines for shift in (1e-6, -1e-6)]
    times = [time for time in times if time > lines[0]]
    found = opened.page.evaluate(
        "(times) => times.map((time) => window.practicePage.barAt(time))", times
    )
    assert found == [bisect_right([float(line) for line in lines], time) - 1 for time in times]


WATCH = """(ms) => new Promise((done) => {
  const seen = [];
  const until = performance.now() + ms;
  const look = () => {
    const state = window.practicePage.state();
    const marked = document.querySelector('[aria-current="true"]');
    seen.push({ ...state, marked: marked ? Number(marked.dataset.bar) : null });
    if (performance.now() < until) requestAnimationFrame(look);
    else done(seen);
  };
  requestAnimationFrame(look);
})"""


def test_the_marked_beat_is_the_one_that_sounds(short: Opened, forms: dict[str, Form]) -> None:
    """Frame by frame; the mark may be of the frame before, so edges have a tenth of a second."""
    lines = [float(line) for line in bars_of(forms["short"])]
    short.page.select_option("#count-in", "0")
    short.page.click("#play")
    seen = [one for one in short.page.evaluate(WATCH, 5000) if one["songTime"] is not None]
    assert len(seen) > 20
    assert seen[-1]["songTime"] - seen[0]["songTime"] > 3
    counted = 0
    for one in seen:
        bar = bisect_right(lines, one["songTime"]) - 1
        beat, into = divmod(one["songTime"] - lines[bar], 60 / 150)
        if not 0.1 < into < 0.3 or one["underline"] is None:
            continue
        counted += 1
        assert one["underline"] == {"bar": bar, "beat": int(beat)}
        assert one["marked"] == bar
    assert counted > 5


def test_the_first_sound_comes_soon_after_the_tap(short: Opened) -> None:
    waits = []
    for _ in range(TAPS):
        short.page.click("#play")
        short.page.wait_for_timeout(500)
        waits.append(short.page.evaluate("() => window.practicePage.firstSound"))
        short.page.click("#play")  # stop
        short.page.wait_for_timeout(200)
    assert 0 < min(waits) <= MOST_MS, waits


def test_a_tap_on_a_bar_starts_there(short: Opened) -> None:
    short.page.select_option("#count-in", "0")
    short.page.click('[data-bar="5"]')
    short.page.wait_for_timeout(400)
    state = short.state()
    assert state["playing"]
    assert state["bar"] == 5


def test_a_shift_click_chooses_bars_and_repeats_them(short: Opened) -> None:
    short.page.select_option("#count-in", "0")
    short.page.click('[data-bar="8"]')
    short.page.keyboard.press(" ")
    short.page.click('[data-bar="9"]', modifiers=["Shift"])
    state = short.state()
    assert state["stretch"] == [8, 9]
    assert state["repeat"]


def test_a_drag_over_bars_repeats_them(short: Opened) -> None:
    boxes = [short.page.locator(f'[data-bar="{bar}"]').bounding_box() for bar in (0, 1, 2)]
    middles = [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in boxes if box]
    short.page.mouse.move(*middles[0])
    short.page.mouse.down()
    short.page.mouse.move(*middles[1], steps=4)
    short.page.mouse.move(*middles[2], steps=4)
    short.page.mouse.up()
    assert short.state()["stretch"] == [0, 2]
    assert short.state()["repeat"]


def test_the_tempo_can_be_tapped(short: Opened) -> None:
    """Half a second apart is 120 a minute: 80 percent of the song's 150, as well as timers keep."""
    short.page.evaluate(
        """async () => {
          for (let taps = 0; taps < 6; taps += 1) {
            document.getElementById("tap").click();
            await new Promise((done) => setTimeout(done, 500));
          }
        }"""
    )
    assert 70 < short.state()["percent"] < 85


def test_every_key_works(short: Opened) -> None:
    press = short.page.keyboard.press
    press("Space")
    short.page.wait_for_timeout(200)
    assert short.state()["playing"]
    press("Space")
    assert not short.state()["playing"]
    press("ArrowRight")
    press("ArrowRight")
    assert short.state()["startBar"] == 2
    press("n")
    assert short.state()["startBar"] == 4
    for key, percent in [("+", 101), ("-", 100), ("PageDown", 95), ("PageUp", 100)]:
        press(key)
        assert short.state()["percent"] == percent
    press(".")
    press(".")
    press(",")
    assert short.state()["transpose"] == 1
    press("[")
    assert short.state()["stretch"] == [4, 15]
    press("Shift+ArrowLeft")
    assert short.state()["stretch"] == [4, 14]
    press("w")
    assert short.state()["stretch"] is None
    press("?")
    assert short.page.locator("#help").is_visible()
    press("Escape")
    assert not short.page.locator("#help").is_visible()


def test_every_control_is_reached_with_the_tab_key(short: Opened) -> None:
    wanted = short.page.evaluate(
        """() => [...document.querySelectorAll("button, input, select, summary, a[href]")]
          .filter((one) => one.tabIndex >= 0 && one.offsetParent && !one.disabled)
          .map((one) => one.id || one.textContent)"""
    )
    reached = set()
    for _ in range(len(wanted) + 5):
        short.page.keyboard.press("Tab")
        reached.add(
            short.page.evaluate(
                "() => document.activeElement.id || document.activeElement.textContent"
            )
        )
    assert set(wanted) <= reached


def test_settings_and_log_are_remembered(browser: Browser, opens: Callable[..., Opened]) -> None:
    context = browser.new_context()
    first = opens(context=context)
    first.page.fill("#percent", "75")
    first.page.keyboard.press("Enter")
    first.page.keyboard.press("Tab")
    first.page.select_option("#transpose", "2")
    first.page.click('[data-bar="6"]')
    first.page.wait_for_timeout(1500)
    first.page.click("#start-here")
    first.page.click("#clean")
    first.page.close()
    reopened = opens(context=context)
    state = reopened.state()
    assert state["percent"] == 75
    assert state["transpose"] == 2
    assert state["startBar"] == 6
    assert "75 percent" in reopened.page.inner_text("#log")
    other = opens("rich", context=context)
    assert other.state()["percent"] == 100
    context.close()


def test_a_title_of_script_is_only_text(opens: Callable[..., Opened]) -> None:
    opened = opens("wicked")
    assert opened.page.title() == WICKED
    assert opened.page.inner_text("h1") == WICKED
    assert WICKED in opened.page.inner_text("#chart")
    assert opened.page.evaluate("() => document.scripts.length") == 4


def test_a_page_works_without_storage(browser: Browser, opens: Callable[..., Opened]) -> None:
    context = browser.new_context()
    context.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('shut'); } })"
    )
    opened = opens(context=context)
    opened.page.keyboard.press("+")
    assert opened.state()["percent"] == 101
    context.close()


def frames(opened: Opened, ms: int) -> list[float]:
    gaps: list[Any] = opened.page.evaluate(
        """(ms) => new Promise((done) => {
          const gaps = [];
          let before = performance.now();
          const until = before + ms;
          const look = (now) => {
            gaps.push(now - before);
            before = now;
            if (now < until) requestAnimationFrame(look);
            else done(gaps);
          };
          requestAnimationFrame(look);
        })""",
        ms,
    )
    return [float(gap) for gap in gaps]


def test_playing_does_not_slow_the_frames(short: Opened) -> None:
    """Against the same page at rest: without a graphics card a machine has a pace of its own."""
    at_rest = sorted(frames(short, 2000))
    short.page.click("#play")
    playing = sorted(frames(short, 3000))
    assert playing[len(playing) // 2] < 1.5 * at_rest[len(at_rest) // 2]


def test_the_speed_stays_between_30_and_130_percent(short: Opened) -> None:
    """However it is set, as the samples are long enough for no slower speed."""
    page = short.page
    for typed, percent in (("10", 30), ("500", 130)):
        page.fill("#percent", typed)
        page.press("#percent", "Enter")
        assert short.state()["percent"] == percent
        assert float(page.input_value("#tempo")) == percent
    for control in ("#percent", "#tempo", "#up-to"):
        limits = [page.get_attribute(control, name) for name in ("min", "max")]
        assert limits == ["30", "130"], control
    assert [page.get_attribute("#bpm", name) for name in ("min", "max")] == ["45", "195"]


def test_controls_offer_what_the_page_can_play(short: Opened) -> None:
    def offered(control: str) -> list[str]:
        return [text.strip() for text in short.page.locator(f"{control} option").all_inner_texts()]

    assert offered("#faster") == [
        "at the same tempo",
        "1 percentage point faster",
        *(f"{points} percentage points faster" for points in (2, 3, 5, 10)),
    ]
    assert offered("#count-in") == ["nothing", "1 bar", "2 bars", "3 bars", "4 bars"]
    assert offered("#between") == ["nothing", "1 bar", "2 bars"]
    assert len(offered("#subdivide")) == 5
    assert len(offered("#transpose")) == 13
