"""The demo songs, which `backing new --demo` copies, and the reference of the form language.

They are kept in the checkout's folder forms/; an installed copy has them as backing/demos.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from backing.errors import BackingError
from backing.form.advice import suggestion
from backing.form.reader import read_form_bytes

_ENDING = ".yaml"


def demo_names() -> list[str]:
    """The demos' names, the starter first, then by the alphabet."""
    found = [demo.name.removesuffix(_ENDING) for demo in _demos()]
    return sorted(found, key=lambda name: (name != "starter", name))


def demo_title(name: str) -> str:
    """The title of a demo's song."""
    return read_form_bytes(demo_bytes(name), name).title


def demo_bytes(name: str) -> bytes:
    """A demo's file as it stands.

    Raises:
        BackingError: there is no demo of that name; it suggests one, or lists them all.
    """
    for demo in _demos():
        if demo.name == name + _ENDING:
            return demo.read_bytes()
    raise BackingError(f"There is no demo {name!r}. {suggestion(name, demo_names())}")


def reference() -> Path:
    """The page that explains all that a form can say."""
    return _folder() / "README.md"


def _demos() -> list[Path]:
    return [demo for demo in _folder().iterdir() if demo.name.endswith(_ENDING)]


def _folder() -> Path:
    package = Path(str(files("backing")))
    installed = package / "demos"
    return installed if installed.is_dir() else package.parent / "forms"
