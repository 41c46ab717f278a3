"""The pad's part-writing as a theory library judges it, on chords as mido finds them in files.

No parallel fifths and octaves, and open position, are rules of every harmony textbook (common
practice); music21 (its `VoiceLeadingQuartet`) decides what is one.
"""

from __future__ import annotations

from io import BytesIO
from itertools import combinations, pairwise
from pathlib import Path

import mido
import pytest
from music21.pitch import Pitch
from music21.voiceLeading import VoiceLeadingQuartet
from proof_files import DEMOS

from backing.form import read_form_text
from backing.form.parts import PARTS
from backing.midi.writer import to_bytes
from backing.players import play
from backing.timeline import unroll

#: Progressions in which careless voices go in parallel: by step, by half step, and in circles.
HARD = {
    "up the scale": "| C | Dm | Em | F | G | Am | G | F |",
    "down from A": "| Am | G | F | E | Am | G | F | E7 |",
    "half steps": "| E7 | F7 | E7 | Eb7 | D7 | Db7 | C7 | B7 |",
    "fifths": "| Dm7 | G7 | Cmaj7 | Fmaj7 | Bm7b5 | E7 | Am7 | A7 |",
    "thirds": "| C | Eb | Gb | A | C | E | Ab | C |",
    "rock": "| A | G | D | A | C | D | E | D |",
}


def chords_of(text: str) -> list[tuple[int, ...]]:
    """What the pad sounds between its changes, low to high, without the same twice in a row."""
    form = read_form_text(text)._replace(human=0)
    file = mido.MidiFile(file=BytesIO(to_bytes(play(unroll(form)))))
    (track,) = [track for track in file.tracks if track.name == PARTS["pad"].title]
    sounding: set[int] = set()
    found: list[tuple[int, ...]] = []
    for message in track:
        if message.time and sounding and (not found or found[-1] != tuple(sorted(sounding))):
            found.append(tuple(sorted(sounding)))
        if message.type == "note_on" and message.velocity:
            sounding.add(message.note)
        elif message.type in ("note_on", "note_off"):
            sounding.discard(message.note)
    return found


def faults_of(before: tuple[int, ...], after: tuple[int, ...]) -> list[str]:
    """The parallels between any two voices, low to high."""
    found = []
    for low, high in combinations(range(4), 2):
        pitches = [Pitch(midi=one) for one in (before[high], after[high], before[low], after[low])]
        quartet = VoiceLeadingQuartet(*pitches)
        if quartet.parallelFifth() or quartet.parallelOctave() or quartet.parallelUnison():
            found.append(f"{before} {after}: voices {low} and {high}")
    return found


def test_the_library_finds_what_is_wrong() -> None:
    assert len(faults_of((57, 64, 69, 72), (55, 62, 67, 71))) == 2
    assert faults_of((55, 60, 64, 72), (53, 60, 69, 72)) == []


@pytest.mark.parametrize("bars", HARD.values(), ids=HARD)
@pytest.mark.parametrize("sound", ["organ", "piano"])
def test_hard_progressions_have_open_chords_without_parallels(bars: str, sound: str) -> None:
    chords = chords_of(
        "title: Trial\ntempo: 100\ncount-in: 0\n"
        f"parts: {{click: off, guitar: off, bass: off, pad: {{sound: {sound}}}}}\n"
        f'sections: {{a: {{bars: "{bars}"}}}}\nform: [a x2]\n'
    )
    assert len(chords) >= 14
    assert [fault for pair in pairwise(chords) for fault in faults_of(*pair)] == []
    assert all(len(chord) == 4 and chord[-1] - chord[0] > 12 for chord in chords)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_demos_have_none_either(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if "pad:" not in text:
        parts = "" if "\nparts:\n" in text else "\nparts:\n"
        text = (text + parts).replace("\nparts:\n", "\nparts:\n  pad: {sound: strings}\n")
    chords = chords_of(text)
    assert len(chords) >= 3
    pairs = {pair for pair in pairwise(chords) if len(pair[0]) == len(pair[1]) == 4}
    assert [fault for pair in pairs for fault in faults_of(*pair)] == []
