"""Lessons ended amid their work, then run again: the folder must be that of a run left alone.

    python tests/bench/kill.py [KILLS] [--midi]

Each trial starts with an empty folder or with an older set, ends the run with signal 9 after a
random while, up to three times in a row, and then lets it finish. Every file is compared, hidden
ones too; no process may be left, and nothing that is not whole. Only runs that were still at
work when they were ended count, and the while is taken from a run just made, since machines
are now busy and now not. Needs Linux (/proc).
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
MARK = "BACKING_KILL_TRIAL"
SONG = """\
title: {title}
tempo: 300
count-in: 1
sections:
  verse: {{bars: "| A | D |"}}
  chorus: {{bars: "| D E | {last} |"}}
form: [verse, chorus]
practice:
  formats: [{formats}]
  set:
    - {speeds}
    - {{section: chorus, loop: 2, without: guitar}}
"""


class Tally(NamedTuple):
    """How many runs were ended amid their work, how many had finished before, in how many
    trials, and how many of those that were ended had made some of their files.
    """

    ended: int
    finished: int
    trials: int
    midway: int


def trials(kills: int, work: Path, audio: bool = True, seed: int = 1) -> Tally:
    """End so many runs amid their work; AssertionError where a folder comes out otherwise."""
    chance = random.Random(seed)
    ignore = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "backing", work / "backing", ignore=ignore)  # not edited meanwhile
    older = _forms(work / "older", "60", "A", audio)
    forms = _forms(work / "forms", "60, 80", "F#m", audio)
    _run(work, older, work / "before")
    _run(work, forms, work / "alone")
    alone = held(work / "alone")
    ended = finished = trial = midway = 0
    while ended < kills:
        assert finished < 5 * kills + 20, "runs finish before they can be ended"
        if trial % 10 == 0:
            usual_s = _usual(work, forms)
        out = work / f"trial-{trial}"
        if trial % 2:
            shutil.copytree(work / "before", out)
        before = held(out)
        for _ in range(chance.randint(1, 3)):
            if not _ended(work, forms, out, chance.uniform(0.05, usual_s)):
                finished += 1
                break
            ended += 1
            left = {name: data for name, data in held(out).items() if ".backing-work" not in name}
            midway += left not in (before, alone)
        _run(work, forms, out)
        assert held(out) == alone, f"trial {trial}: the folder differs"
        shutil.rmtree(out)
        trial += 1
    return Tally(ended, finished, trial, midway)


def _usual(work: Path, forms: Path) -> float:
    """How many seconds a run takes that nothing disturbs, just now."""
    start = time.perf_counter()
    _run(work, forms, work / "usual")
    taken = time.perf_counter() - start
    shutil.rmtree(work / "usual")
    return taken


def held(folder: Path) -> dict[str, bytes]:
    """Everything below a folder, folders with nothing in them too."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b""
        for path in folder.rglob("*")
    }


def _forms(folder: Path, speeds: str, last: str, audio: bool) -> Path:
    folder.mkdir()
    for title in ("Kettle", "Pot", "Pan"):
        formats = "midi, ogg" if audio and title == "Pan" else "midi"
        text = SONG.format(title=title, formats=formats, speeds=speeds, last=last)
        (folder / f"{title}.yaml").write_text(text)
    return folder


def _start(work: Path, forms: Path, out: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "backing", "lesson", str(forms), "--out", str(out)]
    return subprocess.Popen(
        [*command, "--zip", "--jobs", "2", "-q"],
        cwd=work,
        env={**os.environ, MARK: str(work)},
        stderr=subprocess.PIPE,
    )


def _run(work: Path, forms: Path, out: Path) -> None:
    running = _start(work, forms, out)
    _, printed = running.communicate()
    assert running.returncode == 0, printed.decode()
    assert printed == b""


def _ended(work: Path, forms: Path, out: Path, after_s: float) -> bool:
    """End a run after a while; whether it was still at work."""
    running = _start(work, forms, out)
    try:
        running.wait(after_s)
    except subprocess.TimeoutExpired:
        running.send_signal(signal.SIGKILL)
    running.communicate()
    until = time.monotonic() + 10
    while (left := _marked(work)) and time.monotonic() < until:
        time.sleep(0.01)
    assert not left, f"processes {left} are left"
    return running.returncode == -signal.SIGKILL


def _marked(work: Path) -> list[int]:
    """Processes that a trial started and that are still there."""
    mark = f"{MARK}={work}".encode()
    found = []
    for path in Path("/proc").glob("[0-9]*/environ"):
        try:
            if mark in path.read_bytes().split(b"\0"):
                found.append(int(path.parent.name))
        except OSError:
            continue
    return found


def main() -> None:
    numbers = [argument for argument in sys.argv[1:] if argument.isdecimal()]
    with tempfile.TemporaryDirectory() as name:
        kills = int(numbers[0]) if numbers else 100
        tally = trials(kills, Path(name), "--midi" not in sys.argv)
    print(
        f"{tally.ended} runs ended amid their work ({tally.midway} with some files made), "
        f"{tally.finished} finished before, in {tally.trials} trials; "
        "every folder identical, no process and nothing half-made left"
    )


if __name__ == "__main__":
    main()
