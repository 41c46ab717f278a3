"""How fast, as ratios in one run: whole processes against bare ones, and growth with length.

    python tests/bench/speed.py           the table in tests/bench/README.md
    python tests/bench/speed.py --quick   the same with fewer runs, to see that it works

No figure here is asserted: machines differ, ratios in one run tell more than times.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

FOUR_MINUTES = """\
title: Four minutes
tempo: 120
key: G
strums:
  plain: {step: 1/8, play: "D> - D U - U D U"}
parts: {click: {subdivide: 1/8}, bass: {line: beats}, guitar: {strum: plain}}
sections:
  verse:
    bars: |
      | G | D/F# | Em7 | C |
      | G | D/F# | C D | G |
form: [verse x15]
"""

#: The same with every part on, a riff among them.
EVERY_PART = FOUR_MINUTES.replace("Four minutes", "Every part").replace(
    "parts: {",
    'riffs: {hook: {step: 1/8, tab: "e|0---3---|\\nB|--1---1-|\\n'
    'G|----0---|\\nD|-2---2-2|\\nA|--------|\\nE|--------|"}}\n'
    "parts: {lead: {riff: hook}, drums: {beat: eighths, fill: on}, pad: {sound: strings}, ",
)

BARE = """\
import sys
import click, mido, yaml
file = mido.MidiFile(ticks_per_beat=960)
track = mido.MidiTrack()
file.tracks.append(track)
for _ in range(int(sys.argv[1])):
    track.append(mido.Message("note_on", note=60, velocity=80, time=10))
    track.append(mido.Message("note_off", note=60, velocity=0, time=10))
file.save(sys.argv[2])
"""

GROWTH = """\
import resource, sys, time
from backing.tracks.one import midi_of
from backing.verify import verify_bytes
from backing.commands.build import ease_collection
from backing.form import read_form_text
ease_collection()
rows = "\\n".join("      | G | D/F# | Em7 | C |" for _ in range(25))
times = int(sys.argv[1]) // 100
sections = f"sections:\\n  a:\\n    bars: |\\n{rows}\\n"
text = f"title: t\\ntempo: 120\\n{sections}form: [a x{times}]\\n"
once = "sections: {a: {bars: G | D/F# | Em7 | C}}\\nform: [a]\\n"
small = read_form_text(f"title: t\\ntempo: 120\\n{once}")
verify_bytes(small, midi_of(small), quick=True)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
start = time.perf_counter()
form = read_form_text(text)
verify_bytes(form, midi_of(form), quick=True)
spent = time.perf_counter() - start
print(spent, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


def main() -> None:
    """Print the table."""
    runs = 3 if "--quick" in sys.argv else 15
    with tempfile.TemporaryDirectory() as folder:
        _whole_processes(Path(folder), runs)
    _growth(1 if runs == 3 else 5)


def _whole_processes(folder: Path, runs: int) -> None:
    bare = folder / "bare.py"
    bare.write_text(BARE)
    songs = (("four minutes", FOUR_MINUTES), ("every part on", EVERY_PART))
    rows = [
        *(_build_row(folder, bare, name, text) for name, text in songs),
        *(_verify_row(folder, name, text) for name, text in songs),
        (
            "--help",
            [sys.executable, "-m", "backing", "--help"],
            [sys.executable, "-c", "import click"],
            "python -c 'import click'",
        ),
    ]
    print(f"{'command':<44} {'ours':>8} {'bare':>8} {'ratio':>6}   against")
    for name, ours, other, against in rows:
        a, b, ratio = _pairs(ours, other, runs)
        print(f"{name:<44} {a:>7.0f}ms {b:>6.0f}ms {ratio:>6.2f}   {against}")


def _build_row(
    folder: Path, bare: Path, name: str, text: str
) -> tuple[str, list[str], list[str], str]:
    """A build of a form, and the bare script with as many notes as that makes."""
    form = folder / f"{name}.yaml"
    form.write_text(text)
    build = [sys.executable, "-m", "backing", "build", str(form), "--out", str(folder), "-q"]
    _run(build)
    title = text.partition("\n")[0].removeprefix("title: ")
    notes = _notes(folder / f"{title}.mid")
    other = [sys.executable, str(bare), str(notes), str(folder / "bare.mid")]
    return f"build, {name} ({notes:,} notes)", build, other, "bare script that writes as many notes"


def _verify_row(folder: Path, name: str, text: str) -> tuple[str, list[str], list[str], str]:
    """The proof of a file that is built, and the second reader alone, with its libraries."""
    title = text.partition("\n")[0].removeprefix("title: ")
    file = str(folder / f"{title}.mid")
    proof = [sys.executable, "-m", "backing", "verify", str(folder / f"{name}.yaml"), file, "-q"]
    other = [sys.executable, "-c", "import pretty_midi, sys; pretty_midi.PrettyMIDI(sys.argv[1])"]
    return f"verify, {name}", proof, [*other, file], "pretty_midi reading the same file"


def _growth(runs: int) -> None:
    print(f"\n{'bars':>7} {'time a bar':>12} {'memory a bar':>14}")
    for bars in (100, 1_000, 10_000):
        outs = [_output([sys.executable, "-c", GROWTH, str(bars)]) for _ in range(runs)]
        spent = statistics.median(float(out.split()[0]) for out in outs)
        grown = statistics.median(float(out.split()[1]) for out in outs)
        print(f"{bars:>7,} {spent / bars * 1e6:>9.0f} us {grown / bars:>11.1f} KiB")


def _pairs(ours: list[str], other: list[str], runs: int) -> tuple[float, float, float]:
    """Medians in ms, and the median of the ratios pair by pair, after one pair for warmth."""
    pairs = [(_run(ours), _run(other)) for _ in range(runs + 1)][1:]
    a, b = (statistics.median(pair[side] for pair in pairs) * 1000 for side in (0, 1))
    return a, b, statistics.median(x / y for x, y in pairs)


def _run(command: list[str]) -> float:
    """A whole process's processor time, which other work on the machine disturbs least."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=_environment())
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _output(command: list[str]) -> str:
    return subprocess.run(
        command, check=True, capture_output=True, text=True, env=_environment()
    ).stdout


def _environment() -> dict[str, str]:
    """Compiled modules are kept, as in any installation."""
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}


def _notes(path: Path) -> int:
    import mido

    return sum(
        m.type == "note_on" and m.velocity > 0
        for track in mido.MidiFile(path).tracks
        for m in track
    )


if __name__ == "__main__":
    start = time.perf_counter()
    main()
    print(f"\n({time.perf_counter() - start:.0f} s)")
