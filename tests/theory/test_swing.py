"""Swing: where the second of two notes falls, worked out, and measured back from the MIDI."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import mido
import pytest

from backing.form import read_form_text
from backing.theory.rhythm import parse_meter
from backing.theory.swing import RATIO_BY_TEMPO, ratio_by_tempo, swung, swung_in_bar
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

EIGHTH, SIXTEENTH, QUARTER = Fraction(1, 8), Fraction(1, 16), Fraction(1, 4)
BEAT_TICKS = 960


# The rule


@pytest.mark.parametrize(
    ("offset", "placed"),
    [
        ("0", "0"),
        ("1/8", "1/6"),  # two thirds of a quarter
        ("1/4", "1/4"),
        ("3/8", "5/12"),
        ("1/16", "1/12"),  # half of the long one
        ("3/16", "5/24"),  # half of the short one
        ("1/12", "1/12"),  # triplets are even already
        ("1/6", "1/6"),
        ("1/24", "1/24"),
    ],
)
def test_eighths_swing_two_to_one(offset: str, placed: str) -> None:
    found = swung(Fraction(offset), Fraction(1, 2), EIGHTH, Fraction(2))
    assert found == Fraction(placed)


@pytest.mark.parametrize("ratio", ["1", "3/2", "2", "3", "7/2"])
@pytest.mark.parametrize("level", [EIGHTH, SIXTEENTH])
def test_long_to_short_is_the_ratio(level: Fraction, ratio: str) -> None:
    start = swung(Fraction(0), QUARTER, level, Fraction(ratio))
    middle = swung(level, QUARTER, level, Fraction(ratio))
    end = swung(2 * level, QUARTER, level, Fraction(ratio))
    assert (middle - start) / (end - middle) == Fraction(ratio)
    assert end == 2 * level


def test_no_order_changes_and_beats_stay() -> None:
    meter = parse_meter("4/4")
    places = [Fraction(step, 64) for step in range(64)]
    for level in (EIGHTH, SIXTEENTH):
        found = [swung_in_bar(place, meter, level, Fraction(3)) for place in places]
        assert all(a < b for a, b in pairwise(found))
        assert [swung_in_bar(beat, meter, level, Fraction(3)) for beat in meter.beat_starts] == [
            *meter.beat_starts
        ]


@pytest.mark.parametrize("meter", ["6/8", "9/8", "12/8"])
def test_beats_of_three_eighths_do_not_swing_them(meter: str) -> None:
    of = parse_meter(meter)
    places = [Fraction(step, 8) for step in range(of.count)]
    assert [swung_in_bar(place, of, EIGHTH, Fraction(2)) for place in places] == places


def test_uneven_groups_swing_only_where_pairs_fill_the_beat() -> None:
    seven = parse_meter("7/8")  # 2+2+3
    found = [swung_in_bar(Fraction(step, 8), seven, EIGHTH, Fraction(2)) for step in range(7)]
    assert found == [Fraction(n, 24) for n in (0, 4, 6, 10, 12, 15, 18)]


def test_the_table_is_met_and_never_left() -> None:
    assert [ratio_by_tempo(bpm) for bpm, _ in RATIO_BY_TEMPO] == [r for _, r in RATIO_BY_TEMPO]
    assert ratio_by_tempo(Fraction(250)) == Fraction(3, 2)  # midway between 2 at 200, 1 at 300
    assert ratio_by_tempo(Fraction(100)) == Fraction(41, 16)  # midway between 2 and 25/8
    assert ratio_by_tempo(Fraction(30)) == 2
    assert ratio_by_tempo(Fraction(500)) == 1


# What is heard: onsets in ticks within the beat, read back from the file by mido.


SONG = """\
title: Swung
tempo: {tempo}
human: 0
count-in: 1
feel: {feel}
meter: {meter}
parts:
  click: {{subdivide: {step}}}
  bass: {{line: {{step: {step}, play: "1 5 1 5"}}}}
  guitar: {{strum: {{step: {step}, play: "D D"}}}}
sections: {{a: {{bars: "| A | D |"}}}}
form: [a x2]
"""


def song(feel: str, step: str = "1/8", tempo: str = "120", meter: str = "4/4") -> str:
    return SONG.format(feel=feel, step=step, tempo=tempo, meter=meter)


def onsets(text: str) -> dict[str, set[int]]:
    """Each part's places in the beat, in ticks; the guitar's to the nearest multiple of 4.

    A stroke is where its middle is, the mean of its starts weighted by the square of velocity.
    """
    file = mido.MidiFile(file=BytesIO(midi_of(read_form_text(text))))
    assert file.ticks_per_beat == BEAT_TICKS
    found = {}
    for track in file.tracks[2:]:
        tick, strokes = 0, list[list[tuple[int, int]]]()
        for message in track:
            tick += message.time
            if message.type == "note_on":
                # At 120, 50 ticks are 26 ms: more than from string to string.
                if track.name != "Guitar" or not strokes or tick - strokes[-1][-1][0] > 50:
                    strokes.append([])
                strokes[-1].append((tick, message.velocity**2))
        middles = [
            Fraction(sum(at * weight for at, weight in stroke), sum(w for _, w in stroke))
            for stroke in strokes
        ]
        # Starts are rounded to ticks, so that a middle may be a tick off.
        grid = 4 if track.name == "Guitar" else 1
        found[track.name] = [grid * round(middle / grid) for middle in middles]
    return {name: {tick % BEAT_TICKS for tick in ticks} for name, ticks in found.items()}


@pytest.mark.parametrize(
    ("feel", "step", "within"),
    [
        ("straight", "1/8", {0, 480}),
        ("swing", "1/8", {0, 640}),  # 640 to 320: 2 to 1
        ("{swing: 3/2}", "1/8", {0, 576}),  # 576 to 384: 3 to 2
        ("{swing: 3/1}", "1/8", {0, 720}),
        ("{swing: 2/1, on: 1/16}", "1/16", {0, 320, 480, 800}),  # 320 to 160, twice
        ("{swing: 2/1, on: 1/16}", "1/8", {0, 480}),  # eighths stay where sixteenths swing
        ("swing", "1/8t", {0, 320, 640}),  # triplets stay even
        ("swing", "1/16", {0, 320, 640, 800}),  # sixteenths go with their eighth
    ],
)
def test_every_part_swings_alike(feel: str, step: str, within: set[int]) -> None:
    found = onsets(song(feel, step))
    assert set(found) == {"Click", "Bass", "Guitar"}
    for part, places in found.items():
        assert places == within, part


@pytest.mark.parametrize(
    ("tempo", "ratio"),
    [("50", "2"), ("90", "155/64"), ("120", "91/32"), ("160", "11/4"), ("200", "2"), ("300", "1")],
)
def test_by_tempo_takes_its_ratio_from_the_table(tempo: str, ratio: str) -> None:
    long = BEAT_TICKS * Fraction(ratio) / (Fraction(ratio) + 1)
    found = onsets(song("{swing: by-tempo}", tempo=tempo))
    assert found["Click"] == found["Bass"] == {0, round(long)}


def test_six_eight_is_untouched() -> None:
    straight, swinging = (song(feel, meter="6/8") for feel in ("straight", "swing"))
    assert onsets(straight) == onsets(swinging)


@pytest.mark.parametrize(
    ("feel", "early"),
    [
        ("straight", 480),
        ("swing", 320),
        ("{swing: 3/2}", 384),
        ("{swing: 2/1, on: 1/16}", 480),  # an eighth is two swung sixteenths
    ],
)
def test_a_push_comes_as_early_as_swing_leaves_its_eighth(feel: str, early: int) -> None:
    text = song(feel).replace("| A | D |", "| A | D(push) |").replace("1 5 1 5", "1 - - - - - - -")
    file = mido.MidiFile(file=BytesIO(midi_of(read_form_text(text))))
    (bass,) = (track for track in file.tracks if track.name == "Bass")
    ticks, tick = [], 0
    for message in bass:
        tick += message.time
        if message.type == "note_on":
            ticks.append(tick)
    assert 2 * 4 * BEAT_TICKS - early in ticks  # the second bar's line, after one of count-in


@pytest.mark.parametrize(
    "feel", ["swing", "{swing: 3/2}", "{swing: 2/1, on: 1/16}", "{swing: by-tempo}"]
)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "5/4"])
def test_the_proof_agrees_with_swung_pushes(feel: str, meter: str) -> None:
    text = song(feel, meter=meter).replace("| A | D |", "| A | D(push) | E | A(push) |")
    form = read_form_text(text)
    report = verify_bytes(form, midi_of(form))
    assert report.agrees, report.disagreements
