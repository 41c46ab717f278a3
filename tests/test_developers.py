"""The contributors' guide: short, with every room in it and its picture, and no missing file."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
PICTURE = ROOT / ".pictures" / "architecture.svg"


def rooms() -> list[str]:
    """The folders and the loose modules of the package, as the guide writes them."""
    package = ROOT / "backing"
    folders = [f"{path.parent.name}/" for path in package.glob("*/__init__.py")]
    return folders + [path.name for path in package.glob("*.py") if path.name[0] != "_"]


def test_it_is_short() -> None:
    assert len(GUIDE.split()) <= 1_200


def test_every_room_is_in_the_table_and_in_the_picture() -> None:
    picture = PICTURE.read_text("utf-8")
    table = GUIDE.partition("| room")[2].partition("\n\n")[0]
    assert len(rooms()) >= 15
    for room in rooms():
        assert re.search(rf"[> ]{re.escape(room)}[ <]", picture), room
        assert room == "errors.py" or f"`{room}`" in table, room


def test_the_picture_is_the_one_that_its_script_draws(tmp_path: Path) -> None:
    script = ROOT / ".pictures" / "architecture.py"
    subprocess.run([sys.executable, str(script), str(tmp_path / "now.svg")], check=True)
    assert (tmp_path / "now.svg").read_text("utf-8") == PICTURE.read_text("utf-8")


def test_every_file_that_it_links_to_is_there() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", GUIDE)
    assert len(links) >= 5
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_every_path_that_it_names_is_there() -> None:
    paths = re.findall(r"`([a-z._]+/[\w./-]+\.(?:py|md|mjs|json))`", GUIDE)
    assert len(paths) >= 15
    bases = (ROOT, ROOT / "backing")
    named = [path for path in paths if "NAME" not in path]
    assert [path for path in named if not any((base / path).exists() for base in bases)] == []
