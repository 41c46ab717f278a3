"""The demo songs as the program finds them: those of forms/, with nothing changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.errors import BackingError
from backing.form import demos
from backing.form.demos import demo_bytes, demo_names, demo_title, reference
from backing.form.reader import read_form

FORMS = Path(__file__).resolve().parents[2] / "forms"


def test_the_demos_are_the_songs_in_forms_and_the_starter_is_first() -> None:
    names = demo_names()
    assert names[0] == "starter"
    assert sorted(names) == sorted(path.stem for path in FORMS.glob("*.yaml"))
    assert reference().read_bytes() == (FORMS / "README.md").read_bytes()
    for name in names:
        assert demo_bytes(name) == (FORMS / f"{name}.yaml").read_bytes()
        assert demo_title(name) == read_form(FORMS / f"{name}.yaml").title


def test_a_checkout_finds_them_beside_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demos, "files", lambda name: FORMS.parent / name)
    assert sorted(demo_names()) == sorted(path.stem for path in FORMS.glob("*.yaml"))


def test_an_installed_copy_finds_them_in_its_own_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "demos").mkdir()
    (tmp_path / "demos" / "one.yaml").write_text("title: One\n")
    (tmp_path / "demos" / "README.md").write_text("not a song")
    monkeypatch.setattr(demos, "files", lambda name: tmp_path)
    assert demo_names() == ["one"]
    assert demo_bytes("one") == b"title: One\n"


@pytest.mark.parametrize("name", ["startre", "../starter", "README", "starter.yaml", ""])
def test_any_other_name_is_refused_with_what_there_is(name: str) -> None:
    with pytest.raises(BackingError, match=r"Did you mean starter\?|Choose from: starter, ash-"):
        demo_bytes(name)
