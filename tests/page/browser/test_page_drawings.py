"""What is drawn stays where it belongs: no mark of a tab or a shape leaves its bar or its box."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from page.browser.opened import Opened

LAPTOP, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}

#: Every drawn thing that is seen, with what it is in and how far it runs out of it, in pixels.
RUNS_OUT = """() => [...document.querySelectorAll("#chart svg *, #box svg *")].flatMap((mark) => {
  const box = (mark.closest(".bar") || mark.closest("#box")).getBoundingClientRect();
  const { left, right, top, bottom, width, height } = mark.getBoundingClientRect();
  if (!width && !height) return [];
  const out = Math.max(box.left - left, right - box.right, box.top - top, bottom - box.bottom);
  return [[mark.outerHTML.slice(0, 120), mark.className.baseVal, out]];
})"""
MARK_ALL = """() => {
  for (const one of document.querySelectorAll(".tab .fret")) one.classList.add("sounding");
}"""
#: Every selector of the page's style that something inside a drawing answers to.
SELECTORS_IN_DRAWINGS = """() => {
  const isDrawn = (selector) => (
    [...document.querySelectorAll(selector)].some((found) => found.closest("svg"))
  );
  const selectors = (rules) => [...rules].flatMap((rule) => [
    ...(rule.selectorText || "").split(",").map((one) => one.replace(/::[a-z-]+/g, "").trim()),
    ...selectors(rule.cssRules || []),
  ]);
  return [...document.styleSheets].flatMap((sheet) => selectors(sheet.cssRules))
    .filter((selector) => selector && isDrawn(selector));
}"""
#: A line's width, and a letter's own edge.
LEAST_PX = 1.0


def running_out(opened: Opened) -> list[Any]:
    found = opened.page.evaluate(RUNS_OUT)
    assert {"string", "under"} <= {name for _, name, _ in found}
    return [(what, round(out, 1)) for what, _, out in found if out > LEAST_PX]


@pytest.mark.parametrize("name", ["short", "rich"])
def test_no_mark_leaves_its_bar_or_box(opens: Callable[..., Opened], name: str) -> None:
    """At rest, while the riff sounds, and with all of its notes marked at once; on two screens."""
    opened = opens(name, viewport=LAPTOP)
    page = opened.page
    assert running_out(opened) == []
    page.keyboard.press("i")
    page.keyboard.press("i")  # no count-in
    page.click(".bar:has(.tab .fret)")
    for size in (LAPTOP, PHONE):
        page.set_viewport_size(size)
        page.wait_for_selector(".tab .sounding")
        assert page.locator("#box .finger").count()
        assert running_out(opened) == []
    for size in (PHONE, LAPTOP):
        page.set_viewport_size(size)
        page.evaluate(MARK_ALL)
        assert running_out(opened) == []


def test_no_style_rule_for_text_applies_inside_a_drawing(rich: Opened) -> None:
    """A rule that is meant for a drawing says so; else a name used twice lays out a drawn mark."""
    rich.page.click(".bar:has(.tab .fret)")
    rich.page.wait_for_selector("#box .finger")
    rich.page.evaluate(MARK_ALL)
    found = set(rich.page.evaluate(SELECTORS_IN_DRAWINGS))
    for_drawings = {selector for selector in found if re.search(r"\.(tab|shape)\b", selector)}
    assert {".tab .sounding text", ".shape .finger"} <= for_drawings
    assert found - for_drawings == {"*"}  # which sets the box-sizing of everything
