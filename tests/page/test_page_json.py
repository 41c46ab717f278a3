"""The JSON in a page: of the declared types, in Python and for the scripts, with shared numbers."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from typing import Any, get_type_hints, is_typeddict

import pytest
from page.json_types import mistakes, spoiled
from page.songs import RICH, SHORT

from backing.form import read_form_text
from backing.page import page_json
from backing.page.assemble import SCRIPTS, TEMPLATE, as_text, source
from backing.page.data import song_data
from backing.page.page_json import SongData
from backing.players import play
from backing.players.human import FARTHEST_S, humanize
from backing.timeline import unroll


@pytest.fixture(scope="module", params=["rich", "short"])
def data(request: pytest.FixtureRequest) -> dict[str, Any]:
    form = read_form_text({"rich": RICH, "short": SHORT}[request.param])
    found: dict[str, Any] = json.loads(as_text(song_data(unroll(form))))
    return found


def test_a_song_is_exactly_what_is_declared(data: dict[str, Any]) -> None:
    assert mistakes(data, SongData) == []


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ((), "limits"),
        (("limits",), "slowest"),
        (("tempo",), "bpm"),
        (("bars", 2), "beats"),
        (("bars", 2, "chords", 0), "share"),
        (("passes", 1, "click"), "plays"),
        (("grids", 0), "divisions"),
        (("chords", 0), "moved"),
        (("shapes", 0), "rows"),
        (("riffs", 0, "notes", 0), "how"),
    ],
)
def test_a_missing_or_extra_key_is_found(
    data: dict[str, Any], path: tuple[Any, ...], key: str
) -> None:
    for change, wrong in spoiled(data, path, key).items():
        assert mistakes(wrong, SongData), change


def declared_in_python() -> dict[str, set[str]]:
    """The keys of every TypedDict, by its name without `Data`."""
    return {
        name.removesuffix("Data"): set(get_type_hints(type_))
        for name, type_ in vars(page_json).items()
        if is_typeddict(type_)
    }


def declared_for_scripts() -> dict[str, set[str]]:
    """The keys of every object type that `song.js` declares, by its name."""
    text = re.sub(r"\n \*", " ", source("song.js"))
    found = {}
    for body, name in re.findall(r"@typedef \{\{(.*?)\}\} (\w+)", text):
        flat = re.sub(r"\{[^{}]*\}|\[[^\[\]]*\]|<[^<>]*>", "", body)
        found[name] = set(re.findall(r"(\w+)\??:", flat))
    return found


def test_the_scripts_declare_the_same_keys() -> None:
    python, scripts = declared_in_python(), declared_for_scripts()
    assert len(python) > 15
    song = python.pop("Page")
    assert python.pop("Song") < song
    assert scripts.pop("Song") == song
    assert scripts == python


def test_speeds_go_from_30_to_130_percent(data: dict[str, Any]) -> None:
    """What README, the controls and the samples' lengths promise."""
    assert (data["limits"]["slowest"], data["limits"]["fastest"]) == (30, 130)


def test_the_key_moves_by_as_many_steps_as_there_are_names(data: dict[str, Any]) -> None:
    steps = 2 * data["limits"]["farthestMove"] + 1
    assert data["limits"]["farthestMove"] == 6
    for chord in data["chords"]:
        assert len(chord["moved"]) == len(chord["shapes"]) == steps
        assert chord["moved"][data["limits"]["farthestMove"]] == chord["name"]


def test_every_division_that_can_be_chosen_is_worked_out(data: dict[str, Any]) -> None:
    for grid in data["grids"]:
        assert list(grid["divisions"]) == data["limits"]["divisions"] == ["", "1/8", "1/8t", "1/16"]


#: A bar lasts 4 s at 60 quarters a minute. Slow strokes of all strings are the longest.
STROKES = """\
title: Early
tempo: 60
human: 100
count-in: 1
parts: {bass: {line: beats}, guitar: {strum: {step: 1/4, play: "D U x U"}}}
sections: {verse: {bars: "| E | A | E | A |"}}
form: [verse x8]
"""


def test_an_early_player_still_means_the_bar(data: dict[str, Any]) -> None:
    """The margin holds for a stroke's place whoever is early; a sixteenth at 240 that is late by
    as much still means its own bar."""
    early_s, sixteenth_s = data["playback"]["early"], Fraction(60, 240 * 4)
    assert early_s < sixteenth_s - FARTHEST_S
    timeline = unroll(read_form_text(STROKES))
    farthest_s = max(
        -_past_line_s(note.start_whole + note.early_whole)
        for seed in range(8)
        for track in humanize(play(timeline), 100, seed).tracks
        for note in track.notes
    )
    assert float(FARTHEST_S) / 2 < farthest_s < early_s


def _past_line_s(start_whole: Fraction) -> Fraction:
    """Seconds past the nearest bar line, at 60 quarters a minute; 0 where it is a beat away."""
    past = start_whole - round(start_whole)
    return past * 4 if abs(past) < Fraction(1, 8) else Fraction(0)


@pytest.mark.parametrize("name", [*SCRIPTS, TEMPLATE])
def test_no_number_that_is_sent_stands_in_a_script_as_well(name: str) -> None:
    code = re.sub(r"/\*.*?\*/|//[^\n]*", "", source(name), flags=re.DOTALL)
    for number in ("30", "130", "150"):
        assert not re.search(rf"\b{number}\b", code), number
