"""The proof of the bass: honest files agree, and a note outside the rules is found."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from form_strategies import METERS, QUALITIES, forms
from held_parts import (
    LINES,
    VERSIONS,
    Played,
    doubled_note,
    drawn_song,
    of_rows,
    played,
    tempo_song,
    with_note,
    without_note,
)
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from proof_files import DEMOS

from backing.form import read_form, read_form_text
from backing.players.bass_pitches import harmony_of
from backing.players.degrees import semitones
from backing.theory.bass_lines import WALK
from backing.theory.chords import parse_chord
from backing.theory.pitch import note_number
from backing.theory.rhythm import parse_meter
from backing.verify.expected.bass import ExpectedBass, strong_beats, walk_register
from backing.verify.expected.bass_tones import degree_semitones, scale, wanted
from backing.verify.expected.moments import mask
from backing.verify.readers.measured import by_pretty_midi, by_summing

#: The lowest open string of a bass guitar, and the twelfth fret of its highest.
LOWEST, HIGHEST = note_number("E1"), note_number("G3")

# Honest files


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_demos_agree(path: Path) -> None:
    form = read_form(path)
    for human, seed, reader in ((0, 0, by_summing), (form.human, 3, by_pretty_midi)):
        check = played(form, "bass", human, seed, reader=reader).check()
        assert check.faults == ()
        assert check.moments == check.notes > 0


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("meter", METERS)
def test_every_line_agrees_in_every_meter(line: str, meter: str) -> None:
    for seed in range(2):
        form = drawn_song(Random(f"{line}/{meter}/{seed}"), line, meter)
        assert played(form, "bass", 100 * seed, seed).check().faults == ()


@pytest.mark.parametrize("name", VERSIONS)
@pytest.mark.parametrize("line", LINES)
def test_practice_versions_agree(line: str, name: str) -> None:
    form = drawn_song(Random(f"{line}/{name}"), line, "4/4")
    found = played(form, "bass", 100, 5, VERSIONS[name])
    if "bass" in found.song.absent:
        assert not found.notes
    else:
        assert found.check().faults == ()
        assert found.check().moments > 0


@given(forms(), st.integers(0, 10**6))
@settings(
    max_examples=30, derandomize=True, deadline=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
def test_forms_at_random_agree(text: str, seed: int) -> None:
    form = read_form_text(text)
    assert played(form, "bass", seed % 101, seed).check().faults == ()


# The rules, against examples by hand


def test_degrees_are_those_of_the_form_language() -> None:
    """The players work out the same for every chord, in code that the proof doesn't share."""
    for quality in QUALITIES:
        intervals = parse_chord(f"C{quality}").intervals
        for number in range(1, 14):
            for degree in (f"{number}", f"b{number}", f"#{number}"):
                expected = semitones(intervals, degree) % 12
                assert degree_semitones(intervals, degree) == expected, (quality, degree)


@pytest.mark.parametrize(
    ("meter", "strong"),
    [
        ("4/4", {0, 2}), ("3/4", {0}), ("2/4", {0}), ("6/8", {0}), ("12/8", {0, 2}),
        ("5/4", {0, 3}), ("5/4 (2+3)", {0, 2}), ("6/4", {0, 3}), ("7/4", {0, 2, 4, 6}),
        ("7/8", {0}), ("4/8", {0, 2}),
        ("7/4 (2+2+3)", {0, 2, 4}), ("10/8 (3+3+2+2)", {0, 2}), ("3/8", {0}), ("1/4", {0}),
    ],
)  # fmt: skip
def test_strong_beats(meter: str, strong: set[int]) -> None:
    assert strong_beats(parse_meter(meter)) == strong


@pytest.mark.parametrize(
    ("symbol", "tone", "classes"),
    [
        ("C", "root", {0}), ("C/G", "root", {7}), ("C/G", "fifth", {0}), ("C", "fifth", {7}),
        ("Bm7b5", "fifth", {5}), ("Am", "3", {0}), ("C/E", "1", {4}), ("C/E", "5", {7}),
        ("G", "walk", {7, 11, 2}), ("G/F", "walk", {7, 11, 2, 5}),
    ],
)  # fmt: skip
def test_pitch_classes(symbol: str, tone: str, classes: set[int]) -> None:
    found = wanted(parse_chord(symbol), 0, tone).classes
    assert {one for one in range(12) if found >> one & 1} == classes


# Notes outside the rules

SONGS = {
    "roots": tempo_song(
        96, "capo: 3\nparts: {bass: {line: roots}}",
        "| G(push) | D/F# | Em7(ring) | % | C D(push) | N.C. | G(stop) | G / D7(stop) / |",
        "[tune x3]",
    ),
    "beats": tempo_song(
        120, "feel: swing\nmeter: 12/8\nparts: {bass: {line: beats}}\npickup: '| N.C. / / D7 |'",
        "| G C | D7(push) | Em(stop) / C(ring) / | G |",
    ),
    "root-fifth": tempo_song(
        132, "meter: 3/4\nparts: {bass: {line: root-fifth}}",
        "| G | D/A | Bm7b5 | E7(push) | 4/4 Am D7 | G(ring) |",
    ),
    "passing notes": tempo_song(
        100, "feel: swing\ncapo: 1\nparts: {bass: {line: root-fifth}}",
        "| G | D/F# | Em | / / / / | 3/4 C | D7 | 4/4 C(push) | E7#9 | 6/8 Am | G |",
    ),
    "degrees": tempo_song(
        88, "feel: {swing: 3/2}\nparts: {bass: {line: {step: 1/8, play: '1 - 3 5 - 8 b7 #4'}}}",
        "| G | D/F#(push) | Em7b5 / C(stop) / | Asus4 D7 |",
    ),
    "walking": tempo_song(
        140, "feel: swing\nparts: {bass: {line: walking}}",
        "| Am7 | D7(push) | Gmaj7 / / E7 | % | Am7(stop) | D7 / G6/B / | Cm7 F9(ring) | G |",
    ),
    "walking in five": tempo_song(
        150, "meter: 5/4\ncapo: 2\nparts: {bass: {line: walking}}",
        "| Em / / A / | Cmaj7 | % | Bm7 / / / E7 | Am7 | D7 |",
    ),
}  # fmt: skip


@pytest.fixture(scope="module", params=SONGS)
def song(request: pytest.FixtureRequest) -> Played:
    """A song's bass, exactly on the grid or a little off it."""
    return played(SONGS[request.param], "bass", 75, 1)


def notes_expected(song: Played) -> ExpectedBass:
    assert isinstance(song.expected, ExpectedBass)
    return song.expected


def is_walking(song: Played, index: int) -> bool:
    """Whether the player chooses the pitch class of a note."""
    chosen = (wanted(parse_chord("C"), 0, WALK).name, "a passing note")
    return notes_expected(song).notes[index].wanted.name in chosen


def is_near(at_s: float, other_s: float) -> bool:
    """Whether two times differ by no more than a player may stray."""
    return abs(at_s - other_s) < 0.03


def test_the_song_itself_agrees(song: Played) -> None:
    assert song.check().faults == ()
    assert song.check().moments == len(song.notes.starts) >= 20


@pytest.mark.parametrize("move", [1, -1])
def test_a_fixed_note_a_semitone_off_is_found(song: Played, move: int) -> None:
    pitches = song.notes.pitches
    fixed = [index for index in range(len(pitches)) if not is_walking(song, index)]
    for index in fixed:
        changed = with_note(song.notes, index, pitches=pitches[index] + move)
        faults = song.check(changed).faults
        assert any(is_near(fault.at_s, song.notes.starts[index]) for fault in faults), index
    assert len(fixed) >= 12


@pytest.mark.parametrize(("name", "least"), [("walking", 0.5), ("walking in five", 0.55)])
def test_a_chosen_note_is_found_where_it_leaves_its_bounds(name: str, least: float) -> None:
    """A note moved by a semitone may still be a choice; each that agrees is checked to be one.

    On a weak beat it may lead to the next note by the other kind of step, as A and Bb both do to
    B; and a chord has tones a semitone apart, as Cmaj7 has B and C.
    """
    song = played(SONGS[name], "bass", 75, 1)
    pitches, rows = song.notes.pitches, notes_expected(song).notes
    chosen = [index for index in range(len(rows)) if is_walking(song, index)]
    found = 0
    for index in chosen:
        for move in (1, -1):
            pitch = pitches[index] + move
            faults = song.check(with_note(song.notes, index, pitches=pitch)).faults
            note = rows[index]
            inside = bool(note.wanted.classes >> pitch % 12 & 1)
            next_pitch = pitches[index + 1] if index + 1 < len(pitches) else 0
            step = abs(next_pitch - pitch)
            leads = (step == 1 and note.wanted.half_steps) or (
                step in (1, 2) and note.wanted.steps >> pitch % 12 & 1
            )
            # A note may also be what the one before it led to.
            led = index and rows[index - 1].wanted.steps and is_walking(song, index - 1)
            if not faults:
                assert LOWEST <= pitch <= HIGHEST
                assert inside or leads
            elif inside or leads:
                assert led or not LOWEST <= pitch <= HIGHEST
            found += bool(faults)
    assert len(chosen) >= 20
    assert found >= least * 2 * len(chosen)


def test_a_chosen_note_far_outside_its_bounds_is_found() -> None:
    """Every choice of a walking line exchanged for each pitch that its bounds exclude."""
    song = played(SONGS["walking"], "bass", 75, 1)
    for index, note in enumerate(notes_expected(song).notes):
        if not is_walking(song, index):
            continue
        follows = song.notes.pitches[index + 1] if index + 1 < len(song.notes.pitches) else 0
        outside = [
            pitch
            for pitch in range(LOWEST, HIGHEST + 1)
            if not note.wanted.classes >> pitch % 12 & 1 and abs(pitch - follows) not in (1, 2)
        ]
        for pitch in outside:
            assert song.check(with_note(song.notes, index, pitches=pitch)).faults


def test_a_walk_an_octave_too_low_is_found() -> None:
    """A note alone, all that start a chord, and the whole line."""
    song = played(SONGS["walking"], "bass", 75, 1)
    rows = notes_expected(song).notes
    low, high = notes_expected(song).walk_register
    assert (low, high) == (note_number("B1"), note_number("F3"))
    opening = [index for index, row in enumerate(rows) if row.opens_walk]
    assert len(opening) >= 14
    for index in opening:
        lower = song.notes.pitches[index] - 12
        faults = song.check(with_note(song.notes, index, pitches=lower)).faults
        assert bool(faults) or lower >= low, index
    lowered = [(s, e, p - 12, v) for s, e, p, v in zip(*song.notes, strict=True)]
    says = [fault.says for fault in song.check(of_rows(lowered)).faults]
    assert any("where a walk starts its chords on B1 to F3" in one for one in says)


@pytest.mark.parametrize(
    ("tuning", "register"),
    [
        ((28, 43), ("B1", "F3")), ((23, 48), ("B1", "F3")), ((35, 47), ("C#2", "G3")),
        ((23, 38), ("F#1", "C3")),
    ],
)  # fmt: skip
def test_a_walks_register_stays_a_whole_step_inside_the_range(
    tuning: tuple[int, int], register: tuple[str, str]
) -> None:
    found = walk_register(tuning[0], tuning[1] + 12)
    assert found == tuple(map(note_number, register))


def test_the_scales_of_walks_are_those_of_the_player() -> None:
    for quality in QUALITIES:
        chord = parse_chord(f"D{quality}/F")
        assert scale(chord, 3) == mask(harmony_of(chord, 3).scale), quality


def test_a_half_step_from_outside_the_scale_is_found_within_a_chord() -> None:
    """G G# A B over G: as a step to A from outside the scale it doesn't lead to a new chord."""
    form = tempo_song(120, "parts: {bass: {line: walking}}", "| G | % | C |", "[tune]")
    song = played(form, "bass")
    pitches = list(song.notes.pitches)
    chromatic = with_note(song.notes, 1, pitches=pitches[2] + (1 if pitches[2] % 12 == 7 else -1))
    last = with_note(song.notes, 7, pitches=pitches[8] + 1)  # Db to C leads to the new chord
    assert pitches[2] % 12 in (2, 7, 11)
    assert chromatic.pitches[1] % 12 in (1, 6, 8, 10)
    assert song.check(last).faults == ()
    assert song.check(chromatic).faults


def passing_notes(song: Played) -> list[int]:
    rows = notes_expected(song).notes
    return [index for index, row in enumerate(rows) if row.wanted.name == "a passing note"]


def test_a_passing_note_may_be_any_step_from_the_scales_and_nothing_else() -> None:
    """Every pitch of the range in its place."""
    song = played(SONGS["passing notes"], "bass", 75, 1)
    indices = passing_notes(song)
    # In each pass G to F#, F# to E, E to C, C to D and C to E, E to A and A to G; none before the
    # push, nor between the last G and the first.
    assert len(indices) == 14
    for index in indices:
        target = song.notes.pitches[index + 1]
        allowed = notes_expected(song).notes[index].wanted.steps
        for pitch in range(LOWEST, HIGHEST + 1):
            fits = abs(pitch - target) in (1, 2) and bool(allowed >> pitch % 12 & 1)
            faults = song.check(with_note(song.notes, index, pitches=pitch)).faults
            assert (not faults) == fits, (index, pitch)


def test_a_passing_note_left_out_or_added_is_found() -> None:
    song = played(SONGS["passing notes"], "bass", 75, 1)
    rows = list(zip(*song.notes, strict=True))
    for index in passing_notes(song):
        start, end, *_ = rows[index]
        held = with_note(song.notes, index - 1, ends=end)
        without = list(zip(*held, strict=True))
        del without[index]
        says = [fault.says for fault in song.check(of_rows(without)).faults]
        assert any(one.startswith("no note where a passing note (") for one in says)
    plain = played(SONGS["root-fifth"], "bass", 75, 1)
    assert passing_notes(plain) == []
    for index, note in enumerate(notes_expected(plain).notes):
        start, end = plain.notes.starts[index], plain.notes.ends[index]
        if note.stopped or end - start < 0.4:
            continue
        cut = list(zip(*with_note(plain.notes, index, ends=(start + end) / 2), strict=True))
        added = [*cut, ((start + end) / 2, end, plain.notes.pitches[index] + 1, 80)]
        assert plain.check(of_rows(added)).faults


def test_passing_notes_at_the_edge_of_what_the_tempo_allows() -> None:
    for bpm, count in ((240, 3), (241, 0)):
        form = tempo_song(bpm, "parts: {bass: {line: root-fifth}}", "| G | C | D7 | G |", "[tune]")
        assert len(passing_notes(played(form, "bass"))) == count
        for name in ("a ladder", "another key"):
            song = played(form, "bass", version=VERSIONS[name])
            assert song.check().faults == ()
            assert bool(passing_notes(song)) == bool(count)


def test_another_choice_of_octave_agrees() -> None:
    song = played(SONGS["roots"], "bass", 75, 1)
    for index, pitch in enumerate(song.notes.pitches):
        other = pitch + 12 if pitch + 12 <= HIGHEST else pitch - 12
        assert song.check(with_note(song.notes, index, pitches=other)).faults == ()


def test_a_note_outside_a_bass_guitar_is_found(song: Played) -> None:
    for index, pitch in enumerate(song.notes.pitches):
        for other in (pitch % 12 + 12, pitch % 12 + 60):
            assert song.check(with_note(song.notes, index, pitches=other)).faults


@pytest.mark.parametrize("eighths", [1, -1])
def test_a_note_moved_by_an_eighth_is_found(song: Played, eighths: int) -> None:
    for index, (start, end) in enumerate(zip(song.notes.starts, song.notes.ends, strict=True)):
        by = eighths * song.seconds(start, 0.5)
        changed = with_note(song.notes, index, starts=start + by, ends=end + by)
        assert song.check(changed).faults, index


def test_a_note_taken_away_is_found(song: Played) -> None:
    for index in range(len(song.notes.starts)):
        faults = song.check(without_note(song.notes, index)).faults
        missing = [fault for fault in faults if fault.says.startswith("no note")]
        assert len(missing) == 1
        assert is_near(missing[0].at_s, song.notes.starts[index])


@pytest.mark.parametrize("up", [0, 7, 12])
def test_a_note_played_twice_is_found(song: Played, up: int) -> None:
    for index in range(len(song.notes.starts)):
        assert song.check(doubled_note(song.notes, index, up)).faults


def test_a_note_held_too_long_or_cut_short_is_found(song: Played) -> None:
    for index, note in enumerate(notes_expected(song).notes):
        start, end = song.notes.starts[index], song.notes.ends[index]
        later = end + song.seconds(start, 0.5)
        assert song.check(with_note(song.notes, index, ends=later)).faults
        sooner = song.check(with_note(song.notes, index, ends=(start + end) / 2)).faults
        assert bool(sooner) != note.stopped  # a stop may be as short as the player likes


def test_a_part_emptied_or_doubled_is_found(song: Played) -> None:
    rows = list(zip(*song.notes, strict=True))
    assert len(song.check(of_rows([])).faults) == 20
    assert len(song.check(of_rows([*rows, *rows])).faults) == 20
    assert song.check(of_rows(rows[: len(rows) // 2])).faults
    raised = of_rows([(start, end, pitch + 1, loud) for start, end, pitch, loud in rows])
    assert song.check(raised).faults


def test_two_bars_exchanged_are_found(song: Played) -> None:
    """All bars of the first pass whose chords have different basses, two by two."""
    bars = song.song.played[0].bars
    lines = [song.clock.seconds(bar.start) - 0.05 for bar in bars]
    lines.append(song.clock.seconds(bars[-1].end) - 0.05)
    rows = list(zip(*song.notes, strict=True))
    by_bar = [[row for row in rows if lines[k] <= row[0] < lines[k + 1]] for k in range(len(bars))]
    exchanged = 0
    for one in range(len(bars) // 2):
        for other in range(one + 1, len(bars) // 2):
            pitches = [[row[2] % 12 for row in by_bar[bar]] for bar in (one, other)]
            if pitches[0][:1] == pitches[1][:1]:
                continue
            moved = lines[other] - lines[one]
            kept = [row for bar, of in enumerate(by_bar) if bar not in (one, other) for row in of]
            kept += [(s + moved, e + moved, p, v) for s, e, p, v in by_bar[one]]
            kept += [(s - moved, e - moved, p, v) for s, e, p, v in by_bar[other]]
            assert song.check(of_rows(kept)).faults
            exchanged += 1
    assert exchanged >= 1


def test_a_push_on_the_bar_line_is_found(song: Played) -> None:
    pushed = 0
    for chord in song.song.played[0].chords:
        if chord.struck == chord.slot or chord.chord is None:
            continue
        struck_s, slot_s = song.clock.seconds(chord.struck), song.clock.seconds(chord.slot)
        index = min(
            range(len(song.notes.starts)), key=lambda at: abs(song.notes.starts[at] - struck_s)
        )
        late = song.notes.starts[index] + slot_s - struck_s
        changed = with_note(song.notes, index, starts=late)
        if index:  # the note before goes on until then, as it would
            changed = with_note(changed, index - 1, ends=late)
        assert song.check(changed).faults
        pushed += 1
    marked = sum("push" in chord.marks for chord in song.song.played[0].chords)
    assert pushed >= marked - 1  # the song's first chord can't come early


def test_a_note_in_a_rest_is_found() -> None:
    form = tempo_song(100, "parts: {bass: {line: beats}}", "| G(stop) | N.C. | D | % |")
    song = played(form, "bass")
    for note in notes_expected(song).notes:
        if not note.stopped:
            continue
        rows = list(zip(*song.notes, strict=True))
        start = note.until_s + song.seconds(note.until_s, 0.5)
        added = of_rows([*rows, (start, start + 0.2, note_number("G1"), 80)])
        (fault,) = song.check(added).faults
        assert fault.says == "plays G1, where no note starts"


def test_what_a_message_says() -> None:
    form = tempo_song(60, "capo: 2\nparts: {bass: {line: walking}}", "| G | D/F# |", "[tune]")
    song = played(form, "bass")
    first, *_ = song.notes.pitches
    (fault,) = song.check(with_note(song.notes, 0, pitches=first + 1)).faults
    assert (fault.at_s, fault.says) == (4, "plays A#2, not the chord's root (A)")
    says = [fault.says for fault in song.check(with_note(song.notes, 4, pitches=first)).faults]
    assert "plays A2, not its bass note (G#)" in says
    says = [fault.says for fault in song.check(with_note(song.notes, 2, pitches=first + 1)).faults]
    assert "plays A#2, not a tone of the chord (C#, E, A)" in says
    says = [fault.says for fault in song.check(with_note(song.notes, 1, pitches=first + 1)).faults]
    assert says == ["plays A#2, neither a tone of the chord (C#, E, A) nor a step to the next note"]


def test_times_at_the_edge_of_what_is_allowed() -> None:
    song = played(SONGS["roots"], "bass", 0)
    allowed = song.leeway.tolerance(0) * 0.999
    assert song.leeway.human_s == 0
    note = notes_expected(song).notes[3]
    for off_s, agrees in ((allowed, True), (-allowed, True), (allowed * 1.01, False)):
        changed = with_note(song.notes, 3, starts=note.at_s + off_s)
        assert (song.check(changed).faults == ()) is agrees
    assert Fraction(song.song.human_s) == 0
