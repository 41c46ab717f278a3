"""Where rounds meet: pushes, chords that go on or ring, riffs, the mix and human time."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from practice_songs import EARLY, played, song, starts

from backing.form import read_form
from backing.players import play
from backing.players.arm import swept
from backing.practice import Stretch, Version, play_version
from backing.score import Note, Track
from backing.theory.chords import parse_chord
from backing.theory.fingerings import voiced
from backing.timeline import unroll

ROOT = Path(__file__).parents[2]
EIGHTH = Fraction(1, 8)


def track(take_tracks: tuple[Track, ...], part: str) -> Track:
    (found,) = (one for one in take_tracks if one.part == part)
    return found


def notes(tracks: tuple[Track, ...], part: str) -> tuple[Note, ...]:
    return track(tracks, part).notes


PUSHED = song(
    "tempo: 60\ncount-in: 0\nparts: {guitar: off}\n"
    'sections: {a: {bars: "| A | D(push) | E(push) | A |"}}\nform: [a]\n'
)


def test_a_push_at_a_loops_first_bar_falls_on_its_bar_line() -> None:
    # In the song D comes an eighth before bar 2. Looped alone, bar 2 starts at 0 and at 1 with
    # it; E, which comes ahead of bar 3, belongs to bar 3 and is left out.
    assert starts(played(PUSHED, Version()), "bass") == [0, 1 - EIGHTH, 2 - EIGHTH, 3]
    alone = played(PUSHED, Version(stretch=Stretch(bars=(2, 2)), loop=2))
    assert starts(alone, "bass") == [0, 1]
    # With bar 3 its push stays, in every round.
    both = played(PUSHED, Version(stretch=Stretch(bars=(2, 3)), loop=2))
    assert starts(both, "bass") == [0, 1 - EIGHTH, 2, 3 - EIGHTH]


def test_a_chord_before_a_push_that_is_left_out_lasts_to_the_bar_line() -> None:
    alone = played(PUSHED, Version(stretch=Stretch(bars=(2, 2)), loop=2))
    assert [note.end_whole for note in notes(alone.score.tracks, "bass")] == [1, 2]


def test_a_chord_that_goes_on_is_struck_where_the_stretch_starts() -> None:
    form = song(
        "tempo: 60\ncount-in: 0\nparts: {guitar: off}\n"
        'sections: {a: {bars: "| A | / / D / | / |"}}\nform: [a]\n'
    )
    take = played(form, Version(stretch=Stretch(bars=(2, 3)), loop=2))
    assert [(word.start_whole, word.text) for word in take.score.chords] == [
        (0, "A"), (Fraction(1, 2), "D"), (2, "A"), (Fraction(5, 2), "D"),
    ]  # fmt: skip


def test_a_ringing_chord_is_cut_where_its_round_ends_and_rings_out_at_the_last() -> None:
    form = song(
        "tempo: 60\ncount-in: 0\nparts: {bass: off}\n"
        'sections: {a: {bars: "| A(ring) |"}}\nform: [a]\n'
    )
    take = played(form, Version(loop=2))
    ends = {note.start_whole < 1: note.end_whole for note in notes(take.score.tracks, "guitar")}
    # At 60 the two seconds of ring-out are half a whole note.
    assert ends == {True: 1, False: Fraction(5, 2)}
    assert take.score.end_whole == Fraction(5, 2)


def test_every_rounds_bar_lines_are_exact() -> None:
    form = read_form(ROOT / "forms/orchard-wall.yaml")
    version = Version(stretch=Stretch("Chorus 1", "Chorus 1"), loop=5, between=1)
    one = played(form, version._replace(loop=1, between=0)).score
    all_five = played(form, version).score
    # The first round is counted in by the song's two bars of 4/4, the others by one.
    first = [word.start_whole for word in one.markers if word.start_whole >= 2]
    length = (one.end_whole - _ring(one.end_whole)) - 2
    lines = [word.start_whole for word in all_five.markers if "Chorus" in word.text]
    assert lines == [at + k * (length + 1) for k in range(5) for at in first]
    assert all(note.end_whole <= all_five.end_whole for note in _all(all_five.tracks))


def _ring(end: Fraction) -> Fraction:
    """What of an end lies past the last bar line, in 4/4."""
    return end % 1


def _all(tracks: tuple[Track, ...]) -> list[Note]:
    return [note for one in tracks for note in one.notes]


def test_no_string_or_pitch_sounds_over_a_rounds_end() -> None:
    form = read_form(ROOT / "forms/gatepost-blues.yaml")
    version = Version(stretch=Stretch(bars=(3, 4)), loop=4)
    exact = play_version(form._replace(human=0), version).score
    for line in (Fraction(4), Fraction(6), Fraction(8)):  # two bars of count-in, then two a round
        over = [note for note in _all(exact.tracks) if note.start_whole < line < note.end_whole]
        assert over == []


def test_a_stretch_plays_what_the_song_plays_there() -> None:
    # A pattern of two bars over three: bar 3 takes its first bar, bar 2 its second.
    form = song(
        "tempo: 60\ncount-in: 1\nparts: {bass: off, guitar: {strum: "
        '{step: 1/4, play: "D - - - | - D D -"}}}\n'
        'sections: {a: {bars: "| A | A | A |"}}\nform: [a]\n'
    )
    whole = play(unroll(form))
    take = played(form, Version(stretch=Stretch(bars=(2, 3))))
    after = [note.start_whole for note in notes(swept(whole, 0).tracks, "guitar")]
    later = [at - 1 for at in after if at > 2]
    here = [note.start_whole for note in notes(take.score.tracks, "guitar")]
    # Bar 2 in the song has no stroke on its first beat; here the chord is struck again there
    # only if a stroke falls on it, which none does.
    assert sorted(set(here)) == sorted(set(later))
    assert Fraction(5, 4) - EARLY < min(here) < Fraction(5, 4)


def test_a_stretch_keeps_the_songs_shapes_and_so_does_each_round_of_a_build_up() -> None:
    # Cm alone is best with a barre at fret 3, but next to Fm a shape at fret 1 is nearer.
    assert str(voiced([parse_chord("Cm")])[0]) == "x35543"
    form = song(
        "tempo: 60\ncount-in: 0\nparts: {bass: off}\n"
        'sections: {a: {bars: "| Cm | Fm | Cm | Fm |"}}\nform: [a]\n'
    )

    def strings_from(take: tuple[Track, ...], line: int) -> set[tuple[int | None, int]]:
        found = notes(take, "guitar")
        return {
            (one.string, one.pitch) for one in found if line <= one.start_whole + EARLY < line + 1
        }

    near = {(5, 48), (4, 51), (3, 55), (2, 60)}  # x3101x
    assert strings_from(play(unroll(form)).tracks, 0) == near
    alone = played(form, Version(stretch=Stretch(bars=(3, 3)))).score
    assert strings_from(alone.tracks, 0) == near
    growing = played(form, Version(stretch=Stretch(bars=(1, 3)), build_up="front")).score
    assert [strings_from(growing.tracks, line) for line in (0, 1, 3)] == [near] * 3


def test_a_round_starts_with_its_own_mix() -> None:
    form = song(
        "tempo: 60\ncount-in: 0\nsections:\n"
        '  a: {bars: "| A |"}\n  b: {bars: "| D |", parts: {bass: {volume: 60, pan: 20}}}\n'
        "form: [a, b]\n"
    )
    bass = track(played(form, Version(loop=2)).score.tracks, "bass")
    assert (bass.volume, bass.pan) == (100, 0)
    assert [(change.start_whole, change.what, change.value) for change in bass.changes] == [
        (1, "volume", 60), (1, "pan", 20), (2, "volume", 100), (2, "pan", 0),
        (3, "volume", 60), (3, "pan", 20),
    ]  # fmt: skip


def test_each_round_is_played_a_little_differently() -> None:
    form = song('tempo: 60\ncount-in: 0\nsections: {a: {bars: "| A | D |"}}\nform: [a]\n')._replace(
        human=100
    )
    bass = starts(play_version(form, Version(loop=2)), "bass")
    first, second = bass[:2], [at - 2 for at in bass[2:]]
    assert first != second
    # Never more than 12 ms, which at 60 are 3/1000 of a whole note.
    assert all(abs(a - b) <= Fraction(6, 1000) for a, b in zip(first, second, strict=True))


def test_the_plain_version_is_the_song() -> None:
    form = read_form(ROOT / "forms/short-step.yaml")
    from backing.midi.writer import to_bytes
    from backing.tracks.one import midi_of

    assert to_bytes(play_version(form).score) == midi_of(form)
    whole = Version(stretch=Stretch(bars=(1, len(unroll(form).bars))))
    once_more = play_version(form, whole).score._replace(title=form.title)
    assert to_bytes(once_more) == midi_of(form)
