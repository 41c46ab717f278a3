"""What is printed about sound: the files made, and what this machine makes them with."""

from __future__ import annotations

from backing.audio.engines import HOW_TO_GET, available
from backing.audio.sound_files import Sounds
from backing.audio.soundfonts import FOLDER, find
from backing.system.install import install_command


def sound_lines(sounds: Sounds) -> list[str]:
    """Each file with its length, loudness, true peak, engine and soundfont; then warnings."""
    lines = [
        f"Wrote {sound.path}: {_minutes(sound.seconds)}, {sound.lufs:.1f} LUFS, "
        f"true peak {sound.true_peak_db:.1f} dB, {sound.engine}, {sound.soundfont}"
        for sound in sounds.files
    ]
    return [*lines, *sounds.warnings]


def sounds_report(soundfont: str | None = None) -> list[str]:
    """The engines and soundfonts found, the ones in use marked, and what to install if none."""
    engines, fonts = available(), find(soundfont)
    lines = ["Engine"]
    lines += [
        f"  {engine.name}{'' if index else ' (used)'}" for index, engine in enumerate(engines)
    ]
    if not engines:
        lines.append(f"  none. To install one: {install_command('audio')}")
    if "FluidSynth" not in [engine.name for engine in engines]:
        lines.append("  FluidSynth is not installed. To get it:")
        lines += [f"    {how}" for how in HOW_TO_GET.values()]
    lines.append("Soundfonts")
    for index, font in enumerate(fonts):
        size = font.path.stat().st_size / 1e6
        terms = font.license or "license unknown"
        used = "" if index else " (used)"
        lines.append(f"  {font.name}{used}: {font.path}, {size:.0f} MB, {font.where}; {terms}")
    if not fonts:
        lines.append(f"  none. Put a .sf2 file into the folder {FOLDER}, or name one.")
    return lines


def _minutes(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
