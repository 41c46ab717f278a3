"""Bar lines, meters and tempos: a file's time against the form's.

Bar lines and meters are compared at their places, so a wrong tempo is found only as a tempo.
Tempos are compared by what they do: the time of every bar line, and of every change of tempo
in the form or the file. Tempo events that change nothing don't matter.

Until a time signature comes a file is in 4/4 (SMF 1.0, RP-001). A file without any can only
agree with a form that is in 4/4 throughout; otherwise its time signatures were lost, and only
its tempos tell where its bar lines are. A file that ends early has no bar lines beyond its
end, which is found among the labels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from backing.text.times import clock
from backing.verify.comparison.reading import Reading
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.records import ExpectedBar
from backing.verify.report import Fault, Finding, listed, two_tempos

COMMON = (4, 4)
#: MIDI clocks in a whole note: 24 a quarter (SMF 1.0, RP-001, time signature).
CLOCKS_PER_WHOLE = 96
#: Two lengths of a quarter are one tempo if both could be the same number, rounded or cut off.
SAME_TEMPO_S = 1.6e-6


def check_time(reading: Reading) -> Iterator[Finding]:
    """One finding each for bar lines, meters and tempos, and for what was lost of them."""
    bars = (*reading.expected.count_in_bars, *reading.expected.bars)
    tempos = _tempos(reading, bars)
    yield tempos
    if not tempos.agrees and not all(reading.file.clock.quarter_s):
        return  # at a tempo of 0 many places have one time, which tells nothing about bars
    common = all((bar.meter.count, bar.meter.unit) == COMMON for bar in bars)
    if not reading.account.signatures and not common:
        yield reading.lost("meters", "time signatures")
        return
    yield _bar_lines(reading, bars)
    yield _meters(reading, bars)
    if reading.account.metronomes is not None:
        yield _metronome(reading, bars)


def _bar_lines(reading: Reading, bars: Sequence[ExpectedBar]) -> Finding:
    end_s = float(reading.expected.count_in_s + reading.expected.seconds)
    found = [reading.file.by_form(at_s) for at_s in reading.account.bar_lines]
    found = [at_s for at_s in found if at_s < end_s - reading.tolerance(end_s)]
    wanted = [float(bar.start_s) for bar in bars]
    worst = 0.0
    for at_s, there_s in zip(wanted, found, strict=False):
        difference = abs(at_s - there_s)
        worst = max(worst, difference)
        if difference > reading.tolerance(at_s):
            says = f"the bar line is at {clock(there_s)}"
            return reading.differs("bar lines", [Fault(at_s, says)], worst)
    more = found[len(wanted) :]
    if more:
        return reading.differs(
            "bar lines", [Fault(more[0], "a bar line where the form has none")], worst
        )
    return reading.agrees("bar lines", f"{len(found)} where they belong", worst)


def _meters(reading: Reading, bars: Sequence[ExpectedBar]) -> Finding:
    wanted: list[tuple[float, tuple[int, int]]] = []
    for bar in bars:
        meter = (bar.meter.count, bar.meter.unit)
        if not wanted or wanted[-1][1] != meter:
            wanted.append((float(bar.start_s), meter))
    found: list[tuple[float, tuple[int, int]]] = []
    for at_s, count, unit in reading.account.meters:
        place = reading.file.by_form(at_s)
        if found and found[-1][0] == place:
            found.pop()  # the last of several at one place is in force
        if not found or found[-1][1] != (count, unit):
            found.append((place, (count, unit)))
    worst = 0.0
    for (at_s, meter), (there_s, there) in zip(wanted, found, strict=False):
        if meter != there:
            says = f"the meter is {listed([there])}, not {listed([meter])}"
            return reading.differs("meters", [Fault(at_s, says)], worst)
        worst = max(worst, abs(at_s - there_s))
        if abs(at_s - there_s) > reading.tolerance(at_s):
            says = f"the change to {listed([meter])} is at {clock(there_s)}"
            return reading.differs("meters", [Fault(at_s, says)], worst)
    for at_s, meter in wanted[len(found) :]:
        says = f"no change to {listed([meter])}"
        return reading.differs("meters", [Fault(at_s, says)], worst)
    for there_s, meter in found[len(wanted) :]:
        says = f"a change to {listed([meter])}, where the meter stays"
        return reading.differs("meters", [Fault(there_s, says)], worst)
    return reading.agrees("meters", f"{len(wanted)} where they belong", worst)


def _metronome(reading: Reading, bars: Sequence[ExpectedBar]) -> Finding:
    """The beat that a metronome clicks, which a time signature also holds."""
    clocks = reading.account.metronomes or [(0.0, CLOCKS_PER_WHOLE // 4)]
    places = [(reading.file.by_form(at_s), value) for at_s, value in clocks]
    at = 0
    for bar in bars:
        until = float(bar.start_s) + reading.tolerance(float(bar.start_s))
        while at + 1 < len(places) and places[at + 1][0] <= until:
            at += 1
        if places[at][1] != _clocks(bar):
            return reading.lost("metronome", "the beat in time signatures")
    return reading.agrees("metronome", "the form's beats")


def _clocks(bar: ExpectedBar) -> int:
    """A beat in MIDI clocks; the unit where beats are uneven, or too long for a byte."""
    unit = CLOCKS_PER_WHOLE // bar.meter.unit
    lengths = set(bar.meter.beats)
    beat = int(lengths.pop() * CLOCKS_PER_WHOLE) if len(lengths) == 1 else unit
    return beat if beat < 1 << 8 else unit


def _tempos(reading: Reading, bars: Sequence[ExpectedBar]) -> Finding:
    form, file = reading.form, reading.file.clock
    end = _last_quarter(reading)
    places = sorted(
        {
            *form.quarters,
            *(float(bar.start_quarters) for bar in bars),
            *(at for at in _changes(file) if at <= end),
            end,
        }
    )
    worst = 0.0
    for at in places:
        wanted_s, found_s = form.seconds(at), file.seconds(at)
        worst = max(worst, abs(wanted_s - found_s))
        if abs(wanted_s - found_s) > reading.tolerance(wanted_s):
            return reading.differs("tempos", [_wrong_tempo(reading, places, at)], worst)
    return reading.agrees("tempos", f"{len(form.quarters)} as they should be", worst)


def _last_quarter(reading: Reading) -> float:
    """The last bar line's place."""
    last = reading.expected.tempos[-1]
    end_s = reading.expected.count_in_s + reading.expected.seconds
    return float(last.start_quarters + (end_s - last.start_s) * last.quarter_bpm / 60)


def _changes(clock: Clockwork) -> Iterator[float]:
    """Where tempos change; an event that repeats the tempo is none."""
    before = None
    for at, quarter_s in zip(clock.quarters, clock.quarter_s, strict=True):
        if quarter_s != before:
            yield at
        before = quarter_s


def _wrong_tempo(reading: Reading, places: Sequence[float], failed: float) -> Fault:
    """The first tempo on the way to a place whose time is wrong that isn't the form's."""
    for start, end in pairwise(places):
        if start >= failed:
            break
        middle = (start + end) / 2
        wanted, found = reading.form.tempo_at(middle), reading.file.clock.tempo_at(middle)
        if abs(wanted - found) > SAME_TEMPO_S:
            there, ours = two_tempos(found, wanted)
            says = f"{there} quarters a minute, not {ours}"
            return Fault(reading.form.seconds(start), says)
    at_s = reading.form.seconds(failed)
    return Fault(at_s, f"this place comes at {clock(reading.file.clock.seconds(failed))}")
