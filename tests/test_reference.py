"""The language reference, forms/README.md: every block is read and built, every error printed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pytest

from backing.errors import FormError
from backing.form import read_form, read_form_text
from backing.form.language import EXERCISE, SECTION, SONG
from backing.form.parts import COMMON_KEYS, PARTS
from backing.players import play
from backing.timeline import unroll
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

FORMS = Path(__file__).parent.parent / "forms"
DEMOS = sorted(FORMS.glob("*.yaml"))
TEXT = (FORMS / "README.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(yaml wrong|yaml|text)\n(.*?)^```$", re.MULTILINE | re.DOTALL)

#: What a fragment leaves out, so that it can be read and built.
REST = {
    "title": "title: Fragment\n",
    "tempo": "tempo: 100\n",
    "sections": 'sections: {verse: {bars: "| A | D |"}, more: {bars: "| G |"}}\n',
    "form": "form: [verse]\n",
}


class Block(NamedTuple):
    kind: str
    text: str
    line: int


BLOCKS = [Block(m[1], m[2], TEXT.count("\n", 0, m.start()) + 1) for m in BLOCK.finditer(TEXT)]
RIGHT = [block for block in BLOCKS if block.kind == "yaml"]
WRONG = [
    (block, BLOCKS[index + 1]) for index, block in enumerate(BLOCKS) if block.kind == "yaml wrong"
]


def whole(block: Block) -> str:
    """A block with the lines that it leaves out."""
    written = set(re.findall(r"^([a-z-]+):", block.text, re.MULTILINE))
    return block.text + "".join(text for key, text in REST.items() if key not in written)


@pytest.mark.parametrize("block", RIGHT, ids=lambda block: f"line {block.line}")
def test_every_example_is_read_built_and_proven(block: Block) -> None:
    form = read_form_text(whole(block))
    report = verify_bytes(form, midi_of(form))
    assert report.agrees, report.disagreements


@pytest.mark.parametrize(("block", "output"), WRONG, ids=lambda block: f"line {block.line}")
def test_every_error_shown_is_what_is_printed(block: Block, output: Block) -> None:
    with pytest.raises(FormError) as caught:
        read_form_text(block.text, "song.yaml")
    printed = [line for line in str(caught.value).splitlines() if not line.startswith("    ")]
    assert output.kind == "text"
    assert printed == output.text.splitlines()


def test_nothing_on_the_page_escapes_the_tests() -> None:
    assert TEXT.count("```") == 2 * len(BLOCKS)
    assert len(RIGHT) >= 15
    assert len(WRONG) >= 6


def test_it_or_a_demo_shows_every_part() -> None:
    shown = [read_form_text(whole(block)) for block in RIGHT] + [read_form(path) for path in DEMOS]
    assert {track.part for form in shown for track in play(unroll(form)).tracks} == set(PARTS)


PART_KEYS = {key.name for part in PARTS.values() for key in (*part.keys, *COMMON_KEYS)}


@pytest.mark.parametrize("key", sorted({*SONG, *SECTION, *EXERCISE, *PARTS, *PART_KEYS}))
def test_it_describes_every_key(key: str) -> None:
    assert re.search(rf"(^|[\s{{`]){key}[`:]", TEXT, re.MULTILINE)
