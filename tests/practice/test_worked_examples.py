"""Versions whose clicks and bar lines were worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from practice_songs import clicks, measured, played, song, starts

from backing.practice import Stretch, Version

HALF, WHOLE = Fraction(1, 2), Fraction(1)
TWO_SECTIONS = song(
    "tempo: 120\nparts: {bass: off}\nsections:\n"
    '  verse: {bars: "| A | D |"}\n  chorus: {bars: "| E | A |"}\nform: [verse, chorus]\n'
)


def test_a_ladder_of_the_chorus() -> None:
    # 120 beats a minute: a beat is 0.5 s. At 50% it is 1 s, at 75% 2/3 s, at 100% 0.5 s.
    # Count-in 4 beats at 50%: 0 1 2 3. Bars 3-4 at 50%: 4 ... 11. The next bar line is 12.
    # Count-in at 75%: 12, 12.667, 13.333, 14. Bars 3-4: 8 beats from 12 + 8/3 = 14.667 on,
    # to 14.667 + 16/3 = 20. Count-in at 100%: 20 ... 21.5. Bars 3-4: 22 ... 25.5.
    version = Version(
        speeds=(HALF, Fraction(3, 4), WHOLE), stretch=Stretch("chorus", "chorus"), between=1
    )
    by_hand = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]
    by_hand += [12, 12.667, 13.333, 14, 14.667, 15.333, 16, 16.667, 17.333, 18, 18.667, 19.333]
    by_hand += [20, 20.5, 21, 21.5, 22, 22.5, 23, 23.5, 24, 24.5, 25, 25.5]
    assert clicks(TWO_SECTIONS, version) == by_hand
    # The last bar line is at 26 s and the ring-out two seconds, which are a whole note then.
    ends = measured(TWO_SECTIONS, version).track_ends
    assert ends
    assert ends == pytest.approx([28.0] * len(ends), abs=1e-4)


def test_the_markers_of_a_ladder() -> None:
    version = Version(speeds=(HALF, WHOLE), stretch=Stretch("chorus", "chorus"), between=1, loop=1)
    markers = played(TWO_SECTIONS, version).score.markers
    # A bar is a whole note: count-in 0-1, bars 3-4 1-3, count-in 3-4, bars 3-4 4-6.
    assert [(word.start_whole, word.text) for word in markers] == [
        (0, "Count-in"),
        (1, "Chorus, round 1 of 2, 50%"),
        (3, "Count-in, round 2 of 2, 100%"),
        (4, "Chorus, round 2 of 2, 100%"),
    ]


def test_a_loop_without_a_gap() -> None:
    # Bar 2 alone, four rounds at 0.5 s a beat after one bar of count-in: every half second
    # from 0 to 9.5, and nothing else.
    version = Version(stretch=Stretch(bars=(2, 2)), loop=4)
    assert clicks(TWO_SECTIONS, version) == [beat / 2 for beat in range(20)]
    markers = played(TWO_SECTIONS, version).score.markers
    assert [word.text for word in markers[1:]] == [f"Verse, round {k} of 4" for k in (1, 2, 3, 4)]
    assert [word.start_whole for word in markers] == [0, 1, 2, 3, 4]


def test_60_percent_of_97_is_58_point_2() -> None:
    form = song('tempo: 97\nsections: {a: {bars: "| A |"}}\nform: [a]\n')
    take = played(form, Version(speeds=(Fraction(60, 100),)))
    assert [change.quarter_bpm for change in take.score.tempos] == [Fraction("58.2")]
    # 60 / 58.2 = 1.030928 s a beat: bar 1 starts after four of them.
    assert clicks(form, take.version)[:5] == [0, 1.031, 2.062, 3.093, 4.124]


def test_a_ramp_inside_a_stretch_slows_with_it() -> None:
    # From 120 to 60 over one bar of four beats: 105, 90, 75, 60. At half speed 52.5, 45, 37.5
    # and 30 a minute: beats of 8/7, 4/3, 8/5 and 2 s. Bar 2 alone, without a count-in.
    form = song(
        'tempo: 120\nsections:\n  a: {tempo: {to: 60, over: 1}, bars: "| A | D |"}\nform: [a]\n'
    )
    version = Version(speeds=(HALF,), stretch=Stretch(bars=(2, 2)))
    assert clicks(form, version, count_in=False) == [0, 1.143, 2.476, 4.076]
    take = played(form, version, count_in=False)
    assert [change.quarter_bpm for change in take.score.tempos] == [
        Fraction("52.5"), 45, Fraction("37.5"), 30,
    ]  # fmt: skip
    # Both bars, twice: the second round starts at 60 again: its first bar has beats of 1 s.
    both = clicks(form, Version(speeds=(HALF,), loop=2), count_in=False)
    round_s = 4 + 8 / 7 + 4 / 3 + 8 / 5 + 2
    assert both[8:13] == [round(round_s + at, 3) for at in (0, 1, 2, 3, 4)]


def test_a_stretch_that_starts_within_a_ramp_is_counted_in_at_its_own_tempo() -> None:
    # 60 to 120 over the first two bars, eight steps of 7.5: bar 2's first beat has
    # 60 + 5 x 7.5 = 97.5 a minute, so the count-in's beats last 60 / 97.5 = 0.615 s.
    form = song(
        "tempo: 60\nsections:\n"
        '  a: {tempo: {to: 120, over: 2, from: first}, bars: "| A | D | E |"}\nform: [a]\n'
    )
    found = clicks(form, Version(stretch=Stretch(bars=(2, 3))))
    assert found[:6] == [0, 0.615, 1.231, 1.846, 2.462, 3.077]


def test_swing_is_kept() -> None:
    # Triplet swing: the second eighth at two thirds of a beat. At 60 a minute and half speed
    # a beat lasts 2 s, so clicks in eighths fall on 0, 4/3, 2, 10/3 ...
    form = song(
        "tempo: 60\nfeel: swing\nparts: {click: {subdivide: 1/8}}\n"
        'sections: {a: {bars: "| A |"}}\nform: [a]\n'
    )
    found = clicks(form, Version(speeds=(HALF,)), count_in=False)
    assert found == [0, 1.333, 2, 3.333, 4, 5.333, 6, 7.333]


def test_swing_that_follows_the_tempo_stays_as_written() -> None:
    form = song(
        "tempo: 180\nfeel: {swing: by-tempo}\nparts: {click: {subdivide: 1/8}}\n"
        'sections: {a: {bars: "| A |"}}\nform: [a]\n'
    )
    slow = starts(played(form, Version(speeds=(HALF,))), "click")
    assert slow == starts(played(form, Version()), "click")


PICKUP = song(
    'tempo: 60\ncount-in: 2\npickup: "| N.C. / / E |"\nparts: {guitar: off}\n'
    'sections: {a: {bars: "| A | D |"}}\nform: [a]\n'
)


def test_only_the_first_round_has_the_pickup() -> None:
    # A bar is a whole note. Count-in bars at 0 and 1, the pickup's E on its fourth beat, 7/4;
    # bars 1-2 at 2 and 3, and in the second round at 4 and 5, where no E comes again.
    take = played(PICKUP, Version(loop=2))
    assert starts(take, "bass") == [Fraction(7, 4), 2, 3, 4, 5]
    assert [word.text for word in take.score.markers] == [
        "Count-in", "Pickup", "A, round 1 of 2", "A, round 2 of 2",
    ]  # fmt: skip


def test_a_stretch_from_a_later_bar_has_the_whole_count_in_and_no_pickup() -> None:
    take = played(PICKUP, Version(stretch=Stretch(bars=(2, 2))))
    assert starts(take, "bass") == [2]
    assert [word.text for word in take.score.markers] == ["Count-in", "A"]
    assert clicks(PICKUP, take.version) == [float(beat) for beat in range(12)]


def test_a_click_that_plays_some_bars_counts_the_bars_of_the_song() -> None:
    # Of every four bars the first two click: bars 1, 2, 5, 6. Bars 2-5 after a bar of count-in
    # at a second a beat: bar 2 at 4 s clicks, 3 and 4 do not, 5 at 16 s does.
    form = song(
        "tempo: 60\nparts: {click: {plays: 2 of 4}}\n"
        'sections: {a: {bars: "| A | A | A | A | A | A |"}}\nform: [a]\n'
    )
    found = clicks(form, Version(stretch=Stretch(bars=(2, 5))))
    assert found == [0, 1, 2, 3, 4, 5, 6, 7, 16, 17, 18, 19]
    assert clicks(form, Version(stretch=Stretch(bars=(3, 4)))) == [0, 1, 2, 3]
