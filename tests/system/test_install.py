"""What the program says to install: a command that finds this very copy, or the libraries."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from backing.system import install
from backing.system.install import LIBRARIES, install_command

ROOT = Path(__file__).resolve().parents[2]


class Installed:
    """A stand-in for the metadata of an installed copy."""

    def __init__(self, origin: dict[str, object] | None) -> None:
        self.origin = origin

    def read_text(self, name: str) -> str | None:
        assert name == "direct_url.json"
        return None if self.origin is None else json.dumps(self.origin)


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """As if the package stood in site-packages, with no checkout around it."""
    monkeypatch.setattr(install, "PACKAGE", tmp_path / "site-packages" / "backing")
    return monkeypatch


def come_from(monkeypatch: pytest.MonkeyPatch, origin: dict[str, object] | None) -> None:
    monkeypatch.setattr("importlib.metadata.distribution", lambda name: Installed(origin))


def test_in_a_checkout_it_installs_the_checkout(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(install, "PACKAGE", ROOT / "backing")
    assert install_command("audio") == f'pip install -e "{ROOT}[audio]"'


def test_what_came_from_a_folder_is_installed_from_there(
    installed: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    folder = tmp_path / "two words"
    folder.mkdir()
    come_from(installed, {"url": folder.as_uri(), "dir_info": {}})
    assert shlex.split(install_command("chart")) == ["pip", "install", f"{folder}[chart]"]


def test_what_came_from_a_wheel_is_installed_from_it_while_it_is_there(
    installed: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    wheel = tmp_path / "backing-0.1.0-py3-none-any.whl"
    wheel.touch()
    come_from(installed, {"url": wheel.as_uri(), "archive_info": {}})
    assert install_command("audio") == f'pip install "{wheel}[audio]"'
    wheel.unlink()
    assert install_command("audio") == f"pip install {' '.join(LIBRARIES['audio'])}"


# PEP 610 for what is recorded, PEP 508 for how a direct address is written.
@pytest.mark.parametrize(
    ("origin", "command"),
    [
        (
            {"url": "https://example.org/b.whl", "archive_info": {}},
            'pip install "backing[audio] @ https://example.org/b.whl"',
        ),
        (
            {"url": "https://example.org/b", "vcs_info": {"vcs": "git", "commit_id": "c0ffee"}},
            'pip install "backing[audio] @ git+https://example.org/b@c0ffee"',
        ),
        (
            {"url": "https://example.org/b.zip", "archive_info": {}, "subdirectory": "in"},
            'pip install "backing[audio] @ https://example.org/b.zip#subdirectory=in"',
        ),
    ],
)
def test_what_came_from_an_address_is_installed_from_it(
    installed: pytest.MonkeyPatch, origin: dict[str, object], command: str
) -> None:
    come_from(installed, origin)
    assert install_command("audio") == command


def test_otherwise_it_names_the_libraries_and_never_a_package_of_our_name(
    installed: pytest.MonkeyPatch,
) -> None:
    come_from(installed, None)
    for extra, names in LIBRARIES.items():
        assert install_command(extra) == f"pip install {' '.join(names)}"
        assert "backing" not in names


@pytest.mark.parametrize("extra", sorted(LIBRARIES))
def test_the_libraries_are_those_of_the_extra(extra: str) -> None:
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    found = re.search(rf"^{extra} = \[(.*)\]$", text, re.MULTILINE)
    assert found is not None
    needed = re.findall(r'"([^"]*)"', found[1])
    always = [re.split("[<>=]", one)[0] for one in needed if ";" not in one]
    assert sorted(LIBRARIES[extra]) == sorted(always)
    assert len(always) >= 1


def test_no_message_names_a_package_on_an_index() -> None:
    for source in (ROOT / "backing").rglob("*.py"):
        assert "pip install 'backing" not in source.read_text("utf-8"), source
        assert "pip install backing" not in source.read_text("utf-8"), source
