"""The README's commands, in the order in which a reader types them, and what they should print."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import venv
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
ACTIVATE = ". .venv/bin/activate"
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_SET_UP = "python3 -m venv"
#: The form with mistakes that the README shows, and a word that only it has.
MISTAKEN, MISTAKE = "my-song.yaml", "tepmo"


class Line(NamedTuple):
    """A command, the output that the README shows (None: none), and a form to save first."""

    command: str
    prints: str | None = None
    form: str = ""

    @property
    def needs_sound(self) -> bool:
        """Whether it makes sound: such lines need a sound engine and a soundfont."""
        sounding = ("backing lesson", "backing page", "backing sounds")
        return "--audio" in self.command or self.command.startswith(sounding)


def lines() -> list[Line]:
    """Every line after the two set-up commands, in order."""
    found: list[Line] = []
    form = ""
    for kind, body in _BLOCK.findall((ROOT / "README.md").read_text("utf-8")):
        if kind == "yaml" and MISTAKE in body:
            form = body
        elif kind == "console":
            command, _, prints = body.removeprefix("$ ").partition("\n")
            found.append(Line(command, prints, form if MISTAKEN in command else ""))
        elif kind == "sh":
            typed = [line for line in body.splitlines() if not line.startswith(_SET_UP)]
            found += [Line(line.partition(" #")[0].rstrip()) for line in typed]
    return found


class Shell:
    """A shell in a copy of the project's folder, which finds `backing` only in the environment."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.course = folder, folder / "course of one song"
        venv.create(folder / ".venv", with_pip=False)
        script = folder / ".venv" / "bin" / "backing"
        script.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m backing "$@"\n')
        script.chmod(0o755)
        (folder / "forms").symlink_to(ROOT / "forms")
        (self.course / "forms").mkdir(parents=True)
        (self.course / ".venv").symlink_to(folder / ".venv")
        (self.course / "forms" / "starter.yaml").symlink_to(ROOT / "forms" / "starter.yaml")
        self.before = ""

    def run(self, line: Line) -> subprocess.CompletedProcess[str]:
        """Type a line; after ACTIVATE, every line runs in the environment."""
        if line.form:
            (self.folder / MISTAKEN).write_text(line.form, "utf-8")
        if line.command == ACTIVATE:
            self.before = f"{ACTIVATE}\n"
        # The sound of a dozen songs takes minutes.
        whole = line.command.startswith("backing lesson forms/ ")
        kept = {name: os.environ[name] for name in ("PYTHONPATH",) if name in os.environ}
        return subprocess.run(
            ["bash", "-c", self.before + line.command],
            cwd=self.course if whole else self.folder,
            env={"PATH": "/usr/bin:/bin", "HOME": str(self.folder), "LC_ALL": "C.UTF-8", **kept},
            capture_output=True,
            text=True,
            check=False,
        )


def tour(shell: Shell, sound: bool) -> list[str]:
    """Run the lines that need no sound, or all of them; return what differs from the README."""
    wrong: list[str] = []
    for line in lines():
        if line.needs_sound and not sound:
            continue
        done = shell.run(line)
        code = 2 if line.form else 0
        if done.returncode != code:
            wrong.append(f"{line.command}: exit code {done.returncode}\n{done.stderr}")
        # A page's size and soundfont depend on the machine.
        elif line.prints is not None and not line.command.startswith("backing page"):
            printed = done.stdout + done.stderr
            if printed.rstrip() != line.prints.rstrip():
                wrong.append(f"{line.command}: prints\n{printed}\n-- README:\n{line.prints}")
    return wrong
