"""The guitar's strokes: the page plays them as the file has them, centered on their beats."""

from __future__ import annotations

import json
from collections import defaultdict
from io import BytesIO
from typing import Any, NamedTuple

import mido
import pytest
from page.test_page_data import struck
from playwright.sync_api import Page

from backing.form import Form
from backing.players import play
from backing.timeline import unroll
from backing.tracks.one import midi_of
from backing.verify import expect

#: Half a frame of the page, and half a tick of the file at 480 a quarter and 84 quarters a minute.
SAME_S = 0.5 / 44100 + 0.5 * 60 / 84 / 480
#: How far from its beat the middle of a stroke may lie; of a slower playing so much more.
CENTERED_S = 0.015


class Struck(NamedTuple):
    """A note of the guitar as the page played it: which one, in which round, and when."""

    note: int
    round: int
    start_s: float


def played(modules: Page, song: dict[str, Any], seconds: float, **settings: Any) -> list[Struck]:
    """The guitar's notes, in order of starts; times are from the first bar's line of the song on.

    Args:
        modules: the page's sources.
        song: its data.
        seconds: how long it plays.
        settings: what a student sets; it starts with the first bar that is chosen.
    """
    first = (settings.get("stretch") or [0])[0]
    run = {
        "at": 1.0, "bar": first, "plays": [1, 1],
        "settings": {"countIn": 0, "repeat": False, **settings},
        "steps": [{"wait": 0, "changes": []}, {"wait": seconds, "changes": []}],
    }  # fmt: skip
    made = modules.evaluate(
        """async ([song, run]) => {
          const { drive } = await import("/drive.js");
          return drive(song, run);
        }""",
        [song, run],
    )
    leg = next(leg for leg in made["seen"][0]["legs"] if leg["kind"] == "bars")
    zero = leg["at"] - song["bars"][first]["start"] * 100 / leg["percent"]
    found = [
        Struck(voice["note"][1], voice["round"], voice["start"] - zero)
        for voice in made["voices"]
        if voice["note"][0] == "guitar"
    ]
    return sorted(found, key=lambda one: one.start_s)


def guitar_of(song: dict[str, Any]) -> list[list[Any]]:
    (notes,) = [part["notes"] for part in song["parts"] if part["name"] == "guitar"]
    return list(notes)


def of_file(form: Form) -> list[tuple[float, int, int]]:
    """The guitar's notes in the file: seconds from bar 1, pitches and velocities."""
    file = mido.MidiFile(file=BytesIO(midi_of(form)))
    zero = float(expect(form).count_in_s)
    tracks = [track for track in file.tracks if track.name.startswith("Guitar")]
    pairs = [
        (start - zero, pitch, message.velocity)
        for track in tracks
        for (start, pitch), message in zip(
            struck(file, track),
            (one for one in track if one.type == "note_on" and one.velocity),
            strict=True,
        )
    ]
    return sorted(pairs)


def beats_of(form: Form) -> list[float]:
    """Where the strokes are meant to be, in seconds from bar 1."""
    timeline = unroll(form)
    zero = timeline.seconds(timeline.start_whole)
    places = {
        note.start_whole
        for track in play(timeline).tracks
        for note in track.notes
        if track.part == "guitar" and note.sweep is not None
    }
    return sorted(float(timeline.seconds(place) - zero) for place in places)


@pytest.mark.parametrize("percent", [30, 100, 130])
@pytest.mark.parametrize("name", ["short", "rich"])
def test_strokes_are_those_of_the_file(
    modules: Page,
    songs: dict[str, dict[str, Any]],
    forms: dict[str, Form],
    name: str,
    percent: int,
) -> None:
    song, form = songs[name], forms[name]
    notes = guitar_of(song)
    seconds = (song["end"] - song["bars"][0]["start"]) * 100 / percent + 1
    found = played(modules, song, seconds, percent=percent)
    wanted = of_file(form)
    assert len(found) == len(wanted) == len(notes) > 300
    assert sorted(one.note for one in found) == list(range(len(notes)))
    heard = sorted((one.start_s * percent / 100, pitch_of(song, one)) for one in found)
    by_pitch = zip(
        sorted(heard, key=lambda one: (one[1], one[0])),
        sorted(wanted, key=lambda one: (one[1], one[0])),
        strict=True,
    )
    strokes: dict[float, list[tuple[float, int]]] = defaultdict(list)
    beats = beats_of(form)
    for (start_s, pitch), (file_s, file_pitch, velocity) in by_pitch:
        assert pitch == file_pitch
        assert start_s == pytest.approx(file_s, abs=SAME_S)
        beat = min(beats, key=lambda beat: abs(beat - start_s))
        if abs(beat - start_s) < 0.08:
            strokes[beat].append((start_s, velocity**2))
    assert len(strokes) == len(beats)
    for beat, stroke in strokes.items():
        weights = sum(weight for _, weight in stroke)
        middle = sum(start_s * weight for start_s, weight in stroke) / weights
        assert middle == pytest.approx(beat, abs=CENTERED_S)
    assert sum(min(stroke)[0] < beat for beat, stroke in strokes.items()) > len(strokes) / 2


def pitch_of(song: dict[str, Any], one: Struck) -> int:
    return int(song["samples"][guitar_of(song)[one.note][2]]["pitch"])


@pytest.mark.parametrize("percent", [30, 63, 100, 130])
@pytest.mark.parametrize(("name", "bars"), [("short", [1, 2]), ("short", [9, 9]), ("rich", [5, 6])])
def test_a_loop_keeps_its_beat_over_the_seam(
    modules: Page, songs: dict[str, dict[str, Any]], name: str, bars: list[int], percent: int
) -> None:
    """Each round's first stroke starts before the round, as much as in the song, and is whole."""
    song = songs[name]
    notes = guitar_of(song)
    line, end = song["bars"][bars[0]]["start"], song["bars"][bars[1]]["end"]
    lasts = (end - line) * 100 / percent
    found = played(modules, song, 4.5 * lasts, percent=percent, stretch=bars, repeat=True)
    rounds = [[one for one in found if one.round == number] for number in (1, 2, 3, 4)]
    first = {one.note: one.start_s for one in rounds[0]}
    early = [note for note in first if notes[note][0] < line]
    assert early
    for number, one_round in enumerate(rounds):
        assert sorted(one.note for one in one_round) == sorted(first)
        for one in one_round:
            shift_s = number * lasts
            assert one.start_s == pytest.approx(first[one.note] + shift_s, abs=1 / 44100)
    stroke = [
        index for index, note in enumerate(notes) if abs(note[0] + note[4] - line) < CENTERED_S
    ]
    assert set(stroke) == {note for note in first if notes[note][0] < line + 0.05}
    for note in stroke:
        assert first[note] * percent / 100 == pytest.approx(notes[note][0], abs=1 / 44100)


@pytest.mark.parametrize("wait", [0.0, 0.01, 0.03, 0.05, 0.1, 0.19, 0.21])
def test_a_seam_that_moves_takes_its_first_stroke_along(
    modules: Page, songs: dict[str, dict[str, Any]], wait: float
) -> None:
    """Just before a seam the speed is changed: no string sounds twice, and none is missing."""
    song = songs["short"]
    line, end = song["bars"][1]["start"], song["bars"][2]["end"]
    run = {
        "at": 1.0, "bar": 1, "plays": [1, 1],
        "settings": {"countIn": 0, "repeat": True, "stretch": [1, 2], "percent": 100},
        "steps": [
            {"near": wait - 0.05, "changes": [{"set": {}, "percent": 40, "replan": True}]},
            {"wait": 0.02, "changes": [{"set": {}, "percent": 120, "replan": True}]},
            {"wait": 3, "changes": []},
        ],
    }  # fmt: skip
    made = json.loads(
        modules.evaluate(
            """async ([song, run]) => {
              const { drive } = await import("/drive.js");
              return JSON.stringify(drive(song, run));
            }""",
            [song, run],
        )
    )
    notes = guitar_of(song)
    entry = next(
        leg for leg in made["seen"][-1]["legs"] if leg["round"] == 2 and leg["kind"] == "bars"
    )
    seam_s = entry["at"]
    stroke = [
        index for index, note in enumerate(notes) if abs(note[0] + note[4] - line) < CENTERED_S
    ]
    starts = [
        (voice["note"][1], voice["start"] - seam_s)
        for voice in made["voices"]
        if voice["round"] == 2 and voice["note"][0] == "guitar" and voice["note"][1] in stroke
    ]
    assert sorted(note for note, _ in starts) == stroke
    assert any(start_s < 0 for _, start_s in starts)
    assert all(abs(start_s) < 0.08 / 0.4 for _, start_s in starts)
    assert end > line
