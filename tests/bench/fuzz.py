"""Mutated forms in numbers: how they are received, how long it takes and how much memory.

    python tests/bench/fuzz.py                 20,000 mutants
    python tests/bench/fuzz.py 5000 10000      those from 5,000 on, 10,000 of them

Each thousand has a process of its own, in an empty folder, which reports its largest
size; any attempt to open a file for writing, or to make or remove one, is counted. A
mutant that is still a form is added up; of the short ones a third are built and proven.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

BATCH = 1000
SHORT_BARS = 150
BUILT = 3
TOUCHING = ("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink")


def main(first: int, count: int) -> int:
    """Run all batches and print a summary; the exit code is 1 where a promise was broken."""
    totals: Counter[str] = Counter()
    faults: list[str] = []
    slowest, largest_kib, start = (0.0, 0), 0, time.perf_counter()
    for number in range(first, first + count, BATCH):
        batch = min(BATCH, first + count - number)
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, __file__, "--batch", str(number), str(batch)]
            done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
            left = os.listdir(folder)
        if done.returncode or left:
            faults.append(f"batch {number}: {done.stderr[-500:]} {left}")
            continue
        printed = json.loads(done.stdout)
        totals.update(printed["totals"])
        faults += printed["faults"]
        slowest = max(slowest, tuple(printed["slowest"]))
        largest_kib = max(largest_kib, printed["largest_kib"])
    print(f"mutants {first:,} to {first + count - 1:,} in {time.perf_counter() - start:.0f} s")
    for what in sorted(totals):
        print(f"  {what:<28} {totals[what]:>7,}")
    print(f"  slowest read                 {slowest[0]:>7.2f} s (mutant {slowest[1]})")
    print(f"  largest process              {largest_kib / 1024:>7.0f} MiB")
    print(f"  broken promises              {len(faults):>7,}")
    print("\n".join(faults[:40]))
    return 1 if faults else 0


def run_batch(first: int, count: int) -> None:
    """One process's share; prints JSON."""
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
    from mutations import MOST_SECONDS, mutant, receive, sources

    from backing.tracks.one import midi_of
    from backing.verify import verify_bytes

    sources()
    touched: list[str] = []
    sys.addaudithook(lambda event, args: _watch(event, args, touched))
    totals: Counter[str] = Counter()
    faults: list[str] = []
    slowest = (0.0, 0)
    for number in range(first, first + count):
        got = receive(mutant(number))
        slowest = max(slowest, (got.seconds, number))
        totals["read" if got.form else "refused"] += 1
        if got.fault:
            faults.append(f"mutant {number}: {got.fault}")
        if got.seconds > MOST_SECONDS:
            faults.append(f"mutant {number}: {got.seconds:.1f} s")
        if got.form is not None and got.bars <= SHORT_BARS and number % BUILT == 0:
            totals["built and proven"] += 1
            try:
                assert verify_bytes(got.form, midi_of(got.form), quick=True).agrees
            except Exception as error:
                faults.append(f"mutant {number}, built: {type(error).__name__}: {error}")
        if number % 200 == 0:
            gc.collect()
    faults += touched
    largest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    if largest > 300 * 1024:
        faults.append(f"batch {first}: {largest / 1024:.0f} MiB")
    printed = {"totals": totals, "faults": faults, "slowest": slowest, "largest_kib": largest}
    print(json.dumps(printed))


def _watch(event: str, args: tuple[object, ...], touched: list[str]) -> None:
    """Note what would change the disk."""
    if event == "open" and isinstance(args[2], int):
        if args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            touched.append(f"opened {args[0]} for writing")
    elif event in TOUCHING:
        touched.append(f"{event} {args}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--batch"]:
        run_batch(int(sys.argv[2]), int(sys.argv[3]))
    else:
        asked = [int(word) for word in sys.argv[1:]] or [0, 20_000]
        sys.exit(main(*asked) if len(asked) == 2 else main(0, asked[0]))
