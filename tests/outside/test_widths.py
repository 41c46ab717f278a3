"""How wide a text is on a terminal, against what the Unicode Standard says of its letters.

Sources: Unicode Standard Annex #11, "East Asian Width" (W and F take two columns); the Unicode
Character Database's general category (Mn, a nonspacing mark, has no width of its own); Unicode
Standard Annex #29, "Unicode Text Segmentation", and Technical Standard #51, "Unicode Emoji" (an
emoji joined by ZWJ, with a skin tone or with a variation selector 16, is one emoji; so are two
regional indicators). Common practice of terminals: an emoji takes two columns.
"""

from __future__ import annotations

import subprocess
import sys
import unicodedata

import pytest

from backing.text.width import width


def letters(text: str) -> list[str]:
    return [letter for letter in text if unicodedata.category(letter) != "Mn"]


@pytest.mark.parametrize("text", ["कु", "गुरु", "बुलबुल", "मेरे", "देश"])
def test_a_devanagari_vowel_sign_over_or_under_its_letter_takes_no_column(text: str) -> None:
    assert any(unicodedata.category(letter) == "Mn" for letter in text)
    assert width(text) == len(letters(text))


def test_devanagari_is_never_wider_than_its_characters_that_take_space() -> None:
    """A vowel sign beside its letter (Mc) is drawn with it; terminals differ in its width."""
    for text in ("हिन्दी", "किताब", "गीत"):
        base = [letter for letter in text if unicodedata.category(letter) == "Lo"]
        assert len(base) <= width(text) <= len(letters(text))


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("ที่นี่", 2),  # two letters, each with a vowel and a tone over it
        ("กี่", 1),
        ("ผู้", 1),
        ("ภาษาไทย", 7),
        ("เพลง", 4),
    ],
)
def test_thai_marks_over_and_under_a_letter_take_no_column(text: str, columns: int) -> None:
    assert width(text) == columns == len(letters(text))


@pytest.mark.parametrize(
    "emoji",
    ["🎸", "👩‍👩‍👧‍👦", "👩‍🎤", "👍🏽", "❤️", "☺️", "🇩🇪"],
    ids=["plain", "family", "singer", "skin-tone", "heart-vs16", "smile-vs16", "flag"],
)
def test_an_emoji_takes_two_columns_whatever_it_is_made_of(emoji: str) -> None:
    assert width(emoji) == 2
    assert width(f"a{emoji}b") == 4


def test_a_heart_without_a_variation_selector_is_text() -> None:
    assert width("\u2764") == 1


@pytest.mark.parametrize("text", ["日本語", "川の歌", "한국어", "中文", "ｆｕｌｌ"])
def test_east_asian_letters_take_two_columns(text: str) -> None:
    assert {unicodedata.east_asian_width(letter) for letter in text} <= {"W", "F"}
    assert width(text) == 2 * len(text)


def test_halfwidth_and_accented_letters_take_one() -> None:
    assert width("ｱｲｳ") == 3
    assert width("e\u0301te\u0301") == width("\u00e9t\u00e9") == 3


def test_plain_letters_need_no_library() -> None:
    code = (
        "import sys; from backing.text.width import width; "
        "assert width('Ferry at Noon') == 13; assert 'wcwidth' not in sys.modules; "
        "assert width('川') == 2; assert 'wcwidth' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
