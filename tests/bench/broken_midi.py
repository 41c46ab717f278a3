"""Spoiled MIDI files in numbers: how `verify` ends on them, in what time and memory.

python tests/bench/broken_midi.py             3,000 mutants of built files
python tests/bench/broken_midi.py 400 5000    those from 400 on, 5,000 of them
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path


def main(first: int, count: int) -> int:
    """Run `verify` on each and print a summary; the exit code is 1 where one broke down."""
    from midi_mutations import mutant
    from test_broken_midi import fault, run

    codes: Counter[int] = Counter()
    faults: list[str] = []
    slowest, began = (0.0, 0), time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        form, path = Path(folder) / "form.yaml", Path(folder) / "x.mid"
        for number in range(first, first + count):
            source, data = mutant(number)
            form.write_text(source.form, encoding="utf-8")
            path.write_bytes(data)
            start = time.process_time()
            result = run(form, path)
            slowest = max(slowest, (time.process_time() - start, number))
            codes[result.exit_code] += 1
            if wrong := fault(result, path):
                faults.append(f"mutant {number}: {wrong}")
    print(f"mutants {first:,} to {first + count - 1:,} in {time.perf_counter() - began:.0f} s")
    for code in sorted(codes):
        print(f"  exit code {code}       {codes[code]:>7,}")
    largest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  slowest           {slowest[0]:>7.2f} s (mutant {slowest[1]})")
    print(f"  largest process   {largest:>7.0f} MiB")
    print(f"  broken down       {len(faults):>7,}")
    print("\n".join(faults[:40]))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
    asked = [int(word) for word in sys.argv[1:]] or [0, 3000]
    sys.exit(main(*asked) if len(asked) == 2 else main(0, asked[0]))
