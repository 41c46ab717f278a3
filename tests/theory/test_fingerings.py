"""The search for chord fingerings: its rules as properties, its ranking on familiar chords."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from backing.theory.chords import Chord, parse_chord
from backing.theory.easier import easier
from backing.theory.familiar import GUITAR_SHAPES as FAMILIAR
from backing.theory.fingerings import KEPT, best, fingerings, voiced
from backing.theory.fretboard import (
    STANDARD_TUNING,
    Fingering,
    parse_fingering,
)
from backing.theory.hand import assign_fingers, difficulty, fingers_moved, move_cost
from backing.theory.tunings import parse_tuning

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SYMBOLS = (
    "maj m dim aug 5 6 m6 6/9 m6/9 7 m7 maj7 mMaj7 dim7 m7b5 aug7 maj7#5 9 m9 maj9 mMaj9 aug9 "
    "11 m11 maj11 13 m13 maj13 add9 m(add9) add11 m(add11) sus2 sus4 7sus4 9sus4 13sus4 "
    "maj7sus4 (b5) 7b5 m7#5 7b9 7#9 7#11 maj7#11 7b13 7b5b9 7b5#9 7#5b9 7#5#9 7(b9,#11) "
    "7b9b13 9b5 9#11 13b9 13#11 maj9#11 maj7b5 m11b5 7add13 "
).split()
TUNINGS = {
    "standard": STANDARD_TUNING,
    "drop D": parse_tuning("D2 A2 D3 G3 B3 E4"),
    "D A D G A D": parse_tuning("D2 A2 D3 G3 A3 D4"),
    "open G": parse_tuning("D2 G2 D3 G3 B3 D4"),
    "all fourths": parse_tuning("E2 A2 D3 G3 C4 F4"),
}
LOWERED = tuple(note - 1 for note in STANDARD_TUNING)


def chord(text: str) -> Chord:
    return parse_chord(text)


def shape(text: str) -> Fingering:
    return parse_fingering(text)


def breaks_a_rule(chord: Chord, shape: Fingering, tuning: tuple[int, ...]) -> str:
    """Which rule of playing or of tones a fingering breaks, checked without the search's code."""
    notes = [note for note in shape.pitches(tuning) if note is not None]
    if {note % 12 for note in notes} - chord.pitch_classes:
        return "a foreign tone"
    if min(notes) % 12 != chord.bass_class:
        return "the bass is not lowest"
    fretted = [fret for fret in shape.frets if fret]
    if fretted and max(fretted) - min(fretted) > 3:
        return "the reach"
    strings = [string for string, fret in enumerate(shape.frets) if fret is not None]
    for string in range(strings[0], strings[-1]):
        if shape.frets[string] is None and not shape.frets[string - 1]:
            return "a silent string that nothing damps"
    fingers = assign_fingers(shape)
    if fingers is None:
        return "no fingers"
    for string, (fret, finger) in enumerate(zip(shape.frets, fingers, strict=True)):
        if bool(fret) != bool(finger):
            return "a finger without a fret, or a fret without a finger"
        held = [shape.frets[at] for at in range(6) if fingers[at] == finger]
        if finger and (len(set(held)) > 1 or not 1 <= finger <= 4):
            return "one finger at two frets"
        across = [at for at in range(6) if finger and fingers[at] == finger]
        if len(across) > 1 and any((shape.frets[at] == 0) for at in range(across[0], 6)):
            return f"an open string under the barre, at string {string}"
    order = sorted(
        (finger, fret) for finger, fret in zip(fingers, shape.frets, strict=True) if fret
    )
    if [fret for _, fret in order] != sorted(fretted):
        return "crossed fingers"
    return ""


def missing(chord: Chord, shape: Fingering, tuning: tuple[int, ...]) -> set[int]:
    sounding = {note % 12 for note in shape.pitches(tuning) if note is not None}
    return {(tone - chord.root.pitch_class) % 12 for tone in chord.pitch_classes - sounding}


def may_go(chord: Chord) -> set[int]:
    size = len(chord.intervals)
    tones = {7} if size > 2 else set()
    tones |= {2} if size >= 6 else set()
    tones |= {5} if size >= 7 else set()
    if chord.bass_class != chord.root.pitch_class:
        tones |= {0}
    return tones - {(chord.bass_class - chord.root.pitch_class) % 12}


def test_there_are_sixty_symbols() -> None:
    assert len(set(SYMBOLS)) == 60
    assert len({parse_chord("C" + symbol).intervals for symbol in SYMBOLS}) > 50


@pytest.mark.parametrize("tuning", TUNINGS)
def test_rules_hold_for_every_chord(tuning: str) -> None:
    notes = TUNINGS[tuning]
    for symbol in SYMBOLS:
        for root in ROOTS:
            named = chord(root + symbol)
            found = fingerings(named, notes)
            assert 1 <= len(found) <= KEPT
            assert len(set(found)) == len(found)
            for each in found[:: 1 if tuning == "standard" else 7]:
                says = str(named), str(each), tuning
                assert breaks_a_rule(named, each, notes) == "", says
                if missing(named, found[0], notes) <= may_go(named):
                    assert missing(named, each, notes) <= may_go(named), says


# How many of the 720 have tones that no hand holds in a tuning; measured.
BEYOND_REACH = {"standard": 0, "drop D": 0, "D A D G A D": 13, "open G": 6, "all fourths": 4}


@pytest.mark.parametrize("tuning", TUNINGS)
def test_tones_that_name_the_chord_are_there(tuning: str) -> None:
    notes = TUNINGS[tuning]
    every = [chord(root + symbol) for symbol in SYMBOLS for root in ROOTS]
    lacking = [
        str(each) for each in every if missing(each, best(each, notes), notes) - may_go(each)
    ]
    assert len(lacking) == BEYOND_REACH[tuning], lacking


@pytest.mark.parametrize("bass", ROOTS)
@pytest.mark.parametrize("name", ["C", "F#m", "Bb7", "Ebmaj7", "Asus4", "C13"])
def test_slash_basses_are_lowest(name: str, bass: str) -> None:
    named = chord(f"{name}/{bass}")
    for each in fingerings(named):
        assert breaks_a_rule(named, each, STANDARD_TUNING) == ""


@pytest.mark.parametrize(("name", "texts"), FAMILIAR.items())
def test_familiar_shapes_come_first_and_the_search_finds_them(name: str, texts: str) -> None:
    text = texts.split()[0]
    assert str(best(chord(name))) == text
    assert str(fingerings(chord(name))[0]) == text
    assert str(best(chord(name), before=shape("x-10-12-12-11-10"))) == text
    assert missing(chord(name), shape(text), STANDARD_TUNING) <= {7}


# Common practice: the first barre chords, sevenths and slash chords of any method.
@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("Fm", "133111"), ("F7", "131211"), ("Fm7", "131111"), ("F#m", "244222"), ("F#", "244322"),
        ("Bm", "x24432"), ("B", "x24442"), ("Bb", "x13331"), ("C#m", "x46654"), ("C#", "x46664"),
        ("Cm", "x35543"), ("Gm", "355333"), ("G#m", "466444"), ("Ab", "466544"), ("F#7", "242322"),
        ("Cm7", "x35343"), ("Gm7", "353333"), ("Bbmaj7", "x13231"), ("Bmaj7", "x24342"),
        ("Gsus4", "355533"), ("Bbsus2", "x13311"), ("C9", "x32333"), ("Bm7b5", "x2323x"),
        ("E6", "022120"), ("Em6", "022020"), ("A9sus4", "x00000"), ("Cmaj9", "x30000"),
        ("Am/G", "3x2210"), ("C/E", "032010"), ("G/D", "x50003"), ("Eaug", "032110"),
        ("F5", "133xxx"), ("Bb5", "x133xx"), ("Ebdim7", "xx1212"), ("A/C#", "x42220"),
        ("C6/9", "x32233"), ("D6/9", "x54455"), ("Bb6/9", "x10011"), ("G9", "353435"),
        ("Am9", "x05500"), ("A13", "x02022"), ("Cm6", "x3x243"), ("Gm6", "3x233x"),
        ("Bb7#9", "x1012x"), ("B7#9", "x2123x"), ("C7#9", "x3234x"), ("C#7#9", "x4345x"),
        ("D7#9", "x5456x"), ("E7#9", "x7678x"), ("F7#9", "x8789x"), ("F#7#9", "x-9-8-9-10-x"),
    ],
)  # fmt: skip
def test_first_choices(name: str, text: str) -> None:
    assert str(best(chord(name))) == text
    assert best(chord(name)) == fingerings(chord(name))[0]


# Common practice, but for the last three, which show the rules.
@pytest.mark.parametrize(
    ("text", "fingers"),
    [
        ("x32010", "032010"), ("320003", "210003"), ("xx0232", "000132"), ("x02220", "001230"),
        ("022100", "023100"), ("x02210", "002310"), ("xx0231", "000231"), ("133211", "134211"),
        ("xx3211", "003211"), ("x24432", "013421"), ("x24442", "012341"), ("1x221x", "103420"),
        ("x21202", "021304"), ("320033", "210034"), ("x32310", "032410"), ("xx0212", "000213"),
        ("242322", "131211"), ("x32333", "021333"), ("x13333", "013333"), ("xx0211", "000211"),
        ("x00000", "000000"), ("x1xxx4", None), ("133010", "134020"), ("103xx3", None),
    ],
)  # fmt: skip
def test_fingers(text: str, fingers: str | None) -> None:
    found = assign_fingers(shape(text))
    assert (found and "".join(map(str, found))) == fingers


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("x15xxx", "five frets"),
        ("x0x220", "an open string damps nothing"),
        ("3xx333", "two silent strings, one out of reach"),
        ("234543", "five fingers"),
        ("00x000", "an open string damps nothing, all others open"),
        ("00x00", "the same on five strings"),
        (
            "101111",
            "the index at both sides of an open string, and no finger lies flat at its fret",
        ),
    ],
)
def test_what_no_hand_holds(text: str, why: str) -> None:
    assert assign_fingers(shape(text)) is None, why
    assert difficulty(shape(text)) == float("inf"), why


@pytest.mark.parametrize(
    ("easier", "harder"),
    [
        ("022000", "022100"), ("x02210", "x32010"), ("x32010", "133211"), ("xx3211", "133211"),
        ("355333", "133111"), ("x24432", "x13321"), ("244222", "244322"),
        ("x00000", "020000"), ("355333", "x35543"), ("x24442", "x43121"),
    ],
)  # fmt: skip
def test_difficulty_orders_shapes_as_students_meet_them(easier: str, harder: str) -> None:
    assert difficulty(shape(easier)) < difficulty(shape(harder))


# The commonest chord symbols (common practice): qualities on every root, and slash chords.
COMMON_QUALITIES = (
    "maj m 7 maj7 m7 sus4 sus2 6 m6 9 add9 m9 maj9 7sus4 dim7 m7b5 6/9 13 7#9 7b9 aug m(add9)"
).split()
COMMON_SLASHES = (
    "C/E C/G C/B C/D C/Bb D/F# D/A D/C D/E E/G# E/B F/A F/C F/G G/B G/D G/F G/F# A/C# A/E A/G "
    "Bb/D Bb/F Eb/G Ab/C B/D# Am/G Am/E Am/F# Em/G Em/B Em/D Dm/F Dm/A Dm/C Bm/A Bm/F# Gm/Bb Gm/D "
    "F#m/E C#m/B D7/F# G7/B C7/E A7/C# E7/G# Am7/G Dm7/G Cm/Eb Cm/G Fm/Ab"
).split()
# These blur and are played everywhere as they are.
BLURRED = ("Gmaj", "G7", "Gmaj7", "Bm7", "D/F#", "G/B")


def test_the_commonest_symbols_are_clear_and_playable() -> None:
    """No low notes that blur, and no sharp ninth below a third: usual shapes and easier ones."""
    symbols = [root + quality for quality in COMMON_QUALITIES for root in ROOTS]
    assert len(symbols + COMMON_SLASHES) >= 300
    for symbol in symbols + COMMON_SLASHES:
        named = chord(symbol)
        for each in (best(named), easier(named).fingering):
            notes = [note for note in each.pitches() if note is not None]
            gaps = sorted(set(notes))
            says = symbol, str(each)
            assert breaks_a_rule(named, best(named), STANDARD_TUNING) == "", says
            if symbol not in BLURRED:
                # A fourth or more above a bass below B flat, and a third above B flat or B.
                assert gaps[0] >= 48 or gaps[1] - gaps[0] >= (4 if gaps[0] >= 46 else 5), says
            if symbol.endswith("7#9"):
                steps = [(note - named.root.pitch_class) % 12 for note in sorted(notes)]
                assert 4 not in steps[steps.index(3) :], says


def test_the_shapes_that_blur_are_taught() -> None:
    for symbol in BLURRED:
        assert str(best(chord(symbol))) in FAMILIAR[symbol.removesuffix("maj") or symbol]


def test_written_fingers_count() -> None:
    """Written fingers are taken as they are, except for the thumb."""
    assert difficulty(parse_fingering("3xx333", "200333")) < float("inf")
    one = parse_fingering("022000", "012000")
    other = parse_fingering("022000", "023000")
    assert fingers_moved(one, one) == 0
    assert fingers_moved(one, other) == 2


@pytest.mark.parametrize(
    ("before", "after", "fingers", "cost"),
    [
        ("x32010", "x02210", 1, 1),  # C to Am: index and middle stay
        ("x32010", "x32010", 0, 0),
        ("x02210", "022100", 3, 3),  # Am to E: all three, a string over
        ("133211", "133111", 0, 0),  # F to Fm: one finger is lifted
        ("133211", "355433", 4, 5),  # F to G with a barre: all of it two frets up
        ("320003", "320033", 2, 2),  # G to its fuller form: ring and little finger
        ("x00000", "x32010", 3, 3),
        ("x32010", "x00000", 0, 0),
    ],
)
def test_moves(before: str, after: str, fingers: int, cost: int) -> None:
    assert fingers_moved(shape(before), shape(after)) == fingers
    assert move_cost(shape(before), shape(after)) == cost


def test_the_shape_before_counts() -> None:
    """From a barre at the seventh fret B minor lies right there."""
    assert str(best(chord("Bm"))) == "x24432"
    assert str(best(chord("Bm"), before=shape("799877"))) == "799777"


def names(chords: str) -> list[Chord]:
    return [parse_chord(name) for name in chords.split()]


def texts(shapes: Sequence[Fingering]) -> list[str]:
    return [str(each) for each in shapes]


def test_a_song_in_open_chords_keeps_them() -> None:
    song = names("C Am F G C Am Dm G Em A D E C")
    assert texts(voiced(song)) == texts([best(each) for each in song])


def test_a_song_has_one_shape_a_symbol() -> None:
    song = names("Bm F#m G A Bm C#m F#m Bb Bm Ab F#m B C#m")
    shapes = voiced(song)
    assert len(shapes) == len(song)
    assert len(set(zip(map(str, song), texts(shapes), strict=True))) == len(set(map(str, song)))


def test_a_songs_shapes_ask_no_more_than_first_choices() -> None:
    """Moves and difficulty together; on many a song they ask less."""
    generator = random.Random(4)
    moves = [0, 0]
    for _ in range(20):
        pool = generator.sample([root + quality for root in ROOTS for quality in ("", "m", "7")], 5)
        song = [parse_chord(generator.choice(pool)) for _ in range(24)]
        for side, shapes in enumerate((voiced(song), tuple(best(each) for each in song))):
            moves[side] += sum(map(move_cost, shapes, shapes[1:]))
    assert moves[0] < moves[1]


def test_written_shapes_win() -> None:
    song = names("G C D G")
    written = {"G": shape("320033")}
    assert texts(voiced(song, STANDARD_TUNING, written)) == ["320033", "x32010", "xx0232", "320033"]


def test_no_chords_no_shapes() -> None:
    assert voiced([]) == ()


@pytest.mark.parametrize(
    ("tuning", "name", "text"),
    [
        ("drop D", "D", "000232"),
        ("drop D", "A", "x02220"),
        ("drop D", "D5", "00023x"),
        ("D A D G A D", "D5", "000200"),
        ("open G", "G", "x00000"),
        ("open G", "A", "x22222"),
        ("all fourths", "F", "133200"),
    ],
)
def test_other_tunings(tuning: str, name: str, text: str) -> None:
    assert str(best(chord(name), TUNINGS[tuning])) == text


def test_half_a_step_down_the_barre_shapes_move_up() -> None:
    assert str(best(chord("E"), LOWERED)) == "133211"
    assert str(best(chord("A"), LOWERED)) == "x13331"
    assert (
        str(best(chord("Eb"), LOWERED)) == "022100" or difficulty(best(chord("Eb"), LOWERED)) == 3
    )


def test_any_tuning_yields_a_fingering() -> None:
    """Even absurd ones, and chords of more tones than there are strings."""
    generator = random.Random(9)
    for _ in range(40):
        tuning = tuple(sorted(generator.randint(36, 70) for _ in range(6)))
        for name in ("C", "F#m7b5", "Bb13#11", "G7(b9,#11)", "Am13", "D/C", "E5"):
            found = fingerings(chord(name), tuning)
            assert found
            assert breaks_a_rule(chord(name), found[0], tuning) == "", (tuning, name)
