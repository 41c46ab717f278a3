"""How to install what is missing, as this copy of the program was installed.

No package index has this program under its name, so a command must name the folder or file
that it came from, or else the libraries themselves.
"""

from __future__ import annotations

import json
from pathlib import Path
from types import MappingProxyType
from typing import Any

NAME = "backing"
PACKAGE = Path(__file__).resolve().parents[1]

#: The libraries of each extra, as pyproject.toml has them.
LIBRARIES = MappingProxyType(
    {
        "audio": ("midirenderer", "mutagen", "numpy", "pyfluidsynth", "soundfile"),
        "chart": ("typst",),
    }
)


def install_command(extra: str) -> str:
    """The `pip` command that adds the libraries of an extra, `audio` or `chart`.

    It is quoted for the shells of Linux, macOS and Windows alike.
    """
    checkout = PACKAGE.parent
    if (checkout / "pyproject.toml").is_file():
        return f'pip install -e "{checkout}[{extra}]"'
    origin = _origin()
    if origin:
        return f'pip install "{_with_extra(origin, extra)}"'
    return f"pip install {' '.join(LIBRARIES[extra])}"


def _origin() -> dict[str, Any]:
    """Where the installed copy came from (PEP 610); empty where that is unknown or gone."""
    from importlib import metadata

    try:
        text = metadata.distribution(NAME).read_text("direct_url.json")
    except metadata.PackageNotFoundError:
        return {}
    if not text:
        return {}
    origin: dict[str, Any] = json.loads(text)
    path = _local_path(origin)
    return {} if path is not None and not path.exists() else origin


def _local_path(origin: dict[str, Any]) -> Path | None:
    """The folder or file on this machine that was installed, if it was one."""
    from urllib.parse import urlsplit
    from urllib.request import url2pathname

    url = urlsplit(origin["url"])
    if url.scheme != "file" or "vcs_info" in origin:
        return None
    return Path(url2pathname(url.path))


def _with_extra(origin: dict[str, Any], extra: str) -> str:
    """A folder, file or address with the extra, as `pip` takes it."""
    path = _local_path(origin)
    if path is not None:
        return f"{path}[{extra}]"
    url, repository, folder = origin["url"], origin.get("vcs_info"), origin.get("subdirectory")
    if repository:
        url = f"{repository['vcs']}+{url}@{repository['commit_id']}"
    return f"{NAME}[{extra}] @ {url}" + (f"#subdirectory={folder}" if folder else "")
