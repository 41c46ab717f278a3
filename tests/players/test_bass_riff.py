"""A bass that plays riffs: on its own strings, without a capo, beside its line."""

from __future__ import annotations

import pytest

from backing.form import Form, read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.practice import Version, play_version
from backing.score import Note
from backing.theory.pitch import note_name
from backing.timeline import unroll
from backing.verify import verify_bytes

SONG = """
title: Low Bridge
tempo: 96
key: G
human: 0
riffs:
  pump:
    step: 1/8
    tab: |
      G|--------|
      D|------2-|
      A|0-2h3---|
      E|--------|
parts: {bass: {line: root-fifth}}
sections:
  verse: {bars: "| G | C |"}
  riff: {bars: "| G(push) | D |", parts: {bass: {riff: pump}}}
  close: {bars: "| C(push) | G |"}
form: [verse, riff, close]
"""


def song(*lines: str) -> Form:
    return read_form_text(SONG + "\n".join(lines))


def bass_of(form: Form) -> list[Note]:
    return [note for t in play(unroll(form)).tracks if t.part == "bass" for note in t.notes]


def names(notes: list[Note]) -> list[str]:
    return [note_name(note.pitch) for note in sorted(notes, key=lambda note: note.start_whole)]


@pytest.mark.parametrize("capo", ["capo: 0", "capo: 3"])
def test_a_riffs_frets_count_from_the_nut_wherever_the_capo_is(capo: str) -> None:
    riff = [note for note in bass_of(song(capo)) if note.string is not None]
    assert names(riff) == ["A1", "B1", "C2", "E2"] * 2
    assert [note.string for note in riff[:4]] == [3, 3, 3, 2]


@pytest.mark.parametrize("mark", ["", "(ring)", "(stop)", "(push)(ring)", "(push)(stop)"])
@pytest.mark.parametrize("first", ["G(push)", "G(push)(stop)", "G"])
def test_what_sounds_before_a_riff_goes_on_to_its_bar_line(mark: str, first: str) -> None:
    text = SONG.replace('"| G | C |"', f'"| G | C / / C{mark} |"').replace("G(push)", first)
    form = read_form_text(text)
    data = to_bytes(play_version(form, Version()).score)
    assert verify_bytes(form, data).disagreements == ()
    line = [note for note in bass_of(form) if note.string is None]
    bar_line = unroll(form).bars[2].start_whole
    before = max(
        (note for note in line if note.start_whole < bar_line), key=lambda n: n.start_whole
    )
    assert before.end_whole == bar_line or "stop" in mark


def test_the_line_rests_from_the_riffs_first_bar_line_to_the_next_pass() -> None:
    form = song()
    timeline = unroll(form)
    start, end = timeline.bars[2].start_whole, timeline.bars[4].start_whole
    line = [note for note in bass_of(form) if note.string is None]
    before = [note for note in line if note.start_whole < start]
    assert max(note.end_whole for note in before) == start
    after = [note for note in line if note.start_whole >= start]
    assert min(note.start_whole for note in after) == timeline.spans[-2].start_whole < end
    riff = [note for note in bass_of(form) if note.string is not None]
    assert all(note.end_whole <= timeline.spans[-2].start_whole for note in riff)


@pytest.mark.parametrize(
    ("version", "first"),
    [
        (Version(transpose=2), "B1"), (Version(transpose=-5), "E2"), (Version(transpose=-1), "G#2"),
        (Version(capo=4), "A1"), (Version(transpose=2, keep_shapes=True), "B1"),
    ],
)  # fmt: skip
def test_a_riff_moves_as_the_song_sounds(version: Version, first: str) -> None:
    form = song()
    played = play_version(form, version)
    riff = [n for t in played.score.tracks if t.part == "bass" for n in t.notes if n.string]
    assert names(riff)[0] == first
    assert verify_bytes(form, to_bytes(played.score), version=version).agrees


def test_a_line_of_the_form_moves_the_frets() -> None:
    form = read_form_text(SONG.replace("riff, close", "{section: riff, transpose: +2}, close"))
    riff = [note for note in bass_of(form) if note.string is not None]
    assert names(riff)[:4] == ["B1", "C#2", "D2", "F#2"]


@pytest.mark.parametrize("place", [0, 1, 4, 7])
@pytest.mark.parametrize("how", ["higher", "gone", "late"])
def test_the_proof_finds_what_a_bass_plays_otherwise(place: int, how: str) -> None:
    form = song()
    score = play_version(form).score
    changed = []
    for track in score.tracks:
        notes = list(track.notes)
        if track.part == "bass":
            at = [i for i, note in enumerate(notes) if note.string is not None][place]
            note = notes.pop(at)
            if how == "higher":
                notes.insert(at, note._replace(pitch=note.pitch + 1))
            elif how == "late":
                half = (note.end_whole - note.start_whole) / 2
                notes.insert(at, note._replace(start_whole=note.start_whole + half))
        changed.append(track._replace(notes=tuple(notes)))
    report = verify_bytes(form, to_bytes(score._replace(tracks=tuple(changed))))
    assert {finding.what for finding in report.disagreements} == {"bass"}
    assert verify_bytes(form, to_bytes(score)).agrees


def test_a_bass_student_trades_with_the_bass() -> None:
    form = read_form_text(SONG + "instrument: bass\n")
    version = Version(trade=1)
    played = play_version(form, version)
    tracks = {track.part: track for track in played.score.tracks}
    bars = unroll(form).bars
    rest = [
        n
        for n in tracks["bass"].notes
        if bars[1].start_whole <= n.start_whole < bars[2].start_whole
    ]
    assert not rest
    guitar = [
        n
        for n in tracks["guitar"].notes
        if bars[1].start_whole <= n.start_whole < bars[2].start_whole
    ]
    assert guitar
    assert verify_bytes(form, to_bytes(played.score), version=version).agrees
    as_guitar = verify_bytes(song(), to_bytes(played.score), version=version)
    assert not as_guitar.agrees


LOW = """
title: Low
tempo: 96
sections: {verse: {bars: "| B | E |"}}
form: [verse]
"""


@pytest.mark.parametrize(
    ("lines", "lowest"),
    [
        ("", "B1"), ("instrument: bass", "B1"), ("instrument: five-string bass", "B0"),
        ("{instrument: bass, tuning: B0 E1 A1 D2}", "B0"),
    ],
)  # fmt: skip
def test_a_line_starts_as_low_as_the_strings_do(lines: str, lowest: str) -> None:
    form = read_form_text(LOW + lines.strip("{}").replace(", ", "\n"))
    assert names(bass_of(form))[0] == lowest
    assert verify_bytes(form, to_bytes(play_version(form).score)).agrees
