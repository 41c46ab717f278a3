"""Walking lines as another library reads them, against what is written about walking basses.

Chord tones stand on the strong beats, linked by arpeggio, scale or chromatic movement on the
others (X. Riley and S. Dixon, "FiloBass: a dataset and corpus based study of jazz basslines",
ISMIR 2023, section 1, read). The register is common practice, from memory.
"""

from __future__ import annotations

from functools import cache
from io import BytesIO
from itertools import pairwise

import mido

from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.timeline import unroll

#: A blues in Bb, bar by bar: each chord's root, its tones and its scale, written out by hand as
#: pitch classes (Bb7 has the Mixolydian scale, Cm7 the Dorian one).
B_FLAT = (10, {10, 2, 5, 8}, {10, 0, 2, 3, 5, 7, 8})
E_FLAT = (3, {3, 7, 10, 1}, {3, 5, 7, 8, 10, 0, 1})
C_MINOR = (0, {0, 3, 7, 10}, {0, 2, 3, 5, 7, 9, 10})
F_SEVEN = (5, {5, 9, 0, 3}, {5, 7, 9, 10, 0, 2, 3})
CHORUS = [B_FLAT, E_FLAT, B_FLAT, B_FLAT, E_FLAT, E_FLAT, B_FLAT, B_FLAT]
CHORUS += [C_MINOR, F_SEVEN, B_FLAT, F_SEVEN]
BARS = "| Bb7 | Eb7 | Bb7 | % | Eb7 | % | Bb7 | % | Cm7 | F7 | Bb7 | F7 |"
CHORUSES = 8


@cache
def line() -> tuple[int, ...]:
    """The pitches of a walking bass over the blues, a note a beat, as mido finds them."""
    form = read_form_text(
        "title: Blues\ntempo: 140\nhuman: 0\ncount-in: 0\n"
        "parts: {click: off, guitar: off, bass: {line: walking}}\n"
        f'sections: {{blues: {{bars: "{BARS}"}}}}\nform: [blues x{CHORUSES}]\n'
    )
    file = mido.MidiFile(file=BytesIO(to_bytes(play(unroll(form)))))
    notes = [m.note for m in file if m.type == "note_on" and m.velocity]
    assert len(notes) == 4 * len(CHORUS) * CHORUSES
    return tuple(notes)


def test_strong_beats_have_tones_of_the_chord_and_the_first_its_root() -> None:
    for beat in range(0, len(line()), 2):
        root, tones, _ = CHORUS[beat // 4 % 12]
        assert line()[beat] % 12 in tones
        if beat % 4 == 0:
            assert line()[beat] % 12 == root


def test_other_beats_belong_to_the_chords_or_go_on_chromatically() -> None:
    chromatic = 0
    for beat in range(1, len(line()) - 1, 2):
        _, _, scale = CHORUS[beat // 4 % 12]
        _, _, following = CHORUS[(beat + 1) // 4 % 12]
        if line()[beat] % 12 not in scale | following:
            assert abs(line()[beat + 1] - line()[beat]) == 1
            chromatic += 1
    changes = 12 * CHORUSES
    assert 0.1 * changes < chromatic < 0.6 * changes


def test_the_line_moves_by_step_more_than_by_leap_around_the_octave_above_e2() -> None:
    moves = [abs(other - one) for one, other in pairwise(line())]
    assert 0 not in moves
    assert sum(move <= 2 for move in moves) > len(moves) / 2
    assert 40 <= sum(line()) / len(line()) <= 48


def test_choruses_differ() -> None:
    choruses = {line()[at : at + 48] for at in range(0, len(line()), 48)}
    assert len(choruses) >= 4
