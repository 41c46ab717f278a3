"""Forms moved to another key or capo: what sounds, which shapes are played, and the notes."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from form_printer import print_form, print_tab
from practice_songs import played, song

from backing.errors import BackingError
from backing.form import Form, read_form, read_form_text
from backing.form.tab import Riff
from backing.form.tab_cells import notes
from backing.form.tab_rows import read_riff
from backing.practice import Practiced, Version
from backing.practice.frets import shifted
from backing.theory.keys import parse_key
from backing.timeline import unroll

G_CAPO_2 = song(
    "tempo: 60\ncount-in: 0\nkey: G\ncapo: 2\nshapes: {A: x02220, G: 320033}\n"
    'sections: {a: {bars: "| G | Em7 | Cadd9 | D/F# |"}}\nform: [a]\n'
)


ROOT = Path(__file__).parents[2]


def written(form: Form) -> list[str]:
    return [str(span.chord) for span in unroll(form).spans]


def sounding(take: Practiced) -> list[str]:
    return [word.text for word in take.score.chords]


def pitches(take: Practiced) -> list[tuple[Fraction, int]]:
    return [
        (note.start_whole, note.pitch)
        for track in take.score.tracks
        if track.part == "guitar"
        for note in track.notes
    ]


def test_the_song_as_written_sounds_in_a() -> None:
    assert sounding(played(G_CAPO_2, Version())) == ["A", "F#m7", "Dadd9", "E/G#"]


def test_another_capo_keeps_what_sounds() -> None:
    for capo, names in {
        0: ["A", "F#m7", "Dadd9", "E/G#"],
        2: ["G", "Em7", "Cadd9", "D/F#"],
        5: ["E", "C#m7", "Aadd9", "B/D#"],
        7: ["D", "Bm7", "Gadd9", "A/C#"],
    }.items():
        take = played(G_CAPO_2, Version(capo=capo))
        assert written(take.form) == names
        assert take.form.capo == capo
        assert sounding(take) == ["A", "F#m7", "Dadd9", "E/G#"]
        assert [str(change.key) for change in take.score.keys] == ["A"]
        assert len(take.notes) == 1


def test_the_note_on_a_capo() -> None:
    take = played(G_CAPO_2, Version(capo=0))
    assert take.notes == ("Sounds in A: the shapes of A, without a capo (as written: capo 2).",)


def test_a_written_shape_stays_with_its_chord_symbol() -> None:
    # Without a capo the first chord is A, which has a written shape: x02220.
    take = played(G_CAPO_2, Version(capo=0))
    first = {pitch for at, pitch in pitches(take) if at == 0}
    assert first <= {45, 52, 57, 61, 64}


@pytest.mark.parametrize(
    ("key", "names"),
    [
        ("C", ["C", "Am7", "Fadd9", "G/B"]),
        ("A", ["A", "F#m7", "Dadd9", "E/G#"]),
        ("Ab", ["Ab", "Fm7", "Dbadd9", "Eb/G"]),
        ("F#", ["F#", "D#m7", "Badd9", "C#/E#"]),
        ("Gb", ["Gb", "Ebm7", "Cbadd9", "Db/F"]),
    ],
)
def test_another_key_without_a_capo(key: str, names: list[str]) -> None:
    take = played(G_CAPO_2, Version(key=parse_key(key), capo=0))
    assert sounding(take) == written(take.form) == names
    assert [str(change.key) for change in take.score.keys] == [key]


def test_a_key_that_sounds_the_same_changes_the_names() -> None:
    sharp = song('tempo: 60\nkey: F#\nsections: {a: {bars: "| F# | B | D#m7 |"}}\nform: [a]\n')
    take = played(sharp, Version(key=parse_key("Gb")))
    assert sounding(take) == written(take.form) == ["Gb", "Cb", "Ebm7"]
    assert [str(change.key) for change in take.score.keys] == ["Gb"]


def test_another_key_with_the_capo_where_it_is() -> None:
    take = played(G_CAPO_2, Version(key=parse_key("C")))
    assert sounding(take) == ["C", "Am7", "Fadd9", "G/B"]
    assert written(take.form) == ["Bb", "Gm7", "Ebadd9", "F/A"]
    assert take.notes == (
        "Sounds in C: the shapes of Bb, with capo 2 as before.",
        "With --keep-shapes the chords stay as they are written, with capo 5.",
    )


def test_the_same_shapes_with_another_capo() -> None:
    take = played(G_CAPO_2, Version(key=parse_key("C"), keep_shapes=True))
    assert written(take.form) == ["G", "Em7", "Cadd9", "D/F#"]
    assert take.form.capo == 5
    assert sounding(take) == ["C", "Am7", "Fadd9", "G/B"]
    assert take.notes == ("Sounds in C: the same shapes, with capo 5 (as written: capo 2).",)
    up = played(G_CAPO_2, Version(transpose=3, keep_shapes=True))
    assert up.form == take.form


def test_a_key_that_no_capo_reaches_is_refused() -> None:
    with pytest.raises(BackingError, match="would need capo 11, and 7 is the highest"):
        played(G_CAPO_2, Version(key=parse_key("F#"), keep_shapes=True))


def test_transposed_by_semitones() -> None:
    assert sounding(played(G_CAPO_2, Version(transpose=-3)))[0] == "F#"
    assert sounding(played(G_CAPO_2, Version(transpose=12))) == sounding(
        played(G_CAPO_2, Version())
    )
    no_key = song('tempo: 60\nsections: {a: {bars: "| A | Bb |"}}\nform: [a]\n')
    assert sounding(played(no_key, Version(transpose=2))) == ["B", "C"]
    with pytest.raises(BackingError, match="the song has no key"):
        played(no_key, Version(key=parse_key("A")))


def test_a_minor_song_has_a_minor_key() -> None:
    minor = song('tempo: 60\nkey: Em\nsections: {a: {bars: "| Em |"}}\nform: [a]\n')
    assert sounding(played(minor, Version(key=parse_key("Am")))) == ["Am"]
    with pytest.raises(BackingError, match="the song sounds in Em, a minor key"):
        played(minor, Version(key=parse_key("Ab")))


EVERYWHERE = """\
title: Song
tempo: 60
key: D
pickup: "| N.C. / / A7 |"
sections:
  a:
    bars: "| D | G / A7 / | % |"
    times: 2
    endings: {1: "| Bm |", 2: "| D |"}
    on-pass: {2: {bars: "| Em | A7 | D |"}}
form: [a, {section: a, transpose: +2, bars: 1-2}]
"""


def test_every_chord_of_a_form_is_moved() -> None:
    form = read_form_text(EVERYWHERE)
    take = played(form, Version(transpose=5))
    # D, G, A7, Bm and Em a fourth up, spelled as in G.
    up = {"D": "G", "G": "C", "A7": "D7", "Bm": "Em", "Em": "Am", "E": "A", "B7": "E7"}
    up |= {"A": "D", "C#m": "F#m", "None": "None"}
    assert written(take.form) == [up[name] for name in written(form)]
    # The moved form is a form as a writer would type it.
    assert read_form_text(print_form(take.form)) == take.form


RIFF = """\
e|0---3h5-|9---7b9-|
B|--2-----|--12---x|
G|--------|--------|
D|--------|--------|
A|--------|--------|
E|3-------|5~------|
"""


def test_tab_moves_up_the_neck() -> None:
    riff = read_riff(Fraction(1, 8), RIFF)
    for up in (1, 2, 7, 12):
        moved = shifted(riff, up)
        assert [
            (n._replace(fret=n.fret if n.fret is None else n.fret + up)) for n in notes(riff)
        ] == (list(notes(moved)))
        assert sum(bar.length_whole for bar in moved.bars) == 2
        assert read_riff(moved.step_whole, print_tab(moved)) == moved
    with pytest.raises(ValueError, match="frets 0 to 12"):
        shifted(riff, -1)
    with pytest.raises(ValueError, match="frets 0 to 12"):
        shifted(riff, 13)


def test_tab_that_fits_keeps_its_cells() -> None:
    riff = read_riff(Fraction(1, 8), RIFF)
    assert [bar.step_whole for bar in shifted(riff, 1).bars] == [Fraction(1, 8)] * 2
    # Two digits right before another number need finer cells.
    tight = read_riff(Fraction(1, 8), "e|9--7----|\n" + "B|--------|\n" * 5)
    assert [bar.step_whole for bar in shifted(tight, 1).bars] == [Fraction(1, 8)]
    tighter = read_riff(Fraction(1, 8), "e|9-7-----|\n" + "B|--------|\n" * 5)
    assert [bar.step_whole for bar in shifted(tighter, 3).bars] == [Fraction(1, 16)]


def riff_song(capo: int = 0) -> Form:
    tab = "".join(f"      {line}\n" for line in RIFF.replace("x", "-").splitlines())
    return song(
        f"tempo: 60\ncount-in: 0\nkey: E\ncapo: {capo}\nriffs:\n  lick:\n    step: 1/8\n"
        f"    tab: |\n{tab}parts: {{guitar: {{riff: lick}}}}\n"
        'sections: {a: {bars: "| E | E |"}}\nform: [a]\n'
    )


def test_a_riff_moves_with_its_song() -> None:
    before = pitches(played(riff_song(), Version()))
    take = played(riff_song(), Version(transpose=2))
    assert pitches(take) == [(at, pitch + 2) for at, pitch in before]
    assert "Riff 'lick' is played 2 frets higher." in take.notes


def test_a_riff_that_has_no_room_below_goes_an_octave_up() -> None:
    before = pitches(played(riff_song(), Version()))
    take = played(riff_song(), Version(transpose=-2))
    assert pitches(take) == [(at, pitch + 10) for at, pitch in before]
    assert "Riff 'lick' is played an octave higher, where the neck has room." in take.notes


def test_a_riff_with_less_capo_sounds_as_it_did() -> None:
    before = pitches(played(riff_song(capo=3), Version()))
    take = played(riff_song(capo=3), Version(capo=0))
    assert pitches(take) == before


def test_a_riff_that_fits_nowhere_on_the_neck_is_refused() -> None:
    wide = riff_song()
    (name, riff), *_ = wide.riffs.items()
    high = riff._replace(
        bars=tuple(bar._replace(rows=("0--14---", *bar.rows[1:])) for bar in riff.bars)
    )
    assert isinstance(high, Riff)
    with pytest.raises(BackingError, match="no room on the neck for riff 'lick' 1 fret lower"):
        played(wide._replace(riffs={name: high}), Version(transpose=-1))


FIXED = {
    "harmonics": ("drop D", 6, "<12>----|", "natural harmonics"),
    "short string": ("banjo", 5, "--------|", "notes on the short string"),
}


@pytest.mark.parametrize("kind", FIXED)
def test_a_riff_that_has_its_place_on_the_neck_is_not_moved(kind: str) -> None:
    """Neither with the song nor in a line; with the same shapes the capo moves."""
    tuning, rows, top, has = FIXED[kind]
    tab = [f"      |{top}", *["      |--------|"] * (rows - 2), "      |0-------|"]
    text = (
        f"title: Fixed\ntempo: 60\nkey: G\ntuning: {tuning}\nriffs:\n  lick:\n    step: 1/8\n"
        "    tab: |\n" + "\n".join(tab) + "\nparts: {guitar: {riff: lick}}\n"
        'sections: {a: {bars: "| G |"}}\nform: [a]\n'
    )
    form = read_form_text(text)
    with pytest.raises(BackingError) as refused:
        played(form, Version(transpose=2))
    assert str(refused.value) == (
        f"Fixed: riff 'lick' has {has}, which can't be moved along the neck. "
        "With keep-shapes the capo moves instead."
    )
    kept = played(form, Version(transpose=2, keep_shapes=True))
    assert pitches(kept) == [(at, pitch + 2) for at, pitch in pitches(played(form, Version()))]
    assert played(form, Version(transpose=12)).form.riffs == form.riffs
    with pytest.raises(BackingError, match=f"the riff lick has {has}, so it can't be transposed"):
        read_form_text(text.replace("[a]", "[{section: a, transpose: 2}]"))


def test_a_bass_riff_with_harmonics_has_no_capo_to_move() -> None:
    rows = ["|<12>----|", *["|--------|"] * 3]
    text = (
        "tempo: 60\nkey: G\nriffs:\n  low:\n    step: 1/8\n    tab: |\n      "
        + "\n      ".join(rows)
        + '\nparts: {bass: {riff: low}}\nsections: {a: {bars: "| G |"}}\nform: [a]\n'
    )
    with pytest.raises(BackingError, match=r"can't be moved along the neck\.$"):
        played(song(text), Version(transpose=2, keep_shapes=True))


def test_a_riff_keeps_room_for_the_lines_that_transpose_it() -> None:
    """Its lines play frets 0 to 12 and 11 to 23, so a fret up is there, and two are not."""
    before = riff_song()
    high = before._replace(
        entries=(*before.entries, before.entries[0]._replace(transpose=11)),
    )
    up = played(high, Version(transpose=1))
    assert "Riff 'lick' is played 1 fret higher." in up.notes
    with pytest.raises(BackingError, match="no room on the neck for riff 'lick' 2 frets higher"):
        played(high, Version(transpose=2))


def test_easier_shapes_come_after_the_move() -> None:
    take = played(G_CAPO_2, Version(capo=4, easier=True))
    assert written(take.form) == ["F", "Dm7", "Bbadd9", "C/E"]
    assert str(take.form.shapes["F"]) == "xx3211"
    assert any(note.startswith("F: xx3211") for note in take.notes)


def test_a_demo_moves_whole() -> None:
    form = read_form(ROOT / "forms/orchard-wall.yaml")
    for version in (Version(transpose=4), Version(capo=0), Version(key=parse_key("F"))):
        take = played(form, version)
        assert read_form_text(print_form(take.form)) == take.form
