"""Practice versions against what others compute: tempo maps as mido and pretty_midi read them,
and metronome arithmetic (common practice: a beat lasts 60 / bpm seconds)."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import mido
import pretty_midi
import pytest

from backing.form import read_form_text
from backing.form.practice_records import Ladder
from backing.midi.writer import to_bytes
from backing.practice import Stretch, Version, play_version


def file_of(tempo: str, meter: str, version: Version, bars: int = 4) -> bytes:
    form = read_form_text(
        f"title: Song\nhuman: 0\ntempo: {tempo}\nmeter: {meter}\nparts: {{guitar: off}}\n"
        f'sections: {{a: {{bars: "|{" A |" * bars}"}}}}\nform: [a]\n'
    )
    return to_bytes(play_version(form, version).score)


# Metronome marks and shares of them, as players set a metronome slower (common practice):
# beats a minute, percent, and the beat's length in seconds as 6000 / (bpm x percent).
METRONOME = [
    (60, "100", 1.0),
    (120, "50", 1.0),
    (120, "75", 0.6666667),
    (97, "60", 1.0309278),
    (100, "80", 0.75),
    (80, "12.5", 6.0),
    (132, "90", 0.5050505),
    (90, "200", 0.3333333),
]


@pytest.mark.parametrize(("bpm", "percent", "beat_s"), METRONOME)
def test_a_metronomes_beats(bpm: int, percent: str, beat_s: float) -> None:
    """mido's own clock (its `MidiFile.play` arithmetic) over the click's messages."""
    data = file_of(str(bpm), "4/4", Version(speeds=(Fraction(percent) / 100,)))
    now, struck = 0.0, []
    for message in mido.MidiFile(file=BytesIO(data)):  # merged, times in seconds
        now += message.time
        if message.type == "note_on" and message.velocity and message.channel == 9:
            struck.append(now)
    assert len(struck) == 20  # a bar of count-in and four bars of four
    assert struck == pytest.approx([beat_s * k for k in range(20)], abs=2e-4 * beat_s * 20)


@pytest.mark.parametrize(("bpm", "percent", "beat_s"), METRONOME)
def test_the_tempo_as_pretty_midi_reads_it(bpm: int, percent: str, beat_s: float) -> None:
    data = file_of(str(bpm), "4/4", Version(speeds=(Fraction(percent) / 100,)))
    _, tempos = pretty_midi.PrettyMIDI(BytesIO(data)).get_tempo_changes()
    assert list(tempos) == pytest.approx([60 / beat_s], rel=1e-6)


def test_a_ladders_tempo_map() -> None:
    """60 to 100 percent of 100 beats a minute in steps of 5: the marks 60, 65 ... 100."""
    speeds = Ladder(Fraction(60, 100), Fraction(1), Fraction(5, 100)).speeds
    data = file_of("100", "4/4", Version(speeds, stretch=Stretch(bars=(1, 2)), between=1))
    midi = pretty_midi.PrettyMIDI(BytesIO(data))
    times, tempos = midi.get_tempo_changes()
    assert list(tempos) == pytest.approx([60, 65, 70, 75, 80, 85, 90, 95, 100], rel=1e-6)
    # Each mark holds for a counted bar and two played ones, twelve beats.
    lengths = [12 * 60 / mark for mark in (60, 65, 70, 75, 80, 85, 90, 95)]
    starts = [sum(lengths[:k]) for k in range(9)]
    assert list(times) == pytest.approx(starts, abs=1e-3)
    clicks = next(one for one in midi.instruments if one.name == "Click").notes
    assert len(clicks) == 9 * 12


def test_a_dotted_beat_slows_as_a_whole() -> None:
    """6/8 at 50 dotted quarters a minute and 80 percent: 40 a minute, 1.5 s a beat."""
    data = file_of("50", "6/8", Version(speeds=(Fraction(80, 100),)))
    midi = pretty_midi.PrettyMIDI(BytesIO(data))
    clicks = [note.start for one in midi.instruments if one.name == "Click" for note in one.notes]
    assert clicks == pytest.approx([1.5 * k for k in range(10)], abs=1e-3)


def test_a_loops_bar_lines_by_pretty_midis_downbeats() -> None:
    """Six rounds of two bars of 3/4 at 90: a bar is 2 s, and no bar line is out of step."""
    data = file_of("90", "3/4", Version(stretch=Stretch(bars=(2, 3)), loop=6))
    downbeats = pretty_midi.PrettyMIDI(BytesIO(data)).get_downbeats()
    assert list(downbeats[:13]) == pytest.approx([2.0 * k for k in range(13)], abs=1e-3)
