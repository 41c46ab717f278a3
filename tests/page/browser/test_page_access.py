"""Accessibility: contrast, names, sizes, widths, motion and paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib.resources import files as package_files
from typing import Any

import pytest
from page.browser.opened import Opened

AXE = package_files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LEAST_TARGET = 44


def violations(opened: Opened) -> list[str]:
    opened.page.evaluate(f"() => {{ {AXE} }}")
    found: list[Any] = opened.page.evaluate(
        "(tags) => axe.run(document, { runOnly: tags }).then((all) => all.violations)", RULES
    )
    return [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


@pytest.mark.parametrize("colors", ["light", "dark"])
@pytest.mark.parametrize("name", ["short", "rich"])
def test_axe_finds_nothing(opens: Callable[..., Opened], name: str, colors: str) -> None:
    opened = opens(name, color_scheme=colors)
    assert violations(opened) == []
    opened.page.click("#play")
    opened.page.wait_for_timeout(700)
    assert violations(opened) == []
    opened.page.keyboard.press("?")
    assert violations(opened) == []


WIDTHS = [320, 390, 768, 1366, 1920, 3840]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["short", "rich"])
def test_nothing_runs_over_the_side(opens: Callable[..., Opened], name: str, width: int) -> None:
    opened = opens(name, viewport={"width": width, "height": 800})
    opened.page.evaluate("() => { document.getElementById('how').open = true; }")
    assert opened.page.evaluate("() => document.documentElement.scrollWidth") <= width
    over = opened.page.evaluate(
        """(width) => [...document.querySelectorAll("body *")]
          .filter((one) => !one.closest(".unseen, .skip, script, dialog, svg *"))
          .filter((one) => one.getBoundingClientRect().right > width + 1)
          .map((one) => one.outerHTML.slice(0, 120))""",
        width,
    )
    assert over == []


@pytest.mark.parametrize("width", [320, 1366])
def test_targets_are_large_enough(opens: Callable[..., Opened], width: int) -> None:
    """A checkbox counts with its label, which is a target too."""
    opened = opens("rich", viewport={"width": width, "height": 800})
    opened.page.evaluate("() => { document.getElementById('how').open = true; }")
    small = opened.page.evaluate(
        """(least) => [...document.querySelectorAll("button, input, select, summary")]
          .filter((one) => one.offsetParent)
          .map((one) => (one.type === "checkbox" ? one.closest("label") || one : one))
          .map((one) => [one.getBoundingClientRect(), one.outerHTML.slice(0, 100)])
          .filter(([box]) => box.width < least - 0.5 || box.height < least - 0.5)
          .map(([box, text]) => `${box.width} x ${box.height}: ${text}`)""",
        LEAST_TARGET,
    )
    assert small == []


def test_chords_do_not_overlap(opens: Callable[..., Opened]) -> None:
    for width in (320, 1366):
        opened = opens("rich", viewport={"width": width, "height": 800})
        overlapping = opened.page.evaluate(
            """() => [...document.querySelectorAll(".chords")].flatMap((chords) => {
              const boxes = [...chords.children].map((one) => one.getBoundingClientRect());
              return boxes.slice(1).filter((box, at) => box.left < boxes[at].right - 0.5);
            }).length"""
        )
        assert overlapping == 0


def test_nothing_moves_with_reduced_motion(opens: Callable[..., Opened]) -> None:
    opened = opens("rich", reduced_motion="reduce", viewport={"width": 390, "height": 600})
    opened.page.evaluate(
        """() => {
          window.asked = [];
          const real = window.scrollTo.bind(window);
          window.scrollTo = (how) => { window.asked.push(how.behavior); real(how); };
        }"""
    )
    opened.page.locator("[data-bar]").last.click()
    opened.page.wait_for_timeout(600)
    asked = set(opened.page.evaluate("() => window.asked"))
    assert asked <= {"instant", "auto", None}
    running = opened.page.evaluate(
        "() => document.getAnimations().filter((one) => one.playState === 'running').length"
    )
    assert running == 0


def test_paper_has_the_chart_and_no_controls(opens: Callable[..., Opened]) -> None:
    opened = opens("rich")
    opened.page.emulate_media(media="print")
    for hidden in ("#play", "#how", "#percent", "#help-open"):
        assert not opened.page.locator(hidden).is_visible(), hidden
    for shown in ("h1", "#chart h2", '[data-bar="3"]'):
        assert opened.page.locator(shown).first.is_visible(), shown
    assert opened.page.evaluate("() => getComputedStyle(document.body).backgroundColor") in (
        "rgb(255, 255, 255)",
        "rgba(0, 0, 0, 0)",
    )
    assert len(opened.page.pdf(format="A4")) > 5000


def test_sections_are_announced_to_screen_readers(short: Opened) -> None:
    short.page.select_option("#count-in", "0")
    short.page.click('[data-bar="3"]')
    printed = short.page.evaluate(
        """() => new Promise((done) => {
          const printed = [];
          const live = document.querySelector("[aria-live]");
          new MutationObserver(() => printed.push(live.textContent)).observe(live, {
            childList: true, characterData: true, subtree: true,
          });
          setTimeout(() => done(printed), 2600);
        })"""
    )
    assert any("Verse" in one and "2 of 2" in one for one in printed), printed


def test_a_bar_has_a_name_for_screen_readers(short: Opened) -> None:
    """By its accessible name, which is also what it holds: where it stands and its chords."""
    bar = short.page.get_by_role("button", name=re.compile("bar 3.*Verse.*A seven.*beat three"))
    assert bar.first.get_attribute("data-bar") == "2"
