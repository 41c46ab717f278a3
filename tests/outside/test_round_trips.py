"""Every demo through other programs and back: the music agrees, and what is lost is said.

Four general libraries read a file and write it again, each in its own way; a row of `LIBRARIES`
says what each doesn't keep. music21 isn't among them: it ends a note where the next one of its
pitch starts in any part, and gives several parts one channel, so that the music itself comes
back changed. Other programs also merge tracks, rename, reorder and move them, and write with
fewer ticks a quarter; files changed so lose nothing, or only what is named here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from io import BytesIO
from pathlib import Path

import miditoolkit
import mido
import pretty_midi
import pytest
import symusic
from midi_edits import (
    PERCUSSION,
    as_type_0,
    at_resolution,
    on_channels,
    read,
    renamed,
    tracks_of,
    without,
    written,
)

from backing.form import Form, read_form, read_form_text
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

FORMS = Path(__file__).resolve().parents[2] / "forms"
DEMOS = sorted(path.stem for path in FORMS.glob("*.yaml"))
#: Lost where a song has brushes: libraries write a track's program once, at its start.
KITS = "kits"
#: Lost where a meter's clicks aren't quarters: libraries write 24 clocks for each click.
BEATS = "the beat in time signatures"

#: A song that has every setting of a channel, and changes some of them.
SETTINGS = """\
title: All Settings
tempo: 96
key: Eb
pitch: 435
sections:
  verse: {bars: "| Eb | Ab | Bb7 | Eb |", parts: {guitar: {volume: 90, pan: -20}}}
  chorus:
    bars: "| Ab | Bb7(push) | Eb | Eb |"
    parts: {guitar: {sound: nylon, volume: 70, pan: 30}, pad: {sound: strings}}
form: [verse x2, chorus, verse, chorus]
"""


def by_mido(data: bytes) -> bytes:
    out = BytesIO()
    mido.MidiFile(file=BytesIO(data), charset="utf-8").save(file=out)
    return out.getvalue()


def by_pretty_midi(data: bytes) -> bytes:
    out = BytesIO()
    pretty_midi.PrettyMIDI(BytesIO(data)).write(out)
    return out.getvalue()


def by_symusic(data: bytes) -> bytes:
    return bytes(symusic.Score.from_midi(data).dumps_midi())


def by_miditoolkit(data: bytes) -> bytes:
    out = BytesIO()
    miditoolkit.MidiFile(file=BytesIO(data)).dump(file=out)
    return out.getvalue()


#: Each library with what it doesn't keep of a demo, and of the song with all settings besides.
LIBRARIES: dict[str, tuple[Callable[[bytes], bytes], set[str], set[str]]] = {
    "mido": (by_mido, set(), set()),
    "pretty_midi": (by_pretty_midi, {"title", "markers", "ends of tracks"}, {"tuning"}),
    "symusic": (
        by_symusic,
        {"title", "chord names", "ends of tracks"},
        {"the guitar's tuning", "the guitar's reverb"},
    ),
    "miditoolkit": (by_miditoolkit, {"title", "chord names", "ends of tracks"}, set()),
}


#: The demos that have brushes.
BRUSHED = {"short-step", "umbrella-by-the-door"}


@cache
def form_of(demo: str) -> Form:
    return read_form(FORMS / f"{demo}.yaml")


@cache
def built(demo: str) -> bytes:
    return midi_of(form_of(demo))


def has_other_beats(data: bytes) -> bool:
    """Whether a meter of the file clicks another note than a quarter."""
    return any(
        message.type == "time_signature" and message.clocks_per_click != 24
        for track in read(data).tracks
        for message in track
    )


def assert_agrees(form: Form, data: bytes, lost: Iterable[str] = ()) -> None:
    report = verify_bytes(form, data)
    assert report.disagreements == ()
    assert report.left_out == ""
    assert set(report.lost) == set(lost)
    assert report.noted == ()


@pytest.mark.parametrize("demo", DEMOS)
@pytest.mark.parametrize("library", LIBRARIES)
def test_a_demo_agrees_after_a_library_rewrote_it(library: str, demo: str) -> None:
    rewrite, lost, _ = LIBRARIES[library]
    beats = {BEATS} if library != "mido" and has_other_beats(built(demo)) else set()
    kits = {KITS} if library != "mido" and demo in BRUSHED else set()
    assert_agrees(form_of(demo), rewrite(built(demo)), lost | beats | kits)


@pytest.mark.parametrize("library", LIBRARIES)
def test_a_song_with_every_setting_agrees_after_a_library_rewrote_it(library: str) -> None:
    rewrite, lost, of_settings = LIBRARIES[library]
    form = read_form_text(SETTINGS)
    assert_agrees(form, rewrite(midi_of(form)), lost | of_settings)


def test_the_demos_with_brushes_are_those_with_programs_on_channel_10() -> None:
    assert {
        demo
        for demo in DEMOS
        if any(
            message.type == "program_change" and message.channel == PERCUSSION
            for track in read(built(demo)).tracks
            for message in track
        )
    } == BRUSHED


def test_some_demos_have_other_beats_than_quarters() -> None:
    """So what the libraries lose of them is tested both ways."""
    assert 0 < sum(has_other_beats(built(demo)) for demo in DEMOS) < len(DEMOS)


# What other programs do


def with_plain_names(data: bytes) -> bytes:
    return renamed(data, (f"Track {number}" for number in range(1, 100)))


def with_names_exchanged(data: bytes) -> bytes:
    """Each track has the name of the next one, and the last has that of the second."""
    names = [
        next((m.name for _, m in track if m.type == "track_name"), "")
        for track in tracks_of(data)[1:]
    ]
    return renamed(data, [*names[1:], names[0]])


def in_reverse_order(data: bytes) -> bytes:
    """The conductor's track stays first, as type 1 files need it."""
    first, *others = tracks_of(data)
    return written([first, *reversed(others)], data)


def with_channels_permuted(data: bytes) -> bytes:
    """All channels but that of percussion in another order: 0 becomes 15, 1 becomes 14."""
    pitched = [channel for channel in range(16) if channel != PERCUSSION]
    return on_channels(data, dict(zip(pitched, reversed(pitched), strict=True)))


def without_settings(data: bytes) -> bytes:
    return without(data, "program_change", "control_change")


def as_type_0_with_nothing_else(data: bytes) -> bytes:
    """One track, without a name or a setting, at a quarter of the ticks."""
    return at_resolution(as_type_0(without(without_settings(data), "track_name")), 240)


#: Of a song with a pad that holds its sounds.
SWELL = "the pad's expression"
MIX = {"programs", "volumes", "pans", "reverb sends"}

CHANGES: dict[str, tuple[Callable[[bytes], bytes], set[str]]] = {
    "as type 0": (as_type_0, set()),
    "at 480 ticks a quarter": (lambda data: at_resolution(data, 480), set()),
    "at 240 ticks a quarter": (lambda data: at_resolution(data, 240), set()),
    "with plain names": (with_plain_names, set()),
    "with names exchanged": (with_names_exchanged, set()),
    "in reverse order": (in_reverse_order, set()),
    "with channels permuted": (with_channels_permuted, set()),
    "without settings": (without_settings, MIX),
    "as type 0 at 240 with nothing else": (as_type_0_with_nothing_else, {*MIX, "title"}),
}


@pytest.mark.parametrize("demo", DEMOS)
@pytest.mark.parametrize("change", CHANGES)
def test_a_demo_agrees_after_another_program_changed_it(change: str, demo: str) -> None:
    edit, lost = CHANGES[change]
    data = edit(built(demo))
    assert data != built(demo)
    kits = {KITS} if "programs" in lost and demo in BRUSHED else set()
    swells = {SWELL} if "programs" in lost and demo == "bakery-at-four" else set()
    assert_agrees(form_of(demo), data, lost | kits | swells)


@pytest.mark.parametrize("change", CHANGES)
def test_a_song_with_every_setting_agrees_after_another_program_changed_it(change: str) -> None:
    edit, lost = CHANGES[change]
    form = read_form_text(SETTINGS)
    more = {"tuning", SWELL} if "programs" in lost else set()
    assert_agrees(form, edit(midi_of(form)), lost | more)
