"""Every hostile name in every run, on a terminal.

    PYTHONPATH=.:tests python tests/bench/terminal.py          # the quick runs: two minutes
    PYTHONPATH=.:tests python tests/bench/terminal.py slow     # those that render, each fourth name

One process for each run does all names, since starting Python takes longer than most commands.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections import Counter
from pathlib import Path

from hostile_names import NAMES, REAL, on_terminal
from hostile_runs import RUNS, SONG, arguments
from terminals import run

SLOW = "slow" in sys.argv
ALL = [*NAMES.values(), *REAL][:: 4 if SLOW else 1]
END = "--- end of a run ---"


def main() -> None:
    """Print what failed, and the figures."""
    counts: Counter[str] = Counter()
    for label in (label for label, of in RUNS.items() if of.is_slow == SLOW):
        with tempfile.TemporaryDirectory() as folder:
            done = run([sys.executable, __file__, "child", label, *sys.argv[1:]], Path(folder))
        outputs = done.data.split(f"{END}\r\n".encode())[:-1]
        if len(outputs) != len(ALL):
            print(f"{label}: {len(outputs)} of {len(ALL)} runs ended: {done.data[-2000:]!r}")
            counts["failed"] += len(ALL) - len(outputs)
        for name, output in zip(ALL, outputs, strict=False):
            found = on_terminal(output)
            if b"Traceback" in output:
                found.append("a traceback")
            counts["runs"] += 1
            counts["failed"] += bool(found)
            counts["bytes"] += len(output)
            if found:
                print(f"{label}, {name!r}: {found}\n  {output!r}")
    print(", ".join(f"{count:,} {what}" for what, count in counts.items()))


def child(label: str) -> None:
    """A run with each name, in a folder for each."""
    from backing.cli import main as backing

    home = Path.cwd()
    (home / "song.yaml").write_text(SONG, "utf-8")
    backing(["build", "song.yaml", "--quiet"], standalone_mode=False)
    track = Path("Lantern.mid").read_bytes()
    for number, name in enumerate(ALL):
        folder = home / str(number)
        folder.mkdir()
        os.chdir(folder)
        Path("song.yaml").write_text(SONG, "utf-8")
        Path("song.mid").write_bytes(track)
        RUNS[label].make(folder, name)
        try:
            backing(arguments(RUNS[label], name), prog_name="backing")
        except SystemExit:
            pass
        except Exception as error:
            print(f"Traceback: {error!r}")
        print(END, flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["child"]:
        child(sys.argv[2])
    else:
        main()
