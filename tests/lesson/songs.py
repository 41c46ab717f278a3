"""Short songs for the lesson's tests, and what a folder holds."""

from __future__ import annotations

from pathlib import Path

SONG = """\
title: {title}
tempo: 240
key: A
human: 0
count-in: 1
sections:
  verse: {{bars: "| A | D |"}}
  chorus: {{bars: "| D E | A F#m |"}}
form: [verse, chorus]
practice:
  formats: [midi]
  set:
    - 60, 75
    - {{section: chorus, ladder: 60-100 by 20}}
"""
NAMES = ["01 whole song 60%.mid", "02 whole song 75%.mid", "03 chorus ladder 60-100%.mid"]
PAGES = ["contents.html", "contents.txt"]


def song(title: str = "Kettle") -> str:
    return SONG.format(title=title)


def held(folder: Path) -> dict[str, bytes]:
    """Every file of a folder with what it holds, hidden ones and those of its folders too."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def stamps(folder: Path) -> dict[str, int]:
    """When each file was written, and which it is: what an untouched file keeps."""
    return {
        path.relative_to(folder).as_posix(): path.stat().st_mtime_ns ^ path.stat().st_ino
        for path in folder.rglob("*")
        if path.is_file()
    }
