"""Wrong files: each kind is caught by every reader that can see it.

Our own reader sees all that is compared. pretty_midi keeps no titles, markers or
texts and doesn't know where a track ends, so it is blind to those, and the tests say so.
What only takes labels away is lost, and no disagreement: `test_fair_comparison.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import mido
import pytest

from backing.errors import BackingError
from backing.form import read_form_text
from backing.form.model import Form
from backing.midi.writer import TICKS_PER_QUARTER, to_bytes
from backing.players import play
from backing.timeline import unroll
from backing.verify import verify_bytes, verify_file
from backing.verify.readers.measured import by_pretty_midi

SUMMING, PRETTY = "our own reader", "pretty_midi"


def made(form: Form, count_in: bool = True) -> bytes:
    return to_bytes(play(unroll(form, count_in)))


def caught(form: Form, data: bytes) -> dict[str, set[str]]:
    """What each reader's findings disagree on."""
    found: dict[str, set[str]] = {SUMMING: set(), PRETTY: set()}
    for finding in verify_bytes(form, data).disagreements:
        found[finding.reader].add(finding.what)
    return found


# Wrong files, by their forms: each pair of forms held against the other's file, both ways.

SONG = """\
title: Held Up
tempo: {bpm: 92, beat: 1/4}
meter: 4/4
count-in: 1
human: 0
capo: 2
sections:
  verse: {bars: "| A | D | F#m | E |"}
  turn: {bars: "| D | A | Bm | A |", endings: {1: "| E |", 2: "| A |"}, times: 2}
  close: {tempo: {to: 60, over: 1}, bars: "| D E | A(ring) |"}
form:
  - verse
  - turn
  - verse
  - close
"""

# What is written, what stands there instead, and one thing that each reader must object to.
OTHER_FORMS = {
    "a bar dropped": ("| A | D | F#m | E |", "| A | D | F#m |", "sections", "bass"),
    "the last bar dropped": ("D E | A(ring) |", "D E |", "guitar", "bass"),
    "a bar doubled": ("Bm | A |", "Bm | % | A |", "chords", "bass"),
    "every tempo 1% up": ("bpm: 92", "bpm: 92.92", "tempos", "tempos"),
    "one tempo 1% up": ("to: 60", "to: 60.6", "tempos", "tempos"),
    "a change of tempo left out": ("to: 60, over: 1", "bpm: 92, beat: 1/4", "tempos", "tempos"),
    "a change a bar longer": ("to: 60, over: 1", "to: 60, over: 2", "tempos", "tempos"),
    "another meter": ("meter: 4/4", "meter: 6/4", "meters", "meters"),
    "a meter of one length": ("meter: 4/4", "meter: 2/2", "meters", "meters"),
    "one bar's meter": ("| Bm |", "| 3/4 Bm |", "meters", "meters"),
    "chords of two sections swapped": (
        'verse: {bars: "| A | D | F#m | E |"}\n  turn: {bars: "| D | A | Bm | A |"',
        'verse: {bars: "| D | A | Bm | A |"}\n  turn: {bars: "| A | D | F#m | E |"',
        "chords",
        "bass",
    ),
    "lines of the form swapped": ("- turn\n  - verse\n", "- verse\n  - turn\n", "sections", "bass"),
    "the wrong ending": ('1: "| E |"', '1: "| D |"', "chords", "bass"),
    "a chord": ("F#m", "F#m7", "chords", None),
    "a chord's third": ("| Bm |", "| B |", "chords", "guitar"),
    "a chord's place": ("| D E |", "| D / / E |", "chords", "bass"),
    "a slash bass within the chord": ("| Bm |", "| Bm/D |", "chords", "bass"),
    "no chord": ("| Bm |", "| N.C. |", "chords", "guitar"),
    "a push": ("| Bm |", "| Bm(push) |", "bass", "bass"),
    "a capo": ("capo: 2", "capo: 3", "chords", "bass"),
    "a label": ("- turn", "- {section: turn, label: Bridge}", "sections", None),
    "the count-in": ("count-in: 1", "count-in: 2", "sections", "bass"),
    "clicks left out": ("capo: 2", "parts: {click: {plays: 2 of 3}}\ncapo: 2", "click", "click"),
}


@pytest.mark.parametrize("swapped", [False, True], ids=["", "swapped"])
@pytest.mark.parametrize("name", OTHER_FORMS)
def test_another_form_s_file_is_caught(name: str, swapped: bool) -> None:
    written, instead, by_sum, by_pretty = OTHER_FORMS[name]
    assert SONG.count(written) == 1
    texts = [SONG, SONG.replace(written, instead)]
    form, other = map(read_form_text, reversed(texts) if swapped else texts)
    found = caught(form, made(other))
    assert by_sum in found[SUMMING]
    if by_pretty is None:
        # It reads no names, but a shape may leave out the tone that makes the difference.
        assert found[PRETTY] <= {"guitar"}
    else:
        assert by_pretty in found[PRETTY]


def test_a_missing_bass_is_caught() -> None:
    with_bass = read_form_text(SONG)
    without = read_form_text(SONG.replace("capo: 2", "parts: {bass: off}\ncapo: 2"))
    found = caught(with_bass, made(without))
    assert found == {SUMMING: {"bass"}, PRETTY: {"bass"}}


# Wrong files, by their bytes, edited as mido messages. Events are (tick, message).

Events = list[tuple[int, Any]]
BAR_TICKS = 4 * TICKS_PER_QUARTER


def edited(data: bytes, edit: Callable[[str, Events], Events]) -> bytes:
    """The file with each track's events, by the track's name, put through `edit`."""
    file = mido.MidiFile(file=BytesIO(data))
    for number, track in enumerate(file.tracks):
        tick, events = 0, []
        for message in track:
            tick += message.time
            events.append((tick, message))
        events = sorted(edit("" if number == 0 else track.name, events), key=lambda event: event[0])
        track[:] = [
            message.copy(time=tick - before)
            for (tick, message), before in zip(events, [0, *(at for at, _ in events)], strict=False)
        ]
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def changed(track: str, kind: str, at: int, **new: Any) -> Callable[[str, Events], Events]:
    """Give the `at`-th event of a kind in a track new values; `tick` moves it by so many."""
    move = new.pop("tick", 0)

    def edit(name: str, events: Events) -> Events:
        if name != track:
            return events
        place = [index for index, (_, message) in enumerate(events) if message.type == kind][at]
        tick, message = events[place]
        return [*events[:place], (tick + move, message.copy(**new)), *events[place + 1 :]]

    return edit


def bar_out(number: int) -> Callable[[str, Events], Events]:
    """Take a bar out (the count-in is bar 0): its notes and texts go, what follows moves up."""
    first, end = number * BAR_TICKS, (number + 1) * BAR_TICKS

    def edit(name: str, events: Events) -> Events:
        gone = ("note_on", "text", "marker")
        kept = [(t, m) for t, m in events if not (first <= t < end and m.type in gone)]
        return [(t if t < first else max(first, t - BAR_TICKS), m) for t, m in kept]

    return edit


def clicks_later(ticks: int) -> Callable[[str, Events], Events]:
    def edit(name: str, events: Events) -> Events:
        late = {"note_on", "note_off"} if name == "Click" else set()
        return [(tick + ticks if m.type in late else tick, m) for tick, m in events]

    return edit


def ends_earlier(ticks: int, only: str | None = None) -> Callable[[str, Events], Events]:
    """Every track, or one, ends earlier; notes that rang past that are cut there."""

    def edit(name: str, events: Events) -> Events:
        if only not in (None, name):
            return events
        end = events[-1][0] - ticks
        return [(min(tick, end), message) for tick, message in events]

    return edit


def second_half_lost(name: str, events: Events) -> Events:
    end = events[-1][0] // 2
    return [event for event in events if event[0] < end] + [(end, events[-1][1])]


#: 92 quarters a minute is 652,174 microseconds a quarter; 1% more of them:
SLOWER_US = 658_696

# An edit, and one thing that each reader must object to: None where it is blind to it.
EDITS: dict[str, tuple[Callable[[str, Events], Events], str, str | None]] = {
    "bar 1 dropped": (bar_out(1), "sections", "click"),
    "a middle bar dropped": (bar_out(9), "chords", "bass"),
    "the first tempo 1% down": (
        changed("", "set_tempo", 0, tempo=SLOWER_US),
        "tempos",
        "tempos",
    ),
    "the last tempo 1% down": (
        changed("", "set_tempo", -1, tempo=1_010_000),
        "tempos",
        "tempos",
    ),
    "a tempo a beat late": (
        changed("", "set_tempo", 1, tick=TICKS_PER_QUARTER // 2),
        "tempos",
        "tempos",
    ),
    "the meter": (changed("", "time_signature", 0, numerator=3), "meters", "meters"),
    "the meter's unit": (
        changed("", "time_signature", 0, numerator=2, denominator=2),
        "meters",
        "meters",
    ),
    "a chord's name": (changed("Chords", "text", 2, text="G#m7"), "chords", None),
    "a chord a sixteenth late": (changed("Chords", "text", 2, tick=240), "chords", None),
    "a marker renamed": (changed("", "marker", 2, text="Turn"), "sections", None),
    "the count-in's marker renamed": (changed("", "marker", 0, text="Verse"), "sections", None),
    "a marker a bar late": (changed("", "marker", 2, tick=BAR_TICKS), "sections", None),
    "a marker a tick late": (changed("", "marker", 1, tick=1), "sections", None),
    "a bass note": (changed("Bass", "note_on", 5, note=31), "bass", "bass"),
    "a bass note left out": (changed("Bass", "note_on", 5, velocity=0), "bass", "bass"),
    "a bass note 5 ms late": (changed("Bass", "note_on", 5, tick=7), "bass", "bass"),
    "clicks 2 ms late": (clicks_later(3), "click", "click"),
    "clicks 2 ms early": (
        lambda name, events: [
            (tick - 3 if name == "Click" and m.type == "note_on" and tick else tick, m)
            for tick, m in events
        ],
        "click",
        "click",
    ),
    "the second half lost": (second_half_lost, "click", "click"),
}


@pytest.mark.parametrize("name", EDITS)
def test_an_edited_file_is_caught(name: str) -> None:
    edit, by_sum, by_pretty = EDITS[name]
    form = read_form_text(SONG)
    found = caught(form, edited(made(form), edit))
    assert by_sum in found[SUMMING]
    if by_pretty is None:
        assert found[PRETTY] == set()
    else:
        assert by_pretty in found[PRETTY]


#: Edits that leave the music as it is, and what is lost or told then.
LABELS: dict[str, tuple[Callable[[str, Events], Events], tuple[str, ...], tuple[str, ...]]] = {
    "a tempo a microsecond off": (changed("", "set_tempo", 0, tempo=652_175), (), ()),
    "a chord's name garbled": (
        changed("Chords", "text", 2, text="?"),
        ("1 of 21 chord names",),
        (),
    ),
    "one track's tail shortened": (ends_earlier(960, "Chords"), ("ends of tracks",), ()),
    "the title": (
        changed("", "track_name", 0, name="Held"),
        (),
        ("The file's title is 'Held', not 'Held Up'.",),
    ),
}


@pytest.mark.parametrize("name", LABELS)
def test_an_edited_label_leaves_the_music(name: str) -> None:
    edit, lost, told = LABELS[name]
    form = read_form_text(SONG)
    report = verify_bytes(form, edited(made(form), edit))
    assert report.disagreements == ()
    assert (report.lost, report.noted) == (lost, told)


def test_an_edit_that_changes_nothing_is_not_caught() -> None:
    form = read_form_text(SONG)
    data = edited(made(form), lambda _, events: events)
    assert caught(form, data) == {SUMMING: set(), PRETTY: set()}


def cut_files(data: bytes) -> list[bytes]:
    step = len(data) // 40
    lengths = [*range(0, len(data), step), len(data) - 4, len(data) - 1]
    return [data[:length] for length in lengths]


def test_a_truncated_file_is_refused_with_the_byte_where_it_ends() -> None:
    """It is input to fix, so no disagreement."""
    form = read_form_text(SONG)
    for data in cut_files(made(form)):
        why = f"cut short at byte {len(data)}," if data else "it is empty"
        with pytest.raises(BackingError, match=f"can't be read as MIDI: {why}") as caught:
            verify_bytes(form, data)
        assert caught.value.exit_code == 2


def test_pretty_midi_refuses_a_truncated_file() -> None:
    for data in cut_files(made(read_form_text(SONG))):
        with pytest.raises(BackingError, match=r"pretty_midi can't read it \(\w"):
            by_pretty_midi(data)


@pytest.mark.parametrize("data", [b"", b"MThd", b"RIFF" * 40, b"\0" * 400], ids=repr)
def test_what_is_no_midi_file_is_refused(data: bytes) -> None:
    with pytest.raises(BackingError, match="can't be read as MIDI: ") as caught:
        verify_bytes(read_form_text(SONG), data)
    assert caught.value.exit_code == 2


def test_a_file_that_counts_frames_is_refused() -> None:
    data = bytearray(made(read_form_text(SONG)))
    data[12:14] = 0xE7, 0x28  # 25 frames a second, 40 ticks each
    with pytest.raises(BackingError, match=r"can't be compared with a form: .* frames") as caught:
        verify_bytes(read_form_text(SONG), bytes(data))
    assert caught.value.exit_code == 2


def test_files(tmp_path: Path) -> None:
    form = read_form_text(SONG)
    path = tmp_path / "song.mid"
    with pytest.raises(BackingError, match="there is no such file"):
        verify_file(form, path)
    path.write_bytes(made(form, count_in=False))
    assert verify_file(form, path, count_in=False).agrees
    assert not verify_file(form, path).agrees
    path.write_bytes(b"no file")
    with pytest.raises(BackingError, match=r"song\.mid: it can't be read as MIDI") as caught:
        verify_file(form, path)
    assert caught.value.exit_code == 2
