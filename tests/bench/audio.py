"""Rendering against the fluidsynth program's own render to a file, as ratios in one run.

    python tests/bench/audio.py [--quick] [BANK.sf2]

The same MIDI file, the same bank, 44.1 kHz stereo. Six speeds of the song by one command, each
as a WAV file at its loudness and proven, are held against six runs of the program one after
another. Every line tells how many times faster than real time it went. No figure is asserted:
machines differ.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from speed import EVERY_PART

from backing.audio.engines import choose
from backing.audio.render import render
from backing.audio.soundfonts import bundled
from backing.audio.soundfonts import choose as choose_soundfont
from backing.form import Form, read_form_text
from backing.players import play
from backing.players.human import humanize
from backing.practice.versions import Version
from backing.system.cores import usable_cores
from backing.timeline import unroll
from backing.tracks.one import midi_of

RUNS = 5
SPEEDS = (60, 70, 80, 90, 100, 110)


def main() -> None:
    arguments = sys.argv[1:]
    runs = 1 if "--quick" in arguments else RUNS
    banks = [argument for argument in arguments if argument != "--quick"]
    bank = choose_soundfont(banks[0]) if banks else bundled()
    form = read_form_text(EVERY_PART)
    score = humanize(play(unroll(form)), form.human)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "song.yaml").write_text(EVERY_PART)
        (folder / "song.mid").write_bytes(midi_of(form))
        song, wav = str(folder / "song.mid"), str(folder / "theirs.wav")
        theirs = ["fluidsynth", "-ni", "-q", "-F", wav, "-r", "44100", str(bank.path), song]
        ours = [sys.executable, "-m", "backing", "build", str(folder / "song.yaml"), "-q"]
        ours += ["--audio", "wav", "--soundfont", str(bank.path), "--out", str(folder / "out")]
        engine = choose()
        works: dict[str, Callable[[], object]] = {
            "fluidsynth program": lambda: _run(theirs),
            "rendering the mix": lambda: render(score, folder, bank, engine),
            "rendering with stems": lambda: render(score, folder, bank, engine, stems=True),
            "whole command": lambda: _run(ours),
        }
        times: dict[str, list[float]] = {what: [] for what in works}
        for _ in range(runs):
            for what, work in works.items():
                times[what].append(_timed(work))
        seconds = render(score, folder, bank, engine).frames / 44100
        six = _six(form, folder, str(bank.path), 1 if runs == 1 else 3)
    # Each run's ratio is to the program's time in the same run.
    base = times["fluidsynth program"]
    for what, taken in times.items():
        ratio = statistics.median(t / b for t, b in zip(taken, base, strict=True))
        middle = statistics.median(taken)
        print(f"{what:22} {middle:6.2f} s  {seconds / middle:6.0f} x real time  {ratio:5.2f}")
    mixes = zip(times["rendering with stems"], times["rendering the mix"], strict=True)
    print(f"stems over mix: {statistics.median(a / b for a, b in mixes):.2f}")
    print(f"six speeds over six runs of the program: {six:.2f} on {usable_cores()} cores")


def _six(form: Form, folder: Path, bank: str, runs: int) -> float:
    """One command for all speeds, against the program on each speed's MIDI file in turn."""
    (folder / "song.yaml").write_text(EVERY_PART)
    ours = [sys.executable, "-m", "backing", "build", str(folder / "song.yaml"), "-q"]
    ours += ["--speed", ",".join(map(str, SPEEDS)), "--audio", "wav", "--soundfont", bank]
    ours += ["--out", str(folder / "six")]
    commands = []
    for percent in SPEEDS:
        midi = folder / f"at {percent}.mid"
        midi.write_bytes(midi_of(form, version=Version(speeds=(Fraction(percent, 100),))))
        wav = str(folder / "theirs.wav")
        commands.append(["fluidsynth", "-ni", "-q", "-F", wav, "-r", "44100", bank, str(midi)])

    def one_after_another() -> None:
        for command in commands:
            _run(command)

    ratios = []
    for _ in range(runs):
        ratios.append(_timed(lambda: _run(ours)) / _timed(one_after_another))
    return statistics.median(ratios)


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, capture_output=True)


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
