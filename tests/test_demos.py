"""The demo songs in forms/: each can be read, builds, passes its checks, and is what it says."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
from soundness import check_sound

from backing.chart.drawing import drawing
from backing.form.model import Feel, Form
from backing.form.parts import PLAYS
from backing.form.reader import read_form
from backing.lesson.plan import items
from backing.midi.writer import to_bytes
from backing.players import play
from backing.score import Score
from backing.theory.chords import Chord
from backing.theory.keys import Key
from backing.timeline import Bar, Timeline, unroll
from backing.verify import verify_bytes

FORMS = Path(__file__).resolve().parent.parent / "forms"


class Sum(NamedTuple):
    """The bars and seconds of a song, worked out by hand; seconds as a sum of exact fractions."""

    bars: int
    song_s: str
    count_in_s: str

    @property
    def seconds(self) -> Fraction:
        return sum(map(Fraction, self.song_s.split(" + ")), Fraction(0))

    @property
    def count_in(self) -> Fraction:
        return Fraction(self.count_in_s)


# bars x beats x 60/bpm; if a song slows down, one 60/bpm for each beat that does.
BY_HAND = {
    # 4 + 2 = 6 bars; 6 x 4 x 60/96 = 24 x 0.625 = 15
    # count-in 1 x 4 x 0.625 = 2.5
    "starter": Sum(6, "15", "5/2"),
    # 4 + 3x12 + 12 + 12 = 64 bars; 64 x 4 x 60/120 = 256 x 0.5 = 128
    # count-in 2 x 4 x 0.5 = 4
    "gatepost-blues": Sum(64, "128", "4"),
    # 4 + 32 + 32 + 4 = 72 bars; 72 x 4 x 60/144 = 288 x 5/12 = 120
    # count-in 2 x 4 x 5/12 = 10/3
    "umbrella-by-the-door": Sum(72, "120", "10/3"),
    # 4 + 32 + 32 + 4 = 72 bars; 70 at full speed: 70 x 3 x 60/108 = 210 x 5/9 = 350/3;
    # six beats from 108 to 72, each 6 slower: 102 96 90 84 78 72, which take
    # 10/17 + 5/8 + 2/3 + 5/7 + 10/13 + 5/6 = 4.19675; in all 120.86342
    # count-in 2 x 3 x 5/9 = 10/3
    "ash-grove": Sum(72, "350/3 + 10/17 + 5/8 + 2/3 + 5/7 + 10/13 + 5/6", "10/3"),
    # 4 + 3x(8+8) + 2 = 54 bars; 52 at full speed: 52 x 2 x 60/50 = 104 x 1.2 = 124.8;
    # four beats from 50 to 38, each 3 slower: 47 44 41 38, which take
    # 60/47 + 15/11 + 60/41 + 30/19 = 5.68259; in all 130.48259
    # count-in 2 x 2 x 1.2 = 4.8
    "greensleeves": Sum(54, "624/5 + 60/47 + 15/11 + 60/41 + 30/19", "24/5"),
    # 2x2 + 2x8 + 8 + 8 + 2x2 + 8 + 8 + 2 = 58 bars; 58 x 5 x 60/120 = 290 x 0.5 = 145
    # count-in 2 x 5 x 0.5 = 5
    "five-herons": Sum(58, "145", "5"),
    # 4 + 8 + 8 + 8 + 8 + 8 + 8 + 2 = 54 bars, of which 5 (two verses, three choruses) have
    # two beats: 49 x 4 + 5 x 2 = 206 beats; 206 x 60/96 = 206 x 0.625 = 128.75
    # count-in 1 x 4 x 0.625 = 2.5
    "short-step": Sum(54, "515/4", "5/2"),
    # 4 + 8 + 2x6 + 4 + 4 + 12 + 2 = 46 bars; 45 at full speed: 45 x 4 x 60/80 = 180 x 0.75 = 135;
    # four beats from 80 to 48, each 8 slower: 72 64 56 48, which take
    # 5/6 + 15/16 + 15/14 + 5/4 = 4.09226; in all 139.09226
    # count-in 2 x 4 x 0.75 = 6
    "orchard-wall": Sum(46, "135 + 5/6 + 15/16 + 15/14 + 5/4", "6"),
    # 4 + 4 x 2x8 + 2 = 70 bars of 7/2 quarters; 70 x 7/2 x 60/140 = 245 x 3/7 = 105
    # count-in 2 x 7/2 x 3/7 = 3
    "pebble-dance": Sum(70, "105", "3"),
    # 2 + 2x8 + 8 + 8 + 2 = 36 bars; 36 x 4 x 60/60 = 144
    # count-in 1 x 4 x 1 = 4
    "bakery-at-four": Sum(36, "144", "4"),
    # 4 + 2x8 + 8 + 8 + 8 + 4 = 48 bars; 48 x 4 x 60/112 = 192 x 15/28 = 720/7
    # count-in 1 x 4 x 15/28 = 15/7
    "six-ducks": Sum(48, "720/7", "15/7"),
    # 2x2 + 2x8 + 8 + 2x2 + 8 + 4 = 44 bars; 44 x 4 x 60/100 = 176 x 3/5 = 528/5
    # count-in 2 x 4 x 3/5 = 24/5
    "ferry-steps": Sum(44, "528/5", "24/5"),
}

#: In print long before 1925: Greensleeves was registered in 1580, The Ash Grove printed in 1802.
TRADITIONAL = {"ash-grove", "greensleeves"}

every_demo = pytest.mark.parametrize("name", sorted(BY_HAND))


@cache
def form_of(name: str) -> Form:
    return read_form(FORMS / f"{name}.yaml")


@cache
def timeline_of(name: str) -> Timeline:
    return unroll(form_of(name))


@cache
def score_of(name: str) -> Score:
    return play(timeline_of(name))


def test_the_folder_holds_the_twelve_songs() -> None:
    assert {path.stem for path in FORMS.glob("*.yaml")} == set(BY_HAND)
    assert len({form_of(name).title for name in BY_HAND}) == len(BY_HAND) == 12


@every_demo
def test_the_timeline_has_the_bars_and_seconds_worked_out_by_hand(name: str) -> None:
    timeline, by_hand = timeline_of(name), BY_HAND[name]
    count_in = timeline.seconds(timeline.start_whole)
    assert len(timeline.bars) == by_hand.bars
    assert count_in == by_hand.count_in
    assert timeline.seconds(timeline.end_whole) - count_in == by_hand.seconds


@every_demo
def test_the_file_is_sound_and_both_readers_agree(name: str) -> None:
    data = to_bytes(score_of(name))
    assert check_sound(data) == []
    report = verify_bytes(form_of(name), data)
    assert report.disagreements == ()
    assert len({finding.reader for finding in report.findings}) == 2


@every_demo
def test_the_file_is_as_long_as_worked_out_by_hand(name: str) -> None:
    by_hand = BY_HAND[name]
    report = verify_bytes(form_of(name), to_bytes(score_of(name)))
    starts = [row.found_start_s for row in report.rows]
    lengths = [row.found_seconds for row in report.rows]
    assert starts[0] == pytest.approx(float(by_hand.count_in), abs=report.tolerance_s)
    assert None not in lengths
    total = sum(length for length in lengths if length is not None)
    assert total == pytest.approx(float(by_hand.seconds), abs=report.tolerance_s)
    assert sum(row.bars for row in report.rows) == by_hand.bars


@every_demo
def test_a_second_build_gives_the_same_bytes(name: str) -> None:
    again = to_bytes(play(unroll(read_form(FORMS / f"{name}.yaml"))))
    assert again == to_bytes(score_of(name))


@every_demo
def test_click_bass_and_guitar_all_play(name: str) -> None:
    assert {track.part for track in score_of(name).tracks} >= {"click", "bass", "guitar"}


def test_together_the_demos_show_every_part_and_every_way_to_play_the_guitar() -> None:
    assert {track.part for name in BY_HAND for track in score_of(name).tracks} >= {
        "click", "bass", "guitar", "lead", "drums", "pad",
    }  # fmt: skip
    forms = [form_of(name) for name in BY_HAND]
    assert any(form.riffs for form in forms)
    assert any(form.picks for form in forms)
    assert any(form.settings.feel == Feel(Fraction(2)) for form in forms)


@every_demo
def test_the_song_ends_on_the_chord_of_its_key(name: str) -> None:
    key = form_of(name).key
    assert key is not None
    chords = [span.chord for span in timeline_of(name).spans if span.chord is not None]
    assert any(is_tonic(chord, key) for chord in chords)
    assert is_tonic(chords[-1], key)


def is_tonic(chord: Chord, key: Key) -> bool:
    """Whether a chord is the tonic chord of a key, major or minor; a power chord is neither."""
    third = (key.tonic.pitch_class + (3 if key.minor else 4)) % 12
    return chord.root == key.tonic and third in chord.pitch_classes


@pytest.mark.parametrize("name", sorted(BY_HAND.keys() - {"starter"}))
def test_it_lasts_as_long_as_a_song(name: str) -> None:
    timeline = timeline_of(name)
    assert 90 <= timeline.seconds(timeline.end_whole) <= 240


@every_demo
def test_it_names_its_author(name: str) -> None:
    assert form_of(name).by == ("traditional" if name in TRADITIONAL else "the project")


@every_demo
def test_it_is_short_and_opens_with_what_it_shows(name: str) -> None:
    lines = (FORMS / f"{name}.yaml").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# ")
    assert len(lines) <= 75
    assert max(map(len, lines)) <= 100


@every_demo
def test_no_section_or_strum_is_left_unused(name: str) -> None:
    form = form_of(name)
    assert {entry.section for entry in form.entries} == set(form.sections)
    written = (form.settings, *(section.settings for section in form.sections.values()))
    used = {settings.parts["guitar"].strum for settings in written if "guitar" in settings.parts}
    assert used >= set(form.strums)


# The kinds of song that a teacher should find here.


def bars_of(name: str, label: str) -> list[Bar]:
    return [bar for bar in timeline_of(name).bars if bar.playing.label == label]


def chords_at(name: str, bars: list[Bar]) -> list[str]:
    """The chord at each bar line."""
    spans = timeline_of(name).spans
    return [
        str([span for span in spans if span.slot_whole <= bar.start_whole][-1].chord)
        for bar in bars
    ]


def meters_of(name: str) -> set[str]:
    return {str(bar.meter) for bar in timeline_of(name).bars}


def is_a_twelve_bar_blues_ready_to_shuffle() -> None:
    name = "gatepost-blues"
    for label in ("Chorus (1 of 3)", "Last chorus"):
        chords = chords_at(name, bars_of(name, label))
        assert " ".join(chords[:11]) == "E7 A7 E7 E7 A7 A7 E7 E7 B7 A7 E7"
        assert len(chords) == 12
    form = form_of(name)
    assert form.settings.feel == Feel(Fraction(2), Fraction(1, 8))
    assert [stroke.move for stroke in form.strums["shuffle"].bars[0]] == ["D", "U"] * 4


def is_a_32_bar_aaba() -> None:
    name = "umbrella-by-the-door"
    sections = [bar.playing.section for bar in timeline_of(name).bars]
    once = ["A"] * 16 + ["bridge"] * 8 + ["A"] * 8
    assert sections[4:68] == once * 2
    first, second, last = (
        chords_at(name, bars_of(name, label))
        for label in ("A 1 (1 of 2)", "A 1 (2 of 2)", "Last A")
    )
    assert first[:6] == second[:6]
    assert first[6:] != second[6:]
    assert second == last
    (comping,) = [track for track in score_of(name).tracks if track.part == "guitar"]
    ringing = int(comping.notes[-1].start_whole)
    lengths = [note.end_whole - note.start_whole for note in comping.notes]
    short = [
        x for x, note in zip(lengths, comping.notes, strict=True) if note.start_whole < ringing
    ]
    assert len(short) > 1000
    assert set(short) == {Fraction(1, 8)}  # half a beat: 0.21 s


def is_a_waltz() -> None:
    name = "ash-grove"
    assert meters_of(name) == {"3/4"}
    once = [bar.playing.section for bar in timeline_of(name).bars][4:36]
    assert once == ["tune"] * 16 + ["middle"] * 8 + ["tune"] * 8


def is_a_ballad_in_six_eight() -> None:
    tempo = form_of("greensleeves").settings.tempo
    assert meters_of("greensleeves") == {"6/8"}
    assert tempo is not None
    assert tempo.bpm == 50
    assert tempo.beat_whole == Fraction(3, 8)


def is_in_five_four() -> None:
    assert meters_of("five-herons") == {"5/4 (3+2)"}


def has_short_bars() -> None:
    bars = timeline_of("short-step").bars
    assert meters_of("short-step") == {"4/4", "2/4"}
    assert sum(str(bar.meter) == "2/4" for bar in bars) == 5


def is_a_capo_song_of_irregular_form() -> None:
    name = "orchard-wall"
    form, timeline, score = form_of(name), timeline_of(name), score_of(name)
    assert (form.capo, str(form.key), str(score.keys[0].key)) == (2, "G", "A")
    assert score.chords[0].text == "A"
    whole, half = bars_of(name, "Verse 1"), bars_of(name, "Verse 2, bars 5-8")
    assert chords_at(name, half) == chords_at(name, whole)[4:8]
    assert chords_at(name, bars_of(name, "Chorus 1 (1 of 2)"))[4:] == ["Am7", "Dsus4"]
    assert chords_at(name, bars_of(name, "Chorus 1 (2 of 2)"))[4:] == ["D", "G"]
    last = timeline.bars[-1]
    changes = [tempo for tempo in timeline.tempos if tempo.start_whole > timeline.start_whole]
    assert [tempo.start_whole - last.start_whole for tempo in changes] == [
        Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4),
    ]  # fmt: skip
    assert [tempo.quarter_bpm for tempo in changes] == [72, 64, 56, 48]


def is_a_starter_of_fifteen_seconds() -> None:
    timeline = timeline_of("starter")
    assert timeline.seconds(timeline.end_whole) - timeline.seconds(timeline.start_whole) == 15
    assert not form_of("starter").strums
    assert not form_of("starter").settings.parts


def is_in_a_grouped_seven() -> None:
    name = "pebble-dance"
    bar = timeline_of(name).bars[0]
    assert meters_of(name) == {"7/8 (2+2+3)"}
    clicks = next(track for track in score_of(name).tracks if track.part == "click").notes
    places = [note.start_whole - bar.start_whole for note in clicks]
    assert [at for at in places if 0 <= at < bar.meter.bar_whole] == [
        Fraction(0),
        Fraction(2, 8),
        Fraction(4, 8),
    ]


def is_a_slow_twelve_eight() -> None:
    assert meters_of("bakery-at-four") == {"12/8"}


def is_for_a_ukulele() -> None:
    form, score = form_of("six-ducks"), score_of("six-ducks")
    assert form.instrument.name == "ukulele"
    assert {riff.strings for riff in form.riffs.values()} == {4}
    names = {track.part: (track.name, track.program) for track in score.tracks}
    assert names["guitar"] == ("Ukulele", 24)
    assert form.picks
    assert form.strums


def is_for_a_bass_student() -> None:
    form = form_of("ferry-steps")
    assert form.instrument.name == "bass"
    assert {riff.strings for riff in form.riffs.values()} == {4}
    without = [item.version.without for item in items(form) if item.version.without]
    assert without == [{"bass"}, {"bass"}]
    assert drawing(form).shapes == ()
    assert all(staff.strings == 4 for block in drawing(form).blocks for staff in block.staves)


@pytest.mark.parametrize(
    "kind",
    [
        is_for_a_ukulele,
        is_for_a_bass_student,
        is_a_twelve_bar_blues_ready_to_shuffle,
        is_a_32_bar_aaba,
        is_a_waltz,
        is_a_ballad_in_six_eight,
        is_in_five_four,
        has_short_bars,
        is_a_capo_song_of_irregular_form,
        is_a_starter_of_fifteen_seconds,
        is_in_a_grouped_seven,
        is_a_slow_twelve_eight,
    ],
)
def test_there_is_one_that(kind: Callable[[], None]) -> None:
    kind()


def test_between_them_they_show_every_mark_and_sound() -> None:
    spans = [span for name in BY_HAND for span in timeline_of(name).spans]
    assert {mark for span in spans for mark in span.marks} == {"push", "stop", "ring"}
    assert any(span.chord is None for span in spans)
    parts = [form_of(name).settings.parts for name in BY_HAND]
    assert {output["guitar"].sound for output in parts if "guitar" in output} >= {"nylon", "clean"}
    assert {output["click"].sound for output in parts if "click" in output} >= {"sticks", "claves"}
    assert any(PLAYS.of(output["click"]) for output in parts if "click" in output)
