"""Lessons of many songs: one core against two, a second run, and memory by the number of songs.

    python tests/bench/lesson.py [SONGS] [SECONDS] [--midi]

SONGS (20) songs of about SECONDS (60) at four speeds as MP3. Times are of whole commands on
whatever else the machine does; memory is the most that all processes of a run held at once.
Needs Linux (/proc). No figure is asserted: machines differ.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SONG = """\
title: Song {number}
tempo: {tempo}
count-in: 1
parts: {{drums: on, pad: on}}
sections:
  verse: {{bars: "| A | F#m | D | E7 |"}}
  chorus: {{bars: "| D | E7 | A | A7 |"}}
form: [{form}]
practice:
  formats: [{format}]
  set:
    - 60, 75, 90, 100
"""


def main() -> None:
    numbers = [int(argument) for argument in sys.argv[1:] if argument.isdecimal()]
    songs, seconds = (*numbers, *(20, 60)[len(numbers) :])
    format_ = "midi" if "--midi" in sys.argv else "mp3"
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        ignore = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / "backing", work / "backing", ignore=ignore)  # not edited meanwhile
        _write(work / "forms", songs, seconds, format_)
        one = _timed(work, "forms", "one", 1)
        two = _timed(work, "forms", "two", 2)
        again = _timed(work, "forms", "two", 2)
        print(f"{songs} songs x 4 as {format_}: one at a time {one:.1f} s, two {two:.1f} s")
        print(f"two over one: {one / two:.2f} times as fast")
        print(f"second run: {again:.2f} s, {again / two:.1%} of the first")
        for count in (10, 40):
            _write(work / f"short-{count}", count, 6, format_)
            most = _memory(work, f"short-{count}", f"memory-{count}")
            print(f"{count} short songs: {most / 2**20:.0f} MiB at most, all processes together")


def _write(folder: Path, songs: int, seconds: int, format_: str) -> None:
    """Forms that last about so long at their written tempo, no two the same."""
    folder.mkdir()
    for number in range(1, songs + 1):
        tempo = 100 + number / 4
        passes = max(1, round(seconds / (4 * 4 * 60 / tempo) / 2))
        form = ", ".join(["verse", "chorus"] * passes)
        text = SONG.format(number=number, tempo=tempo, form=form, format=format_)
        (folder / f"{number:03d}.yaml").write_text(text)


def _start(work: Path, forms: str, out: str, jobs: int) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "backing", "lesson", str(work / forms), "-q"]
    return subprocess.Popen([*command, "--out", str(work / out), "--jobs", str(jobs)], cwd=work)


def _timed(work: Path, forms: str, out: str, jobs: int) -> float:
    start = time.perf_counter()
    assert _start(work, forms, out, jobs).wait() == 0
    return time.perf_counter() - start


def _memory(work: Path, forms: str, out: str) -> int:
    running = _start(work, forms, out, 2)
    most = 0
    while running.poll() is None:
        most = max(most, _held(running.pid))
        time.sleep(0.05)
    assert running.returncode == 0
    return most


def _held(top: int) -> int:
    """Bytes that a process and those below it hold, shared pages counted once each."""
    parents, found = {}, {top}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            parents[int(path.parent.name)] = int(path.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
    below = found
    while below := {pid for pid, parent in parents.items() if parent in below} - found:
        found |= below
    total = 0
    for pid in found:
        try:
            lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    return total * 1024


if __name__ == "__main__":
    main()
