"""Bends of riffs: those of the tab are found in a file, and any others are faults."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st
from verify.test_riff_proof import Take, examples, songs

from backing.form import read_form_text
from backing.form.parts import GUITARS
from backing.verify.comparison.gestures import check_gestures
from backing.verify.readers.voices import Voice
from backing.verify.report import Fault

SONG = """\
title: Bent Reed
tempo: 90
human: 60
riffs:
  reed:
    step: 1/8
    tab: |
      e|----5~----------|
      B|--7b------5/7---|
      G|5---------------|
      D|--------5-------|
      A|7b9---------5\\3-|
      E|----------------|
parts: {guitar: off, lead: {riff: reed}}
sections: {tune: {meter: 8/4, bars: "| A | D |"}}
form: [tune]
"""


def faults(take: Take, part: str, voices: Sequence[Voice] | None = None) -> list[Fault]:
    return check_gestures(take.check(part), take.notes[part], voices or take.voices[part])


@given(songs(), st.integers(0, 99))
@examples(30)
def test_bends_of_riffs_at_random_agree(text: str, seed: int) -> None:
    take = Take(read_form_text(text), seed=seed)
    for part in GUITARS:
        assert faults(take, part.name) == []


def test_every_bend_that_is_lost_or_changed_is_found() -> None:
    take = Take(read_form_text(SONG))
    assert faults(take, "lead") == []
    bent = [voice for voice in take.voices["lead"] if voice.settings.bends]
    assert bent
    for factor in (0.0, 0.5, 2.0):
        voices = [
            voice._replace(
                settings=voice.settings._replace(
                    bends=[(at, cents * factor) for at, cents in voice.settings.bends or ()]
                )
            )
            for voice in take.voices["lead"]
        ]
        assert len(faults(take, "lead", voices)) >= 4  # each bent note, twice


def test_a_wheel_that_bends_what_the_tab_does_not_is_found() -> None:
    take = Take(read_form_text(SONG))
    plain, *others = take.voices["lead"]
    assert not plain.settings.bends
    moved = plain._replace(settings=plain.settings._replace(bends=[(0.0, 100.0)]))
    found = faults(take, "lead", [moved, *others])
    assert len(found) == len(plain.notes.starts)
    assert found[0].says.endswith("is bent +100 cents, which the tab doesn't say")
