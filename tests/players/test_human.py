"""Human time and touch: seeded, bounded, one drift a player, and never at an order's cost."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from soundness import check_sound

from backing.cli import main
from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.arm import swept
from backing.players.human import FARTHEST_S, FARTHEST_VELOCITY, drift, humanize
from backing.score import Bend, Control, Note, Score, TempoChange, Track
from backing.timeline import unroll
from backing.tracks.one import midi_of
from backing.verify import expect, verify_bytes

SONG = """\
title: Breathing
tempo: 100
parts: {bass: {line: beats}, click: {subdivide: 1/8}}
sections:
  verse: {bars: "| A | D / E7(push) / | A(stop) | F#m7(ring) |"}
  close: {tempo: {to: 60, over: 2}, bars: "| D | A(ring) |"}
form: [verse x3, {section: verse, tempo: 200}, close]
"""


def exact(text: str = SONG) -> Score:
    return play(unroll(read_form_text(text)))


def track(score: Score, part: str) -> Track:
    return next(track for track in score.tracks if track.part == part)


def test_the_same_seed_gives_the_same_bytes() -> None:
    form = read_form_text(SONG)
    assert midi_of(form) == midi_of(form) == midi_of(form, seed=0)
    assert len({midi_of(form, seed=seed) for seed in range(-3, 4)}) == 7


def test_the_random_generator_gives_the_same_numbers_in_every_version() -> None:
    """Seeded with text and asked for random() alone: the same on Python 3.6 to 3.13 (tried)."""
    assert Random("0/bass/time").random() == 0.04395378451067555
    assert drift("0/bass/time", 4) == pytest.approx(
        [0.761311, 0.134704, 0.480803, 0.069294], abs=1e-6
    )


def test_zero_percent_spreads_strokes_and_changes_nothing_else() -> None:
    score = exact()
    assert humanize(score, 0, seed=5) == swept(score, 0)
    assert midi_of(read_form_text(SONG + "human: 0\n")) == to_bytes(swept(score, 0))
    for before, after in zip(score.tracks, swept(score, 0).tracks, strict=True):
        assert before == after or before.part == "guitar"


def test_the_click_is_exact_and_all_other_parts_stray() -> None:
    score = exact()
    played = humanize(score, 75)
    assert track(played, "click") == track(score, "click")
    for part in ("bass", "guitar"):
        before = track(swept(score, 75), part).notes
        after = track(played, part).notes
        assert [n.start_whole for n in before] != [n.start_whole for n in after]
        assert [n.velocity for n in before] != [n.velocity for n in after]
        assert [(n.pitch, n.string) for n in before] == [(n.pitch, n.string) for n in after]


def test_only_notes_stray() -> None:
    score = exact()
    played = humanize(score, 100)
    for name in ("tempos", "meters", "markers", "chords", "keys", "end_whole", "title"):
        assert getattr(played, name) == getattr(score, name)


UNEVEN = """\
title: Off the eighths
tempo: {bpm: 480, beat: 1/16}
meter: 5/16
parts: {bass: {line: {step: 1/16, play: "1 5 8 5 3"}}}
sections:
  quick: {bars: "| A | D |", times: 4}
  slow: {bars: "| A | D |", times: 4, tempo: {bpm: 120, beat: 1/16}}
form: [quick, slow, quick, slow, quick, slow]
"""


@pytest.mark.parametrize("text", [SONG, UNEVEN], ids=["even", "uneven"])
@pytest.mark.parametrize("percent", [1, 40, 75, 100])
def test_nothing_strays_too_far_even_where_the_tempo_changes(percent: int, text: str) -> None:
    timeline = unroll(read_form_text(text))
    score = play(timeline)
    most_s, most_velocity = FARTHEST_S * percent / 100, FARTHEST_VELOCITY * percent / 100
    strayed = []
    for seed in range(6):
        for part in ("bass", "guitar"):
            played = humanize(score, percent, seed)
            strokes = swept(score, percent, seed)
            for a, b in zip(track(strokes, part).notes, track(played, part).notes, strict=True):
                for place, moved in ((a.start_whole, b.start_whole), (a.end_whole, b.end_whole)):
                    strayed.append(abs(timeline.seconds(moved) - timeline.seconds(place)))
                assert abs(b.velocity - a.velocity) <= max(1, most_velocity)
    assert max(strayed) <= most_s + Fraction(1, 4000)  # places are rounded to half a tick
    assert max(strayed) > most_s * Fraction(3, 4) or percent == 1


def test_strings_struck_together_move_together(played) -> None:
    """Within a stroke no string strays from the first by more than about a millisecond."""
    song = played(SONG)
    human = type(song)(song.timeline, humanize(song.score, 75))
    before = type(song)(song.timeline, swept(song.score, 75)).strokes()
    after = human.strokes()
    assert [len(notes) for _, notes in before] == [len(notes) for _, notes in after]
    worst = Fraction(0)
    for (_, a), (_, b) in zip(before, after, strict=True):
        assert [note.string for note in a] == [note.string for note in b]
        of_first = song.seconds(b[0].start_whole) - song.seconds(a[0].start_whole)
        for x, y in zip(a, b, strict=True):
            of_this = song.seconds(y.start_whole) - song.seconds(x.start_whole)
            worst = max(worst, abs(of_this - of_first))
    assert worst < Fraction(3, 1000)


def test_a_string_never_sounds_two_notes() -> None:
    for seed in range(4):
        strings = defaultdict(list)
        for note in track(humanize(exact(), 100, seed), "guitar").notes:
            strings[note.string].append(note)
        assert len(strings) == 6
        for notes in strings.values():
            notes.sort()
            assert all(a.end_whole <= b.start_whole for a, b in pairwise(notes))


def test_notes_that_touched_still_touch() -> None:
    score = exact()
    for a, b in zip(
        track(score, "bass").notes, track(humanize(score, 100), "bass").notes, strict=True
    ):
        assert a.start_whole < a.end_whole
        assert b.start_whole < b.end_whole
    before = pairwise(track(score, "bass").notes)
    after = pairwise(track(humanize(score, 100), "bass").notes)
    touching = [a.end_whole == b.start_whole for a, b in before]
    assert any(touching)
    assert [a.end_whole == b.start_whole for a, b in after] == touching


def test_bends_and_controls_move_with_the_notes_they_belong_to() -> None:
    places = [Fraction(n, 4) for n in range(16)]
    notes = tuple(Note(place, place + Fraction(1, 8), 60, 80) for place in places)
    bends = tuple(Bend(place, Fraction(1)) for place in places)
    changes = tuple(Control(place, "volume", 90) for place in places)
    lead = Track("lead", "Lead", 25, 100, 0, notes, bends, changes)
    tempos = (TempoChange(Fraction(0), Fraction(120)),)
    score = Score("", (lead,), tempos, (), (), (), (), Fraction(5))
    (moved,) = humanize(score, 100).tracks
    starts = [note.start_whole for note in moved.notes]
    assert starts != places
    assert [bend.start_whole for bend in moved.bends] == starts
    assert [change.start_whole for change in moved.changes] == starts


TEMPOS = st.lists(
    st.tuples(st.integers(0, 64), st.sampled_from([5, 47, 120, 333, 1000])), max_size=6
)
PLACES = st.builds(Fraction, st.integers(0, 1919), st.sampled_from([96, 240, 480, 7680]))


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=60)
@given(tempos=TEMPOS, places=st.lists(PLACES, min_size=2, max_size=30), seed=st.integers())
def test_the_order_of_notes_stays_the_same_at_any_tempo(
    tempos: list[tuple[int, int]], places: list[Fraction], seed: int
) -> None:
    """From 5 to 1000 quarters a minute, the language's own limits, changing anywhere."""
    changes = {Fraction(0): Fraction(120)} | {Fraction(n, 16): Fraction(bpm) for n, bpm in tempos}
    ordered = sorted(set(places))
    notes = tuple(Note(place, place + Fraction(1, 16), 60, 80) for place in ordered)
    part = Track("bass", "Bass", 33, 100, 0, notes)
    score = Score(
        "",
        (part,),
        tuple(TempoChange(*c) for c in sorted(changes.items())),
        (),
        (),
        (),
        (),
        Fraction(21),
    )
    (moved,) = humanize(score, 100, seed).tracks
    starts = [note.start_whole for note in moved.notes]
    assert starts == sorted(starts)
    assert all(0 <= note.start_whole < note.end_whole <= 21 for note in moved.notes)
    assert check_sound(to_bytes(humanize(score, 100, seed))) == []


def test_a_song_starts_and_ends_inside_its_file() -> None:
    text = "title: t\ntempo: 300\ncount-in: 0\nsections: {a: {bars: '| A(ring) |'}}\nform: [a]\n"
    for seed in range(40):
        data = midi_of(read_form_text(text + "human: 100\n"), seed=seed)
        assert check_sound(data) == []


# The proof


def test_the_proof_allows_what_the_form_says_and_no_more() -> None:
    for percent in (0, 40, 75, 100):
        form = read_form_text(SONG + f"human: {percent}\n")
        assert expect(form).human_s == FARTHEST_S * percent / 100
        for seed in range(5):
            report = verify_bytes(form, midi_of(form, seed=seed))
            assert report.agrees, report.disagreements
            assert report.worst_s <= report.tolerance_s
    stiff = read_form_text(SONG + "human: 0\n")
    report = verify_bytes(stiff, midi_of(read_form_text(SONG + "human: 75\n")))
    assert {finding.what for finding in report.disagreements} == {"bass", "guitar"}


# The seed on the command line


def test_the_command_takes_a_seed(tmp_path: Path) -> None:
    form = tmp_path / "breathing.yaml"
    form.write_text(SONG, encoding="utf-8")

    def built(*options: str) -> bytes:
        result = CliRunner().invoke(main, ["build", str(form), "--out", str(tmp_path), *options])
        assert result.exit_code == 0, result.output
        return (tmp_path / "Breathing.mid").read_bytes()

    assert built() == built("--seed", "0") == midi_of(read_form_text(SONG))
    assert built("--seed", "7") == midi_of(read_form_text(SONG), seed=7) != built()
    refused = CliRunner().invoke(main, ["build", str(form), "--seed", "lucky"])
    assert refused.exit_code == 2
