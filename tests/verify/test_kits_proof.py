"""The kits of a file with brushes: what the proof reads, and every wrong one is found."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from midi_edits import PERCUSSION, as_type_0, each_message

from backing.form import read_form, read_form_text
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

ROOT = Path(__file__).resolve().parents[2]
FORM = read_form(ROOT / "forms/umbrella-by-the-door.yaml")
PLAIN = read_form_text(
    "title: Plain\ntempo: 100\nparts: {drums: on}\n"
    'sections: {a: {bars: "| A | D | E | A |"}}\nform: [a x2]\n'
)


def is_kit(message: Any) -> bool:
    return message.type == "program_change" and message.channel == PERCUSSION


def kits(form: Any, data: bytes) -> tuple[bool, bool]:
    """Whether the kits disagree, and whether they are lost."""
    report = verify_bytes(form, data)
    others = {finding.what for finding in report.disagreements} - {"kits"}
    assert others == set()
    return bool(report.disagreements), "kits" in report.lost


@pytest.mark.parametrize("change", [lambda data: data, as_type_0], ids=["as it is", "type 0"])
def test_right_kits_agree(change: Callable[[bytes], bytes]) -> None:
    assert kits(FORM, change(midi_of(FORM))) == (False, False)


@pytest.mark.parametrize("kit", [0, 40])
def test_one_kit_for_another_is_found(kit: int) -> None:
    """All programs of one kind but the first few are exchanged."""
    seen = 0

    def change(message: Any) -> Any:
        nonlocal seen
        if is_kit(message) and message.program == kit:
            seen += 1
            return message.copy(program=40 - kit) if seen == 5 else message
        return message

    assert kits(FORM, each_message(midi_of(FORM), change)) == (True, False)
    assert seen > 5


def test_a_kit_that_nobody_asks_for_is_found() -> None:
    def change(message: Any) -> Any:
        return message.copy(program=48) if is_kit(message) and message.program else message

    assert kits(FORM, each_message(midi_of(FORM), change)) == (True, False)


def test_a_file_without_programs_has_lost_its_kits() -> None:
    data = each_message(midi_of(FORM), lambda message: None if is_kit(message) else message)
    assert kits(FORM, data) == (False, True)


def test_brushes_where_the_form_has_none_are_found() -> None:
    def change(message: Any) -> Any:
        return message

    data = midi_of(PLAIN)
    assert kits(PLAIN, each_message(data, change)) == (False, False)
    at = data.rindex(b"Click") + len(b"Click")
    chunk = data.rindex(b"MTrk", 0, at)
    length = int.from_bytes(data[chunk + 4 : chunk + 8], "big") + 3
    brushed = (
        data[: chunk + 4] + length.to_bytes(4, "big") + data[chunk + 8 : at]
        + b"\0\xc9\x28" + data[at:]
    )  # fmt: skip
    assert kits(PLAIN, brushed) == (True, False)
