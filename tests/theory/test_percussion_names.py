"""Looking percussion up by name."""

from __future__ import annotations

import pytest

from backing.theory.general_midi import KIT_NAMES, PERCUSSION, percussion_number


@pytest.mark.parametrize(("number", "name"), PERCUSSION.items())
def test_every_name_is_found(number: int, name: str) -> None:
    assert percussion_number(name) == number
    assert percussion_number(name.upper().replace(" ", "-")) == number


@pytest.mark.parametrize(("name", "number"), KIT_NAMES.items())
def test_every_kit_name_is_found(name: str, number: int) -> None:
    assert percussion_number(name) == number
    assert number in PERCUSSION


def test_a_near_miss_gets_a_suggestion() -> None:
    with pytest.raises(ValueError, match="did you mean snare"):
        percussion_number("snair")
    with pytest.raises(ValueError, match="write one such as kick"):
        percussion_number("zzzz")
