"""Every version agrees with its own figures, and with no other version's."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest
from drawn_versions import drawn
from form_strategies import forms
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from soundness import check_sound

from backing.errors import BackingError
from backing.form import Form, read_form, read_form_text
from backing.form.practice_records import Ladder
from backing.midi.writer import to_bytes
from backing.practice import PLAIN, Stretch, Version, describe, play_version
from backing.score import Score
from backing.verify import compare_bytes
from backing.verify.expected.practice_maths import expect_version
from backing.verify.readers.measured import by_summing
from backing.verify.report import Verdict

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "forms").glob("*.yaml"))


def prove(form: Form, version: Version, count_in: bool, seed: int) -> bool:
    """Whether the version can be played; if so it must agree and be sound."""
    try:
        data = to_bytes(play_version(form, version, count_in, seed).score)
    except BackingError:
        return False
    report = compare_bytes(expect_version(form, version, count_in), data)
    assert report.agrees, (version, report.disagreements)
    assert check_sound(data) == []
    return True


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_versions_of_the_demos_agree(path: Path) -> None:
    form = read_form(path)
    draw = Random(path.stem)
    done = [prove(form, drawn(form, draw), draw.random() < 0.7, k) for k in range(5)]
    assert sum(done) >= 2


@given(forms(), st.integers(0, 10**6))
@settings(
    max_examples=40, derandomize=True, deadline=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
def test_versions_of_forms_at_random_agree(text: str, seed: int) -> None:
    form, draw = read_form_text(text), Random(seed)
    prove(form, drawn(form, draw), draw.random() < 0.7, seed)


def test_the_number_of_bars() -> None:
    form = read_form(ROOT / "forms/orchard-wall.yaml")
    speeds = Ladder(Fraction(60, 100), Fraction(1)).speeds
    version = Version(speeds, 2, Stretch(bars=(9, 12)), between=1)
    expected = expect_version(form, version)
    # Nine speeds, two rounds each: 18 rounds of 4 bars, and a bar at each of 8 changes of speed.
    assert expected.rounds == 18
    assert expected.played_bars == 72
    assert len(expected.bars) == 72 + 8
    assert len(expected.count_in_bars) == 2
    data = to_bytes(play_version(form, version).score)
    # The song is in 4/4 throughout: bar lines to the last one, and what the ring-out holds.
    lines = by_summing(data).bar_lines
    end_s = float(expected.count_in_s + expected.seconds)
    assert sum(at < end_s - 0.001 for at in lines) == 2 + 72 + 8


# Files compared with other versions


SONG = read_form(ROOT / "forms/short-step.yaml")
STRETCH = Stretch(bars=(3, 6))
LOOPED = Version((Fraction(3, 4), Fraction(1)), 2, STRETCH, between=1)
OTHERS: tuple[Version, ...] = (
    PLAIN,
    LOOPED._replace(speeds=(Fraction(3, 4), Fraction(101, 100))),
    LOOPED._replace(speeds=(Fraction(1), Fraction(3, 4))),
    LOOPED._replace(loop=1),
    LOOPED._replace(loop=3),
    LOOPED._replace(between=0),
    LOOPED._replace(between=2),
    LOOPED._replace(stretch=Stretch(bars=(3, 7))),
    LOOPED._replace(stretch=Stretch(bars=(4, 7))),
    LOOPED._replace(stretch=None),
    LOOPED._replace(without=frozenset({"click"})),
    LOOPED._replace(without=frozenset({"bass"})),
    LOOPED._replace(without=frozenset({"guitar"})),
    LOOPED._replace(trade=1),
    LOOPED._replace(trade=2),
    LOOPED._replace(transpose=1),
    LOOPED._replace(transpose=-12),
    LOOPED._replace(easier=True),
    LOOPED._replace(build_up="front"),
    LOOPED._replace(build_up="end"),
)


@pytest.mark.parametrize("other", OTHERS, ids=describe)
def test_a_version_compared_with_another_disagrees(other: Version) -> None:
    """The title tells apart even those whose music is the same: this song has no riff to move.

    Its shapes may be any that the proof takes for the chords, the easy ones too.
    """
    data = to_bytes(play_version(SONG, LOOPED).score)
    assert compare_bytes(expect_version(SONG, LOOPED), data).agrees
    report = compare_bytes(expect_version(SONG, other), data, quick=True)
    same_music = other.easier or other.transpose == -12
    assert report.agrees is same_music
    assert "title" in {one.what for one in report.findings if one.verdict is Verdict.NOTED}


@pytest.mark.parametrize(
    ("made", "asked"),
    [
        ({"build_up": "front"}, {"build_up": "end"}),
        ({"build_up": "front"}, {"build_up": ""}),
        ({"build_up": "front", "loop": 2}, {"build_up": "front", "loop": 1}),
        ({"build_up": "end", "between": 0}, {"build_up": "end"}),
        ({"build_up": "end", "speeds": (Fraction(3, 4), Fraction(1))}, {"build_up": "end"}),
    ],
    ids=str,
)
def test_build_ups_compared_with_others_disagree(
    made: dict[str, Any], asked: dict[str, Any]
) -> None:
    plain = Version(stretch=STRETCH, between=1, loop=2)
    one, other = plain._replace(**made), plain._replace(**asked)
    data = to_bytes(play_version(SONG, one).score)
    assert compare_bytes(expect_version(SONG, one), data).agrees
    assert not compare_bytes(expect_version(SONG, other), data, quick=True).agrees


def spoiled(score: Score, part: str, change: Any) -> bytes:
    tracks = tuple(change(track) if track.part == part else track for track in score.tracks)
    return to_bytes(score._replace(tracks=tracks))


@pytest.mark.parametrize("part", ["click", "bass", "guitar"])
def test_a_misplaced_note_is_found(part: str) -> None:
    version = LOOPED._replace(trade=1)
    score = play_version(SONG, version).score
    later = Fraction(1, 4) if part == "guitar" else Fraction(1, 60)

    def late(track: Any) -> Any:
        notes = [
            note._replace(start_whole=note.start_whole + later, end_whole=note.end_whole + later)
            for note in track.notes
            if note.end_whole + later < score.end_whole
        ]
        return track._replace(notes=tuple(notes))

    report = compare_bytes(expect_version(SONG, version), spoiled(score, part, late))
    assert {finding.what for finding in report.disagreements} == {part}


def test_a_part_that_should_not_play_is_found() -> None:
    score = play_version(SONG, LOOPED).score
    without = LOOPED._replace(without=frozenset({"guitar"}))
    report = compare_bytes(expect_version(SONG, without), to_bytes(score))
    assert any("the guitar plays" in finding.says for finding in report.disagreements)
