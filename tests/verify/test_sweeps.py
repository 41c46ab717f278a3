"""Strokes at tempos so slow that several strings start on one tick."""

from __future__ import annotations

from itertools import pairwise

import pytest
from midi_edits import Placed, track_named, tracks_of, written

from backing.form import Form, read_form_text
from backing.tracks.one import midi_of
from backing.verify import verify_bytes
from backing.verify.comparison.grips import sweep_fits

#: Esus2 with two strings on B3.
UNISON = (40, 47, 54, 59, 59, 64)
#: C#m9 in open G: the third string sounds higher than the second.
CROSSED = (49, 51, 59, 64, 59, None)


@pytest.mark.parametrize(
    "sweep",
    [
        ((49,), (51,), (59,), (64,), (59,)),
        ((49,), (51,), (59,), (59, 64)),  # the two highest strings on one tick
        ((49,), (51,), (59, 64)),  # the three highest: both B3 are one note
        ((49, 51), (59, 64)),
        ((51,), (59, 64), (59,)),
        ((49, 51, 59, 64),),
        ((59, 64),),
    ],
)
def test_strings_on_one_tick_are_in_any_order(sweep: tuple[tuple[int, ...], ...]) -> None:
    assert sweep_fits(sweep, CROSSED)


@pytest.mark.parametrize(
    "sweep",
    [
        ((49,), (51,), (59,), (59,), (64,)),  # apart, their order counts
        ((49,), (51,), (64,), (59,)),  # a string left out
        ((49, 51), (64,)),
        ((49, 59), (64,)),
        ((49, 51), (59, 63)),
        ((51,), (49,), (59, 64)),
        ((64,),),
    ],
)
def test_all_else_counts_as_before(sweep: tuple[tuple[int, ...], ...]) -> None:
    assert not sweep_fits(sweep, CROSSED)


def test_a_unison_on_one_tick_is_one_note_where_strings_share_ticks() -> None:
    assert sweep_fits(((40,), (47, 54), (59,), (64,)), UNISON)
    assert not sweep_fits(((40,), (47,), (54,), (59,), (64,)), UNISON)  # apart, a string is missing
    assert not sweep_fits(((40,), (47, 54), (64,)), UNISON)


def slow() -> Form:
    return read_form_text(
        "title: Slow\ntempo: {bpm: 20, beat: 1/16}\ncount-in: 0\nhuman: 100\ntuning: open G\n"
        "parts: {bass: off}\nsections: {a: {bars: '| C#m9 | C#m9 |'}}\nform: [a x3]\n"
    )


def test_a_very_slow_stroke_over_crossed_strings_is_right() -> None:
    form = slow()
    song = midi_of(form)
    guitar = tracks_of(song)[track_named(song, "Guitar")]
    starts = [tick for tick, message in guitar if message.type == "note_on"]
    assert any(one == other for one, other in pairwise(starts))
    assert verify_bytes(form, song, quick=True).disagreements == ()


def test_a_wrong_string_in_it_is_still_found() -> None:
    form = slow()
    song = midi_of(form)
    tracks = tracks_of(song)
    at = track_named(song, "Guitar")
    for pitch in (51, 64):
        tracks[at] = [
            Placed(tick, m.copy(note=m.note - 1) if getattr(m, "note", None) == pitch else m)
            for tick, m in tracks[at]
        ]
        report = verify_bytes(form, written(tracks, song), quick=True)
        assert "guitar" in {finding.what for finding in report.disagreements}
