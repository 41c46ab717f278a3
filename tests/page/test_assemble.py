"""The page's text: typed text stays in its place, and no other script runs."""

from __future__ import annotations

import json
import re
from base64 import b64decode, b64encode
from hashlib import sha256
from html.parser import HTMLParser
from typing import Any

import pytest

from backing.form import read_form_text
from backing.page.assemble import SCRIPTS, STYLES, as_text, assemble, source
from backing.page.data import song_data
from backing.timeline import unroll

WICKED = "</script><script>alert(1)</script>&amp;<!-- ']]>"
FORM = {
    "title": WICKED,
    "tempo": 100,
    "by": WICKED,
    "sections": {"v": {"bars": "| C |", "words": [WICKED], "note": WICKED}},
    "form": [{"section": "v", "label": WICKED}],
}


class Elements(HTMLParser):
    """Every element with its attributes, and the text up to the next tag."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        self.texts.append("")
        self.inside = True

    def handle_endtag(self, tag: str) -> None:
        self.inside = False

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.texts[-1] += data

    def one(self, tag: str, **attributes: str) -> str:
        (index,) = [
            index
            for index, (name, has) in enumerate(self.found)
            if name == tag and attributes.items() <= has.items()
        ]
        return self.texts[index]


@pytest.fixture(scope="module")
def data() -> dict[str, Any]:
    song = song_data(unroll(read_form_text(json.dumps(FORM))))
    assert song["title"] == song["by"] == song["passes"][0]["name"]
    assert song["title"].startswith("</script><script>alert(1)</script>")
    return song


@pytest.fixture(scope="module")
def page(data: dict[str, Any]) -> str:
    return assemble(data, b"\x00\xffsamples", b"\x01\x02")


@pytest.fixture(scope="module")
def elements(page: str) -> Elements:
    parser = Elements()
    parser.feed(page)
    return parser


def test_typed_text_comes_back_and_ends_no_element(
    elements: Elements, data: dict[str, Any]
) -> None:
    assert json.loads(elements.one("script", id="song")) == json.loads(json.dumps(data))
    assert elements.one("title") == elements.one("h1") == data["title"]
    assert len([tag for tag, _ in elements.found if tag == "script"]) == 4
    assert b64decode(elements.one("script", id="sprite")) == b"\x00\xffsamples"
    assert b64decode(elements.one("script", id="clicks")) == b"\x01\x02"


def test_the_policy_allows_its_own_script_and_style_and_no_other(elements: Elements) -> None:
    (policy,) = [
        has["content"] or ""
        for tag, has in elements.found
        if tag == "meta" and has.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    (script,) = [
        text
        for (tag, has), text in zip(elements.found, elements.texts, strict=True)
        if tag == "script" and "type" not in has
    ]
    assert rules["default-src"] == rules["connect-src"] == "'none'"
    assert rules["script-src"] == hashed(script)
    assert rules["style-src"] == hashed(elements.one("style"))
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "*" not in policy


def hashed(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def test_the_policy_comes_before_everything_it_applies_to(elements: Elements) -> None:
    names = [
        "policy" if has.get("http-equiv") == "Content-Security-Policy" else tag
        for tag, has in elements.found
    ]
    assert names.index("policy") < min(names.index("style"), names.index("script"))


def test_nothing_is_written_that_the_policy_would_block(elements: Elements) -> None:
    for tag, has in elements.found:
        assert not {name for name in has if name == "style" or name.startswith("on")}, tag
        assert not {"src", "href"} & has.keys() or (has.get("href") or "").startswith(
            ("#", "data:")
        )


def test_the_page_names_its_language_and_its_width(elements: Elements) -> None:
    (attributes,) = [has for tag, has in elements.found if tag == "html"]
    assert attributes["lang"] == "en"
    assert ("meta", "viewport") in [(tag, has.get("name")) for tag, has in elements.found]


def test_all_sources_are_joined_without_imports_and_exports(page: str) -> None:
    assert not re.search(r"^\s*(import|export)\b", page, re.MULTILINE)
    for name in (*SCRIPTS, *STYLES):
        longest = max(source(name).splitlines(), key=len)
        assert longest in page, name


def test_no_top_level_name_is_taken_twice() -> None:
    names: dict[str, str] = {}
    for name in SCRIPTS:
        for found in re.findall(
            r"^(?:export )?(?:async )?(?:function|const|let|class) ([A-Za-z_$][\w$]*)",
            source(name),
            re.MULTILINE,
        ):
            assert found not in names, f"{found} in {names.get(found)} and {name}"
            names[found] = name


def test_each_import_is_one_line_from_an_earlier_file() -> None:
    for index, name in enumerate(SCRIPTS):
        text = source(name)
        for line in re.findall(r"^import .*$", text, re.MULTILINE):
            found = re.fullmatch(r'import \{ ([\w, ]+) \} from "\./([\w.]+)";', line)
            assert found, f"{name}: {line}"
            assert found[2] in SCRIPTS[:index], f"{name}: {line}"
        assert not re.search(r"\bimport\s*\{[^}]*\n", text), name
        assert "export default" not in text


def test_one_form_gives_one_page(page: str, data: dict[str, Any]) -> None:
    assert assemble(data, b"\x00\xffsamples", b"\x01\x02") == page


def test_data_holds_no_character_that_ends_an_element_or_a_line() -> None:
    told = {"a": "<!-- </script> & \u2028\u2029 \u00e9"}
    text = as_text(told)
    assert not set("<>&\u2028\u2029") & set(text)
    assert "\u00e9" in text
    assert json.loads(text) == told
    with pytest.raises(ValueError, match="JSON"):
        as_text({"a": float("nan")})
