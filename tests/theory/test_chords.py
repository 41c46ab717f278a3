"""Chord symbols: every name and change of the tables, and what is refused."""

from __future__ import annotations

import contextlib
import re

import pytest

from backing.theory.chord_spellings import CHANGES, EXTENSIONS, INSTEAD, QUALITIES, spellings
from backing.theory.chords import ChordError, parse_chord

# Tones by degree, written out here on their own: what the tables' names stand for.
SEMITONES = {
    "1": 0, "b9": 1, "2": 2, "9": 2, "#9": 3, "b3": 3, "3": 4, "4": 5, "11": 5, "b5": 6,
    "#11": 6, "5": 7, "#5": 8, "b13": 8, "6": 9, "13": 9, "bb7": 9, "b7": 10, "7": 11,
}  # fmt: skip
ROOTS = {"C": 0, "Db": 1, "D": 2, "Eb": 3, "E": 4, "F": 5, "F#": 6, "G": 7, "Ab": 8} | {
    "A": 9,
    "Bb": 10,
    "B": 11,
    "C#": 1,
    "Cb": 11,
    "E♭": 3,
    "G♯": 8,
}


def in_one_spelling(pattern: str) -> str:
    for piece, spelling in {
        "{m}": "m", "{M}": "maj", "{o}": "dim", "{+}": "aug", "{7}": "7", "{d}": "dom",
    }.items():  # fmt: skip
        pattern = pattern.replace(piece, spelling)
    return pattern


NAMES = [(in_one_spelling(name), tones) for tones, *names in QUALITIES for name in names]


@pytest.mark.parametrize(("name", "tones"), NAMES)
def test_every_quality_on_every_root(name: str, tones: str) -> None:
    intervals = tuple(sorted({SEMITONES[tone] for tone in tones.split()}))
    for root, pitch_class in ROOTS.items():
        chord = parse_chord(root + name)
        assert chord.intervals == intervals
        assert chord.pitch_classes == {(pitch_class + step) % 12 for step in intervals}
        assert (chord.quality, chord.bass, chord.bass_class) == (name, None, pitch_class)


@pytest.mark.parametrize(
    "names",
    [
        ("m7", "min7", "-7", "mi7", "Mi7", "MI7", "Min7", "MIN7"),
        ("maj7", "Maj7", "M7", "Δ7", "Δ", "∆", "△7", "ma7", "Ma7", "MA7", "MAJ7", "7M", "(maj7)"),
        ("m", "min", "-", "−", "mi", "MI"),
        ("", "maj", "M", "Maj", "ma", "MA"),
        ("7", "dom7", "dom"),
        ("9", "dom9", "7(9)"),
        ("13", "dom13", "9(13)", "7(9,13)", "7(9 13)"),
        ("m9", "mi9", "m7(9)"),
        ("m11", "m7(9,11)", "m9(11)"),
        ("m7(11)", "m7add11", "mi7(add11)"),
        ("m(b6)", "mb6", "mi(b6)", "m(♭6)"),
        ("mM11", "mMaj11", "mMA11", "miMA11", "m(maj11)", "-Δ11"),
        ("sus2sus4", "sus4sus2", "(sus2sus4)"),
        ("ø9", "Ø9", "m7b5(9)", "m9b5", "mi9(b5)"),
        ("dim9", "°9", "o9", "dim7(9)"),
        ("ob9", "°b9", "dim7b9", "dim(b9)", "o7(b9)"),
        ("dimMaj7", "oM7", "°(maj7)"),
        ("dim", "°", "o", "º", "m(b5)", "mb5"),
        ("dim7", "°7", "o7"),
        ("ø", "ø7", "Ø", "m7b5", "m7-5", "-7b5", "m7(b5)", "m7♭5", "min7-5"),
        ("aug", "+", "(#5)", "+5"),
        ("aug7", "+7", "7#5", "7+5", "7(#5)"),
        ("mMaj7", "mM7", "m(maj7)", "minMaj7", "-Δ7", "mΔ", "mmaj7"),
        ("sus", "sus4"),
        ("7sus", "7sus4"),
        ("6/9", "69", "6add9", "6(9)", "ma6/9"),
        ("add9", "add2", "(add9)"),
        ("7b9#11", "7(b9,#11)", "7(b9 #11)", "7(b9)(#11)", "7(b9#11)", "7♭9♯11", "7#11b9"),
        ("11", "9sus4", "9sus"),
    ],
)
def test_spellings_of_one_chord(names: tuple[str, ...]) -> None:
    assert len({parse_chord("C" + name).intervals for name in names}) == 1


@pytest.mark.parametrize(
    ("text", "intervals"),
    [
        ("Ab5", (0, 7)),
        ("A(b5)", (0, 4, 6)),
        ("Bbb5", (0, 4, 6)),
        ("C7sus2", (0, 2, 7, 10)),
        ("C9b9", (0, 1, 4, 7, 10)),
        ("C7b9#9", (0, 1, 3, 4, 7, 10)),
        ("C13sus4", (0, 2, 5, 7, 9, 10)),
        ("Cmaj7#11", (0, 4, 6, 7, 11)),
        ("C7b13", (0, 4, 7, 8, 10)),
        ("C13#11", (0, 2, 4, 6, 7, 9, 10)),
        ("C7(no3)", (0, 7, 10)),
        ("C7no5", (0, 4, 10)),
        ("C-9", (0, 2, 3, 7, 10)),
        ("C7-9", (0, 1, 4, 7, 10)),
        ("Cadd11", (0, 4, 5, 7)),
        ("Cm7add11", (0, 3, 5, 7, 10)),
        ("C7add13", (0, 4, 7, 9, 10)),
    ],
)
def test_changed_tones(text: str, intervals: tuple[int, ...]) -> None:
    assert parse_chord(text).intervals == intervals


@pytest.mark.parametrize(
    ("change", "tones"), [row for row in CHANGES.items() if "7" + row[0] not in INSTEAD]
)
def test_every_change_on_a_seventh_chord(change: str, tones: tuple[str, str]) -> None:
    taken, brought = tones
    wanted = ({"1", "3", "5", "b7"} - {taken}) | set(brought.split())
    for text in (f"D7{change}", f"D7({change})"):
        assert set(parse_chord(text).intervals) == {SEMITONES[tone] for tone in wanted}


def test_a_number_in_parentheses_adds_its_tone_to_a_seventh_chord() -> None:
    for number in EXTENSIONS:
        added = {SEMITONES[tone] for tone in ("1", "b3", "5", "b7", number)}
        assert set(parse_chord(f"Dm7({number})").intervals) == added


def heard(quality: str) -> tuple[bool, bool, set[str]]:
    """What a musician reads in a quality at a glance: minor, a major seventh, its numbers."""
    for minor in ("mi", "Mi", "MI"):
        quality = quality.replace(minor, "m")
    quality = re.sub("^-", "m", quality)
    for major in ("maj", "Maj", "MAJ", "ma", "Ma", "MA", "Δ"):
        quality = quality.replace(major, "M")
    numbers = re.findall(r"[b#+-]?(?:11|13|[245679])", quality.replace("m7(", "m7"))
    signed = {number.replace("+", "#").replace("-", "b") for number in numbers}
    return quality.startswith("m"), "M" in quality, signed


def test_advice_keeps_the_third_and_the_numbers() -> None:
    """One slip in every spelling: what is offered instead is never another kind of chord."""
    offered = 0
    typed_names = [
        *spellings(),
        *(name + change for name in ("m7", "7", "maj7") for change in CHANGES),
    ]
    for spelling in typed_names[::15]:
        for place in range(1, len(spelling) + 1):
            for slip in ("r", "m", "s"):
                typed = spelling[:place] + slip + spelling[place:]
                with contextlib.suppress(ChordError):
                    parse_chord("D" + typed)
                    continue
                with pytest.raises(ChordError) as caught:
                    parse_chord("D" + typed)
                named = re.search(r"did you mean D(.+)\?$", str(caught.value))
                if named is None:
                    continue
                offered += 1
                assert heard(named[1])[::2] == heard(typed)[::2], (typed, named[1])
    assert offered > 50


def test_capital_and_small_m_differ() -> None:
    assert parse_chord("CM7").intervals != parse_chord("Cm7").intervals


@pytest.mark.parametrize(
    ("text", "root", "quality", "bass"),
    [
        ("A/C#", "A", "", "C#"),
        ("F#m7/E", "F#", "m7", "E"),
        ("C6/9", "C", "6/9", None),
        ("C6/9/E", "C", "6/9", "E"),
        ("C6/G", "C", "6", "G"),
        ("Bb/D", "Bb", "", "D"),
        ("G7(b9)/F", "G", "7(b9)", "F"),
        ("D♭/A♭", "Db", "", "Ab"),
    ],
)
def test_slash_basses(text: str, root: str, quality: str, bass: str | None) -> None:
    chord = parse_chord(text)
    assert (str(chord.root), chord.quality) == (root, quality)
    assert (chord.bass and str(chord.bass)) == bass
    assert chord.bass_class in chord.pitch_classes


def test_a_foreign_bass_is_one_of_the_pitch_classes_but_no_interval() -> None:
    chord = parse_chord("C/Bb")
    assert (chord.intervals, chord.pitch_classes, chord.bass_class) == (
        (0, 4, 7),
        {0, 4, 7, 10},
        10,
    )


@pytest.mark.parametrize("quality", INSTEAD)
def test_every_other_spelling_offered_is_a_chord(quality: str) -> None:
    with pytest.raises(ChordError) as caught:
        parse_chord("Bb" + quality)
    assert caught.value.offset == 2
    named = re.search(r"could mean (.+): write one$|; write (\S+)$", str(caught.value))
    assert named is not None
    offers = (named[1] or named[2]).split(" or ")
    assert offers == ["Bb" + other for other in INSTEAD[quality]]
    for offer in offers:
        parse_chord(offer)
    if len(offers) > 1:
        assert len({parse_chord(offer).intervals for offer in offers}) == len(offers)


def test_a_slash_bass_stays_in_the_offers() -> None:
    with pytest.raises(ChordError, match="could mean Csus2/E or Cadd9/E: write one"):
        parse_chord("C2/E")


@pytest.mark.parametrize(
    ("text", "offset", "advice"),
    [
        ("", 0, "write a root from A to G"),
        ("H7", 0, "write a root from A to G"),
        ("N.C.", 0, "write a root from A to G"),
        ("am7", 0, "a capital letter, as in Am7"),
        ("Cmin77", 5, "did you mean Cmin7?"),
        ("CMIN77", 5, "did you mean CMIN7?"),
        ("CM7SUS4", 3, "after the root C write a quality"),  # m7sus4 is another chord
        ("Csuss4", 4, "did you mean Csus4?"),
        ("Cmar7", 3, "did you mean Cma7?"),
        ("F#mm7", 3, r"did you mean F#m7\?"),
        ("C(9)", 1, r"no seventh; write C9 or C\(add9\)"),
        ("Cm(11)", 2, r"no seventh; write Cm11 or Cm\(add11\)"),
        ("Csus4(13)", 5, r"no seventh; write Csus4\(add13\)"),
        ("C13(9)", 3, r"doesn't go with C13; write C13"),
        ("C7(b9", 2, "did you mean C7b9?"),
        ("C7(push)", 2, r"can't read '\(push\)' in C7\(push\)"),
        ("Chord", 1, "write a quality such as m, 7"),
        ("A m", 1, "can't read ' m' in A m"),
        ("Cmsus4", 2, r"sus4 doesn't go with Cm; write Cm, or C\(sus4\)"),
        ("C7b9b9", 4, r"b9 doesn't go with C7b9; write C7b9, or C\(b9\)"),
        ("Csus2sus2", 5, "doesn't go with Csus2"),
        ("C/9", 2, "after the slash in C/9 write one bass note, as in C/G"),
        ("C/G7", 2, "write one bass note, as in C/G"),
        ("C/", 2, "write one bass note"),
        ("Am/c", 3, "write one bass note, as in Am/G"),
    ],
)
def test_text_that_is_not_a_chord(text: str, offset: int, advice: str) -> None:
    with pytest.raises(ChordError, match=advice) as caught:
        parse_chord(text)
    assert caught.value.offset == offset


@pytest.mark.parametrize(
    ("text", "semitones", "flats", "there"),
    [
        ("A", 3, True, "C"),
        ("F#m7", 3, False, "Am7"),
        ("A/C#", 7, False, "E/G#"),
        ("A/C#", -1, True, "Ab/C"),
        ("A/C#", 4, False, "C#/F"),
        ("Am/G", 1, True, "Bbm/Ab"),
        ("D/F#", 10, True, "C/E"),
        ("G7(b9)", 1, True, "Ab7(b9)"),
        ("Bbb5", 2, True, "C(b5)"),
        ("C6/9", 2, False, "D6/9"),
        ("F♯m7♭5", 1, True, "Gm7♭5"),
    ],
)
def test_transposed(text: str, semitones: int, flats: bool, there: str) -> None:
    assert str(parse_chord(text).transposed(semitones, flats)) == there


def test_no_move_and_whole_octaves_return_the_chord_itself() -> None:
    chord = parse_chord("Cbmaj7/Eb")
    assert chord.transposed(0, flats=False) is chord
    assert chord.transposed(-12, flats=False) is chord


@pytest.mark.parametrize("flats", [False, True])
@pytest.mark.parametrize(
    "text", [f"{root}{quality}" for root in ("A", "Bb", "F#") for quality in ("m7b5", "b5", "#5/D")]
)
def test_a_transposed_chord_reads_back_as_itself(text: str, flats: bool) -> None:
    chord = parse_chord(text)
    for semitones in range(12):
        there = chord.transposed(semitones, flats)
        again = parse_chord(str(there))
        assert again == there
        assert again.pitch_classes == {(tone + semitones) % 12 for tone in chord.pitch_classes}
        assert again.bass_class == (chord.bass_class + semitones) % 12


def test_what_is_printed_is_what_was_typed() -> None:
    for text in ("C-7", "CΔ", "C6/9", "C7(b9,#11)", "Am7-5", "Csus", "C°7", "D/F#"):
        assert str(parse_chord(text)) == text
