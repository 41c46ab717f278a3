"""Programs, volumes, pans, tuning, the wheel and key signatures: what disagrees, and what is noted.

Each file is a built one with one thing changed.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import mido
import pytest
from midi_edits import (
    Placed,
    channel_of,
    each_message,
    on_channels,
    track_named,
    tracks_of,
    without,
    written,
)

from backing.form import Form, read_form, read_form_text
from backing.form.parts import PARTS
from backing.practice.versions import Version
from backing.tracks.one import midi_of
from backing.verify import Report, verify_bytes

FORMS = Path(__file__).resolve().parents[2] / "forms"
DEMOS = sorted(path.stem for path in FORMS.glob("*.yaml"))
PITCHED = {part.title for part in PARTS.values() if part.programs}

SONG = """\
title: Gate and Hinge
tempo: 104
key: G
capo: 2
parts: {pad: {sound: strings}}
sections:
  verse: {bars: "| G | Em | C | D7 |", parts: {guitar: {volume: 90, pan: -20}}}
  chorus: {bars: "| C(push) | D7 | G | G |", parts: {guitar: {sound: nylon, volume: 70}}}
form: [verse, chorus, {section: verse, transpose: 2}]
"""


@cache
def form_of(demo: str = "") -> Form:
    return read_form(FORMS / f"{demo}.yaml") if demo else read_form_text(SONG)


@cache
def built(demo: str = "") -> bytes:
    return midi_of(form_of(demo))


def report_of(data: bytes, demo: str = "", quick: bool = True) -> Report:
    return verify_bytes(form_of(demo), data, quick=quick)


def says(report: Report) -> dict[str, str]:
    """What is wrong, by question."""
    return {finding.what: finding.says for finding in report.disagreements}


def set_to(data: bytes, name: str, kind: str, **values: int) -> bytes:
    """All messages of a kind on a part's channel changed."""
    channel = channel_of(data, name)
    control = values.pop("control", None)

    def change(message: Any) -> Any:
        if message.type != kind or message.channel != channel:
            return message
        if control is not None and message.control != control:
            return message
        return message.copy(**values)

    return each_message(data, change)


def added(data: bytes, name: str, *messages: Any) -> bytes:
    """Messages on a part's channel just before its first note."""
    channel, index = channel_of(data, name), track_named(data, name)
    tracks = tracks_of(data)
    track = tracks[index]
    at = next(place for place, (_, m) in enumerate(track) if m.type == "note_on")
    tick = track[at].tick
    track[at:at] = [Placed(tick, message.copy(channel=channel)) for message in messages]
    return written(tracks, data)


def control(number: int, value: int) -> Any:
    return mido.Message("control_change", control=number, value=value)


@pytest.mark.parametrize("quick", [True, False])
def test_the_song_itself_agrees(quick: bool) -> None:
    report = report_of(built(), quick=quick)
    assert (says(report), report.lost, report.noted) == ({}, (), ())
    what = {finding.what for finding in report.findings}
    assert {
        "programs", "volumes", "pans", "tuning", "pitch wheel", "key signatures",
    } <= what  # fmt: skip


def parts_of(demo: str) -> list[str]:
    """The titles of a demo's pitched parts that have a track."""
    names = {m.name for track in tracks_of(built(demo)) for _, m in track if m.type == "track_name"}
    return sorted(names & PITCHED)


@pytest.mark.parametrize("demo", DEMOS)
def test_another_program_of_any_part_disagrees(demo: str) -> None:
    """Both readers find it, in each part."""
    for title in parts_of(demo):
        report = report_of(set_to(built(demo), title, "program_change", program=56), demo, False)
        assert set(says(report)) == {"programs"}
        assert {each.reader for each in report.disagreements} == {"our own reader", "pretty_midi"}
        assert f"the {title.lower()}'s program is 56, not " in says(report)["programs"]


def test_a_program_that_the_form_names_is_named() -> None:
    report = report_of(set_to(built(), "Guitar", "program_change", program=0))
    assert "the guitar's program is 0 (piano), not 25 (steel)" in says(report)["programs"]


def test_one_pass_with_another_program_disagrees() -> None:
    """The chorus's nylon guitar stays steel: found at its first note, after the push."""
    channel, seen = channel_of(built(), "Guitar"), []

    def change(message: Any) -> Any:
        if message.type == "program_change" and message.channel == channel:
            seen.append(message)
            return message.copy(program=25)
        return message

    data = each_message(built(), change)
    assert [message.program for message in seen] == [25, 24, 25]
    report = report_of(data)
    assert set(says(report)) == {"programs"}
    assert "the guitar's program is 25 (steel), not 24 (nylon)" in says(report)["programs"]


@pytest.mark.parametrize(
    ("number", "value", "noted"),
    [
        (7, 33, ["The bass's volume is 33, not 84."]),
        (10, 4, ["The bass's pan is -60, not 0."]),
        (91, 4, ["The bass's reverb is 4, not 8."]),
    ],
)
def test_another_volume_or_pan_is_noted(number: int, value: int, noted: list[str]) -> None:
    data = set_to(built(), "Bass", "control_change", control=number, value=value)
    report = report_of(data, quick=False)
    assert (says(report), list(report.noted), report.lost) == ({}, noted, ())


def test_what_is_not_set_is_lost() -> None:
    data = without(built(), "program_change", "control_change", "key_signature")
    report = report_of(data, quick=False)
    assert (says(report), report.noted) == ({}, ())
    assert set(report.lost) == {
        *("programs", "volumes", "pans", "reverb sends", "the pad's expression"),
        "key signatures",
    }


def test_what_one_part_lost_is_named() -> None:
    channel = channel_of(built(), "Pad")
    data = each_message(
        built(),
        lambda message: (
            None if message.type == "program_change" and message.channel == channel else message
        ),
    )
    report = report_of(data, quick=False)
    assert (says(report), report.lost) == ({}, ("the pad's program",))


def test_two_parts_exchanged_disagree() -> None:
    """The guitar's notes with the bass's settings, and the other way round."""
    bass, guitar = (channel_of(built(), name) for name in ("Bass", "Guitar"))
    moved = on_channels(built(), {bass: guitar, guitar: bass})
    data = each_message(
        moved,
        lambda message: (
            message.copy(channel={bass: guitar, guitar: bass}.get(message.channel, message.channel))
            if message.type in ("program_change", "control_change")
            else message
        ),
    )
    report = report_of(data)
    assert set(says(report)) == {"programs"}
    details = {detail.says for detail in report.details}
    assert "the bass's program is 25 (steel), not 33 (fingered)" in details
    assert "the guitar's program is 33 (fingered), not 25 (steel)" in details
    # With all settings they are only moved to other channels.
    assert says(report_of(moved)) == {}


@pytest.mark.parametrize("title", ["Bass", "Guitar", "Pad"])
def test_a_part_doubled_on_another_channel_disagrees(title: str) -> None:
    tracks = tracks_of(built())
    double = [
        Placed(tick, m.copy(channel=14) if hasattr(m, "channel") else m)
        for tick, m in tracks[track_named(built(), title)]
    ]
    report = report_of(written([*tracks, double], built()), quick=False)
    assert set(says(report)) == {"tracks"}
    assert f"the {title.lower()} is played twice" in says(report)["tracks"]


BENT_TOGETHER = """\
title: Bent together
tempo: 100
count-in: 0
human: 60
parts:
  lead:
    riff:
      step: 1/8
      tab: |
        e|--------|
        B|---5~---|
        G|9~------|
        D|14~-----|
        A|--------|
        E|--------|
sections: {a: {bars: "| A | A |"}}
form: [a]
"""


def test_two_strings_that_bend_one_pitch_together_are_right_but_not_a_third() -> None:
    form = read_form_text(BENT_TOGETHER)
    song = midi_of(form)
    tracks = tracks_of(song)
    assert says(verify_bytes(form, song, quick=False)) == {}
    for name in ("Lead bends", "Lead bends 2"):
        double = [
            Placed(tick, m.copy(channel=14) if hasattr(m, "channel") else m)
            for tick, m in tracks[track_named(song, name)]
        ]
        report = verify_bytes(form, written([*tracks, double], song), quick=False)
        assert "the lead is played twice" in says(report)["tracks"]


def test_a_part_left_out_that_plays_disagrees() -> None:
    version = Version(without=frozenset({"guitar"}))
    song = midi_of(form_of())
    report = verify_bytes(form_of(), song, version=version)
    assert "the guitar plays, which this version leaves out" in says(report)["tracks"]


def test_drums_on_a_pitched_channel_disagree() -> None:
    form = read_form_text(SONG.replace("parts: {", "parts: {drums: {beat: eighths}, "))
    data = midi_of(form)
    tracks = tracks_of(data)
    index = track_named(data, "Drums")
    tracks[index] = [
        Placed(tick, m.copy(channel=14) if hasattr(m, "channel") else m)
        for tick, m in tracks[index]
    ]
    report = verify_bytes(form, written(tracks, data), quick=True)
    assert set(says(report)) == {"tracks"}
    assert (
        "the drums are on channel 15, where they sound as pitched notes" in (says(report)["tracks"])
    )


# Tuning and the wheel


def test_a_coarse_tuning_disagrees() -> None:
    """Registered parameter 2, 65: a semitone up."""
    up = [control(*pair) for pair in ((101, 0), (100, 2), (6, 65), (38, 0))]
    report = report_of(added(built(), "Guitar", *up))
    assert set(says(report)) == {"tuning"}
    assert "the guitar is tuned to A = 466.2 Hz, not A = 440.0 Hz" in says(report)["tuning"]


def test_another_fine_tuning_disagrees_and_none_is_lost() -> None:
    form = read_form_text(f"pitch: 442\n{SONG}")
    data = midi_of(form)
    assert verify_bytes(form, data).disagreements == ()
    lost = verify_bytes(form, without(data, "control_change"), quick=True)
    assert lost.agrees
    assert "tuning" in lost.lost
    assert set(says(verify_bytes(form, midi_of(read_form_text(f"pitch: 439\n{SONG}"))))) == {
        "tuning"
    }
    assert set(says(verify_bytes(form_of(), data, quick=True))) == {"tuning"}


@pytest.mark.parametrize(("pitch", "expected"), [(4096, "100 cents too high"), (-82, "2 cents")])
def test_a_wheel_left_bent_disagrees(pitch: int, expected: str) -> None:
    report = report_of(added(built(), "Bass", mido.Message("pitchwheel", pitch=pitch)))
    assert set(says(report)) == {"pitch wheel"}
    assert expected in says(report)["pitch wheel"]


def test_a_wheel_nearly_at_rest_agrees() -> None:
    assert says(report_of(added(built(), "Bass", mido.Message("pitchwheel", pitch=40)))) == {}


# Keys


def test_key_signatures_are_compared_where_they_change() -> None:
    """G with capo 2 sounds in A, and in B where the last verse is two semitones up."""
    keys = [m.key for track in tracks_of(built()) for _, m in track if m.type == "key_signature"]
    assert keys == ["A", "B"]

    def with_keys(**names: str) -> Report:
        return report_of(
            each_message(
                built(),
                lambda message: (
                    message.copy(key=names.get(message.key, message.key))
                    if message.type == "key_signature"
                    else message
                ),
            ),
            quick=False,
        )

    assert says(with_keys(B="Cb")) == {}
    wrong = with_keys(A="D", B="Cb")
    assert set(says(wrong)) == {"key signatures"}
    assert (
        "at 0:00.000: the key signature is 2 sharps, D major, not A major"
        in (says(wrong)["key signatures"])
    )
    assert "6 sharps, F# major, not B major" in says(with_keys(B="F#"))["key signatures"]
    assert "5 sharps, G# minor, not B major" in says(with_keys(B="G#m"))["key signatures"]


def test_a_key_signature_is_noted_where_the_form_has_no_key() -> None:
    text = SONG.replace("key: G\n", "")
    report = verify_bytes(read_form_text(text), midi_of(form_of()), quick=True)
    assert "key signatures" not in says(report)
    (says_so,) = report.noted
    assert says_so == "The file has a key signature, 3 sharps, A major; the form has no key."


def test_a_change_of_key_that_is_missing_disagrees() -> None:
    def change(message: Any) -> Any:
        return None if message.type == "key_signature" and message.key == "B" else message

    report = report_of(each_message(built(), change))
    assert set(says(report)) == {"key signatures"}
    assert "3 sharps, A major, not B major" in says(report)["key signatures"]
