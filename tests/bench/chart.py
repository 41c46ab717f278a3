"""Charts against the typesetter alone on the finished source, as ratios in one run.

    python tests/bench/chart.py [--quick]

No figure is asserted: machines differ. Processor time, of this process or of whole ones.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from backing.chart import draw
from backing.chart.drawing import drawing
from backing.chart.typesetter import typeset
from backing.chart.typst_source import source
from backing.form import read_form

ROOT = Path(__file__).parents[2]
FORMS = sorted((ROOT / "forms").glob("*.yaml"))
RUNS = 9
MANY = 20
_ALONE = "import sys, typst; typst.compile(sys.argv[1], sys.argv[2], ignore_system_fonts=True)"


def main() -> None:
    runs = 2 if "--quick" in sys.argv else RUNS
    form = read_form(ROOT / "forms" / "orchard-wall.yaml")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "page.typ").write_text(source(drawing(form)), encoding="utf-8")
        out, song = str(folder / "page.pdf"), str(ROOT / "forms" / "orchard-wall.yaml")
        alone = [sys.executable, "-c", _ALONE, str(folder / "page.typ"), out]
        ours = [sys.executable, "-m", "backing", "chart", song, "--out", out, "-q"]
        pairs = [(_process(ours), _process(alone)) for _ in range(runs)]
        _say("one chart, the whole command", pairs)
    # A new title each time: the typesetter remembers what it has set before.
    pairs = []
    for number in range(runs):
        other = form._replace(title=f"{form.title} {number}")
        finished = source(drawing(form._replace(title=f"{form.title} ({number})")))
        pairs.append((_used(lambda f=other: draw(f)), _used(lambda s=finished: typeset(s))))  # type: ignore[misc]
    _say("one chart, in a process that has drawn before", pairs)
    songs = [read_form(FORMS[number % len(FORMS)]) for number in range(MANY)]
    songs = [song._replace(title=f"{song.title}, {n}") for n, song in enumerate(songs)]
    started = time.perf_counter()
    for song_ in songs:
        draw(song_)
    took = time.perf_counter() - started
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    each = 1000 * took / MANY
    print(f"{MANY} charts in one process: {took:.2f} s, {each:.0f} ms each, {most:.0f} MiB")


def _say(what: str, pairs: list[tuple[float, float]]) -> None:
    ratio = statistics.median(ours / alone for ours, alone in pairs)
    ours, alone = (statistics.median(side) * 1000 for side in zip(*pairs, strict=True))
    print(f"{what:48} {ours:6.0f} ms   typesetter alone {alone:6.0f} ms   ratio {ratio:.2f}")


def _used(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


def _process(command: list[str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    main()
