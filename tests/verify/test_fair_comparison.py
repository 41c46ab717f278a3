"""Files that other programs wrote again: the music agrees, whatever happened to their labels."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from io import BytesIO
from math import floor
from pathlib import Path
from typing import Any

import mido
import pytest
from click.testing import CliRunner, Result

from backing.cli import main
from backing.errors import DisagreementError
from backing.form import read_form, read_form_text
from backing.tracks.one import Piece, make, midi_of
from backing.verify import Report, verify_bytes

SONG = """\
title: Held Up
tempo: {bpm: 92.3, beat: 1/4}
capo: 2
sections:
  verse: {bars: "| A | D | F#m(push) | E |", words: "| hält | | fast |"}
  turn: {meter: 6/8, bars: "| D | A |", times: 2}
  close: {tempo: {to: 60, over: 1}, bars: "| D E | A(ring) |"}
form: [verse, turn, verse, close]
"""
COMMON_TIME = SONG.replace("meter: 6/8, ", "")
FORMS = sorted((Path(__file__).parents[2] / "forms").glob("*.yaml"))

Edit = Callable[[Any], Any]


def rewritten(
    data: bytes, edit: Edit, ticks: int = 960, whole: Callable[[Any], int] = round
) -> bytes:
    """The file with each message put through `edit`, which may drop it, at another resolution."""
    file = mido.MidiFile(file=BytesIO(data))
    file.ticks_per_beat = ticks
    for track in file.tracks:
        tick, before, kept = 0, 0, []
        for message in track:
            tick += message.time
            place = whole(Fraction(tick * ticks, 960))
            changed = message if message.type == "end_of_track" else edit(message)
            if changed is not None:
                kept.append(changed.copy(time=place - before))
                before = place
        track[:] = kept
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def same(message: Any) -> Any:
    return message


def without(*kinds: str) -> Edit:
    return lambda message: None if message.type in kinds else message


def report_on(text: str, edit: Edit) -> Report:
    form = read_form_text(text)
    return verify_bytes(form, rewritten(midi_of(form), edit))


@pytest.mark.parametrize("whole", [round, floor], ids=["rounded", "cut off"])
@pytest.mark.parametrize("ticks", [480, 240, 120, 96])
def test_another_resolution_agrees(ticks: int, whole: Callable[[Any], int]) -> None:
    form = read_form_text(SONG)
    report = verify_bytes(form, rewritten(midi_of(form), same, ticks, whole))
    assert report.disagreements == ()
    assert report.lost == ()


@pytest.mark.parametrize("path", FORMS, ids=lambda path: path.stem)
def test_every_demo_agrees_at_480_ticks(path: Path) -> None:
    form = read_form(path)
    report = verify_bytes(form, rewritten(midi_of(form), same, 480, floor), quick=True)
    assert report.disagreements == ()
    assert report.lost == ()


def test_a_note_two_ticks_off_still_disagrees() -> None:
    """The tolerance is no wider than the file's resolution calls for."""
    form = read_form_text(SONG.replace("capo: 2", "capo: 2\nhuman: 0"))
    data = rewritten(midi_of(form), same, 480)
    late = mido.MidiFile(file=BytesIO(data))
    click = next(track for track in late.tracks if track.name == "Click")
    strokes = [message for message in click if message.type == "note_on" and message.velocity]
    strokes[2].time += 2
    out = BytesIO()
    late.save(file=out)
    assert verify_bytes(form, data).agrees
    assert {finding.what for finding in verify_bytes(form, out.getvalue()).disagreements} == {
        "click"
    }


# What is lost


LOST: dict[str, tuple[Edit, tuple[str, ...]]] = {
    "chord names": (without("text"), ("chord names",)),
    "markers": (without("marker"), ("markers",)),
    "both": (without("text", "marker"), ("markers", "chord names")),
    "words": (without("lyrics"), ("words",)),
    "a word": (
        lambda message: None if "fast" in getattr(message, "text", "") else message,
        ("2 of 4 words",),
    ),
    "time signatures": (without("time_signature"), ("time signatures",)),
    "one chord's names": (
        lambda message: None if message.type == "text" and message.text == "E" else message,
        ("5 of 15 chord names",),
    ),
    "the metronome": (
        lambda message: (
            message.copy(clocks_per_click=24) if message.type == "time_signature" else message
        ),
        ("the beat in time signatures",),
    ),
}


@pytest.mark.parametrize("name", LOST)
def test_labels_are_lost_and_the_music_agrees(name: str) -> None:
    edit, lost = LOST[name]
    report = report_on(SONG, edit)
    assert report.disagreements == ()
    assert report.lost == lost


def test_a_song_in_four_four_needs_no_time_signature() -> None:
    report = report_on(COMMON_TIME, without("time_signature"))
    assert (report.agrees, report.lost) == (True, ())


def test_other_texts_are_not_chord_names() -> None:
    form = read_form_text(SONG)
    file = mido.MidiFile(file=BytesIO(midi_of(form)))
    for text in ("created with care", "(c) 2020", ""):
        file.tracks[0].insert(1, mido.MetaMessage("text", text=text))
    file.tracks[2].insert(0, mido.MetaMessage("copyright", text="A"))
    out = BytesIO()
    file.save(file=out)
    report = verify_bytes(form, out.getvalue())
    assert (report.agrees, report.lost) == (True, ())


def test_labels_count_in_any_track_and_twice_counts_once() -> None:
    """Chord names in the first track, and every marker in two tracks."""
    form = read_form_text(SONG)
    file = mido.MidiFile(file=BytesIO(midi_of(form)))
    conductor, chords = file.tracks[:2]
    merged = mido.merge_tracks([conductor, chords])
    markers = mido.merge_tracks([mido.MidiTrack(conductor)])
    markers[:] = mido.midifiles.tracks.fix_end_of_track(_only(markers, "marker"))
    file.tracks[:2] = [merged, markers]
    out = BytesIO()
    file.save(file=out)
    report = verify_bytes(form, out.getvalue())
    assert report.disagreements == ()
    assert set(report.lost) <= {"ends of tracks"}


def _only(track: Any, kind: str) -> Any:
    """A track's messages of one kind, with the time between them."""
    time = 0
    for message in track:
        time += message.time
        if message.type == kind:
            yield message.copy(time=time)
            time = 0


def test_tempo_events_that_change_nothing_are_ignored() -> None:
    form = read_form_text(COMMON_TIME.replace("tempo: {to: 60, over: 1}, ", ""))
    file = mido.MidiFile(file=BytesIO(midi_of(form)))
    tempo = next(message for message in file.tracks[0] if message.type == "set_tempo")
    file.tracks[0][3:3] = [tempo.copy(), tempo.copy(), tempo.copy()]
    out = BytesIO()
    file.save(file=out)
    assert verify_bytes(form, out.getvalue()).agrees


def test_a_wrong_tempo_is_named_once_with_its_place() -> None:
    form = read_form_text(COMMON_TIME.replace("92.3", "96"))
    slower = midi_of(read_form_text(COMMON_TIME.replace("92.3", "93.6")))
    report = verify_bytes(form, slower, quick=True)
    (finding,) = [each for each in report.disagreements if each.what == "tempos"]
    assert finding.says == "at 0:00.000: 93.6 quarters a minute, not 96"
    assert not {"bar lines", "meters", "sections", "chords"} & {
        each.what for each in report.disagreements
    }


# What contradicts the form


def test_another_chord_name_and_a_moved_marker_disagree() -> None:
    def edit(message: Any) -> Any:
        if message.type == "marker" and message.text == "Close":
            return message.copy(text="Coda")
        return message.copy(text="G#m7") if getattr(message, "text", "") == "G#m" else message

    report = report_on(SONG, edit)
    says = [detail.says for detail in report.details]
    assert {finding.what for finding in report.disagreements} == {"sections", "chords"}
    assert "the marker 'Coda', not 'Close'" in says
    assert "the chord name G#m7 isn't how the form's F#m sounds" in says


def test_other_words_and_words_elsewhere_disagree() -> None:
    def edit(message: Any) -> Any:
        return message.copy(text="slow ") if "fast" in getattr(message, "text", "") else message

    report = report_on(SONG, edit)
    assert {finding.what for finding in report.disagreements} == {"words"}
    assert {finding.reader for finding in report.disagreements} == {
        "our own reader",
        "pretty_midi",
    }
    assert "the words 'slow', not 'fast'" in [detail.says for detail in report.details]
    silent = SONG.replace("| hält | | fast |", "| hält |")
    report = verify_bytes(read_form_text(silent), midi_of(read_form_text(SONG)))
    assert "the words 'fast', where none are sung" in [detail.says for detail in report.details]


def test_how_a_lyric_ends_is_for_display() -> None:
    def edit(message: Any) -> Any:
        plain = message.type == "lyrics"
        return message.copy(text=f"\r{message.text.strip()}") if plain else message

    report = report_on(SONG, edit)
    assert (report.agrees, report.lost) == (True, ())


def test_another_title_is_only_told() -> None:
    report = report_on(
        SONG,
        lambda message: (
            message.copy(name="Other") if getattr(message, "name", "") == "Held Up" else message
        ),
    )
    assert (report.agrees, report.lost) == (True, ())
    assert report.noted == ("The file's title is 'Other', not 'Held Up'.",)


# The command


def run(tmp_path: Path, text: str, data: bytes, *options: str) -> Result:
    form, file = tmp_path / "song.yaml", tmp_path / "song.mid"
    form.write_text(text)
    file.write_bytes(data)
    return CliRunner().invoke(main, ["verify", str(form), str(file), *options])


def test_lost_labels_are_listed_and_strict_makes_them_count(tmp_path: Path) -> None:
    data = rewritten(midi_of(read_form_text(SONG)), without("text", "marker"))
    result = run(tmp_path, SONG, data)
    assert result.exit_code == 0
    assert "The music agrees. Lost on the way: markers, chord names." in result.stdout
    strict = run(tmp_path, SONG, data, "--strict")
    assert strict.exit_code == 1
    assert "The music agrees. Lost on the way: markers, chord names." in strict.stderr
    assert run(tmp_path, SONG, midi_of(read_form_text(SONG)), "--strict").exit_code == 0
    table = json.loads(run(tmp_path, SONG, data, "--json").stdout)
    assert table["agrees"] is True
    assert table["lost"] == ["markers", "chord names"]


def test_the_table_counts_what_was_compared(tmp_path: Path) -> None:
    data = midi_of(read_form_text(SONG))
    assert "\n  Guitar: " in run(tmp_path, SONG, data).stdout
    parts = json.loads(run(tmp_path, SONG, data, "--json").stdout)["parts"]
    assert {"guitar", "bass", "click"} <= {part["part"] for part in parts}
    assert all(part.keys() == {"part", "compared", "unit", "notes"} for part in parts)
    assert all(part["compared"] and part["notes"] for part in parts)


def test_at_most_five_places_are_printed_in_order_of_time(tmp_path: Path) -> None:
    raised = rewritten(
        midi_of(read_form_text(SONG)),
        lambda message: (
            message.copy(note=message.note + 1)
            if message.type.startswith("note") and message.channel != 9
            else message
        ),
    )
    result = run(tmp_path, SONG, raised)
    assert result.exit_code == 1
    lines = result.stderr.splitlines()
    assert lines[0].startswith("Disagrees: ")
    places = [line for line in lines if line.startswith("  at ")]
    assert len(places) == 5
    assert places == sorted(places)
    assert all(", bar " in line for line in places)
    assert any(line.startswith("  and ") and line.endswith(" more") for line in lines)


def test_build_keeps_no_file_with_a_label_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = read_form_text(SONG)
    data = rewritten(midi_of(form), without("marker"))
    monkeypatch.setattr("backing.tracks.one.to_bytes", lambda score: data)
    with pytest.raises(DisagreementError, match=r"isn't complete, so it was not kept \(no markers"):
        make(Piece(form, tmp_path / "Held Up"))
    assert not list(tmp_path.iterdir())
