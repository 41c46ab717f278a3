"""Triplet patterns under swing: every step keeps its place and its order, in every part."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.form import read_form_text
from backing.players import play
from backing.timeline import unroll
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

TAB = "|".join(("0-0-0-0-0-0-0-0-0-0-0-0-",)).join(("e|", "|"))
SIX = "\\n".join([TAB, *(f"{name}|{'-' * 24}|" for name in "BGDAE")])
PARTS = {
    "bass": 'line: {step: 1/16t, play: "1 1 1 1 1 1"}',
    "guitar": 'strum: {step: 1/16t, play: "D U D U D U"}',
    "lead": 'pick: {step: 1/16t, play: "p i m p i m"}',
    "drums": 'beat: {step: 1/16t, play: {kick: "x x x x x x"}}',
}
RIFF = f'riff: {{step: 1/16t, tab: "{SIX}"}}'


@pytest.mark.parametrize("ratio", ["3/2", "2/1", "3/1", "4/1"])
@pytest.mark.parametrize(("part", "keys"), [*PARTS.items(), ("lead", RIFF)])
def test_sixteenth_triplets_stay_even(part: str, keys: str, ratio: str) -> None:
    form = read_form_text(
        f"title: a\ntempo: 100\nhuman: 0\nfeel: {{swing: {ratio}}}\nparts: {{{part}: {{{keys}}}}}\n"
        "sections: {v: {bars: A}}\nform: [v]\n"
    )
    timeline = unroll(form)
    (track,) = (track for track in play(timeline).tracks if track.part == part)
    bar = timeline.bars[0]
    step = Fraction(1, 24) * (2 if keys == RIFF else 1)
    # A stroke's later strings and a pick's damping lie after the step that they belong to.
    starts = {(note.start_whole - bar.start_whole) // step for note in track.notes}
    assert starts >= set(range(int(1 / step)))
    assert all(note.start_whole < note.end_whole for note in track.notes)
    assert verify_bytes(form, midi_of(form), quick=True).agrees
