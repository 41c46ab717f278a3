"""The click and the drums: what a check reports, and every other click or stroke is found."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product
from random import Random
from typing import NamedTuple

import pytest
from verify.test_percussion_proof import NAMES, ROOT, SONG, wrong

from backing.form import Form, read_form, read_form_text
from backing.midi.writer import to_bytes
from backing.practice import PLAIN, Version, play_version
from backing.theory.built_in_beats import CRASH, HAT, LEVELS, SNARE
from backing.theory.general_midi import CLICK_SOUNDS
from backing.tracks.one import midi_of
from backing.verify.compare import compare, expected_of
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.percussion import MOST_FAULTS, check_percussion
from backing.verify.expected.click import ExpectedClicks, every_click, expect_click
from backing.verify.expected.clockwork import clockwork
from backing.verify.expected.drums import ExpectedDrums, expect_drums
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import by_summing
from backing.verify.readers.voices import PERCUSSION, Notes, Voice, merged

# What each part reports


def test_counts_and_units() -> None:
    """Four bars of waltz: a phrase."""
    text = (
        "title: Waltz\ntempo: 120\nmeter: 3/4\nparts: {drums: {beat: waltz}}\n"
        'sections: {a: {bars: "| A | D | E | A |"}}\nform: [a]\n'
    )
    form = read_form_text(text)
    click, drums = Song(form).checks()
    assert (click.moments, click.unit, click.notes) == (5 * 3, "clicks", 5 * 3)
    # Kick 1, hi-hats 1 2 2+ 3, snare 2 3: seven; a crash takes the place of the first hi-hat. The
    # second bar has a kick on 3+, the fourth two hi-hats and a snare more.
    assert (drums.moments, drums.unit) == (7 + 8 + 7 + 10, "strokes")
    lead_in = drums.notes - drums.moments
    assert 0 <= lead_in <= 2


def test_moments_have_every_pitch_that_may_start_there() -> None:
    song = Song(read_form_text(SONG))
    assert song.click is not None
    assert song.drums is not None
    clicks = [click for click in every_click(song.expected) if click.plays]
    assert [moment.at_s for moment in song.click.moments] == pytest.approx(
        [float(click.at_s) for click in clicks]
    )
    assert [moment.pitches for moment in song.click.moments] == [
        1 << CLICK_SOUNDS[click.sound][not click.accented] for click in clicks
    ]
    times = [moment.at_s for moment in song.drums.moments]
    assert times == sorted(set(times))
    assert set(times) == {stroke.at_s for stroke in song.drums.strokes}
    first = next(m for m in song.drums.moments if m.at_s == float(song.expected.count_in_s))
    assert first.pitches >> CRASH & 1
    assert not first.pitches >> HAT & 1


# Mutations


class Song:
    """A song's notes of channel 10, and what is expected of them."""

    def __init__(
        self, form: Form, version: Version = PLAIN, seed: int = 0, human: int | None = None
    ) -> None:
        if human is not None:
            form = form._replace(human=human)
        self.expected: Expected = expected_of(form, version)
        clock = clockwork(self.expected.tempos)
        self.click: ExpectedClicks | None = expect_click(self.expected, "click", clock)
        self.drums: ExpectedDrums | None = None
        if "drums" not in self.expected.absent:
            self.drums = expect_drums(self.expected, "drums", clock)
        data = to_bytes(play_version(form, version, seed=seed).score)
        voices = by_summing(data).voices
        self.notes = merged(voice.notes for voice in voices if voice.is_percussion)
        self.click_notes = merged(voice.notes for voice in voices if voice.name == "Click")

    def checks(self, notes: Notes | None = None) -> list[PartCheck]:
        # More than half a tick at the slowest tempo here; compare() works it out exactly.
        leeway = Leeway("trial", float(self.expected.human_s), lambda at_s: 0.0006)
        return check_percussion(
            self.click, self.drums, self.notes if notes is None else notes, leeway
        )

    def faults(self, notes: Notes | None = None) -> list[str]:
        return [fault.says for check in self.checks(notes) for fault in check.faults]

    def is_free(self, at_s: float, pitch: int) -> bool:
        """Whether the drummer may choose this note: in a fill, or leading into bar 1."""
        assert self.drums is not None
        reach = float(self.expected.human_s) + 0.0006
        return any(
            span.start_s - reach <= at_s <= span.end_s + reach and span.drums >> pitch & 1
            for span in self.drums.free
        )

    def is_for_both(self, at_s: float, pitch: int) -> bool:
        """Whether a click and a stroke are the same sound at this moment."""
        assert self.click is not None
        assert self.drums is not None
        reach = float(self.expected.human_s) + 0.0006
        clicks = any(
            abs(click.at_s - at_s) <= reach and click.pitches == 1 << pitch
            for click in self.click.moments
        )
        return clicks and any(
            abs(stroke.at_s - at_s) <= reach and stroke.drum == pitch
            for stroke in self.drums.strokes
        )


class Struck(NamedTuple):
    start: float
    end: float
    pitch: int
    velocity: int


def rows_of(notes: Notes) -> list[Struck]:
    return [Struck(*row) for row in zip(*notes, strict=True)]


def as_notes(rows: Sequence[Struck]) -> Notes:
    return Notes(*zip(*sorted(rows), strict=True)) if rows else Notes((), (), (), ())


#: How many notes of a song each mutation is tried on.
TRIES = 40
EIGHTH_S = 0.3
#: A song with a fill every few bars.
FILLED = "with marks"
MUTATIONS: dict[str, Callable[[Struck], list[Struck]]] = {
    "a semitone up": lambda note: [note._replace(pitch=note.pitch + 1)],
    "a semitone down": lambda note: [note._replace(pitch=note.pitch - 1)],
    "an eighth later": lambda note: [note._replace(start=note.start + EIGHTH_S)],
    "an eighth earlier": lambda note: [note._replace(start=note.start - EIGHTH_S)],
    "taken away": lambda note: [],
    "doubled": lambda note: [note, note],
}
TRIED = {
    "ash-grove": read_form(ROOT / "forms/ash-grove.yaml"),
    "gatepost-blues": read_form(ROOT / "forms/gatepost-blues.yaml"),
    "short-step": read_form(ROOT / "forms/short-step.yaml"),
    FILLED: read_form_text(SONG),
    "umbrella-by-the-door": read_form(ROOT / "forms/umbrella-by-the-door.yaml"),
}


@pytest.mark.parametrize("human", [0, 75])
@pytest.mark.parametrize("mutation", MUTATIONS)
@pytest.mark.parametrize("name", TRIED)
def test_one_note_changed_is_found(name: str, mutation: str, human: int) -> None:
    """A sample of all notes. Only what the drummer chooses may pass, and little of that.

    It is the strokes of fills and those that lead into bar 1: they pass while they stay in
    their beats and on the kit, and may be left out where others are in the beat. Of a note
    that stands for a click and a stroke there may be two.
    """
    song = Song(TRIED[name], human=human)
    assert song.faults() == []
    rows = rows_of(song.notes)
    passed = []
    for index in Random(f"{name} {mutation}").sample(range(len(rows)), TRIES):
        changed = MUTATIONS[mutation](rows[index])
        if not song.faults(as_notes([*rows[:index], *changed, *rows[index + 1 :]])):
            passed.append(rows[index])
    if mutation == "doubled":
        assert [row for row in passed if not song.is_for_both(row.start, row.pitch)] == []
    else:
        assert [row for row in passed if not song.is_free(row.start, row.pitch)] == []
    assert len(passed) <= (0.15 if name == FILLED else 0.05) * TRIES


def bars_of(song: Song) -> Iterator[tuple[Notes, Notes]]:
    """Each bar's notes but the last one's, and all others."""
    lines = [float(bar.start_s) for bar in song.expected.bars]
    rows = rows_of(song.notes)
    for start, end in pairwise(lines):
        inside = [row for row in rows if start - 0.02 <= row.start < end - 0.02]
        outside = [row for row in rows if not start - 0.02 <= row.start < end - 0.02]
        yield as_notes(inside), as_notes(outside)


@pytest.mark.parametrize("name", TRIED)
def test_a_bar_left_out_is_found(name: str) -> None:
    song = Song(TRIED[name])
    bars = [outside for inside, outside in bars_of(song) if inside]
    assert len(bars) > 10
    assert [index for index, outside in enumerate(bars) if not song.faults(outside)] == []


@pytest.mark.parametrize("name", TRIED)
def test_a_part_emptied_is_found(name: str) -> None:
    song = Song(TRIED[name])
    clicks = set(rows_of(song.click_notes))
    drums = [row for row in rows_of(song.notes) if row not in clicks]
    click, strokes = song.checks(song.click_notes)
    assert click.faults == ()
    assert len(strokes.faults) == MOST_FAULTS
    assert strokes.faults[0].says.startswith("no stroke on the ")
    click, strokes = song.checks(as_notes(drums))
    assert len(click.faults) == MOST_FAULTS
    assert click.faults[0].says == "no click"
    assert [len(check.faults) for check in song.checks(as_notes([]))] == [MOST_FAULTS] * 2


def test_an_emptied_or_doubled_track_is_found_in_a_file() -> None:
    form = TRIED["short-step"]
    account = by_summing(midi_of(form))

    def disagreeing(change: Callable[[Voice], list[Voice]]) -> set[str]:
        voices = [
            after
            for voice in account.voices
            for after in (change(voice) if voice.channel == PERCUSSION else [voice])
        ]
        report = compare(expected_of(form), [replace(account, voices=voices)])
        return {finding.what for finding in report.disagreements} & {"click", "drums"}

    assert disagreeing(lambda voice: [voice]) == set()
    assert disagreeing(lambda voice: []) == {"click", "drums"}
    assert disagreeing(lambda voice: [voice, voice]) == {"click", "drums"}
    for name, what in (("Click", "click"), ("Drums", "drums")):
        assert disagreeing(lambda voice, name=name: [voice] * (voice.name != name)) == {what}
        assert disagreeing(lambda voice, name=name: [voice] * (1 + (voice.name == name))) == {what}


def with_note(song: Song, at_s: float, pitch: int) -> Notes:
    return as_notes([*rows_of(song.notes), Struck(at_s, at_s + 0.05, pitch, 90)])


def test_strokes_while_the_drums_wait_are_found() -> None:
    song = Song(TRIED[FILLED])
    assert song.drums is not None
    assert len(song.drums.waits) >= 8
    for start, end in song.drums.waits:
        for share, drum in product((0.3, 0.6, 0.9), (HAT, SNARE, CRASH)):
            says = song.faults(with_note(song, start + share * (end - start), drum))
            assert "where the drums wait" in says[0]


def test_clicks_in_bars_without_them_are_found() -> None:
    form = TRIED[FILLED]
    song = Song(form)
    silent = [click for click in every_click(song.expected) if not click.plays]
    assert len(silent) > 40
    for click in silent:
        pitch = CLICK_SOUNDS[click.sound][not click.accented]
        assert song.faults(with_note(song, float(click.at_s), pitch))


def test_an_accent_on_another_click_is_found() -> None:
    song = Song(TRIED["ash-grove"])
    accented, plain = CLICK_SOUNDS["wood"]
    rows = rows_of(song.notes)
    first = next(index for index, row in enumerate(rows) if row.pitch == accented)
    for index, pitch in ((first, plain), (first + 1, accented)):
        rows[index] = rows[index]._replace(pitch=pitch)
        assert song.faults(as_notes(rows))


def test_clicks_never_stray() -> None:
    """A click three thousandths of a second late is found, where a stroke may be so late."""
    song = Song(TRIED["ash-grove"], human=0)
    song.expected = song.expected._replace(human_s=Fraction(12, 1000))
    rows = rows_of(song.notes)
    clicks = set(rows_of(song.click_notes))
    for index in range(0, len(rows), 7):
        row = rows[index]
        late = [*rows[:index], row._replace(start=row.start + 0.003), *rows[index + 1 :]]
        assert bool(song.faults(as_notes(late))) == (row in clicks)


def test_drums_that_play_where_they_are_off_are_found() -> None:
    form = read_form_text(SONG)
    without = Version(without=frozenset({"drums"}))
    data = to_bytes(play_version(form, without).score)
    assert wrong(form, data, without) == []
    extra = {finding.what: finding.says for finding in wrong(form, midi_of(form), without)}
    assert "the drums don't play" in extra["drums"]
    assert {one.what for one in wrong(form, data)} == {"drums"}


@pytest.mark.parametrize("beat", NAMES)
def test_another_beat_or_level_is_found(beat: str) -> None:
    def song(beat: str, level: str) -> Form:
        keys = f"level: {level}" + (f", beat: {beat}" if beat else "")
        return read_form_text(
            f"title: One\ntempo: 100\nparts: {{drums: {{{keys}}}}}\n"
            'sections: {a: {bars: "| A | D | E | A |"}}\nform: [a x2]\n'
        )

    for level in LEVELS:
        data = midi_of(song(beat, level))
        for other, other_level in product(("eighths", "shuffle", "half-time", "train"), LEVELS):
            same = same_strokes(song(beat, level), song(other, other_level))
            assert (wrong(song(other, other_level), data) == []) == same


def same_strokes(one: Form, other: Form) -> bool:
    """Whether two forms expect the same of the drums."""
    strokes = [Song(form).drums for form in (one, other)]
    return strokes[0] == strokes[1]
