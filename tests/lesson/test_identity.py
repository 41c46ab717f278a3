"""Keys: the same for the same file in any process, another for anything that changes it."""

from __future__ import annotations

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from lesson.songs import song

from backing.form import read_form, read_form_text
from backing.lesson.identity import key_of, plain, program, song_text

ROOT = Path(__file__).parents[2]
EVERY_KEY = ROOT / "tests" / "data" / "every_key.yaml"
FORMS = [*sorted((ROOT / "forms").glob("*.yaml")), EVERY_KEY]


@pytest.mark.parametrize("path", FORMS, ids=lambda path: path.stem)
def test_every_form_can_be_turned_into_text(path: Path) -> None:
    assert len(song_text(read_form(path))) > 500


def test_the_order_in_sets_makes_no_difference() -> None:
    code = (
        "from backing.form import read_form; from backing.lesson.identity import key_of, song_text;"
        f"print(key_of(song_text(read_form({str(EVERY_KEY)!r}))))"
    )
    keys = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(keys) == 1


def test_comments_and_the_practice_list_change_nothing() -> None:
    text = song()
    changed = "# a comment\n" + text.replace("- 60, 75", "- 75, 60, 50")
    assert song_text(read_form_text(changed)) == song_text(read_form_text(text))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Kettle", "Pot"),
        ("240", "239"),
        ("key: A", "key: F#m"),
        ("human: 0", "human: 1"),
        ("| A | D |", "| A | D(push) |"),
        ("[verse, chorus]", "[verse, chorus, verse]"),
        ("count-in: 1", "parts: {click: {volume: 99}}"),
    ],
)
def test_anything_that_sounds_does(old: str, new: str) -> None:
    text = song()
    assert old in text
    changed = read_form_text(text.replace(old, new))
    assert song_text(changed) != song_text(read_form_text(text))


def test_where_a_text_ends_makes_a_difference() -> None:
    assert key_of("ab", "c") != key_of("a", "bc") != key_of("abc")
    assert key_of() != key_of("")


def test_kinds_of_value_differ() -> None:
    printed = [plain(value) for value in (1, True, "1", Fraction(1), None, (1,), frozenset({1}))]
    assert len(set(printed)) == len(printed)
    with pytest.raises(TypeError, match="float"):
        plain(1.0)


def test_the_program_is_its_text(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import shutil

    code = "from backing.lesson.identity import program; print(program())"

    def of(folder: Path) -> str:
        ran = subprocess.run(
            [sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=True
        )
        return ran.stdout.strip()

    ignore = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "backing", tmp_path / "backing", ignore=ignore)
    copied = of(tmp_path)
    assert copied.split()[0] == program().split()[0]
    with open(tmp_path / "backing" / "midi.py", "a") as file:
        file.write("\n# changed\n")
    assert of(tmp_path) != copied
