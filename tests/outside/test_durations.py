"""Durations as handbooks work them out: bars x beats x 60 / tempo.

Source of every value: common practice; the arithmetic stands beside it. Each is held
against the Timeline and verification's sums, exactly, and against mido's clock over the
built file, within the half microsecond a quarter that a MIDI tempo may be off (SMF 1.0,
FF 51: whole microseconds a quarter). In the file a last section's marker stands on the
bar line that is measured, since a file goes on after it to let the strings ring.
"""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import mido
import pytest

from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.timeline import unroll
from backing.verify import expect

DURATIONS = [
    # meter, tempo, bars, seconds
    ("4/4", "120", 32, 64),  # 32 bars x 4 beats = 128 beats of 1/2 s
    ("4/4", "120", 16, 32),  # 64 quarters; SMF 1.0's example: 6144 ticks at 96 a quarter
    ("4/4", "60", 12, 48),  # twelve-bar blues: 48 beats of 1 s
    ("4/4", "97.5", 13, 32),  # 52 beats x 60 / 97.5
    ("2/4", "120", 16, 16),  # 32 beats of 1/2 s
    ("3/4", "96", 32, 60),  # 96 beats, 96 a minute
    ("5/4", "150", 20, 40),  # 100 beats x 60 / 150
    ("6/4", "90", 15, 60),  # 90 beats, 90 a minute
    ("2/2", "60", 30, 60),  # 60 halves of 1 s
    ("3/2", "90", 30, 60),  # 90 halves, 90 a minute
    ("3/8", "180", 45, 45),  # 135 eighths x 60 / 180
    ("6/8", "60", 16, 32),  # 32 dotted quarters of 1 s
    ("6/8", "{bpm: 180, beat: 1/8}", 16, 32),  # the same in eighths: 96 x 60 / 180
    ("9/8", "90", 24, 48),  # 72 dotted quarters x 60 / 90
    ("12/8", "80", 12, 36),  # 48 dotted quarters x 60 / 80
    ("5/8", "{bpm: 150, beat: 1/8}", 10, 20),  # 50 eighths x 60 / 150
    ("7/8", "{bpm: 210, beat: 1/8}", 14, 28),  # 98 eighths x 60 / 210
    ("11/8 (3+3+3+2)", "{bpm: 220, beat: 1/8}", 8, 24),  # 88 eighths x 60 / 220
    ("5/16", "{bpm: 120, beat: 1/4}", 16, 10),  # 80 sixteenths of 1/8 s
    ("4/1", "30", 2, 16),  # 8 whole notes of 2 s
]


@pytest.mark.parametrize(("meter", "tempo", "bars", "seconds"), DURATIONS)
def test_an_even_song(meter: str, tempo: str, bars: int, seconds: int) -> None:
    assert_lasts(
        f"tempo: {tempo}\nmeter: '{meter}'\ncount-in: 1\n"
        f"sections: {{song: {{bars: '| A {'| % ' * (bars - 1)}|'}}, end: {{bars: A}}}}",
        Fraction(seconds),
    )


CHANGING = {
    # 3 bars of 4 beats and one of 2, at half a second: 14 beats.
    "a bar of 2/4": ("tempo: 120", "bars: '| A | D | 2/4 E | 4/4 A |'", Fraction(7)),
    # An eighth keeps its 1/4 s: 8 eighths and 6 eighths.
    "a bar of 6/8": ("tempo: 120", "bars: '| A | 6/8 D |'", Fraction(14, 4)),
    # A dotted quarter keeps its 1 s, so a quarter is 2/3 s: 2 beats and 4 quarters.
    "from 6/8 to 4/4": ("tempo: 60\nmeter: 6/8", "bars: '| A | 4/4 D |'", 2 + Fraction(8, 3)),
    # 8 beats, played twice, with a bar of 4 and then two: 2 x 8 + 4 + 8 = 28 beats of 1/2 s.
    "endings": (
        "tempo: 120",
        "bars: '| A | D |', times: 2, endings: {1: E, 2: '| E | A |'}",
        Fraction(14),
    ),
    # Four beats at 120, then beats at 105, 90, 75 and 60.
    "a slowing bar": (
        "tempo: 120",
        "bars: '| A | D |', tempo: {to: 60, over: 1}",
        2 + Fraction(60, 105) + Fraction(60, 90) + Fraction(60, 75) + 1,
    ),
}


@pytest.mark.parametrize("name", CHANGING)
def test_a_changing_song(name: str) -> None:
    head, section, seconds = CHANGING[name]
    assert_lasts(f"{head}\nsections: {{song: {{{section}}}, end: {{bars: A}}}}", seconds)


def test_two_tempos() -> None:
    """8 bars of 4/4 at 120 and 8 at 60: 16 s and 32 s."""
    text = f"tempo: 120\nsections: {{song: {{bars: '| A {'| % ' * 7}|'}}, end: {{bars: A}}}}"
    slow = "{section: song, tempo: 60}"
    assert_lasts(text, Fraction(48), entries=f"song, {slow}")


def test_the_count_in() -> None:
    """Two bars of 4/4 at 120, 8 beats of half a second, before bar 1."""
    form = read_form_text(
        "title: Trial\ntempo: 120\ncount-in: 2\nsections: {song: {bars: A}}\nform: [song]"
    )
    assert unroll(form).seconds(unroll(form).start_whole) == 4
    assert expect(form).count_in_s == 4
    assert markers(to_bytes(play(unroll(form)))) == [("Count-in", 0.0), ("Song", 4.0)]


def assert_lasts(text: str, seconds: Fraction, entries: str = "song") -> None:
    """Hold the time from bar 1 to the last section's bar line against `seconds`, in three ways."""
    form = read_form_text(f"title: Trial\n{text}\nform: [{entries}, end]")
    timeline, expected = unroll(form), expect(form)
    last_line = next(bar.start_whole for bar in timeline.bars if bar.playing.section == "end")
    start = timeline.start_whole
    assert timeline.seconds(last_line) - timeline.seconds(start) == seconds
    assert sum(row.seconds for row in expected.passes[:-1]) == seconds
    assert expected.passes[-1].start_s - expected.count_in_s == seconds
    _, (_, first), *_, (name, last) = markers(to_bytes(play(timeline)))
    assert name == "End"
    tolerance_s = 0.5e-6 * float(last_line * 4) + 1e-9
    assert last - first == pytest.approx(float(seconds), abs=tolerance_s)


def markers(data: bytes) -> list[tuple[str, float]]:
    """Markers with their times by mido's clock, which turns each step into seconds."""
    found, at_s = [], 0.0
    for message in mido.MidiFile(file=BytesIO(data)):
        at_s += message.time
        if message.type == "marker":
            found.append((message.text, at_s))
    return found
