"""Our reading of chord symbols against three independent readers.

Each row is our quality and the same chord in each reader's own spelling: pychord
(trade text), Harte's syntax as mir_eval reads it (Harte et al., ISMIR 2005), and
music21's figures, whose chord kinds are those of MusicXML 4.0 (W3C, kind-value).
None where the reader has no spelling for the chord; every row has two readers.
"""

from __future__ import annotations

import mir_eval.chord
import pychord
import pytest
from music21 import harmony

from backing.theory.chords import parse_chord

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

# ours: (pychord, Harte, music21)
ROWS = {
    "": ("", "maj", ""),
    "maj": ("maj", "maj", "maj"),
    "M": (None, "maj", "M"),
    "m": ("m", "min", "m"),
    "min": ("min", "min", "min"),
    "-": ("-", "min", None),
    "dim": ("dim", "dim", "dim"),
    "°": (None, "dim", "o"),
    "o": (None, "dim", "o"),
    "aug": ("aug", "aug", "aug"),
    "+": (None, "aug", "+"),
    "5": ("5", "5", "power"),
    "6": ("6", "maj6", "6"),
    "m6": ("m6", "min6", "m6"),
    "6/9": ("69", "maj6(9)", None),
    "69": ("69", "maj6(9)", None),
    "m6/9": ("m69", "min6(9)", None),
    "7": ("7", "7", "7"),
    "m7": ("m7", "min7", "m7"),
    "min7": (None, "min7", "min7"),
    "-7": ("m7", "min7", "m7"),
    "maj7": ("maj7", "maj7", "maj7"),
    "M7": ("M7", "maj7", "M7"),
    "Δ": ("maj7", "maj7", "maj7"),
    "Δ7": ("maj7", "maj7", "maj7"),
    "mMaj7": ("mM7", "minmaj7", "mM7"),
    "m(maj7)": ("mmaj7", "minmaj7", "mM7"),
    "dim7": ("dim7", "dim7", "dim7"),
    "°7": (None, "dim7", "o7"),
    "m7b5": ("m7b5", "hdim7", "m7b5"),
    "m7-5": ("m7-5", "hdim7", None),
    "ø": (None, "hdim7", "ø7"),
    "ø7": (None, "hdim7", "ø7"),
    "aug7": ("7#5", "aug(b7)", "aug7"),
    "+7": ("7+5", "aug(b7)", "+7"),
    "+maj7": ("maj7+5", "aug(7)", "+M7"),
    "9": ("9", "9", "9"),
    "m9": ("m9", "min9", "m9"),
    "maj9": ("maj9", "maj9", "Maj9"),
    "mMaj9": (None, "minmaj7(9)", "mM9"),
    "aug9": ("9#5", "aug(b7,9)", "aug9"),
    "11": ("11", "11", "11"),
    "m11": ("m11", "min11", "m11"),
    "maj11": (None, "maj7(9,11)", "Maj11"),
    "13": ("13", "13", "13"),
    "m13": (None, "min13", "m13"),
    "maj13": ("maj13", "maj13", "Maj13"),
    "add9": ("add9", "maj(9)", "add9"),
    "m(add9)": ("madd9", "min(9)", None),
    "add11": ("add11", "maj(11)", None),
    "sus2": ("sus2", "sus2", "sus2"),
    "sus4": ("sus4", "sus4", "sus4"),
    "sus": ("sus", "sus4", "sus"),
    "7sus4": ("7sus4", "sus4(b7)", "7sus4"),
    "9sus4": ("9sus4", "sus4(b7,9)", None),
    "(b5)": ("(b5)", "maj(*5,b5)", None),
    "7b5": ("7b5", "7(*5,b5)", None),
    "7#5": ("7#5", "7(*5,#5)", None),
    "maj7#5": ("maj7+5", "maj7(*5,#5)", "+M7"),
    "m7#5": ("m7#5", "min7(*5,#5)", None),
    "7b9": ("7b9", "7(b9)", None),
    "7(b9)": ("7(b9)", "7(b9)", None),
    "7#9": ("7#9", "7(#9)", None),
    "7+9": ("7+9", "7(#9)", None),
    "7-9": ("7-9", "7(b9)", None),
    "7#11": ("7#11", "7(#11)", None),
    "maj7#11": ("maj7#11", "maj7(#11)", None),
    "7b13": ("7b13", "7(b13)", None),
    "7b9b5": ("7b9b5", "7(*5,b5,b9)", None),
    "7#9#5": ("7#9#5", "7(*5,#5,#9)", None),
    "7(b9,#11)": ("7b9#11", "7(b9,#11)", None),
    "7b9b13": ("7b9b13", "7(b9,b13)", None),
    "9b5": ("9b5", "9(*5,b5)", None),
    "9#11": ("9#11", "9(#11)", None),
    "13b9": ("13b9", "7(b9,13)", None),
    "13#11": ("13#11", "7(9,#11,13)", None),
    "mi": ("m", "min", "m"),
    "MI": ("m", "min", "m"),
    "ma": ("maj", "maj", "maj"),
    "MA7": ("maj7", "maj7", "maj7"),
    "mi7b5": ("m7b5", "hdim7", "m7b5"),
    "dom7": ("7", "7", "7"),
    "dom9": ("9", "9", "9"),
    "7M": ("maj7", "maj7", "maj7"),
    "m7(11)": (None, "min7(11)", "m7add11"),
    "m(b6)": (None, "min(b13)", "maddb6"),
    "mM11": (None, "minmaj7(9,11)", "mM11"),
    "sus2sus4": (None, "sus2(11)", "sus2add4"),
    "ø9": (None, "hdim7(9)", "ø9"),
    "dim9": (None, "dim7(9)", "o9"),
    "°b9": (None, "dim7(b9)", "o7b9"),
    "omaj7": (None, "dim(7)", "dimadd7"),
}

# (reader, ours): semitones above the root that only the reader has, and only we have.
_ELEVENTH = "a stack of thirds keeps the third; played, it clashes with the eleventh"
_THIRTEENTH = "a stack of thirds keeps the eleventh; played, it clashes with the third"
DISAGREEMENTS = {
    # We follow guitar and keyboard practice (common practice), not the stack of thirds.
    ("pychord", "11"): ({4}, set(), _ELEVENTH),
    ("mir_eval", "11"): ({4}, set(), _ELEVENTH),
    ("music21", "11"): ({4}, set(), _ELEVENTH),
    ("mir_eval", "maj11"): ({4}, set(), _ELEVENTH),
    ("music21", "maj11"): ({4}, set(), _ELEVENTH),
    ("pychord", "13"): ({5}, set(), _THIRTEENTH),
    ("mir_eval", "13"): ({5}, set(), _THIRTEENTH),
    ("music21", "13"): ({5}, set(), _THIRTEENTH),
    ("pychord", "maj13"): ({5}, set(), _THIRTEENTH),
    ("mir_eval", "maj13"): ({5}, set(), _THIRTEENTH),
    ("music21", "maj13"): ({5}, set(), _THIRTEENTH),
    # We follow Harte's literal spelling, which adds what is written and nothing else.
    ("pychord", "13b9"): ({5}, set(), _THIRTEENTH),
    ("pychord", "7b9b13"): ({5}, set(), "it gains an eleventh that nobody wrote"),
}


def by_pychord(root: str, spelling: str) -> set[int]:
    return {note % 12 for note in pychord.Chord(root + spelling).components(visible=False)}


def by_mir_eval(root: str, spelling: str) -> set[int]:
    number, semitones, _ = mir_eval.chord.encode(f"{root}:{spelling}", reduce_extended_chords=True)
    return {(int(number) + step) % 12 for step in range(12) if semitones[step]}


def by_music21(root: str, spelling: str) -> set[int]:
    return set(harmony.ChordSymbol(root.replace("b", "-") + spelling).pitchClasses)


READERS = {"pychord": (0, by_pychord), "mir_eval": (1, by_mir_eval), "music21": (2, by_music21)}


def test_every_row_has_two_readers_and_there_are_enough() -> None:
    assert len(ROWS) >= 60
    assert [ours for ours, row in ROWS.items() if 3 - row.count(None) < 2] == []


@pytest.mark.parametrize("reader", READERS)
def test_disagreements_are_exactly_those_listed(reader: str) -> None:
    column, read = READERS[reader]
    found = {}
    for ours, row in ROWS.items():
        if row[column] is None:
            continue
        for root in ROOTS:
            chord = parse_chord(root + ours)
            theirs, mine = read(root, row[column]), chord.pitch_classes
            if theirs != mine:
                above = chord.root.pitch_class
                found[ours, root] = (
                    {(tone - above) % 12 for tone in theirs - mine},
                    {(tone - above) % 12 for tone in mine - theirs},
                )
    listed = {
        (ours, root): (only_theirs, only_ours)
        for (name, ours), (only_theirs, only_ours, _) in DISAGREEMENTS.items()
        if name == reader
        for root in ROOTS
    }
    assert found == listed


# Bass above the root: Harte writes the bass as a degree.
SLASHES = (
    ("C/E", "C:maj/3"),
    ("C/G", "C:maj/5"),
    ("A/C#", "A:maj/3"),
    ("D/F#", "D:maj/3"),
    ("E/G#", "E:maj/3"),
    ("Bb/D", "Bb:maj/3"),
    ("Am/G", "A:min/b7"),
    ("F#m/E", "F#:min/b7"),
    ("Dm/F", "D:min/b3"),
    ("G7/F", "G:7/b7"),
    ("Ab/Bb", "Ab:maj/9"),
    ("C/B", "C:maj/7"),
)


@pytest.mark.parametrize(("ours", "harte"), SLASHES)
def test_slash_basses(ours: str, harte: str) -> None:
    chord = parse_chord(ours)
    root, semitones, bass = mir_eval.chord.encode(harte, reduce_extended_chords=True)
    harte_classes = {(int(root) + step) % 12 for step in range(12) if semitones[step]}
    assert chord.bass_class == (int(root) + int(bass)) % 12
    assert chord.pitch_classes == harte_classes | {chord.bass_class}
    tones = [note % 12 for note in pychord.Chord(ours).components(visible=False)]
    assert (tones[0], set(tones)) == (chord.bass_class, chord.pitch_classes)
