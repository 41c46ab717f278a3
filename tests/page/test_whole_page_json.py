"""All of the JSON in a page, samples included: of the declared types, and no other keys."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from typing import Any

import pytest
from page.json_types import mistakes, spoiled
from page.songs import RICH, SHORT

from backing.audio.soundfonts import bundled
from backing.form import read_form_text
from backing.page import make_page
from backing.page.page_json import PageData


@pytest.fixture(scope="module", params=["rich", "short"])
def data(request: pytest.FixtureRequest) -> dict[str, Any]:
    form = read_form_text({"rich": RICH, "short": SHORT}[request.param])
    text = re.search(r'id="song">(.*?)</script>', make_page(form, str(bundled().path)).html)
    assert text is not None
    found: dict[str, Any] = json.loads(text[1])
    return found


def test_a_page_carries_exactly_what_is_declared(data: dict[str, Any]) -> None:
    assert mistakes(data, PageData) == []


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ((), "gain"),
        (("parts", 0), "pans"),
        (("samples", 0), "release"),
        (("sprite",), "markerWithin"),
        (("click", "sounds", "wood"), "gains"),
        (("click", "sounds", "wood"), "plain"),
        (("soundfont",), "license"),
    ],
)
def test_a_missing_or_extra_key_is_found(
    data: dict[str, Any], path: tuple[Any, ...], key: str
) -> None:
    for change, wrong in spoiled(data, path, key).items():
        assert mistakes(wrong, PageData), change


def test_a_note_of_another_length_is_found(data: dict[str, Any]) -> None:
    shortened = deepcopy(data)
    del shortened["parts"][0]["notes"][0][3:]
    assert mistakes(shortened, PageData)


def test_the_click_has_a_gain_for_each_level(data: dict[str, Any]) -> None:
    levels = {level for grid in data["grids"] for level in grid["levels"]}
    assert levels | {"between"} <= set(data["click"]["sounds"]["wood"]["gains"])


def test_the_marker_is_within_the_stretch_that_is_searched(data: dict[str, Any]) -> None:
    assert data["sprite"]["marker"] < data["sprite"]["markerWithin"]
