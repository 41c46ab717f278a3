"""The page's data for a song, against the proof's own arithmetic and the MIDI file."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from typing import Any

import mido
import pytest
from page.songs import DEMOS, RICH

from backing.form import Form, read_form_text
from backing.page.data import song_data
from backing.page.limits import FARTHEST_MOVE
from backing.page.notes import PlayedParts, played_parts
from backing.page.shape_data import NO_SHAPE
from backing.players import play
from backing.players.human import humanize
from backing.theory.chords import parse_chord
from backing.theory.fingerings import voiced
from backing.theory.fretboard import parse_fingering
from backing.timeline import unroll
from backing.tracks.one import midi_of
from backing.verify import expect
from backing.verify.expected.click import every_click

#: A double's rounding of times up to an hour, far below a sample.
HAIR_S = 1e-9
#: The page plays at 30 to 130 percent of the tempo as written.
SLOWEST_SPEED = 0.3

SONGS = {"rich": RICH, **{path.stem: path.read_text("utf-8") for path in DEMOS}}


@pytest.fixture(params=SONGS, scope="module")
def form(request: pytest.FixtureRequest) -> Form:
    return read_form_text(SONGS[request.param])


@pytest.fixture(scope="module")
def data(form: Form) -> dict[str, Any]:
    return song_data(unroll(form))


def parts_of(form: Form) -> PlayedParts:
    timeline = unroll(form)
    return played_parts(humanize(play(timeline), form.human), timeline, {})


def near(found: list[float], wanted: list[float], within: float = HAIR_S) -> None:
    assert len(found) == len(wanted)
    for one, other in zip(found, wanted, strict=True):
        assert one == pytest.approx(other, abs=within)


def test_bar_lines_are_where_the_form_puts_them(form: Form, data: dict[str, Any]) -> None:
    expected = expect(form)
    zero = expected.count_in_s
    lines = [float(bar.start_s - zero) for bar in expected.bars]
    if form.pickup is not None:
        lines.insert(0, float(expected.count_in_bars[-1].start_s - zero))
    near([bar["start"] for bar in data["bars"]], lines)
    for bar, following in pairwise(data["bars"]):
        assert bar["end"] == following["start"]
    assert data["bars"][-1]["end"] == data["end"] == pytest.approx(float(expected.seconds))
    assert data["end"] + data["ring"] == pytest.approx(float(expected.end_s - zero))


def clicks(data: dict[str, Any]) -> Iterator[tuple[float, str, str, bool]]:
    """The song's clicks as the contract with the script says that they are read."""
    for bar in data["bars"]:
        printed = data["passes"][bar["passIndex"]]["click"]
        if bar["number"] < 1:
            continue
        grid = data["grids"][bar["grid"]]
        heard = printed["plays"]
        silent = heard is not None and (bar["number"] - 1) % heard[1] >= heard[0]
        ends = [*bar["beats"][1:], bar["end"]]
        shares = grid["divisions"][printed["subdivide"]]
        for beat, end, level, within in zip(
            bar["beats"], ends, grid["levels"], shares, strict=True
        ):
            for share in within:
                kind = "between" if share else level if printed["accent"] else "beat"
                yield (
                    beat + share * (end - beat),
                    kind,
                    printed["sound"],
                    printed["on"] and not silent,
                )


def test_clicks_are_where_the_form_puts_them(form: Form, data: dict[str, Any]) -> None:
    expected = expect(form)
    zero = expected.count_in_s
    wanted = [click for click in every_click(expected) if click.at_s >= zero]
    found = [click for click in clicks(data) if click[3]]
    heard = [click for click in wanted if click.plays]
    near([click[0] for click in found], [float(click.at_s - zero) for click in heard])
    assert [click[2] for click in found] == [click.sound for click in heard]
    assert [click[1] == "accent" for click in found] == [click.accented for click in heard]


def test_chords_are_those_of_the_form(form: Form, data: dict[str, Any]) -> None:
    expected = expect(form)
    zero = expected.count_in_s
    slots = [slot for bar in data["bars"] for slot in bar["chords"]]
    near([slot["slot"] for slot in slots], [float(c.start_s - zero) for c in expected.chords])
    for slot, chord in zip(slots, expected.chords, strict=True):
        assert slot["at"] == pytest.approx(float(chord.struck_s - zero), abs=HAIR_S)
        if chord.sounding is None:
            assert slot["chord"] == -1
            continue
        root, tones, bass = chord.sounding
        sounding = parse_chord(data["chords"][slot["chord"]]["sounding"])
        assert sounding.root.pitch_class == root
        assert sounding.pitch_classes == tones
        assert sounding.bass_class == bass
    for bar in data["bars"]:
        for slot in bar["chords"]:
            assert bar["start"] <= slot["slot"] < bar["end"]
            assert 0 <= slot["share"] < 1


def test_passes_cover_every_bar_once(form: Form, data: dict[str, Any]) -> None:
    expected = expect(form)
    before = form.pickup is not None
    assert [
        (one["first"] - before + 1, one["last"] - one["first"] + 1) for one in data["passes"]
    ] == [(one.first_bar, one.bars) for one in expected.passes]
    for index, one in enumerate(data["passes"]):
        for bar in data["bars"][one["first"] : one["last"] + 1]:
            assert bar["passIndex"] == index
        rows = [bar["row"] for bar in data["bars"][one["first"] : one["last"] + 1]]
        assert rows[0] == 0
        assert all(0 <= after - row <= 1 for row, after in pairwise(rows))


def test_a_pass_refers_to_an_earlier_one_with_the_same_chart(data: dict[str, Any]) -> None:
    for index, one in enumerate(data["passes"]):
        if one["alike"] is None:
            continue
        other = data["passes"][one["alike"]]
        assert one["alike"] < index
        assert other["section"] == one["section"]
        assert other["alike"] is None
        for bar, like in zip(
            data["bars"][one["first"] : one["last"] + 1],
            data["bars"][other["first"] : other["last"] + 1],
            strict=True,
        ):
            assert [(s["share"], s["chord"]) for s in bar["chords"]] == [
                (s["share"], s["chord"]) for s in like["chords"]
            ]


def test_shapes_are_those_that_the_guitarist_plays(form: Form, data: dict[str, Any]) -> None:
    chords = [span.chord for span in unroll(form).spans if span.chord is not None]
    played = {
        str(chord): shape
        for chord, shape in zip(
            chords, voiced(chords, form.tuning, form.shapes, form.voicing), strict=True
        )
    }
    for chord in data["chords"]:
        if form.instrument.is_bass:
            assert set(chord["shapes"]) == {NO_SHAPE}
        else:
            box = data["shapes"][chord["shapes"][FARTHEST_MOVE]]
            assert tuple(box["frets"]) == played[chord["name"]].frets
        assert chord["moved"][FARTHEST_MOVE] == chord["name"]


def test_moved_chords_have_the_right_notes_and_shapes(form: Form, data: dict[str, Any]) -> None:
    for chord in data["chords"]:
        here = parse_chord(chord["name"])
        for up, (name, number) in enumerate(
            zip(chord["moved"], chord["shapes"], strict=True), -FARTHEST_MOVE
        ):
            moved = parse_chord(name)
            assert moved.pitch_classes == {(tone + up) % 12 for tone in here.pitch_classes}
            assert moved.bass_class == (here.bass_class + up) % 12
            if up and name not in form.shapes and not form.instrument.is_bass:
                box = data["shapes"][number]
                pitches = parse_fingering(box["text"]).pitches(form.tuning)
                tones = {pitch % 12 for pitch in pitches if pitch is not None}
                assert tones <= moved.pitch_classes


def test_barres_hold_several_strings_at_one_fret(data: dict[str, Any]) -> None:
    for box in data["shapes"]:
        for barre in box["barres"]:
            assert barre["low"] < barre["high"]
            assert box["frets"][barre["low"]] == box["frets"][barre["high"]] == barre["fret"]
            held = box["frets"][barre["low"] : barre["high"] + 1]
            assert all(fret is None or fret >= barre["fret"] for fret in held)


def test_the_page_plays_the_same_notes_as_the_midi_file(form: Form) -> None:
    """Note by note and part by part, within the file's own rounding to its ticks.

    A drum on the very place of a click of the same sound is one note in the file, which has
    both on a channel; the page sounds both.
    """
    file = mido.MidiFile(file=BytesIO(midi_of(form)))
    zero = float(expect(form).count_in_s)
    played = parts_of(form)
    samples = list(played.needs)
    clicked = [
        (pitch, start - zero)
        for track in file.tracks
        if track.name == "Click"
        for start, pitch in struck(file, track)
    ]
    for part in played.parts:
        wanted = sorted(
            (pitch, start - zero)
            for track in file.tracks
            if track.name == part["title"]
            or track.name.startswith((f"{part['title']} bends", f"{part['title']} muted"))
            for start, pitch in struck(file, track)
        )
        found = sorted((samples[note[2]].pitch, note[0]) for note in part["notes"])
        if part["name"] == "drums":
            found = [hit for hit in found if not beside(hit, clicked) or beside(hit, wanted, 0.001)]
        assert [pitch for pitch, _ in found] == [pitch for pitch, _ in wanted]
        near([at for _, at in found], [at for _, at in wanted], 0.001)


def beside(hit: tuple[int, float], others: list[tuple[int, float]], within_s: float = 0.03) -> bool:
    return any(hit[0] == pitch and abs(hit[1] - at) <= within_s for pitch, at in others)


def struck(file: mido.MidiFile, track: mido.MidiTrack) -> list[tuple[float, int]]:
    """A track's notes in seconds, by the reader's own clock."""
    merged = mido.merge_tracks([file.tracks[0], track])
    at, tempo, found = 0.0, 500000, []
    for message in merged:
        at += mido.tick2second(message.time, file.ticks_per_beat, tempo)
        if message.type == "set_tempo":
            tempo = message.tempo
        elif message.type == "note_on" and message.velocity:
            found.append((at, message.note))
    return found


def test_samples_are_long_enough_for_the_slowest_playing(form: Form) -> None:
    played = parts_of(form)
    for part in played.parts:
        assert part["notes"] == sorted(part["notes"], key=lambda note: note[0])
        for note in part["notes"]:
            sample = list(played.needs)[note[2]]
            assert 0 < note[3] < 10
            if note[1]:
                assert note[1] > note[0]
                assert played.needs[sample] >= (note[1] - note[0]) / SLOWEST_SPEED - 1e-6
            else:
                assert sample.program is None


def test_a_riff_is_shown_as_it_sounds() -> None:
    form = read_form_text(RICH.replace("capo: 2", "capo: 2\nhuman: 0"))
    timeline = unroll(form)
    (riff,) = song_data(timeline)["riffs"]
    (lead,) = [part for part in parts_of(form).parts if part["name"] == "lead"]
    samples = list(parts_of(form).needs)
    shown = sorted(
        (round(note["at"], 6), form.tuning[-note["string"]] + 2 + int(note["fret"]))
        for note in riff["notes"]
    )
    assert shown == sorted((note[0], samples[note[2]].pitch) for note in lead["notes"])
    assert {note["how"] for note in riff["notes"]} == {"", "h", "b"}
    bent = [note for note in lead["notes"] if len(note) > 5]
    assert len(bent) == sum(note["how"] == "b" for note in riff["notes"])
    assert all(max(up for _, up in note[5]) == 2 for note in bent)


def test_the_head_and_the_words_for_passes() -> None:
    data = song_data(unroll(read_form_text(RICH)))
    assert (data["key"], data["soundingKey"], data["capo"]) == ("G", "A", 2)
    assert data["tempo"] == {"bpm": 84.0, "beat": "quarter note", "text": "quarter note = 84"}
    assert data["feel"] == "swung eighths"
    assert [one["text"] for one in data["passes"]] == [
        "Verse 1",
        "Chorus 1 of 2",
        "Chorus 2 of 2",
        "Turn",
        "Verse 2, bars 5-8",
        "Last chorus 1 of 2",
        "Last chorus 2 of 2",
        "Close",
    ]
    sung = {bar["number"]: bar["words"] for bar in data["bars"] if bar["words"]}
    # Bars 5-8 of the verse, its second row, return after a verse, two choruses and a turn.
    assert sung == {1: "A ferry at noon", 5: "a ferry at one", 19: "a ferry at one"}
    assert data["passes"][1]["note"] == "sing out here"
    assert data["passes"][3]["click"]["plays"] == (1, 2)
    bars = data["bars"]
    assert [bar["number"] for bar in bars[:3]] == [0, 1, 2]
    assert bars[6]["simile"]
    assert [bar["ending"] for bar in bars[9:17]] == [None, None, None, 1, None, None, None, 2]
    assert bars[1]["bpm"] == 84
    assert bars[-1]["bpm"] < 84
    names = [data["chords"][slot["chord"]]["name"] for slot in bars[-6]["chords"]]
    assert names == ["D"]


BANJO = """\
title: Short String
tempo: 100
tuning: banjo
riffs:
  rolls: {step: 1/4, tab: "D|--0-|\\nB|-0--|\\nG|0---|\\nD|----|\\nG|---0|\\n"}
  plain: {step: 1/4, tab: "D|--0-|\\nB|-0--|\\nG|0---|\\nD|---0|\\nG|---r|\\n"}
sections:
  a: {bars: "| G |", parts: {guitar: {riff: rolls}, lead: {riff: plain}}}
form: [a]
"""


def test_a_riff_that_has_its_place_on_the_neck_is_told_from_others() -> None:
    """By the open short string of a banjo, not where it is only silenced."""
    riffs = song_data(unroll(read_form_text(BANJO)))["riffs"]
    assert [(riff["title"], riff["movable"], riff["frets"]) for riff in riffs] == [
        ("Guitar", False, 24),
        ("Lead", True, 24),
    ]


def test_a_changed_bar_keeps_the_songs_identity() -> None:
    one = song_data(unroll(read_form_text(RICH)))["id"]
    assert (
        song_data(unroll(read_form_text(RICH.replace("| C | G | Am7", "| C | G | Am"))))["id"]
        == one
    )
    assert song_data(unroll(read_form_text(RICH.replace("Noon", "Night"))))["id"] != one
