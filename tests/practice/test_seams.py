"""Where one round ends and the next begins, nothing is lost, cut short, moved or doubled.

A version's MIDI file is read back as a synthesizer would play it and cut at its markers. In exact
time each round must sound as the same bars do in a file of their own, up to the round's end.
People play no note farther from there than the reference allows, and none more or fewer.

Strokes start at their places here, all alike. As they are played their middles are there, but no
stroke starts before its round does, so a round's first one differs from the same one in a song;
`test_steps` checks that it is whole.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from operator import itemgetter
from re import search
from typing import NamedTuple

import pytest
from form_strategies import forms
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from midi_edits import PERCUSSION, tracks_of

from backing.errors import BackingError
from backing.form import Form, read_form_text
from backing.midi.writer import TICKS_PER_QUARTER, to_bytes
from backing.players import arm
from backing.practice import Stretch, Version, play_version
from backing.practice.easier_shapes import played_chords
from backing.theory.fingerings import voiced
from backing.timeline import unroll

#: As far as a note is played from its exact place at most, as `forms/README.md` says.
FARTHEST_S = 0.012
#: Strings in unison that are struck as close together as this may become one note, in ticks.
AT_ONCE = 3
LEADING = ("Count-in", "Pickup")
KINDS = {
    "loop": Version(loop=4),
    "ladder": Version(speeds=(Fraction(7, 10), Fraction(1)), loop=2),
    "from the front": Version(build_up="front"),
    "from the end on a ladder": Version(speeds=(Fraction(1, 2), Fraction(1)), build_up="end"),
    "counted in": Version(loop=3, between=1),
    "taking turns": Version(loop=2, trade=1),
}


@pytest.fixture(scope="module", autouse=True)
def plain_strokes() -> Iterator[None]:
    """Strokes that start at their places, all alike and with all of their strings."""

    def starts(
        self: object, at: Fraction, offsets: Sequence[int], velocities: Sequence[int]
    ) -> list[Fraction]:
        return [at + Fraction(offset, arm.GRID) for offset in offsets]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arm._Arm, "_starts", starts)
        patch.setattr(arm, "_drawn", lambda draw, share: arm._EXACT)
        yield


class Sounding(NamedTuple):
    """A note as a synthesizer plays it, in ticks; a drum's has no length."""

    pitch: int
    on: int
    off: int


#: Notes in order, by the names of their tracks.
Notes = Mapping[str, Sequence[Sounding]]


class Heard(NamedTuple):
    """A file: its notes, where its rounds start, and its tempos, each with its seconds."""

    notes: Notes
    starts: Sequence[int]
    tempos: Sequence[tuple[int, float, float]]

    def seconds(self, tick: int) -> float:
        start, since_s, tick_s = self.tempos[bisect_right(self.tempos, (tick, 1e9, 0.0)) - 1]
        return since_s + (tick - start) * tick_s


def heard(form: Form, version: Version) -> Heard:
    """What a version's file sounds like: an off, or a restrike, ends its pitch on the channel."""
    tracks = tracks_of(to_bytes(play_version(form, version).score))
    names = [next((m.name for _, m in track if m.type == "track_name"), "") for track in tracks]
    messages = [
        (tick, message, name)
        for name, track in zip(names, tracks, strict=True)
        for tick, message in track
        if message.type in ("note_on", "note_off")
    ]
    notes: dict[str, list[Sounding]] = defaultdict(list)
    since: dict[tuple[int, int], tuple[int, str]] = {}
    for tick, message, name in sorted(messages, key=itemgetter(0)):  # at a tick as in the file
        key = message.channel, message.note
        if key in since:
            on, struck_in = since.pop(key)
            off = on if message.channel == PERCUSSION else tick
            notes[struck_in].append(Sounding(message.note, on, off))
        if message.type == "note_on":
            since[key] = tick, name
    starts: dict[str, int] = {}
    tempos: list[tuple[int, float, float]] = []
    for tick, message in tracks[0]:
        if message.type == "marker" and not message.text.startswith(LEADING):
            number = search(r"round (\d+) of", message.text)
            starts.setdefault(number[1] if number else "", tick)
        elif message.type == "set_tempo":
            before, at_s, tick_s = tempos[-1] if tempos else (0, 0.0, 0.0)
            at_s += (tick - before) * tick_s
            tempos.append((tick, at_s, message.tempo / 1e6 / TICKS_PER_QUARTER))
    return Heard({name: sorted(each) for name, each in notes.items()}, [*starts.values()], tempos)


class Take(NamedTuple):
    """A round: its speed and its bars, and its length in ticks."""

    speed: Fraction
    first: int
    last: int
    length: int


def takes(form: Form, version: Version) -> list[Take]:
    """A version's rounds, worked out anew."""
    assert version.stretch is not None
    assert version.stretch.bars is not None
    first, last = version.stretch.bars
    bars = {
        "": [(first, last)],
        "front": [(first, until) for until in range(first, last + 1)],
        "end": [(since, last) for since in range(last, first - 1, -1)],
    }[version.build_up]
    lengths = [int(bar.meter.bar_whole * 4 * TICKS_PER_QUARTER) for bar in unroll(form).bars]
    return [
        Take(speed, since, until, sum(lengths[since - 1 : until]))
        for speed in version.speeds
        for since, until in bars
        for _ in range(version.loop)
    ]


def check(form: Form, version: Version) -> None:
    form = form._replace(human=0)
    exact = heard(form, version)
    rounds = takes(form, version)
    assert len(exact.starts) == len(rounds)
    wants = [(take, index > 0, index == len(rounds) - 1) for index, take in enumerate(rounds)]
    alone = {want: _alone(form, version, *want) for want in dict.fromkeys(wants)}
    for start, want in zip(exact.starts, wants, strict=True):
        assert _begun(exact.notes, start, want[0].length) == alone[want], want
    for name, notes in exact.notes.items():
        struck = [one.on for one in notes if one.on >= exact.starts[0]]
        if name not in ("Click", "Drums"):  # which lead into a round
            places = [_place(on, exact.starts) for on in struck]
            assert all(at < rounds[number].length for number, at in places), name
    _check_people(exact, heard(form._replace(human=100), version))


def _place(tick: int, starts: Sequence[int]) -> tuple[int, int]:
    number = bisect_right(starts, tick) - 1
    return number, tick - starts[number]


def _begun(notes: Notes, start: int, length: int) -> dict[str, list[Sounding]]:
    """The notes that start in a round, in ticks from its start."""
    found = {
        name: [
            Sounding(one.pitch, one.on - start, one.off - start)
            for one in each
            if start <= one.on < start + length
        ]
        for name, each in notes.items()
    }
    return {name: each for name, each in found.items() if each}


def _alone(
    form: Form, version: Version, take: Take, is_later: bool, rings_out: bool
) -> dict[str, list[Sounding]]:
    """A round's notes as they are in a file without any other."""
    if is_later and form.pickup is not None:  # only the first round has it
        chords = played_chords(form)
        shapes = zip(map(str, chords), voiced(chords, form.tuning, form.shapes), strict=True)
        form = form._replace(pickup=None, shapes=dict(shapes))
    stretch = Stretch(bars=(take.first, take.last))
    version = Version(speeds=(take.speed,), stretch=stretch, trade=version.trade)
    file = heard(form, version)
    found = _begun(file.notes, file.starts[0], take.length)
    if rings_out:
        return found
    return {
        name: [one._replace(off=min(one.off, take.length)) for one in each]
        for name, each in found.items()
    }


def _check_people(exact: Heard, human: Heard) -> None:
    """Every note is where it may be at most, and lasts as long but for that."""
    farthest_s = FARTHEST_S + max(tick_s for _, _, tick_s in exact.tempos)
    assert exact.notes.keys() == human.notes.keys()
    for name, notes in exact.notes.items():
        for one in notes:
            near = _near(one, exact, human, name, farthest_s)
            least_s = exact.seconds(one.off) - farthest_s
            assert any(human.seconds(other.off) >= least_s for other in near), (name, one)
        for other in human.notes[name]:
            assert _near(other, human, exact, name, farthest_s), (name, other)
        for here, there in ((exact, human), (human, exact)):
            distinct, all_there = _distinct(here.notes[name]), _pitches(there.notes[name])
            assert not distinct - all_there, name


def _near(one: Sounding, its: Heard, other: Heard, name: str, farthest_s: float) -> list[Sounding]:
    """The notes of its pitch in another file that start no farther away than that."""
    at_s = its.seconds(one.on)
    same = (each for each in other.notes[name] if each.pitch == one.pitch)
    return [each for each in same if abs(other.seconds(each.on) - at_s) <= farthest_s]


def _pitches(notes: Sequence[Sounding]) -> Counter[int]:
    return Counter(one.pitch for one in notes)


def _distinct(notes: Sequence[Sounding]) -> Counter[int]:
    """How many notes of each pitch can't be taken for strings in unison."""
    distinct = [
        other
        for one, other in pairwise([None, *notes])
        if other and (one is None or one.pitch != other.pitch or other.on - one.on > AT_ONCE)
    ]
    return _pitches(distinct)


@settings(
    max_examples=6,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
@given(forms(), st.sampled_from(sorted(KINDS)), st.integers(0, 999), st.integers(1, 2))
def test_a_random_forms_rounds_sound_as_they_do_alone(
    text: str, kind: str, bar: int, more: int
) -> None:
    form = read_form_text(text)
    bars = len(unroll(form).bars)
    first = 1 + bar % bars
    version = KINDS[kind]._replace(stretch=Stretch(bars=(first, min(bars, first + more))))
    try:
        play_version(form, version)
    except BackingError:
        return  # too slow for a MIDI file
    if first < bars or not version.build_up:
        check(form, version)


def _sections(bars: str, parts: str = "") -> str:
    return f"sections: {{a: {{bars: '{bars}'{parts}}}}}\nform: [a]\n"


TAB = """
parts:
  guitar:
    riff:
      step: 1/8
      chords: rolled
      tab: |
        e|--------|12---5-7|
        B|5~--5b--|12---5--|
        G|7/9-----|--0-0---|
        D|0-----2h|4-------|
        A|0-------|------2-|
        E|0----3-0|0------3|
"""
SEAMS = {
    "a chord that rings over the seam": _sections("| A(ring) | A(ring) |"),
    "a push into the stretch": _sections("| A | A(push) | D(push) |"),
    "a chord that goes on": _sections("| A / D / | / / A(push) / | / / / D(push) |"),
    "a pickup": "pickup: '| E7 / / E7(push) |'\n" + _sections("| E7(push) | E7 |"),
    "a tempo that speeds up": _sections("| A | A |", ", tempo: {bpm: 60, to: 180, over: 2}"),
    "swing, triplets and fills": "feel: swing\nparts: {bass: {line: walking}, drums: {fill: on}}\n"
    + _sections("| A7 | D7 | E7 |"),
    "strings in unison": "tempo: 20\nshapes: {A: x0765x}\n" + _sections("| A | A |"),
    "a riff up to the seam and over it": TAB + _sections("| A | A | A |"),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seam", SEAMS)
def test_a_round_sounds_as_it_does_alone(seam: str, kind: str) -> None:
    text = SEAMS[seam] if SEAMS[seam].startswith("tempo") else f"tempo: 150\n{SEAMS[seam]}"
    form = read_form_text(f"title: Seams\n{text}")
    last = len(unroll(form).bars)
    first = 1 if form.pickup is not None else last - 1
    check(form, KINDS[kind]._replace(stretch=Stretch(bars=(first, last))))
