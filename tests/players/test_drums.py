"""The drums: beats for every meter, and what a drummer adds and leaves out.

What a groove is made of (backbeat, triplets of a shuffle, crash, fill) is common practice,
from memory.
"""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from itertools import product

import mido
import pytest
from part_tables import words_of

from backing.form.parts import DRUM_BEAT
from backing.midi.device import for_device
from backing.midi.writer import to_bytes
from backing.players.drum_beats import VELOCITIES, beat_for, beat_hits
from backing.theory.built_in_beats import (
    BEATS,
    CRASH,
    DRUMS,
    FOOT,
    HAT,
    KICK,
    LEVELS,
    OPEN_HAT,
    RIDE,
    RIM,
    SNARE,
    TOMS,
)
from backing.theory.general_midi import PERCUSSION
from backing.theory.rhythm import parse_meter
from backing.verify import verify_bytes

METERS = [
    *(
        "2/2",
        "3/2",
        "4/2",
        "1/4",
        "2/4",
        "3/4",
        "4/4",
        "4/4 (2+2)",
        "5/4",
        "5/4 (3+2)",
        "5/4 (2+3)",
    ),
    *("6/4", "7/4", "9/4", "11/4", "2/8", "3/8", "4/8", "5/8", "6/8", "6/8 (2+2+2)", "7/8"),
    *("7/8 (3+2+2)", "8/8 (3+3+2)", "9/8", "11/8 (3+3+3+2)", "12/8", "3/16", "6/16", "4/1"),
]


def form(bars: str, drums: str = "on", head: str = "", play: str = "a x2, b") -> str:
    return (
        f"{head}\nparts: {{click: off, bass: off, guitar: off, drums: {drums}}}\n"
        f'sections: {{a: {{bars: "{bars}"}}, b: {{bars: "{bars}"}}}}\nform: [{play}]\n'
    )


def strokes(song, *pitches):
    """Where drums are struck; all of them where none is named."""
    return [
        note.start_whole for note in song.notes("drums") if not pitches or note.pitch in pitches
    ]


def quarters(*beats):
    return [Fraction(one) / 4 for one in beats]


# The table.


@pytest.mark.parametrize("row", BEATS, ids=lambda row: f"{row.name} {row.meters[0]}")
def test_every_row_fills_the_bars_of_its_meters(row):
    lengths = {len(line) for _, line in row.lines}
    assert len(lengths) == 1
    length = lengths.pop() * row.step_whole
    for text in row.meters:
        bar = parse_meter(text).bar_whole
        assert bar % length == 0 or length % bar == 0
    voices = [voice for voice, _ in row.lines]
    assert len(set(voices)) == len(voices)
    assert {*voices} <= {*DRUMS}
    assert {*"".join(line for _, line in row.lines)} <= {*"Xxo-"}
    assert dict(row.lines)["kick"][0] != "-"


def test_every_drum_is_the_one_of_general_midi():
    assert PERCUSSION[KICK] == "Bass Drum 1"
    assert PERCUSSION[SNARE] == "Acoustic Snare"
    assert PERCUSSION[RIM] == "Side Stick"
    assert [PERCUSSION[hat] for hat in (HAT, OPEN_HAT, FOOT)] == [
        *("Closed Hi-Hat", "Open Hi-Hat", "Pedal Hi-Hat")
    ]
    assert (PERCUSSION[RIDE], PERCUSSION[CRASH]) == ("Ride Cymbal 1", "Crash Cymbal 1")
    heights = ["Hi-Mid Tom", "Low-Mid Tom", "High Floor Tom"]
    assert [PERCUSSION[tom] for tom in TOMS] == heights
    assert set(VELOCITIES) == set(DRUMS)


@pytest.mark.parametrize("text", METERS)
def test_every_beat_has_something_to_play_in_every_meter(text):
    meter = parse_meter(text)
    for name, level in product([None, *words_of(DRUM_BEAT)], LEVELS):
        hits = beat_hits(name, meter, level)
        assert hits == tuple(sorted(hits))
        assert all(0 <= hit.offset_whole < meter.bar_whole for hit in hits)
        assert all(1 <= hit.velocity <= 127 for hit in hits)
        assert len({hit[:2] for hit in hits}) == len(hits)
        assert (0, KICK) in {hit[:2] for hit in hits}
        assert set(meter.beat_starts) <= {hit.offset_whole for hit in hits}


@pytest.mark.parametrize("text", METERS)
def test_a_plain_beat_answers_the_kick_with_the_snare(text):
    meter = parse_meter(text)
    hits = beat_hits(None, meter, "medium")
    kicks = {hit.offset_whole for hit in hits if hit.pitch == KICK}
    snares = {hit.offset_whole for hit in hits if hit.pitch == SNARE}
    assert not kicks & snares
    assert snares <= set(meter.beat_starts)
    assert bool(snares) == (len(meter.beats) > 1)
    assert 0 not in snares


def test_a_beat_that_does_not_fit_gives_way_to_the_meters_plain_one():
    three, six, seven = (parse_meter(text) for text in ("3/4", "6/8", "7/8"))
    assert beat_for("shuffle", three) == beat_for(None, three) == beat_for("waltz", three)
    assert beat_for("train", six).name == "six-eight"
    assert beat_for("waltz", seven).name == "seven"
    assert beat_for("waltz", parse_meter("4/4")).name == "eighths"
    assert beat_for("brushes", three).name == "brushes"
    assert beat_for("five", parse_meter("5/4 (2+3)")) != beat_for("five", parse_meter("5/4 (3+2)"))


# Grooves.


@pytest.mark.parametrize(
    ("name", "meter", "backbeat"),
    [
        ("eighths", "4/4", quarters(1, 3)),
        ("shuffle", "4/4", quarters(1, 3)),
        ("half-time", "4/4", quarters(2)),
        ("six-eight", "6/8", [Fraction(3, 8)]),
        ("six-eight", "12/8", [Fraction(3, 8), Fraction(9, 8)]),
        ("waltz", "3/4", quarters(1, 2)),
        ("five", "5/4", quarters(2, 4)),
        ("seven", "7/8", quarters(2)),
    ],
)
def test_the_backbeat_falls_where_it_belongs_and_is_loud(name, meter, backbeat):
    hits = beat_hits(name, parse_meter(meter), "medium")
    ghost = VELOCITIES["snare"][2]
    snare = [hit for hit in hits if hit.pitch == SNARE and hit.velocity > ghost]
    assert [hit.offset_whole for hit in snare] == backbeat
    hats = [hit.velocity for hit in hits if hit.pitch == HAT]
    assert min(hit.velocity for hit in snare) > max(hats)


@pytest.mark.parametrize("name", ["eighths", "half-time"])
def test_the_hats_are_eighths_louder_on_the_beat(name):
    hats = [hit for hit in beat_hits(name, parse_meter("4/4"), "medium") if hit.pitch == HAT]
    assert [hit.offset_whole for hit in hats] == [Fraction(i, 8) for i in range(8)]
    assert all(
        on.velocity >= off.velocity + 10 for on, off in zip(hats[::2], hats[1::2], strict=True)
    )


def test_a_train_beat_leans_on_every_and():
    hits = [hit for hit in beat_hits("train", parse_meter("4/4"), "medium") if hit.pitch == SNARE]
    assert [hit.offset_whole for hit in hits] == [Fraction(i, 16) for i in range(16)]
    accents = [hit.offset_whole for hit in hits if hit.velocity == VELOCITIES["tap"][0]]
    assert accents == [Fraction(1 + 2 * i, 8) for i in range(4)]


def ticks_of(song, pitch):
    """A drum's strokes read back from the MIDI file, in ticks, and the ticks of a quarter."""
    file = mido.MidiFile(file=BytesIO(to_bytes(song.score)))
    found, tick = [], 0
    (track,) = [track for track in file.tracks if track.name == "Drums"]
    for message in track:
        tick += message.time
        if message.type == "note_on" and message.note == pitch:
            found.append(tick)
    return found, file.ticks_per_beat


def ratios(found, quarter):
    """Long to short, for each beat that is struck on and once after."""
    by_beat: dict[int, list[int]] = {}
    for tick in found:
        by_beat.setdefault(tick // quarter, []).append(tick % quarter)
    return {
        Fraction(late, quarter - late)
        for first, late in (placed for placed in by_beat.values() if len(placed) == 2)
        if first == 0
    }


@pytest.mark.parametrize("feel", ["straight", "swing", "{swing: 3/1, on: 1/8}"])
def test_a_shuffle_is_two_to_one_in_the_file_whatever_the_feel(played, feel):
    song = played(form("| A | D |", "{beat: shuffle}", f"feel: {feel}"))
    found, quarter = ticks_of(song, HAT)
    assert len(found) > 40
    assert ratios(found, quarter) == {Fraction(2)}


@pytest.mark.parametrize(
    ("feel", "ratio"),
    [
        ("straight", Fraction(1)),
        ("swing", Fraction(2)),
        ("{swing: 3/1, on: 1/8}", Fraction(3)),
        ("{swing: 5/3, on: 1/8}", Fraction(5, 3)),
    ],
)
def test_eighths_swing_in_the_file_exactly_as_the_form_says(played, feel, ratio):
    found, quarter = ticks_of(played(form("| A | D |", "{beat: eighths}", f"feel: {feel}")), HAT)
    assert len(found) > 40
    assert ratios(found, quarter) == {ratio}


def test_a_shorter_bar_plays_the_beats_beginning(played):
    song = played(form("| 2/4 A | 4/4 D |", "{beat: eighths}", play="a"))
    assert strokes(song, SNARE) == quarters(1, 3, 5)


# Levels.


@pytest.mark.parametrize("name", words_of(DRUM_BEAT))
def test_a_level_is_softer_and_sparser_below_and_louder_above(name):
    meter = next(parse_meter(row.meters[0]) for row in BEATS if row.name == name)
    light, medium, full = (beat_hits(name, meter, level) for level in ("light", "medium", "full"))
    assert len(light) <= len(medium) == len(full)
    for softer, louder in ((light, medium), (medium, full)):
        loudest = max(hit.velocity for hit in softer), max(hit.velocity for hit in louder)
        assert loudest[0] < loudest[1]
    if any(voice == "snare" for voice, _ in beat_for(name, meter).lines):
        assert {RIM} == {hit.pitch for hit in light} - {KICK, HAT}
        assert SNARE in {hit.pitch for hit in medium}


def test_an_open_hi_hat_is_closed_by_the_next_hat(played):
    song = played(form("| A | D |", "{level: full}", play="b"))
    opened = [note for note in song.notes("drums") if note.pitch == OPEN_HAT]
    hats = strokes(song, HAT, CRASH)
    assert [note.start_whole for note in opened] == [Fraction(7, 8), Fraction(15, 8)]
    assert opened[0].end_whole == 1
    assert 1 in hats


def test_strokes_are_short(played):
    for note in played(form("| A | D |", "{fill: on}")).notes("drums"):
        longest = {CRASH: Fraction(1, 2), OPEN_HAT: Fraction(1, 4)}.get(note.pitch, Fraction(1, 32))
        assert 0 < note.end_whole - note.start_whole <= longest


# What a drummer adds.


def test_a_crash_opens_each_section_that_differs_from_the_one_before(played):
    song = played(form("| A | D |", play="a x2, b, a"))
    assert strokes(song, CRASH) == [0, 4, 6]
    crashes = {note.start_whole for note in song.notes("drums") if note.pitch == CRASH}
    assert not crashes & set(strokes(song, HAT))
    assert crashes <= set(strokes(song, KICK))


@pytest.mark.parametrize("drums", ["{level: light}", "{beat: brushes}"])
def test_soft_drums_have_neither_crash_nor_lead_in(played, drums):
    song = played(form("| A | D |", drums, "count-in: 1"))
    assert strokes(song, CRASH) == []
    assert min(strokes(song)) == 1


def test_a_lead_in_follows_the_last_beat_of_the_count_and_is_softer_than_it(played):
    text = form("| A | D |", head="count-in: 2").replace("click: off, ", "")
    song = played(text)
    early = [note for note in song.notes("drums") if note.start_whole < 2]
    assert [note.start_whole for note in early] == [Fraction(15, 8), Fraction(31, 16)]
    assert {note.pitch for note in early} == {SNARE}
    count = [note for note in song.notes("click") if note.start_whole < 2]
    assert len(count) == 8
    assert max(note.velocity for note in early) < min(note.velocity for note in count)


@pytest.mark.parametrize("text", METERS)
@pytest.mark.parametrize("tempo", ["{bpm: 40, beat: 1/4}", "{bpm: 240, beat: 1/4}"])
def test_a_lead_in_never_falls_on_a_beat_of_the_count(played, text, tempo):
    song = played(form("| A |", head=f"meter: {text}\ntempo: {tempo}\ncount-in: 1"))
    (bar,) = song.timeline.count_in
    early = [start for start in strokes(song) if start < bar.end_whole]
    assert not set(early) & set(bar.meter.beat_starts)
    assert all(start > bar.meter.beat_starts[-1] for start in early)


def test_in_a_pickup_bar_the_drums_only_lead_in(played):
    song = played(form("| A | D |", head='count-in: 2\npickup: "| N.C. / / D |"'))
    assert [start for start in strokes(song) if start < 2] == [Fraction(15, 8), Fraction(31, 16)]


# Marks.


def test_a_stop_is_one_stroke_and_silence_until_the_next_chord(played):
    song = played(form("| A | D(stop) | / / / E |", play="a"))
    assert [start for start in strokes(song) if 1 <= start < Fraction(11, 4)] == [1, 1]
    assert {n.pitch for n in song.notes("drums") if n.start_whole == 1} == {KICK, SNARE}
    assert Fraction(11, 4) in strokes(song)


def test_a_ring_is_struck_with_a_cymbal_and_the_drums_wait(played):
    song = played(form("| A | D(ring) | E |", play="a"))
    assert [start for start in strokes(song) if 1 <= start < 2] == [1, 1]
    assert {n.pitch for n in song.notes("drums") if n.start_whole == 1} == {KICK, CRASH}
    assert strokes(song, HAT)[-8:] == [2 + Fraction(i, 8) for i in range(8)]


def test_a_pushed_stop_is_struck_where_it_sounds_and_a_plain_push_leaves_the_drums_alone(played):
    song = played(form("| A | D(push stop) | E |", play="a"))
    assert [start for start in strokes(song) if Fraction(3, 4) < start < 2] == [Fraction(7, 8)] * 2
    pushed, plain = (played(form(f"| A | D{mark} |")) for mark in ("(push)", ""))
    assert pushed.notes("drums") == plain.notes("drums")


def test_drums_go_on_where_no_chord_sounds(played):
    assert played(form("| A | N.C. |")).notes("drums") == played(form("| A | D |")).notes("drums")


def test_a_section_without_drums_is_silent(played):
    text = form("| A | D(stop) |", "on").replace("b: {", "b: {parts: {drums: off}, ")
    assert max(strokes(played(text))) == 3
    assert min(strokes(played(text.replace("[a x2, b]", "[b, a]")))) == 2


# Written lines.


def test_written_lines_are_struck_as_written_and_nothing_is_added(played):
    lines = '{step: 1/8, play: {kick: "x - - - x - - -", cowbell: "- - x> - - - x -"}}'
    song = played(form("| A | D |", f"{{beat: {lines}}}", "count-in: 1", play="a"))
    assert strokes(song, KICK) == [1, Fraction(3, 2), 2, Fraction(5, 2)]
    cowbell = [note for note in song.notes("drums") if note.pitch == 56]
    assert [n.start_whole for n in cowbell] == [1 + Fraction(i, 4) for i in (1, 3, 5, 7)]
    assert cowbell[0].velocity > cowbell[1].velocity + 10
    assert len(song.notes("drums")) == 8


def test_written_lines_follow_the_rules_of_patterns_each_by_itself(played):
    lines = '{step: 1/4, play: {kick: "x - - - | x x - -", snare: "- - x -"}}'
    song = played(form("| A | D | 2/4 E | 5/4 A |", f"{{beat: {lines}}}", play="a"))
    assert strokes(song, KICK) == [
        *(0, 1, Fraction(5, 4), 2),
        *(Fraction(5, 2), Fraction(11, 4), Fraction(7, 2)),
    ]
    assert strokes(song, SNARE) == [Fraction(1, 2), Fraction(3, 2), 3]


def test_a_written_line_opens_a_stop_with_its_first_strokes_alone(played):
    lines = '{step: 1/4, play: {tambourine: "x x x x", kick: "- x - x"}}'
    song = played(form("| A(stop) | D |", f"{{beat: {lines}}}", play="a"))
    assert [(n.start_whole, n.pitch) for n in song.notes("drums")][:2] == [(0, 54), (1, 54)]


def test_a_drum_named_twice_is_struck_once(played):
    lines = '{step: 1/4, play: {kick: "x x - -", bass drum: "x> - - x"}}'
    song = played(form("| A |", f"{{beat: {lines}}}", play="a"))
    assert strokes(song) == quarters(0, 1, 3)
    assert song.notes("drums")[0].velocity > song.notes("drums")[1].velocity


def test_volume_scales_the_strokes(played):
    loud, soft = (played(form("| A |", f"{{volume: {volume}}}")) for volume in (100, 50))
    assert loud.notes("drums") == soft.notes("drums")
    files = ([t for t in for_device(s.score).tracks if t.part == "drums"] for s in (loud, soft))
    for one, other in zip(*(track.notes for (track,) in files), strict=True):
        assert other.velocity in (one.velocity // 2, (one.velocity + 1) // 2)


# Whatever is written, the file is proven and the click is where it was.


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("name", words_of(DRUM_BEAT))
def test_with_drums_the_song_is_still_what_the_form_says(played, name, level):
    text = f"""
count-in: 1
feel: swing
parts: {{click: {{sound: sticks}}, drums: {{beat: {name}, level: {level}, fill: on}}, pad: on}}
sections:
  a: {{bars: "| A D(push) | E7(stop) | 6/8 F#m | 3/4 N.C. | 1/16 D(ring) |"}}
  b: {{bars: "| A | 5/4 D(ring) |"}}
form: [a x2, b, a]
"""
    song = played(text)
    assert verify_bytes(song.timeline.form, to_bytes(song.score), quick=True).agrees
    for note in song.notes("drums"):
        assert 0 <= note.start_whole < note.end_whole <= song.score.end_whole
        assert 1 <= note.velocity <= 127
    assert song.notes("drums") == played(text).notes("drums")
