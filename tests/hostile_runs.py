"""Every way for a hostile name to get into what a command prints: files, folders, texts, options.

A run gets a folder with a good form, `song.yaml`, and its track, `song.mid`, in it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import mido

SONG = """\
title: Lantern
tempo: 80
sections:
  verse: {bars: "| A | D |"}
form: [verse]
practice: {formats: [midi], set: [60]}
"""
#: Where a name can stand in a form, written as YAML in double quotes.
IN_FORM = {
    "title": SONG.replace("Lantern", "NAME"),
    "by": f"by: NAME\n{SONG}",
    "note": f"note: NAME\n{SONG}",
    "key": f"NAME: 1\n{SONG}",
    "section": SONG.replace("verse", "NAME"),
    "no such section": SONG.replace("form: [verse]", "form: [NAME]"),
    "label": SONG.replace("form: [verse]", "form: [{section: verse, label: NAME}]"),
    "bars": SONG.replace('"| A | D |"', "NAME"),
    "part": f"parts: {{NAME: on}}\n{SONG}",
    "strum": f"strums: {{NAME: {{step: 1/8, play: NAME}}}}\n{SONG}",
    "tuning": f"tuning: NAME\n{SONG}",
    "exercise": SONG.replace("set: [60]", "set: [NAME]"),
    "anchor": SONG.replace("Lantern", "*NAME"),
    "broken": f"{{NAME: [\n{SONG}",
}


class Run(NamedTuple):
    """Arguments, with NAME where the name goes; `make` prepares the folder.

    `is_slow` is of those that start processes or typeset.
    """

    arguments: str
    make: Callable[[Path, str], object] = lambda folder, name: None
    is_slow: bool = False


def _form(folder: Path, name: str) -> None:
    (folder / f"{name}.yaml").write_text(SONG, "utf-8")


def _wrong_form(folder: Path, name: str) -> None:
    (folder / f"{name}.yaml").write_text("title: A\n", "utf-8")


def _folder(folder: Path, name: str) -> None:
    (folder / name).mkdir()
    _form(folder / name, name)
    _wrong_form(folder / name, f"{name}2")


def _file(folder: Path, name: str) -> None:
    (folder / name).write_text("x", "utf-8")


def _files_of_others(folder: Path, name: str) -> None:
    (folder / name).mkdir()
    for other in ("Lantern.mid", "Lantern.pdf"):
        (folder / name / other).write_text("x", "utf-8")


def _damaged(ending: str) -> Callable[[Path, str], object]:
    return lambda folder, name: (folder / f"{name}{ending}").write_bytes(b"RIFF\xff\0\0\0sfbk")


def _soundfont(folder: Path, name: str) -> None:
    from backing.audio.soundfonts import bundled

    os.symlink(bundled().path, folder / f"{name}.sf2")


def _in_form(what: str) -> Callable[[Path, str], object]:
    def make(folder: Path, name: str) -> None:
        text = IN_FORM[what].replace("NAME", json.dumps(name))
        (folder / "form.yaml").write_text(text, "utf-8")

    return make


def _midi(folder: Path, name: str) -> None:
    """The track with the name in each of its texts, as raw bytes."""
    raw = name.encode("utf-8", "surrogateescape").decode("latin-1")
    file = mido.MidiFile(file=BytesIO((folder / "song.mid").read_bytes()), charset="latin-1")
    for track in file.tracks:
        for message in track:
            for key in ("name", "text"):
                if message.is_meta and hasattr(message, key):
                    setattr(message, key, raw)
    file.save(folder / "texts.mid")


RUNS = {
    "form is missing": Run("check NAME.yaml"),
    "form": Run("check NAME.yaml", _form),
    "form is wrong": Run("check NAME.yaml", _wrong_form),
    "form is wrong, as JSON": Run("lesson NAME.yaml --out out --json", _wrong_form),
    "form twice": Run("build NAME.yaml song.yaml --out out", _form),
    "forms in a folder": Run("lesson NAME --out out", _folder, is_slow=True),
    "folder for tracks": Run("build song.yaml --out NAME"),
    "folder for tracks, as JSON": Run("build song.yaml --out NAME --json"),
    "folder for lessons": Run("lesson song.yaml --out NAME", is_slow=True),
    "folder for lessons, as JSON": Run("lesson song.yaml --out NAME --json", is_slow=True),
    "folder for charts": Run("chart song.yaml --out NAME", _files_of_others, is_slow=True),
    "folder is a file": Run("build song.yaml --out NAME", _file),
    "folder is a file, for lessons": Run("lesson song.yaml --out NAME", _file),
    "files of others": Run("build song.yaml --out NAME", _files_of_others),
    "files of others, as JSON": Run("build song.yaml --out NAME --json", _files_of_others),
    "chart": Run("chart song.yaml --out NAME.svg", is_slow=True),
    "chart in a file's way": Run("chart song.yaml --out NAME/a.svg", _file, is_slow=True),
    "page": Run("page song.yaml --out NAME.html", is_slow=True),
    "page with another ending": Run("page song.yaml --out NAME.txt"),
    "schema": Run("schema --out NAME.json"),
    "schema with another ending": Run("schema --out NAME.txt"),
    "drill's form": Run("drill A --out out --form-out NAME.yaml"),
    "soundfont is missing": Run("sounds --soundfont NAME.sf2"),
    "soundfont is damaged": Run("sounds --soundfont NAME.sf2", _damaged(".sf2")),
    "soundfont": Run("sounds --soundfont NAME.sf2", _soundfont),
    "soundfont plays": Run(
        "build song.yaml --out NAME --audio wav --soundfont NAME.sf2", _soundfont, is_slow=True
    ),
    "soundfont in a page": Run("page song.yaml --soundfont NAME.sf2", _soundfont, is_slow=True),
    "soundfont for sound": Run("build song.yaml --audio wav --soundfont NAME.sf2"),
    "soundfont for a lesson": Run("lesson song.yaml --out out --soundfont NAME.sf2"),
    "track is missing": Run("verify song.yaml NAME.mid"),
    "track is damaged": Run("verify song.yaml NAME.mid", _damaged(".mid")),
    "track is a folder": Run("verify song.yaml NAME", _folder),
    "sound is missing": Run("verify song.yaml NAME.wav"),
    "sound is damaged": Run("verify song.yaml NAME.mp3", _damaged(".mp3")),
    "texts of a track": Run("verify song.yaml texts.mid", _midi),
    "texts of a track, strictly": Run("verify song.yaml texts.mid --strict", _midi),
    "texts of a track, as JSON": Run("verify song.yaml texts.mid --json", _midi),
    "no such command": Run("NAME"),
    "no such option": Run("--NAME"),
    "no such option of a command": Run("check --NAME"),
    "no such letter": Run("check -NAME"),
    "argument too many": Run("capo song.yaml NAME"),
    "value of a flag": Run("check song.yaml --json=NAME"),
    "paper": Run("chart song.yaml --paper NAME"),
    "jobs": Run("lesson song.yaml --out out --jobs NAME"),
    "seed": Run("build song.yaml --seed NAME"),
    "loudness": Run("build song.yaml --audio wav --loudness NAME"),
    "formats": Run("build song.yaml --audio NAME"),
    "formats of a lesson": Run("lesson song.yaml --out out --audio NAME"),
    "speed": Run("build song.yaml --speed NAME"),
    "ladder": Run("build song.yaml --ladder NAME"),
    "section": Run("build song.yaml --section NAME"),
    "stretch": Run("build song.yaml --section NAME..verse"),
    "bars": Run("build song.yaml --bars NAME"),
    "part left out": Run("build song.yaml --without NAME"),
    "key": Run("build song.yaml --key NAME"),
    "chords": Run("drill NAME --out out"),
    "tempo of a drill": Run("drill A --out out --tempo NAME"),
    "meter of a drill": Run("drill A --out out --meter NAME"),
    "title": Run("new NAME"),
    "title of a file": Run("new NAME.yaml"),
    "demo": Run("new --demo NAME"),
    "file of a new song": Run("new Song --out NAME.yaml"),
    "file of a new song is taken": Run("new Song --out NAME.yaml", _form),
    "key of a new song": Run("new Song --key NAME"),
    "meter of a new song": Run("new Song --meter NAME"),
    **{
        f"{what} in a form, {command}": Run(f"{command} form.yaml", _in_form(what))
        for what in IN_FORM
        for command in ("check", "capo")
    },
    **{
        f"{what} in a form, built": Run("build form.yaml --out out", _in_form(what))
        for what in ("title", "by", "section", "label")
    },
    "title in a form, as JSON": Run("check form.yaml --json", _in_form("title")),
    "title in a lesson": Run("lesson form.yaml --out out", _in_form("title"), is_slow=True),
    "title on a chart": Run("chart form.yaml --out out", _in_form("title"), is_slow=True),
}


def arguments(run: Run, name: str) -> list[str]:
    """A run's arguments for a name."""
    return [word.replace("NAME", name) for word in run.arguments.split()]
