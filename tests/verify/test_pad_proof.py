"""The proof of the pad: honest files agree, and a voice outside the rules is found."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from form_strategies import METERS, QUALITIES, forms
from held_parts import (
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
from backing.players.pad import tones
from backing.theory.chords import parse_chord
from backing.verify.comparison.pad import check_pad
from backing.verify.expected.moments import mask
from backing.verify.expected.pad import HIGHEST, LOWEST, ExpectedPad, voicing
from backing.verify.readers.measured import by_pretty_midi, by_summing
from backing.verify.readers.voices import Notes

# Honest files


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_demos_agree(path: Path) -> None:
    """With the pad that they have; those without one have one added."""
    form = read_form(path)
    if "pad" not in form.settings.parts:
        text = path.read_text(encoding="utf-8")
        parts = "" if "\nparts:\n" in text else "\nparts:\n"
        assert (text + parts).count("\nparts:\n") == 1
        text = (text + parts).replace("\nparts:\n", "\nparts:\n  pad: {sound: strings}\n")
        form = read_form_text(text)
    for human, seed, reader in ((0, 0, by_summing), (form.human, 3, by_pretty_midi)):
        check = played(form, "pad", human, seed, reader=reader).check()
        assert check.faults == ()
        assert check.notes > check.moments > 0


@pytest.mark.parametrize("meter", METERS)
def test_marks_slashes_and_rests_agree_in_every_meter(meter: str) -> None:
    for seed in range(6):
        form = drawn_song(Random(f"{meter}/{seed}"), "roots", meter)
        assert played(form, "pad", seed % 2 * 100, seed).check().faults == ()


@pytest.mark.parametrize("name", VERSIONS)
def test_practice_versions_agree(name: str) -> None:
    for seed in range(3):
        form = drawn_song(Random(f"{name}/{seed}"), "roots", "4/4")
        found = played(form, "pad", 100, seed, VERSIONS[name])
        assert found.check().faults == ()
        assert found.check().moments > 0


@given(forms(), st.integers(0, 10**6))
@settings(
    max_examples=30, derandomize=True, deadline=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
def test_forms_at_random_agree(text: str, seed: int) -> None:
    form = read_form_text(text)
    assert played(form, "pad", seed % 101, seed).check().faults == ()


def test_chords_shorter_than_a_player_may_stray() -> None:
    """Pushes that halve the chord before, 17 ms at the least, and 12 ms of human time."""
    chords = " ".join(f"{root}(push)" for root in "GDECGAGDECGAGDEC")
    for seed in range(20):
        form = tempo_song(
            300, "meter: 16/16 (4+4+4+4)\nparts: {pad: {}, guitar: off}", f"| {chords} |"
        )
        song = played(form, "pad", 100, seed)
        assert song.check().faults == ()


def test_a_chord_that_starts_just_after_a_stop_ends_agrees() -> None:
    """A stop's end, an eighth after it, may fall 0.2 ms before the next chord, by rounding."""
    song = played(tempo_song(120, "parts: {pad: {sound: piano}}", "| C | F |", "[tune]"), "pad", 0)
    first, second = chords_expected(song).chords
    first = first._replace(until_s=second.at_s - 0.0002, stopped=True)
    second = second._replace(goes_on=False)
    rows = [
        (chord.at_s - early_s, chord.until_s - early_s, pitch, 64)
        for chord, early_s in ((first, 0.0), (second, 0.004))
        for pitch in sounding(song, chord.at_s + 1)
    ]
    expected = chords_expected(song)._replace(chords=(first, second))
    leeway = song.leeway._replace(human_s=0.009)
    assert check_pad(expected, of_rows(rows), leeway).faults == ()


# The rules, against examples by hand


def test_what_the_pad_plays_is_inside_its_bounds_for_every_chord() -> None:
    for quality in QUALITIES:
        chord = parse_chord(f"D{quality}")
        bounds = voicing(chord, 3)
        classes = mask(tones(chord, 3)[0])
        assert classes & ~bounds.tones == 0, quality
        assert bounds.needed & ~classes == 0, quality
        assert classes.bit_count() == bounds.different, quality


@pytest.mark.parametrize(
    ("symbol", "tones", "needed", "different"),
    [
        ("C", {0, 4, 7}, {0, 4, 7}, 3),
        ("C/E", {0, 4, 7}, {0, 4, 7}, 3),
        ("C/D", {0, 4, 7}, {0, 4, 7}, 3),
        ("C5", {0, 7}, {0, 7}, 2),
        ("C7", {0, 4, 7, 10}, {0, 4, 7, 10}, 4),
        ("C9", {0, 2, 4, 7, 10}, {4, 10}, 4),
        ("C7(b9)", {0, 1, 4, 7, 10}, {1, 4, 10}, 4),
        ("Cm13", {0, 2, 3, 5, 7, 9, 10}, {3, 5, 9, 10}, 4),
        ("C7(b5,b9)", {0, 1, 4, 6, 10}, {1, 4, 6, 10}, 4),
        ("C11(b5,b9)", {0, 1, 5, 6, 10}, {1, 5, 6, 10}, 4),
    ],
)  # fmt: skip
def test_the_tones_of_chords(
    symbol: str, tones: set[int], needed: set[int], different: int
) -> None:
    assert voicing(parse_chord(symbol), 0) == (mask(tones), mask(needed), different)


# Voices outside the rules

BARS = "| G(push) | D/F# | Em7(ring) | % | C9 D(push) | N.C. | G(stop) | Gmaj7 / D7(stop) / | C |"
SONGS = {
    sound: tempo_song(96, f"capo: 3\nparts: {{pad: {{sound: {sound}}}}}", BARS)
    for sound in ("organ", "strings", "piano")
}
SONGS["slow"] = tempo_song(
    50, "meter: 6/8\nparts: {pad: {}}\npickup: '| 3/8 D7 |'",
    "| Am C/G | F#m7b5 / | Bm7 / | E7(b9) | Am6(ring) | Bb13 A7sus4 | Dm(push) |",
)  # fmt: skip


@pytest.fixture(scope="module", params=SONGS)
def song(request: pytest.FixtureRequest) -> Played:
    """A song's pad, a little off the grid."""
    return played(SONGS[request.param], "pad", 75, 1)


def chords_expected(song: Played) -> ExpectedPad:
    assert isinstance(song.expected, ExpectedPad)
    return song.expected


def sounding(song: Played, at_s: float) -> list[int]:
    """The pitches that sound at a time."""
    rows = zip(song.notes.starts, song.notes.ends, song.notes.pitches, strict=True)
    return sorted(pitch for start, end, pitch in rows if start <= at_s < end)


def test_the_song_itself_agrees(song: Played) -> None:
    assert song.check().faults == ()
    assert song.check().moments == len(chords_expected(song).chords) >= 14


@pytest.mark.parametrize("move", [1, -1])
def test_a_voice_a_semitone_off_is_found(song: Played, move: int) -> None:
    """All but few: another chord tone in its place must leave none out that is needed."""
    found = 0
    for index, pitch in enumerate(song.notes.pitches):
        changed = with_note(song.notes, index, pitches=pitch + move)
        if song.check(changed).faults:
            found += 1
            continue
        start, end = song.notes.starts[index], song.notes.ends[index]
        assert LOWEST <= pitch + move <= HIGHEST
        for chord in chords_expected(song).chords:
            middle = (chord.at_s + chord.until_s) / 2
            if start <= middle < end:
                voices = [one for one in sounding(song, middle) if one != pitch]
                voices.append(pitch + move)
                classes = mask({one % 12 for one in voices})
                assert classes & ~chord.voicing.tones == 0
                assert chord.voicing.needed & ~classes == 0
    assert found >= 0.95 * len(song.notes.pitches)


def test_another_octave_agrees_where_the_chords_stay_open_and_no_voices_go_in_parallel(
    song: Played,
) -> None:
    moved = found = 0
    for index, pitch in enumerate(song.notes.pitches):
        start, end = song.notes.starts[index], song.notes.ends[index]
        others = {
            other
            for at in (start + 0.01, (start + end) / 2, end - 0.01)
            for other in sounding(song, at)
        }
        for other in (pitch + 12, pitch - 12):
            if LOWEST <= other <= HIGHEST and other not in others:
                faults = song.check(with_note(song.notes, index, pitches=other)).faults
                assert all("open chord" in f.says or "in parallel" in f.says for f in faults)
                moved += not faults
                found += bool(faults)
    assert moved >= 5
    assert found >= 5


# From chord to chord


def hand_played(symbols: str, voicings: list[tuple[int, ...]]) -> list[str]:
    """What is found where a pad plays these pitches, a chord a bar."""
    bars = f"| {' | '.join(symbols.split())} |"
    song = played(tempo_song(120, "parts: {pad: {sound: piano}}", bars, "[tune]"), "pad")
    chords = chords_expected(song).chords
    rows = [
        (chord.at_s, chord.until_s, pitch, 64)
        for chord, pitches in zip(chords, voicings, strict=True)
        for pitch in pitches
    ]
    return [fault.says for fault in song.check(of_rows(rows)).faults]


PARALLEL = ["two voices go on in parallel fifths or octaves"]
CLOSE = "its outer voices are C4 and C5, not an open chord's"
WIDE = "its outer voices are E3 and E5, not an open chord's"


@pytest.mark.parametrize(
    ("symbols", "voicings", "says"),
    [
        ("C F", [(55, 60, 64, 72), (53, 60, 69, 72)], []),
        ("C D", [(55, 60, 64, 72), (57, 62, 66, 74)], PARALLEL),
        ("D C", [(57, 62, 66, 74), (55, 60, 64, 72)], PARALLEL),
        ("Em D", [(59, 64, 67, 76), (57, 62, 66, 74)], PARALLEL),
        ("Am G", [(57, 64, 69, 72), (55, 62, 67, 71)], PARALLEL),
        ("G7 Am", [(53, 59, 62, 67), (52, 60, 64, 69)], []),
        # Voices that stay make no parallel, even a fifth apart.
        ("C Cmaj7", [(55, 60, 64, 72), (55, 59, 64, 72)], []),
        ("C C", [(60, 64, 67, 72), (60, 64, 67, 72)], [CLOSE, CLOSE]),
        ("C C", [(52, 60, 67, 76), (52, 60, 67, 76)], [WIDE, WIDE]),
        # Two power chords have no other way.
        ("C5 D5", [(55, 60, 67, 72), (57, 62, 69, 74)], []),
    ],
)
def test_parallels_and_close_chords_are_found(
    symbols: str, voicings: list[tuple[int, ...]], says: list[str]
) -> None:
    assert hand_played(symbols, voicings) == says


def test_chords_moved_in_parallel_are_found() -> None:
    """One shape moved from chord to chord."""
    roots = ("C", "D", "Eb", "F", "G", "A", "Ab", "D", "C")
    steps = (0, 2, 3, 5, 7, 9, 8, 2, 0)
    base = (52, 55, 60, 67)
    voicings = [tuple(pitch + step for pitch in base) for step in steps]
    found = hand_played(" ".join(roots), voicings)
    assert found.count(PARALLEL[0]) == len(roots) - 1


def test_a_voice_outside_the_range_is_found(song: Played) -> None:
    for index, pitch in enumerate(song.notes.pitches):
        for other in (pitch % 12 + 36, pitch % 12 + 84):
            assert song.check(with_note(song.notes, index, pitches=other)).faults


@pytest.mark.parametrize("eighths", [1, -1])
def test_a_voice_moved_by_an_eighth_is_found(song: Played, eighths: int) -> None:
    for index, (start, end) in enumerate(zip(song.notes.starts, song.notes.ends, strict=True)):
        by = eighths * song.seconds(start, 0.5)
        assert song.check(with_note(song.notes, index, starts=start + by, ends=end + by)).faults


def test_a_voice_taken_away_is_found(song: Played) -> None:
    for index in range(len(song.notes.starts)):
        faults = song.check(without_note(song.notes, index)).faults
        assert "3 voices, not 4" in {fault.says for fault in faults}


@pytest.mark.parametrize("up", [0, 12, -12, 7])
def test_a_voice_played_twice_is_found(song: Played, up: int) -> None:
    for index in range(len(song.notes.starts)):
        assert song.check(doubled_note(song.notes, index, up)).faults


def test_a_voice_held_too_long_or_cut_short_is_found(song: Played) -> None:
    stops = [chord.at_s for chord in chords_expected(song).chords if chord.stopped]
    for index, (start, end) in enumerate(zip(song.notes.starts, song.notes.ends, strict=True)):
        later = end + song.seconds(start, 0.5)
        assert song.check(with_note(song.notes, index, ends=later)).faults
        stopped = any(abs(start - at_s) < 0.03 for at_s in stops)
        sooner = song.check(with_note(song.notes, index, ends=(start + end) / 2)).faults
        assert bool(sooner) != stopped  # a stop may be as short as the player likes


def test_a_voice_struck_again_within_a_chord_is_found(song: Played) -> None:
    for index, (start, end) in enumerate(zip(song.notes.starts, song.notes.ends, strict=True)):
        rows = list(zip(*song.notes, strict=True))
        _, _, pitch, loud = rows.pop(index)
        halves = [(start, (start + end) / 2, pitch, loud), ((start + end) / 2, end, pitch, loud)]
        faults = song.check(of_rows([*rows, *halves])).faults
        middle_is_a_start = any(
            abs(chord.at_s - (start + end) / 2) < 0.03 for chord in chords_expected(song).chords
        )
        assert bool(faults) != middle_is_a_start


def test_a_part_emptied_or_doubled_is_found(song: Played) -> None:
    rows = list(zip(*song.notes, strict=True))
    assert len(song.check(of_rows([])).faults) == min(20, song.check().moments)
    assert len(song.check(of_rows([*rows, *rows])).faults) == min(20, song.check().moments)
    assert song.check(of_rows(rows[: len(rows) // 2])).faults
    raised = of_rows([(start, end, pitch + 1, loud) for start, end, pitch, loud in rows])
    assert song.check(raised).faults


def test_a_chord_with_another_s_notes_is_found(song: Played) -> None:
    """Chords of equal length exchanged, two by two, where their tones differ."""
    chords = chords_expected(song).chords
    exchanged = 0
    for one, chord in enumerate(chords):
        for other in chords[one + 1 :]:
            if chord.voicing.needed & ~other.voicing.tones == 0:
                continue
            if other.voicing.needed & ~chord.voicing.tones == 0:
                continue
            moved, near = other.at_s - chord.at_s, 0.03
            rows = []
            for start, end, pitch, loud in zip(*song.notes, strict=True):
                by = 0.0
                if abs(start - chord.at_s) < near and abs(end - chord.until_s) < near:
                    by = moved
                elif abs(start - other.at_s) < near and abs(end - other.until_s) < near:
                    by = -moved
                rows.append((start + by, end + by, pitch, loud))
            if of_rows(rows) != song.notes:
                assert song.check(of_rows(rows)).faults
                exchanged += 1
    assert exchanged >= 5


def test_a_push_on_the_bar_line_is_found(song: Played) -> None:
    pushed = 0
    for chord in song.song.played[0].chords:
        if chord.struck == chord.slot:
            continue
        struck_s, slot_s = song.clock.seconds(chord.struck), song.clock.seconds(chord.slot)
        rows = []
        for start, end, pitch, loud in zip(*song.notes, strict=True):
            moved_start = slot_s if abs(start - struck_s) < 0.03 else start
            moved_end = slot_s if abs(end - struck_s) < 0.03 else end
            rows.append((moved_start, moved_end, pitch, loud))
        assert song.check(of_rows(rows)).faults
        pushed += 1
    assert pushed >= 1


# What may be held over


def joined(song: Played) -> list[Notes]:
    """The song with each voice that is struck again made one with the note before it."""
    found = []
    rows = list(zip(*song.notes, strict=True))
    for one, (start, end, pitch, loud) in enumerate(rows):
        for other, again in enumerate(rows):
            if again[2] == pitch and again[0] == end:
                kept = [row for at, row in enumerate(rows) if at not in (one, other)]
                found.append(of_rows([*kept, (start, again[1], pitch, loud)]))
    return found


@pytest.mark.parametrize(
    ("bars", "parts"),
    [
        ("| C | Am | F |", "pad: {sound: piano}"),
        ("| C | Am(ring) | F(push) |", "pad: {sound: organ}"),
        ("| C(ring) | Am(stop) | C(stop) |", "pad: {sound: strings}"),
    ],
)
def test_a_voice_held_where_all_are_struck_is_found(bars: str, parts: str) -> None:
    song = played(tempo_song(100, f"parts: {{{parts}}}", bars, "[tune]"), "pad")
    held = joined(song)
    assert song.check().faults == ()
    assert len(held) >= 2
    for notes in held:
        faults = song.check(notes).faults
        assert any("sounds on where it must end" in fault.says for fault in faults)


def test_a_voice_held_over_a_change_of_sound_is_found() -> None:
    form = read_form_text(
        "title: Trial\ntempo: 100\nsections:\n"
        "  one: {bars: '| C | Am |', parts: {pad: {sound: strings}}}\n"
        "  two: {bars: '| Am | C |', parts: {pad: {sound: organ}}}\nform: [one, two]\n"
    )
    song = played(form, "pad")
    held = joined(song)
    assert len(held) == 4
    assert all(song.check(notes).faults for notes in held)


def test_a_common_tone_struck_again_agrees() -> None:
    """An organ may hold it, and may strike it."""
    song = played(tempo_song(100, "parts: {pad: {}}", "| C | Am | F |", "[tune]"), "pad")
    struck = 0
    rows = list(zip(*song.notes, strict=True))
    for index, (start, end, pitch, loud) in enumerate(rows):
        for chord in chords_expected(song).chords:
            if start + 0.03 < chord.at_s < end - 0.03:
                kept = [row for at, row in enumerate(rows) if at != index]
                again = [(start, chord.at_s, pitch, loud), (chord.at_s, end, pitch, loud)]
                assert song.check(of_rows([*kept, *again])).faults == ()
                struck += 1
    assert struck >= 3


def test_what_a_message_says() -> None:
    song = played(tempo_song(60, "parts: {pad: {}}", "| C9 | N.C. |", "[tune]"), "pad")
    assert (song.check().moments, song.check().unit) == (1, "chords")
    low, *_ = song.notes.pitches
    says = {
        fault.says
        for pitch in (low + 1, low - 12)
        for fault in song.check(with_note(song.notes, 0, pitches=pitch)).faults
    }
    assert any(text.endswith("not one of C, D, E, G, A#") for text in says)
    assert any(text.endswith("outside E3 to E5") for text in says)
    end = song.notes.ends[0]
    (fault,) = song.check(with_note(song.notes, 0, ends=end + 1)).faults
    assert fault.at_s == 8
    assert fault.says.endswith("sounds on in a rest")
    (fault,) = song.check(with_note(song.notes, 0, ends=end - 1)).faults
    assert fault.says.endswith("ends before its chord does")
    assert all(chord.voicing.tones for chord in chords_expected(song).chords)
