"""What happened to a file as a whole: demos damaged in many ways, and other songs' files."""

from __future__ import annotations

import re
import time
from fractions import Fraction
from itertools import permutations
from random import Random

import pytest
from damaged_songs import (
    DEMOS,
    Song,
    at_tempo,
    built,
    cause,
    cause_in,
    copied,
    exchanged,
    in_ticks,
    only_until,
    song,
    transposed,
    with_gap,
    without,
    without_parts,
)

from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.human import humanize
from backing.score import Score
from backing.timeline import unroll
from backing.verify.causes.clues import UNPITCHED
from backing.verify.readers.measured import Measured, by_pretty_midi, by_summing
from backing.verify.readers.voices import Notes, Voice

#: Demos with a single tempo, and the tempo that each form writes.
TEMPOS = {
    "bakery-at-four": 60, "ferry-steps": 100, "five-herons": 120, "gatepost-blues": 120,
    "short-step": 96, "six-ducks": 112, "starter": 96, "umbrella-by-the-door": 144,
}  # fmt: skip


def places(song: Song) -> list[int]:
    """Bars near the start, in the middle and near the end."""
    count = len(song.expected.bars)
    return sorted({3, count // 3, count // 2, count - 3} - {1, 2})


def chords_by_bar(song: Song) -> list[list[tuple[Fraction, object]]]:
    """What sounds in each bar, from its bar line."""
    bars = song.expected.bars
    every: list[list[tuple[Fraction, object]]] = [[] for _ in bars]
    for index, bar in enumerate(bars):
        end = bar.start_quarters + bar.meter.bar_whole * 4
        sounding = None
        for chord in song.expected.chords:
            if chord.start_quarters <= bar.start_quarters:
                sounding = chord.sounding
            if bar.start_quarters < chord.start_quarters < end:
                every[index].append((chord.start_quarters - bar.start_quarters, chord.sounding))
        every[index].insert(0, (bar.meter.bar_whole, sounding))
    return every


@pytest.mark.parametrize("name", DEMOS)
def test_a_song_itself_has_no_cause(name: str) -> None:
    assert cause(song(name), built(song(name))) is None
    assert cause_in(song(name), by_pretty_midi(built(song(name)))) is None


@pytest.mark.parametrize("whole", [Fraction(1, 10), Fraction(1), Fraction(5, 2)])
@pytest.mark.parametrize("name", DEMOS)
def test_everything_late(name: str, whole: Fraction) -> None:
    one = song(name)
    late_s = float(whole * 240 / one.expected.tempos[0].quarter_bpm)
    assert cause(one, built(one, with_gap(one.score, Fraction(0), whole))) == (
        f"everything is {late_s:.3f} s late"
    )


@pytest.mark.parametrize("name", DEMOS)
def test_the_count_in_is_missing(name: str) -> None:
    one = song(name)
    form = one.form._replace(count_in_bars=0)
    early_s = float(one.expected.count_in_s)
    assert cause(one, to_bytes(humanize(play(unroll(form)), form.human))) == (
        f"the count-in is missing: everything is {early_s:.3f} s early. "
        "If that is intended, use --no-count-in"
    )


@pytest.mark.parametrize("more", [1, 2])
@pytest.mark.parametrize("name", DEMOS)
def test_bars_are_missing(name: str, more: int) -> None:
    """Where removing another bar leaves the same bars, that one may be named."""
    one, bars = song(name), chords_by_bar(song(name))
    for bar in places(one):
        found = cause(one, built(one, without(one.score, one.bar(bar), one.bar(bar + more))))
        match = re.fullmatch(
            r"bars? (\d+)(?:-\d+)? (?:is|are) missing; from there on everything is "
            r"(?:one bar|2 bars) early",
            found or "",
        )
        assert match, (bar, found)
        named = int(match[1])
        assert (
            bars[: named - 1] + bars[named - 1 + more :] == bars[: bar - 1] + bars[bar - 1 + more :]
        ), (bar, found)


@pytest.mark.parametrize("name", DEMOS)
def test_a_bar_too_many(name: str) -> None:
    one = song(name)
    for bar in places(one):
        length = one.bar(bar + 1) - one.bar(bar)
        assert cause(one, built(one, with_gap(one.score, one.bar(bar), length))) == (
            f"there is a bar too many before bar {bar}; from there on everything is one bar late"
        )


@pytest.mark.parametrize("name", DEMOS)
def test_late_from_a_bar_on(name: str) -> None:
    one = song(name)
    for bar in places(one):
        gap = Fraction(1, 7)
        found = cause(one, built(one, with_gap(one.score, one.bar(bar), gap)))
        late_s = float(gap * 240 / one.expected.tempos[0].quarter_bpm)
        assert re.fullmatch(rf"from bar {bar} on everything is [0-9.]+ s late", found or ""), bar
        assert abs(float((found or "").split()[-3]) - late_s) < 0.002


@pytest.mark.parametrize("name", DEMOS)
def test_the_song_is_cut_short(name: str) -> None:
    one = song(name)
    last = len(one.expected.bars)
    for bar in places(one):
        assert cause(one, built(one, only_until(one.score, one.bar(bar + 1)))) == (
            f"the song ends after bar {bar} of {last}"
        )


@pytest.mark.parametrize("factor", [0.75, 0.975, 1.02])
@pytest.mark.parametrize("name", DEMOS)
def test_another_tempo_by_the_tempo_map_and_by_the_notes(name: str, factor: float) -> None:
    one = song(name)
    wanted = f"the tempo is {100 * factor:.1f}% of what it should be throughout"
    if name in TEMPOS:
        slow = f"{TEMPOS[name] * factor:.2f}".rstrip("0").rstrip(".")
        wanted = f"the tempo is {slow} instead of {TEMPOS[name]} throughout"
    elif name == "pebble-dance":
        slow = f"{140 * factor:.2f}".rstrip("0").rstrip(".")
        wanted = f"the tempo is {slow} instead of 140 throughout"
    assert cause(one, at_tempo(built(one), factor)) == wanted
    if len(one.expected.tempos) == 1:
        assert cause(one, in_ticks(built(one), 1 / factor)) == wanted


@pytest.mark.parametrize(
    ("up", "says"),
    [(2, "2 semitones higher"), (-1, "1 semitone lower"), (-4, "4 semitones lower")],
)
@pytest.mark.parametrize("name", DEMOS)
def test_everything_sounds_in_another_key(name: str, up: int, says: str) -> None:
    one = song(name)
    pitched = frozenset(one.moments) - UNPITCHED
    assert cause(one, built(one, transposed(one.score, up, pitched))) == f"everything sounds {says}"


@pytest.mark.parametrize("name", DEMOS)
def test_one_part_is_transposed_or_missing(name: str) -> None:
    one = song(name)
    for part in one.moments:
        missing = cause(one, built(one, without_parts(one.score, frozenset({part}))))
        verb = "are" if part == "drums" else "is"
        called = "ukulele" if (name, part) == ("six-ducks", "guitar") else part
        assert missing == f"the {called} {verb} missing"
        if part not in UNPITCHED:
            higher = cause(one, built(one, transposed(one.score, 1, frozenset({part}))))
            assert higher == f"the {called} sounds 1 semitone higher"


def test_two_parts_are_missing() -> None:
    one = song("gatepost-blues")
    data = built(one, without_parts(one.score, frozenset({"guitar", "drums"})))
    assert cause(one, data) == "the guitar and the drums are missing"


@pytest.mark.parametrize(
    ("name", "first", "second", "bars"),
    [
        ("short-step", 5, 13, 8), ("short-step", 13, 21, 8),
        ("gatepost-blues", 5, 41, 12), ("orchard-wall", 13, 19, 6), ("pebble-dance", 5, 21, 8),
        ("bakery-at-four", 3, 19, 8), ("greensleeves", 5, 13, 8),
    ],
)  # fmt: skip
def test_two_sections_are_exchanged(name: str, first: int, second: int, bars: int) -> None:
    one = song(name)
    length = one.bar(first + bars) - one.bar(first)
    assert cause(
        one, built(one, exchanged(one.score, one.bar(first), one.bar(second), length))
    ) == (f"bars {first}-{first + bars - 1} and {second}-{second + bars - 1} are exchanged")


def test_bars_hold_what_belongs_elsewhere() -> None:
    one = song("short-step")
    length = one.bar(9) - one.bar(5)
    assert cause(one, built(one, copied(one.score, one.bar(5), one.bar(13), length))) == (
        "bars 13-16 hold what belongs in bars 5-8"
    )


def one_wrong_note(score: Score) -> Score:
    return score._replace(
        tracks=tuple(
            track._replace(
                notes=(*track.notes[:9], track.notes[9]._replace(pitch=70), *track.notes[10:])
            )
            if track.part == "guitar"
            else track
            for track in score.tracks
        )
    )


@pytest.mark.parametrize("name", DEMOS)
def test_small_damage_has_no_cause(name: str) -> None:
    one = song(name)
    assert cause(one, built(one, one_wrong_note(one.score))) is None
    for bar in places(one):
        tracks = tuple(
            track._replace(
                notes=tuple(
                    note
                    for note in track.notes
                    if track.part != "guitar"
                    or not one.bar(bar) <= note.start_whole < one.bar(bar + 1)
                )
            )
            for track in one.score.tracks
        )
        assert cause(one, built(one, one.score._replace(tracks=tracks))) is None, bar


@pytest.mark.parametrize("name", DEMOS)
def test_a_single_part_that_is_all_wrong_is_not_another_song(name: str) -> None:
    one = song(name)
    for part in set(one.moments) - UNPITCHED:
        random = Random(part)
        tracks = []
        for track in one.score.tracks:
            notes = [
                note._replace(
                    pitch=40 + random.randrange(24),
                    start_whole=max(Fraction(0), note.start_whole - Fraction(random.random()) / 4),
                )
                for note in track.notes
                if track.part == part
            ]
            tracks.append(track._replace(notes=tuple(sorted(notes or track.notes))))
        score = one.score._replace(tracks=tuple(tracks))
        assert cause(one, to_bytes(score)) != "this is another song", part


@pytest.mark.parametrize(("form", "file"), list(permutations(DEMOS, 2))[::2])
def test_another_song(form: str, file: str) -> None:
    assert cause(song(form), built(song(file))) == "this is another song"


def test_a_file_without_notes() -> None:
    one = song("starter")
    account = Measured("a reader", Fraction(1, 960))
    assert cause_in(one, account) == "the file has no notes"


def test_the_search_for_a_cause_takes_time_by_the_number_of_notes() -> None:
    one = song("gatepost-blues")
    account = by_summing(built(one))

    def took_s(count: int) -> float:
        starts = [index * 0.0311 for index in range(count)]
        pitches = [(index * 7919) % 60 + 30 for index in range(count)]
        account.voices = [Voice("", 0, Notes(starts, starts, pitches, [80] * count))]
        times = []
        for _ in range(3):
            before = time.process_time()
            cause_in(one, account)
            times.append(time.process_time() - before)
        return min(times)

    assert took_s(300_000) < 3 * 6 * took_s(50_000)


@pytest.mark.parametrize("factor", [0, 1e-5, 1e-3])
def test_a_file_whose_notes_all_start_at_once_gets_a_cause(factor: float) -> None:
    one = song("starter")
    assert cause(one, in_ticks(built(one), factor)) == "this is another song"
