"""Riffs in files against the proof's reading of their tab: true ones agree, changed ones don't."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest
from form_strategies import METERS, forms
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from part_strategies import riffs
from practice.test_practice_proof import drawn

from backing.errors import BackingError
from backing.form import Form, read_form, read_form_text
from backing.form.parts import GUITARS, title_of
from backing.midi.writer import to_bytes
from backing.practice import Version, play_version
from backing.practice.versions import PLAIN
from backing.theory.rhythm import parse_meter
from backing.verify.compare import expected_of
from backing.verify.comparison.leeway import Leeway
from backing.verify.comparison.riffs import RiffCheck, check_riffs
from backing.verify.expected.clockwork import clockwork
from backing.verify.expected.riffs import ExpectedRiffs, expect_riffs
from backing.verify.readers.measured import by_summing
from backing.verify.readers.voices import NO_NOTES, Notes, merged

DEMOS = sorted((Path(__file__).parents[2] / "forms").glob("*.yaml"))


def examples(number: int) -> Any:
    """The same ones each time, without the slow search for the least that fails."""
    return settings(
        max_examples=number,
        derandomize=True,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )


class Take:
    """A file of a form or a version, its riffs as expected, and its notes by part."""

    def __init__(self, form: Form, version: Version = PLAIN, seed: int = 0) -> None:
        self.expected = expected_of(form, version)
        account = by_summing(to_bytes(play_version(form, version, seed=seed).score))
        half_tick = float(account.tick_quarters) / 2 * 60

        def tolerance(at_s: float) -> float:
            slowest = min(float(tempo.quarter_bpm) for tempo in self.expected.tempos)
            return half_tick / slowest + 2e-6 * (1 + at_s)

        self.leeway = Leeway(account.reader, float(self.expected.human_s), tolerance)
        self.voices = {
            part.name: [
                voice
                for voice in account.voices
                if voice.name.startswith(title_of(part, form.instrument))
            ]
            for part in GUITARS
        }
        self.notes = {
            name: merged(voice.notes for voice in voices) for name, voices in self.voices.items()
        }

    def riffs(self, part: str) -> ExpectedRiffs:
        if part in self.expected.absent:
            return ExpectedRiffs()
        return expect_riffs(self.expected, part, clockwork(self.expected.tempos))

    def check(self, part: str, notes: Notes | None = None) -> RiffCheck:
        return check_riffs(self.riffs(part), notes or self.notes.get(part, NO_NOTES), self.leeway)


def numbers_that_agree(take: Take) -> int:
    """How many numbers of tab a file has, none of which may be at fault."""
    count = 0
    for part in GUITARS:
        found = take.check(part.name)
        assert found.faults == ()
        assert found.worst_s <= take.leeway.tolerance(float(take.expected.end_s))
        count += found.numbers
    return count


# Files as they are made


def test_the_demos_agree() -> None:
    assert sum(numbers_that_agree(Take(read_form(path))) for path in DEMOS) > 40


UNISON = """\
title: Trial
tempo: 225
parts:
  bass: off
  guitar:
    riff:
      step: 1/16
      chords: rolled
      tab: |
        e|0---0-----------|
        B|5-----3---5-----|
        G|----------------|
        D|----------------|
        A|----------------|
        E|----------------|
sections: {a: {bars: "| Am | Am | Am |"}}
form: [a x4]
"""


@pytest.mark.parametrize("seed", range(20))
def test_a_pitch_on_two_strings_that_start_within_human_time_agrees(seed: int) -> None:
    assert numbers_that_agree(Take(read_form_text(UNISON), seed=seed)) == 12 * 5


@given(forms())
@examples(30)
def test_forms_at_random_agree(text: str) -> None:
    numbers_that_agree(Take(read_form_text(text)))


@given(forms(), st.integers(0, 10**6))
@examples(30)
def test_versions_of_forms_at_random_agree(text: str, number: int) -> None:
    form = read_form_text(text)
    try:
        take = Take(form, drawn(form, Random(number)))
    except BackingError:
        return  # the version can't be played
    numbers_that_agree(take)


@st.composite
def songs(draw: st.DrawFn) -> str:
    """A song whose guitar and lead play riffs between strums, in any meter."""
    meter = draw(st.sampled_from(METERS).filter(fits))
    bar = parse_meter(meter).bar_whole
    one, two = draw(riffs(bar)), draw(riffs(bar))
    feel = draw(st.sampled_from(("straight", "swing", "{swing: 3/1, on: 1/16}", "{swing: 3/2}")))
    first = draw(st.integers(1, 3))
    last = draw(st.integers(first, 3))
    return f"""\
title: Weir
tempo: {{bpm: {draw(st.integers(30, 220))}, beat: 1/4}}
meter: {meter}
feel: {feel}
capo: {draw(st.integers(0, 7))}
key: {draw(st.sampled_from(("A", "Bb", "F#")))}
human: {draw(st.sampled_from((0, 50, 100)))}
tuning: {draw(st.sampled_from(("E2 A2 D3 G3 B3 E4", "D2 A2 D3 G3 B3 D4", "D2 A2 D3 F#3 A3 D4")))}
riffs:
  one: {written(one)}
  two: {written(two)}
pickup: "| A |"
sections:
  strummed: {{bars: "| A(push) | D |"}}
  tune:
    bars: "| A(stop) | N.C. | D(push stop) |"
    parts: {{guitar: {{riff: one}}, lead: {{riff: two}}}}
  other:
    bars: "| D(push) | E(stop) |"
    tempo: {{bpm: 80, beat: 1/4, to: 100, over: 2}}
    parts: {{lead: {{riff: one}}}}
    on-pass: {{2: {{parts: {{lead: {{riff: two}}, guitar: off}}}}}}
form:
  - tune
  - strummed
  - other x2
  - {{section: tune, times: 2, transpose: {draw(st.integers(0, 4))}}}
  - strummed
  - tune bars {first}-{last}
  - other
"""


def fits(meter: str) -> bool:
    return any(not parse_meter(meter).bar_whole % Fraction(1, step) for step in (8, 12, 16))


def written(riff: dict[str, str]) -> str:
    """A riff as a flow mapping."""
    tab = riff["tab"].replace("\\", "\\\\").replace("\n", "\\n")
    others = "".join(f", {key}: {riff[key]}" for key in riff if key not in ("step", "tab"))
    return f'{{step: {riff["step"]}, tab: "{tab}"{others}}}'


@given(songs(), st.integers(0, 99))
@examples(40)
def test_riffs_in_every_meter_agree(text: str, seed: int) -> None:
    numbers_that_agree(Take(read_form_text(text), seed=seed))


@given(songs(), st.integers(0, 10**6))
@examples(40)
def test_versions_of_riffs_agree(text: str, number: int) -> None:
    form = read_form_text(text)
    try:
        take = Take(form, drawn(form, Random(number)), number)
    except BackingError:
        return  # the version can't be played
    numbers_that_agree(take)


# Files with one change

HAND_MADE = """\
title: Two Weirs
tempo: 100
capo: 2
human: {human}
feel: {feel}
riffs:
  weir:
    step: 1/8
    tab: |
      e|----0---|1/16: 0-x---3p0---5~--|
      B|--2---2-|2h3-----------0-|
      G|----2---|--------1-------|
      D|--2-----|2---4/5---------|
      A|0-------|----------------|
      E|--------|--------0-------|
sections:
  tune: {{bars: "| A | E7 | A |", parts: {{lead: {{riff: weir}}, guitar: {{riff: weir}}}}}}
  verse: {{bars: "| D | A |", parts: {{lead: off}}}}
form: [tune, {{section: tune, times: 2, transpose: 3}}, verse, tune bars 2-3]
"""
ORCHARD = next(path for path in DEMOS if path.stem == "orchard-wall")
SONGS = {
    "orchard-wall": ORCHARD.read_text(encoding="utf-8"),
    "exact": HAND_MADE.format(human=0, feel="straight"),
    "human and swung": HAND_MADE.format(human=100, feel="swing"),
}
Row = tuple[float, float, int, int]
"""A note: its start, its end, its pitch and its velocity."""


def changed(change: str, row: Row, pass_end_s: float) -> Iterator[Row]:
    """What stands in a note's place after a change."""
    start, end, pitch, velocity = row
    eighth_s = 0.3
    if change == "a semitone up":
        yield start, end, pitch + 1, velocity
    elif change == "a semitone down":
        yield start, end, pitch - 1, velocity
    elif change == "an octave up":
        yield start, end, pitch + 12, velocity
    elif change == "an eighth later":
        yield start + eighth_s, end + eighth_s, pitch, velocity
    elif change == "30 ms later":
        yield start + 0.03, end, pitch, velocity
    elif change == "doubled":
        yield from (row, row)
    elif change == "another note between":
        yield from (row, (start + 0.07, end, pitch + 1, velocity))
    elif change == "rings on past the pass":
        yield start, pass_end_s + eighth_s, pitch, velocity
    elif change == "cut short":
        yield start, start + (end - start) / 2 - 0.03, pitch, velocity
    else:
        assert change == "taken away"


CHANGES = (
    "a semitone up", "a semitone down", "an octave up", "an eighth later", "30 ms later",
    "taken away", "doubled", "another note between", "rings on past the pass", "cut short",
)  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", SONGS)
def test_every_changed_note_is_found(name: str, change: str) -> None:
    """A note too many near a pass's bar line may also be left for the strums' check to find."""
    take = Take(read_form_text(SONGS[name]))
    tried = 0
    for part in GUITARS:
        riffs = take.riffs(part.name)
        notes = take.notes.get(part.name, NO_NOTES)
        rows: list[Row] = list(zip(*notes, strict=True))
        before = check_riffs(riffs, notes, take.leeway)
        assert before.faults == ()
        ends = [each.end_s for each in riffs.passes]
        for place in sorted(before.explained):
            row = rows[place]
            if change == "cut short" and row[1] - row[0] < 0.15:
                continue  # a damped one
            end_s = ends[bisect_left(ends, row[0] + 0.05)]
            new = sorted([*rows[:place], *changed(change, row, end_s), *rows[place + 1 :]])
            after = check_riffs(riffs, Notes(*zip(*new, strict=True)), take.leeway)
            others = len(new) - len(after.explained)
            assert after.faults or others > len(rows) - len(before.explained), row
            tried += 1
    assert tried >= 30


@pytest.mark.parametrize("name", SONGS)
def test_a_guitar_without_its_riffs_is_found(name: str) -> None:
    take = Take(read_form_text(SONGS[name]))
    for part in GUITARS:
        riffs = take.riffs(part.name)
        if riffs.passes:
            assert len(check_riffs(riffs, NO_NOTES, take.leeway).faults) == 20


def test_another_transposition_or_capo_is_found() -> None:
    text = HAND_MADE.format(human=50, feel="straight")
    take = Take(read_form_text(text))
    other = Take(read_form_text(text.replace("transpose: 3", "transpose: 2")))
    capo = Take(read_form_text(text.replace("capo: 2", "capo: 3")))
    for part in GUITARS:
        for wrong in (other, capo):
            assert check_riffs(take.riffs(part.name), wrong.notes[part.name], take.leeway).faults


def test_a_stop_that_is_not_obeyed_and_one_that_is_made_up_are_found() -> None:
    text = HAND_MADE.format(human=50, feel="straight")
    stopped = text.replace("| A | E7 | A |", "| A | E7(stop) | A |")
    through = stopped.replace("step: 1/8", "step: 1/8\n    plays-through: on")
    takes = [Take(read_form_text(each)) for each in (text, stopped)]
    for part in GUITARS:
        if part.name in takes[0].notes:
            for right, wrong in (takes, takes[::-1]):
                assert right.check(part.name, wrong.notes[part.name]).faults
            take = Take(read_form_text(through))
            assert take.check(part.name, takes[0].notes[part.name]).faults == ()


SIGNS = """\
title: Signs
tempo: 96
human: {human}
riffs:
  signs:
    step: 1/16
    chords: {chords}
    tab: |
      |0-------0-r-------------|----<12>--------|
      |2---(2)-2-r---5.--7b9.--|(5).--------7~--|
      |2---(2)-2-r-------3-----|----<7>---------|
      |2-------2-r---7.--------|x---------------|
      |0-------0-r-----2-------|--------3---3---|
      |------------------------|----------------|
      PM|----------------==------|{palm}|
sections:
  tune: {{meter: 6/4, bars: "| A | 4/4 D |", parts: {{guitar: {{riff: signs}}}}}}
form: [tune x2]
"""
USUAL = {"human": "60", "chords": "rolled", "palm": "========--------"}


@pytest.mark.parametrize(
    "change",
    [
        ("chords: rolled", "chords: together"),
        ("========--------", "----------------"),
        ("-==------|", "---------|"),
        ("0-r-", "0---"),
        ("<7>", "7--"),
        ("(2)", "2--"),
        ("5.--", "5---"),
        ("7b9.", "7b9-"),
    ],
)
@pytest.mark.parametrize("human", ["0", "100"])
def test_a_sign_that_is_not_played_and_one_that_is_made_up_are_found(
    change: tuple[str, str], human: str
) -> None:
    text = SIGNS.format(**{**USUAL, "human": human})
    assert change[0] in text
    takes = [Take(read_form_text(each)) for each in (text, text.replace(*change))]
    for take in takes:
        assert take.check("guitar").faults == ()
    right, wrong = takes
    assert right.check("guitar", wrong.notes["guitar"]).faults
    if change[1] != "2--":  # a note may be as soft as its player likes, but a ghost not loud
        assert wrong.check("guitar", right.notes["guitar"]).faults


def test_a_moved_riff_keeps_one_octave_throughout() -> None:
    form = read_form_text(HAND_MADE.format(human=0, feel="straight"))
    take = Take(form, Version(transpose=-3))
    notes = take.notes["lead"]
    assert take.check("lead").faults == ()
    half = len(notes.starts) // 2
    pitches = [pitch + 12 * (place < half) for place, pitch in enumerate(notes.pitches)]
    assert take.check("lead", notes._replace(pitches=pitches)).faults


def test_what_is_wrong_is_named() -> None:
    take = Take(read_form_text(SONGS["exact"]))
    notes = take.notes["lead"]
    first = notes.pitches[0]
    wrong = notes._replace(pitches=[first + 1, *notes.pitches[1:]])
    (fault,) = take.check("lead", wrong).faults
    assert fault.says == "plays C3, not the riff's B2"
    late = notes._replace(ends=[notes.ends[0] + 2, *notes.ends[1:]])
    (fault,) = take.check("lead", late).faults
    assert fault.says == "B2 rings 2.00 s too long"
