"""The proof shares nothing that computes with what it proves: by its source, and by mutants.

A mutant is one slip in what decides what applies in a pass. Files made with it must disagree;
if the proof asked the same function, the slip would confirm itself.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import backing.timeline
from backing.form import Form, model, passes, read_form_text
from backing.form.model import PartSettings, Settings, Tempo
from backing.midi.writer import to_bytes
from backing.players import play
from backing.timeline import unroll
from backing.verify import verify_bytes

VERIFY = Path(backing.verify.__file__).parent

# What the source imports

#: All that `verify` may import from the rest of the package: records, facts and words.
ALLOWED = {
    "backing.errors": {"BackingError", "ShortageError", "naming", "raise_shortage", "read_error"},
    "backing.form.model": {
        "Cell", "Entry", "Form", "NOTHING", "ONE_OF_THESE", "PartSettings", "PassSettings",
        "Section", "Settings", "Tempo", "WrittenBar", "WrittenWords",
    },
    "backing.form.pattern_records": {
        "BassPattern", "DrumPattern", "PickPattern", "StrumPattern",
    },
    "backing.form.parts": {"GUITARS", "PARTS", "Part"},  # the parts' titles, programs and defaults
    "backing.form.tab": {"Riff", "TabBar"},  # tab as it is written
    "backing.system.install": {"install_command"},
    "backing.system.shortages": {"LITTLE_BYTES", "NUMPY_BYTES", "need_memory", "shortage_of"},
    "backing.text.times": {"clock"},
    "backing.theory.bass_lines": {
        "BASS_LINES", "FIFTH", "PASSING", "ROOT", "SHORTEST_PASSING_S", "WALK", "WALK_MIDDLE",
        "WALK_SPREAD",
    },
    "backing.theory.built_in_beats": {
        "BEATS", "BRUSH_STOP", "Beat", "DRUMS", "EVEN_THREE", "FOOT", "FOURTH", "GROUPS", "HAT",
        "LAST_OF_FOURTH", "LAST_OF_SECOND", "LEAD_IN", "LIGHT_STOP", "OPEN_HAT", "PHRASE",
        "PLAIN_BEATS", "RIDE", "RIM", "RING", "SECOND", "SOFT_RING", "STOP", "UNEVEN_THREE",
    },
    "backing.theory.chords": {"Chord", "ChordError", "parse_chord"},
    "backing.theory.fills": {
        "BRUSHED", "Fills", "LARGE_BEATS", "LETTERS", "LIGHT", "QUICK_BEAT_S", "SMALL_BEATS",
        "STICKS",
    },
    "backing.theory.fingerings": {"fingerings"},  # whether a tuning has a shape at all
    "backing.theory.fretboard": {
        "Fingering", "HIGHEST_FRET", "STANDARD_TUNING", "STRINGS_WITH_BASS",
    },
    "backing.theory.device_levels": {
        "DEVICE_VOLUMES", "IN_BALANCE", "MOST", "MUTED_REVERB", "RESTING_EXPRESSION",
        "USUAL_DEVICE_VOLUME",
    },  # facts of a table
    "backing.theory.general_midi": {
        "BRUSH_KIT", "CLICK_SOUNDS", "MUTED_GUITAR", "PERCUSSION", "STANDARD_KIT",
        "SUSTAINED",
    },
    "backing.theory.hand": {"REACHES", "fingers_on"},  # what a hand can hold
    "backing.theory.instruments": {
        "BASS_TUNING", "GUITAR", "INSTRUMENTS", "Instrument",
    },  # facts of a table
    "backing.theory.keys": {"Key"},
    "backing.theory.picks": {"FINGER_STRINGS", "PICKS", "TOGETHER", "Picking"},
    "backing.theory.pitch": {"note_name", "spelled"},
    "backing.theory.rhythm": {"COMMON_TIME", "Meter"},
    "backing.theory.steps": {"Steps"},
    "backing.theory.strums": {"ENDS_BEAT", "INSIDE_BEAT", "OPENS_BAR", "OPENS_BEAT", "STRUMS"},
    "backing.theory.swing": {"RATIO_BY_TEMPO"},
}  # fmt: skip
#: Records of practice versions, their names and limits.
ALLOWED_MODULES = {"backing.practice.versions"}
#: What the records of `form.model` work out, each of which the proof works out for itself.
WORKED_OUT = {"under", "body_bars", "ending_bars"}


def sources() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted(VERIFY.rglob("*.py")):
        yield path.name, ast.parse(path.read_text(encoding="utf-8"))


def imported(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Every module and name that a file imports from the package, wherever in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "a relative import"
            yield from ((node.module or "", alias.name) for alias in node.names)


def refused(module: str, name: str) -> bool:
    if module.split(".")[0] != "backing" or module.startswith("backing.verify"):
        return False
    return name not in ALLOWED.get(module, ()) and module not in ALLOWED_MODULES


def test_verify_imports_nothing_that_computes() -> None:
    files = list(sources())
    assert {"pass_plan.py", "beats.py", "song_maths.py", "practice_maths.py"} <= {
        f for f, _ in files
    }
    assert [
        (file, module, name)
        for file, tree in files
        for module, name in imported(tree)
        if refused(module, name)
    ] == []


@pytest.mark.parametrize(
    "line",
    [
        "from backing.form.passes import pass_settings", "import backing.timeline",
        "from backing.theory.swing import ratio_by_tempo", "from backing.form import passes",
        "from backing.practice.stretch import at_speed", "from backing import unroll",
        "from backing.players import play",
    ],
)  # fmt: skip
def test_the_source_test_sees(line: str) -> None:
    assert any(refused(module, name) for module, name in imported(ast.parse(line)))


def test_verify_uses_nothing_that_the_records_work_out() -> None:
    for name in WORKED_OUT:
        assert any(hasattr(record, name) for record in (Settings, Tempo, model.Section))
    assert [
        (file, node.attr)
        for file, tree in sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr in WORKED_OUT
    ] == []


# Mutants

SONG = """\
title: Hedge and Ditch
tempo: 96
feel: swing
capo: 2
human: 0
parts: {click: {plays: 3 of 4}}
sections:
  verse:
    times: 2
    bars: "| A | D(push) | E7 | A(push) |"
    endings: {1: "| E |", 2: "| A |"}
  slowing:
    tempo: {bpm: 120, beat: 1/4, to: 60, over: 2}
    feel: straight
    bars: "| F#m | D(push) | A |"
  rising:
    tempo: {to: 140, over: 2, from: first}
    bars: "| D | E(push) |"
    on-pass:
      2: {tempo: {bpm: 80, beat: 1/4}, parts: {bass: off, click: off}}
      3: {tempo: {to: 200, over: 1, from: first}, feel: {swing: 3/1}}
  gathering:
    tempo: {to: 132, over: 1, from: first}
    bars: "| A | E |"
  waltz:
    meter: 3/4
    parts: {click: {plays: 1 of 2}}
    bars: "| Bm | E |"
    on-pass: {2: {bars: "| G | 4/4 D |"}}
form:
  - verse x2
  - slowing x2
  - rising x3
  - {section: rising, times: 2, tempo: 104, label: Risen}
  - section: rising
    times: 3
    on-pass:
      1: {bars: "| A | E(push) | A |"}
      2: {tempo: {bpm: 70, beat: 1/4}, parts: {click: on}, feel: straight}
  - gathering x3
  - {section: waltz, times: 2, transpose: +2}
  - {section: verse, ending: 2, times: 1, parts: {click: off}, tempo: 88}
  - verse bars 2-4
  - {section: slowing, feel: swing, parts: {click: {plays: 1 of 1}, bass: {line: beats}}}
"""

#: Slips in `pass_settings`: a pattern that its source has once, and what stands there instead.
SLIPS = {
    "the two tempos of a change exchanged": (
        r"tempo\.to_bpm if led else tempo\.bpm", "tempo.bpm if led else tempo.to_bpm",
    ),
    "to_bpm for bpm": (r"tempo\.to_bpm if led else tempo\.bpm", "tempo.to_bpm"),
    "bpm for to_bpm": (r"tempo\.to_bpm if led else tempo\.bpm", "tempo.bpm"),
    "another note for the beat": (
        r"Tempo\(bpm, tempo\.beat_whole\)", "Tempo(bpm, tempo.beat_whole / 2)",
    ),
    "a change in the wrong pass": (
        r"1 if tempo\.from_first else passes_played\(entry, section\)",
        "passes_played(entry, section) if tempo.from_first else 1",
    ),
    "no change in any pass": (r"if number == \(1 if", "if -number == (1 if"),
    "a change in every pass": (r"tempo is None or tempo\.to_bpm is None or", "True or"),
    "a change of a pass's own lost": (r" or \(\w+ is not None and \w+\.to_bpm is not None\)", ""),
    "a pass's own tempo overruled": (r" and \(\w+ is None or \w+\.bpm is None\)", ""),
    "the section before the line": (
        r"entry\.settings\.under\(section\.settings\.under\(song\)\)",
        "section.settings.under(entry.settings.under(song))",
    ),
    "the song before the section": (
        r"section\.settings\.under\(song\)", "song.under(section.settings)",
    ),
    "the line's settings lost": (
        r"entry\.settings\.under\((section\.settings\.under\(song\))\)", r"\1",
    ),
    "the section's settings lost": (r"section\.settings\.under\(song\)", "song"),
    "the pass's settings lost": (r"\w+\.settings\.under\(settings\)", "settings"),
    "the settings of the pass before": (
        r"set_by_pass\(entry, section, number\)(?=\n    own)",
        "set_by_pass(entry, section, number - 1)",
    ),
    "the section's pass before the line's": (
        r"of_entry\.under\(of_section\)", "of_section.under(of_entry)",
    ),
    "the section's pass lost": (r"of_entry\.under\(of_section\)", "of_entry"),
}  # fmt: skip


def made(form: Form) -> bytes:
    return to_bytes(play(unroll(form)))


def test_the_song_itself_agrees() -> None:
    form = read_form_text(SONG)
    assert verify_bytes(form, made(form), quick=True).disagreements == ()


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_in_what_applies_in_a_pass_is_found(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = read_form_text(SONG)
    source = Path(passes.__file__).read_text(encoding="utf-8")
    right, wrong = SLIPS[name]
    changed, count = re.subn(right, wrong, source)
    assert count == 1, right
    slipped: dict[str, Any] = {"__name__": "slipped"}
    exec(compile(changed, passes.__file__, "exec"), slipped)
    monkeypatch.setattr(passes, "pass_settings", slipped["pass_settings"])
    assert verify_bytes(form, made(form), quick=True).disagreements != ()


#: What may get lost where levels are merged: a record and its key.
LOST = [
    (Settings, "tempo"), (Settings, "meter"), (Settings, "feel"), (Settings, "parts"),
    (Tempo, "bpm"), (Tempo, "to_bpm"), (PartSettings, "on"), (PartSettings, "values"),
]  # fmt: skip


@pytest.mark.parametrize(("record", "key"), LOST, ids=[f"{r.__name__}.{key}" for r, key in LOST])
def test_a_setting_lost_in_merging_is_found(
    record: Any, key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The outer level's value stays where the nearer one should win."""
    form = read_form_text(SONG)
    merge: Callable[[Any, Any], Any] = record.under

    def losing(inner: Any, outer: Any) -> Any:
        return merge(inner, outer)._replace(**{key: getattr(outer, key)})

    monkeypatch.setattr(record, "under", losing)
    assert verify_bytes(form, made(form), quick=True).disagreements != ()


@pytest.mark.parametrize("change", [{"capo": 0}, {"count_in_bars": 2}, {"pickup": None}])
def test_a_song_wide_setting_played_wrong_is_found(change: dict[str, Any]) -> None:
    form = read_form_text(SONG.replace("capo: 2", 'capo: 2\npickup: "| N.C. / / E |"'))
    assert verify_bytes(form, made(form), quick=True).agrees
    assert not verify_bytes(form, made(form._replace(**change)), quick=True).agrees


def test_a_line_transposed_wrong_is_found() -> None:
    form = read_form_text(SONG)
    lines = tuple(entry._replace(transpose=0) for entry in form.entries)
    assert not verify_bytes(form, made(form._replace(entries=lines)), quick=True).agrees
