"""The click and the drums: honest files agree."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from itertools import product
from pathlib import Path
from random import Random

import mido
import pytest
from form_strategies import METERS, forms
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from practice.test_practice_proof import drawn

from backing.errors import BackingError
from backing.form import Form, read_form, read_form_text
from backing.form.practice_records import Ladder
from backing.midi.writer import to_bytes
from backing.practice import PLAIN, Stretch, Version, play_version
from backing.theory.built_in_beats import BEATS, LEVELS
from backing.theory.general_midi import CLICK_SOUNDS
from backing.tracks.one import midi_of
from backing.verify.compare import compare, expected_of
from backing.verify.readers.measured import by_pretty_midi, by_summing
from backing.verify.report import Finding

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "forms").glob("*.yaml"))
NAMES = (*dict.fromkeys(beat.name for beat in BEATS), "")
WRITTEN = (
    '{step: 1/8, play: {kick: "x - - x x - -", snare: "- - x> - - - x", hand clap: "x"}}',
    '{step: 1/8t, play: {kick: "x - - | x - x", closed hi-hat: "x - x x - x", rim: "- x"}}',
    '{step: 1/16, play: {open hi-hat: "- - x -", crash: "x> - - - - - - -", cowbell: "x - x"}}',
)


def found(
    form: Form, data: bytes, version: Version = PLAIN, count_in: bool = True, both: bool = False
) -> list[Finding]:
    """What our own reader, or `both`, say of the click and the drums; the rest isn't looked at."""
    accounts = [by_summing(data), *([by_pretty_midi(data)] if both else [])]
    report = compare(expected_of(form, version, count_in), accounts)
    return [finding for finding in report.findings if finding.what in ("click", "drums")]


def wrong(
    form: Form, data: bytes, version: Version = PLAIN, count_in: bool = True, both: bool = False
) -> list[Finding]:
    every = found(form, data, version, count_in, both)
    return [finding for finding in every if not finding.agrees]


# Honest files


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_demos_agree(path: Path) -> None:
    form = read_form(path)
    assert wrong(form, midi_of(form), both=True) == []
    for human, seed in ((100, 1), (100, 2), (0, 0)):
        played = form._replace(human=human)
        assert wrong(played, midi_of(played, seed=seed)) == []
    assert wrong(form, midi_of(form, count_in=False), count_in=False) == []


def beats_in(meter: str, pick: Random) -> str:
    """A song that plays every beat at every level in a meter, with fills, marks and swing."""
    beats = [*NAMES, *WRITTEN]
    sections, lines = [], []
    for number, (beat, level) in enumerate(product(beats, LEVELS)):
        fill = pick.choice(("on", "on", "off"))
        keys = f"level: {level}, fill: {fill}" + (f", beat: {beat}" if beat else "")
        feel = pick.choice(("straight", "swing", "{swing: 3/1, on: 1/16}", "{swing: by-tempo}"))
        bars = pick.sample(("A", "D(push)", "E(stop)", "A(ring)", "N.C.", "G(push stop)", "/"), 3)
        sections.append(
            f"  s{number}:\n    feel: {feel}\n    parts: {{drums: {{{keys}}}}}\n"
            f'    bars: "| A | {" | ".join(bars)} |"'
        )
        lines.append(f"s{number} x{pick.choice((1, 2, 2))}")
    pick.shuffle(lines)
    human, count_in = pick.choice((0, 75, 100)), pick.choice((0, 1, 2))
    sound, step = pick.choice(list(CLICK_SOUNDS)), pick.choice(("1/8", "1/8t", "1/16"))
    return (
        f"title: Every beat\ntempo: {{bpm: 97.3, beat: 1/4}}\nmeter: {meter}\nhuman: {human}\n"
        f"count-in: {count_in}\nparts: {{bass: off, guitar: off, click: {{sound: {sound}, "
        f"subdivide: {step}}}}}\n"
        + "sections:\n"
        + "\n".join(sections)
        + f"\nform: [{', '.join(lines)}]\n"
    )


MORE_METERS = ("7/4", "7/4 (4+3)", "9/4 (3+3+3)", "6/4", "4/4 (2+2)", "3/4 (1+2)", "3/16", "12/4")


@pytest.mark.parametrize("meter", [*METERS, *MORE_METERS])
def test_every_beat_agrees_in_every_meter(meter: str) -> None:
    form = read_form_text(beats_in(meter, Random(meter)))
    findings = found(form, midi_of(form, seed=len(meter)))
    assert {finding.what for finding in findings} == {"click", "drums"}
    assert [finding for finding in findings if not finding.agrees] == []


def test_a_fill_whose_second_beat_is_struck_early_agrees() -> None:
    form = read_form_text(
        "title: Quick Fill\ntempo: 240\nhuman: 100\nparts: {drums: {fill: on}}\n"
        "sections: {verse: {meter: 4/8, tempo: 480, bars: A | D | A}}\nform: [verse x3]\n"
    )
    for seed in range(6):
        assert [one for one in found(form, midi_of(form, seed=seed)) if not one.agrees] == []


SONG = """\
title: Lath and Plaster
tempo: 104
feel: swing
count-in: 2
pickup: "| N.C. / / D(push) |"
parts: {drums: {fill: on}, click: {plays: 2 of 4, subdivide: 1/8}}
sections:
  verse:
    bars: "| A | D(push stop) / E / | A(ring) | N.C. | E / / E(push) | A |"
  chorus:
    times: 2
    tempo: {to: 88, over: 2}
    parts: {drums: {beat: half-time, level: full}, click: {sound: sticks}}
    bars: "| D | A / / E(push ring) | D | E(stop) / A / |"
    on-pass: {2: {parts: {drums: {level: light}}}}
  bridge:
    meter: 7/8
    parts: {drums: {beat: {step: 1/16, play: {kick: "x - - x", snare: "- - x>"}}}}
    bars: "| Bm | G(stop) |"
  quiet: {parts: {drums: off, click: off}, bars: "| D(stop) | A |"}
form: [verse, chorus, bridge x2, quiet, verse bars 2-4, chorus]
"""
SPEEDS = Ladder(Fraction(60, 100), Fraction(1), Fraction(20, 100)).speeds
VERSIONS = (
    Version((Fraction(3, 4),)),
    Version((Fraction(3, 4), Fraction(1)), 2, Stretch(bars=(3, 6)), between=1),
    Version((Fraction(2),), 3, Stretch("Chorus 1", "Bridge"), between=2),
    Version(SPEEDS, 1, Stretch(bars=(1, 4)), between=1),
    Version((Fraction(1),), 4, Stretch(bars=(2, 3))),
    Version((Fraction(1),), 2, between=1, without=frozenset({"click"})),
    Version((Fraction(1),), 2, without=frozenset({"drums"})),
    Version((Fraction(1),), 2, Stretch(bars=(5, 9)), only=frozenset({"drums"})),
    Version((Fraction(1),), only=frozenset({"click", "guitar"})),
)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("human", [0, 75, 100])
def test_practice_versions_agree(version: Version, human: int) -> None:
    form = read_form_text(SONG)._replace(human=human)
    for count_in in (True, False):
        data = to_bytes(play_version(form, version, count_in, human).score)
        assert wrong(form, data, version, count_in) == []


@given(forms(), st.integers(0, 10**6))
@settings(
    max_examples=40, derandomize=True, deadline=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
def test_forms_at_random_agree(text: str, seed: int) -> None:
    form, pick = read_form_text(text), Random(seed)
    for version in (PLAIN, drawn(form, pick)):
        count_in = pick.random() < 0.7
        try:
            data = to_bytes(play_version(form, version, count_in, seed).score)
        except BackingError:
            continue
        assert wrong(form, data, version, count_in) == []


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
@pytest.mark.parametrize("ticks_per_quarter", [480, 240])
def test_files_saved_by_another_program_agree(path: Path, ticks_per_quarter: int) -> None:
    """All parts in one track, and times rounded to the nearest of fewer ticks."""
    form = read_form(path)
    file = mido.MidiFile(file=BytesIO(midi_of(form)))
    one = mido.MidiTrack()
    before = now = 0
    for message in mido.merge_tracks(file.tracks):
        now += message.time
        tick = round(now * ticks_per_quarter / file.ticks_per_beat)
        one.append(message.copy(time=tick - before))
        before = tick
    saved = mido.MidiFile(type=0, ticks_per_beat=ticks_per_quarter, tracks=[one])
    out = BytesIO()
    saved.save(file=out)
    assert wrong(form, out.getvalue()) == []
