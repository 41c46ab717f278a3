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


@pytest.mark.parametrize("name", ["short", "rich", "signs"])
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


#: By pass: whose tab stands in its bars, and what is written there, in order.
TABS = """() => [...document.querySelectorAll("#chart section")].map((pass) => ({
  names: [...pass.querySelectorAll(".whose, .no-tab")].map((one) => one.textContent),
  texts: [...pass.querySelectorAll("svg.tab")].map((tab) => (
    [...tab.querySelectorAll(".fret, .hand, .palm")]
      .map((one) => [...one.querySelectorAll("text")].map((text) => text.textContent).join("")
        || (one.querySelector(".rest") ? "rest" : one.textContent))
      .join(" ")
  )),
}))"""
FIXED = [
    "0 2 2 2 0 (2) (2) 0 2 2 2 0 rest rest rest rest rest 5. 7. pa i pa p P.M.",
    "(5) x <12> <7> 3 7~ 3 5 a m – P.M. P.M.",
]
FREE = "2 h3 0 3 rest 3~ x 5 \\3 /5 (5) 5. 7b 7 p5"


def test_every_sign_of_tab_stands_on_the_page(opens: Callable[..., Opened]) -> None:
    """And tells whose it is; what two parts play alike is there once."""
    first, second, both, up, _ = opens("signs", viewport=LAPTOP).page.evaluate(TABS)
    assert first["names"] == ["Guitar"]
    assert [sorted(text.split()) for text in first["texts"]] == [sorted(t.split()) for t in FIXED]
    assert second["names"] == ["Bass", "Guitar", "Lead"]
    assert (both["names"], up["names"]) == (["Guitar and Lead"], ["Lead"])
    assert [sorted(text.split()) for text in both["texts"]] == [sorted(FREE.split())]


@pytest.mark.parametrize(("by", "frets"), [(2, 2), (-1, 11), (-4, 8)])
def test_tab_moves_with_the_key_where_the_neck_has_room(
    opens: Callable[..., Opened], by: int, frets: int
) -> None:
    """Signs stay as they are; a riff with harmonics has no tab in any other key."""
    page = opens("signs", viewport=LAPTOP).page
    page.select_option("#transpose", str(by))
    first, second, both, up, _ = page.evaluate(TABS)
    raised = re.sub(r"\d+", lambda fret: str(int(fret[0]) + frets), FREE)
    assert (first["names"], first["texts"]) == (["Guitar: no tab in this key"], [])
    assert second["names"] == ["Bass", "Guitar", "Lead: no tab in this key"]
    bass = [text for text in second["texts"] if len(text.split()) == 3]
    expected = " ".join(str(int(fret) + frets) for fret in "13 2 0".split())
    assert bass == [expected] * 2
    assert [sorted(text.split()) for text in both["texts"]] == [sorted(raised.split())]
    assert up["texts"] == [str(22 + by)]
    page.select_option("#transpose", "0")
    assert page.evaluate(TABS)[0]["names"] == ["Guitar"]
    page.select_option("#transpose", "3")
    assert page.evaluate(TABS)[3] == {"names": ["Lead"], "texts": ["13"]}


#: Signs of a tab that lie on one another: numbers of one string, letters, waves on numbers.
TOUCHING = """() => [...document.querySelectorAll("svg.tab")].flatMap((tab) => {
  const signs = [".roll", ".fret text, .fret .rest, .hand"].flatMap((kind) => (
    [...tab.querySelectorAll(kind)]
  )).map((one) => (
    [one.textContent || one.getAttribute("class"), one.getBoundingClientRect()]
  ));
  const middle = (box) => (box.top + box.bottom) / 2;
  const isIn = (tall, box) => tall.top < middle(box) && middle(box) < tall.bottom;
  return signs.flatMap(([what, box], index) => signs.slice(index + 1)
    .filter(([, other]) => (Math.abs(middle(box) - middle(other)) < 4
      || (what === "roll" && isIn(box, other)))
      && box.left < other.right && other.left < box.right)
    .map(([other]) => [what, other]));
})"""


@pytest.mark.parametrize("name", ["rich", "signs"])
def test_no_two_signs_on_a_string_touch(opens: Callable[..., Opened], name: str) -> None:
    """In any key, on two screens."""
    page = opens(name, viewport=LAPTOP).page
    for by in ("0", "3", "-2"):
        page.set_viewport_size(LAPTOP)
        page.select_option("#transpose", by)
        for size in (LAPTOP, PHONE):
            page.set_viewport_size(size)
            assert page.evaluate(TOUCHING) == [], (by, size)


def test_no_style_rule_for_text_applies_inside_a_drawing(rich: Opened) -> None:
    """A rule that is meant for a drawing says so; else a name used twice lays out a drawn mark."""
    rich.page.click(".bar:has(.tab .fret)")
    rich.page.wait_for_selector("#box .finger")
    rich.page.evaluate(MARK_ALL)
    found = set(rich.page.evaluate(SELECTORS_IN_DRAWINGS))
    for_drawings = {selector for selector in found if re.search(r"\.(tab|shape)\b", selector)}
    assert {".tab .sounding text", ".shape .finger"} <= for_drawings
    assert found - for_drawings == {"*"}  # which sets the box-sizing of everything
