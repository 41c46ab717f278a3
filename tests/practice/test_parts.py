"""Parts left out, and the guitar that trades bars with the student."""

from __future__ import annotations

from fractions import Fraction

import pytest
from practice_songs import EARLY, clicks, measured, played, song, starts

from backing.errors import BackingError
from backing.practice import Practiced, Stretch, Version

SONG = song(
    "tempo: 60\ncount-in: 1\nparts: {drums: {beat: eighths}}\n"
    'sections: {a: {bars: "| A | D | E | A | D | E |"}}\nform: [a]\n'
)


def parts(take: Practiced) -> set[str]:
    return {track.part for track in take.score.tracks if track.notes}


def test_without_a_part() -> None:
    assert parts(played(SONG, Version())) == {"click", "bass", "guitar", "drums"}
    assert parts(played(SONG, Version(without=frozenset({"guitar"})))) == {
        "click", "bass", "drums",
    }  # fmt: skip


def test_only_some_parts() -> None:
    found = played(SONG, Version(only=frozenset({"click", "bass"})))
    assert parts(found) == {"click", "bass"}


def test_what_is_left_plays_as_it_did() -> None:
    for part in ("bass", "drums", "click"):
        found = played(SONG, Version(without=frozenset({"guitar"})))
        assert starts(found, part) == starts(played(SONG, Version()), part)


def test_without_the_click_the_song_is_still_counted_in() -> None:
    assert clicks(SONG, Version(without=frozenset({"click"}))) == [0, 1, 2, 3]
    assert clicks(SONG, Version(without=frozenset({"click"})), count_in=False) == []
    # And every round that is counted in: 3 bars of 4 s after 4 s, then again.
    version = Version(without=frozenset({"click"}), stretch=Stretch(bars=(1, 3)), loop=2, between=1)
    assert clicks(SONG, version) == [0, 1, 2, 3, 16, 17, 18, 19]


def test_a_note_tells_of_a_part_that_does_not_play() -> None:
    take = played(SONG, Version(without=frozenset({"pad", "guitar"})))
    assert take.notes == ("The pad doesn't play here anyway.",)


@pytest.mark.parametrize(
    "version",
    [
        Version(only=frozenset({"pad"})),
        Version(without=frozenset({"click", "bass", "guitar", "drums"})),
    ],
)
def test_at_least_one_part_must_play(version: Version) -> None:
    with pytest.raises(BackingError, match="no part is left to play"):
        played(SONG, version)


def test_the_guitar_plays_two_bars_and_rests_for_two() -> None:
    # A bar is a whole note, the count-in the first: bars 1-2 at 1 to 3, the student 3 to 5,
    # and the guitar again at 5.
    take = played(SONG, Version(trade=2))
    found = starts(take, "guitar")
    assert [at for at in found if 3 - EARLY <= at < 5 - EARLY] == []
    assert {(at + EARLY) // 1 for at in found} == {1, 2, 5, 6}
    for part in ("click", "bass", "drums"):
        assert starts(take, part) == starts(played(SONG, Version()), part)


def test_the_guitar_does_not_ring_into_its_rests() -> None:
    take = played(SONG, Version(trade=1))
    guitar = [note for track in take.score.tracks if track.part == "guitar" for note in track.notes]
    # Bars 1, 3 and 5 play: at 1, 3 and 5; none sounds past the next bar line.
    assert guitar
    assert all(note.end_whole <= (note.start_whole + EARLY) // 1 + 1 for note in guitar)


def test_each_round_begins_with_the_guitar() -> None:
    take = played(SONG, Version(trade=1, stretch=Stretch(bars=(1, 3)), loop=2))
    # Count-in 0-1; bars 1, 2, 3 at 1, 2, 3 and again at 4, 5, 6: the second of three is silent.
    assert {(at + EARLY) // 1 for at in starts(take, "guitar")} == {1, 3, 4, 6}


def test_a_pushed_chord_belongs_to_its_bar() -> None:
    form = song(
        "tempo: 60\ncount-in: 0\nparts: {bass: off}\n"
        'sections: {a: {bars: "| A | D(push) | E(push) |"}}\nform: [a]\n'
    )
    eighth = Fraction(1, 8)
    found = starts(played(form, Version(trade=1)), "guitar")
    # D comes an eighth before bar 2, which is the student's: the guitar is silent from there
    # to E, which comes an eighth before bar 3.
    assert max(at for at in found if at < 1) < 1 - eighth
    after = min(at for at in found if at >= 1 - eighth - EARLY)
    assert 2 - eighth - EARLY < after < 2 - eighth


def test_a_riff_fills_its_bars_whatever_the_chords_do() -> None:
    form = song(
        "tempo: 60\ncount-in: 0\nriffs:\n  run:\n    step: 1/8\n    tab: |\n"
        "      e|0-1-2-3-|\n      B|-------1|\n      G|--------|\n      D|--------|\n"
        "      A|--------|\n      E|--------|\n"
        "parts: {bass: off, guitar: {riff: run}}\n"
        'sections: {a: {bars: "| A | D(push) | E(push) |"}}\nform: [a]\n'
    )
    found = starts(played(form, Version(trade=1)), "guitar")
    run = [Fraction(n, 8) for n in (0, 2, 4, 6, 7)]
    assert found == [*run, *(2 + at for at in run)]


def test_trading_needs_a_guitar() -> None:
    form = song('tempo: 60\nparts: {guitar: off}\nsections: {a: {bars: "| A |"}}\nform: [a]\n')
    with pytest.raises(
        BackingError, match=r"no guitar to trade with\. The song has click and bass"
    ):
        played(form, Version(trade=2))


def test_notes_and_errors_call_a_part_what_the_student_plays() -> None:
    text = 'tempo: 60\ninstrument: ukulele\nsections: {a: {bars: "| A |"}}\nform: [a]\n'
    silent = song(f"{text}parts: {{guitar: off}}\n")
    take = played(silent, Version(without=frozenset({"guitar", "drums"})))
    assert take.notes == (
        "The ukulele doesn't play here anyway.",
        "The drums don't play here anyway.",
    )
    with pytest.raises(
        BackingError, match=r"no ukulele to trade with\. The song has click and bass"
    ):
        played(silent, Version(trade=2))
    with pytest.raises(
        BackingError, match=r"no part is left to play\. .* click, bass and ukulele\."
    ):
        played(song(text), Version(only=frozenset({"pad"})))


def test_the_file_has_the_rests_too() -> None:
    # Seconds: count-in 4, two bars of 4, then 8 in which no guitar sounds.
    voices = measured(SONG, Version(trade=2)).voices
    (guitar,) = (voice.notes for voice in voices if voice.name == "Guitar")
    sounding = list(zip(guitar.starts, guitar.ends, strict=True))
    assert sounding
    assert not [1 for start, end in sounding if end > 12.001 and start < 19.999 - 4 * EARLY]
