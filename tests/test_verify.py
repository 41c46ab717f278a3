"""Verification of honest files: they agree, within the tolerance that is documented."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from backing.form import read_form_text
from backing.form.model import Form
from backing.midi.writer import to_bytes
from backing.players import play
from backing.theory.rhythm import parse_meter
from backing.timeline import unroll
from backing.verify import compare, expect, verify_bytes
from backing.verify.readers.measured import by_summing

SUMMING, PRETTY = "our own reader", "pretty_midi"


def made(form: Form, count_in: bool = True) -> bytes:
    return to_bytes(play(unroll(form, count_in)))


# Honest files

# fmt: off
METERS = (
    "2/2", "3/2", "2/4", "3/4", "4/4", "5/4", "3/8", "6/8", "9/8", "12/8", "5/8", "7/8",
    "11/8 (3+3+3+2)", "7/8 (3+2+2)", "5/16", "4/1",
)
# fmt: on

HONEST = {
    "endings": "sections: {a: {bars: A, times: 2, endings: {1: '| D |', 2: '| E | G |'}}}\n"
    "form: [a, a x2, {section: a, ending: 2}]",
    "cuts": "sections: {a: {bars: '| A D | % | 3/4 / E / | % |', endings: {1: G, 2: A}}}\n"
    "form: [a x2, a bars 2-3, a bars 3-5 x2, {section: a, bars: 2-5, ending: 2}]",
    "slowing": "tempo: 97.3\nsections: {a: {bars: '| A | D | E |', tempo: {to: 61.7, over: 2}}}\n"
    "form: [a x3, a]",
    "quickening": "tempo: 77.7\nsections: {a: {bars: '| A | D | E |',"
    " tempo: {to: 131.3, over: 2, from: first}}, b: {bars: A}}\nform: [a x2, b]",
    "slowing in 7/8": "tempo: {bpm: 180, beat: 1/8}\nmeter: 7/8\n"
    "sections: {a: {bars: '| A | D E A |', tempo: {to: 91, over: 1}}}\nform: [a x2]",
    "capo": "capo: 3\nkey: A\nsections: {a: {bars: '| A | C#m7b5 | D/F# | E7(b9) | N.C. |'}}\n"
    "form: [a]",
    "push": "sections: {a: {bars: '| A(push) | D(push) | A / E(push) / |"
    " 4/16 A / D(push) E(push) |'}}\nform: [a x2]",
    "a push back into a slowing bar": "sections: {a: {bars: '| A | D |', tempo: {to: 60, over: 1}},"
    " b: {bars: '| E(push) |'}}\nform: [a, b]",
    "marks": "sections: {a: {bars: '| A(stop) | / / / / | D(ring) | % | N.C. | E(push stop) |'}}\n"
    "form: [a x2]",
    "plays": "parts: {click: {plays: 2 of 4}}\nsections: {a: {bars: '| A | D | E |', times: 5}}\n"
    "form: [a]",
    "bass off": "parts: {bass: off}\nsections: {a: {bars: '| A | D |'},"
    " b: {bars: A, parts: {bass: {line: beats}}}}\nform: [a, b, a]",
    "click off": "parts: {click: off}\nsections: {a: {bars: '| A | D |'}}\nform: [a x2]",
    "all off": "parts: {click: off, bass: off, guitar: off}\nsections: {a: {bars: A}}\nform: [a]",
    "silence at the end": "parts: {click: off}\n"
    "sections: {a: {bars: '| A(stop) | / / / / | % | % |'}}\nform: [a]",
    "a bar of 3/4 again as 6/8": "sections: {a: {bars: '| 3/4 A D E | 6/8 % |'}}\nform: [a]",
    "subdivided clicks": "parts: {click: {subdivide: 1/8t}}\nmeter: 12/8\ntempo: 101\n"
    "sections: {a: {bars: '| A D | E |', times: 3}}\nform: [a]",
    "a title in Cyrillic": "title: Три відра зелених яблук\n"
    "sections: {куплет: {bars: A}}\nform: [куплет x2]",
    **{
        meter: f"meter: {meter}\ntempo: {{bpm: 97.3, beat: 1/4}}\n"
        f"sections: {{a: {{bars: '| A | D | E |', times: 4}}}}\nform: [a, a]"
        for meter in METERS
    },
}


def honest(text: str) -> Form:
    given = [line.split(":")[0] for line in text.splitlines() if line[:1].isalpha()]
    usual = {"title": "Trial", "tempo": "120", "count-in": "1"}
    return read_form_text(
        "".join(f"{key}: {value}\n" for key, value in usual.items() if key not in given) + text
    )


@pytest.mark.parametrize("count_in", [True, False], ids=["count-in", "no count-in"])
@pytest.mark.parametrize("name", HONEST)
def test_honest_files_agree(name: str, count_in: bool) -> None:
    form = honest(HONEST[name])
    report = verify_bytes(form, made(form, count_in), count_in)
    assert report.disagreements == ()
    assert {finding.reader for finding in report.findings} == {SUMMING, PRETTY}
    assert report.left_out == ""
    assert report.worst_s <= report.tolerance_s
    for row in report.rows:
        assert row.found_start_s == pytest.approx(row.start_s, abs=report.tolerance_s)
        assert row.found_seconds == pytest.approx(row.seconds, abs=2 * report.tolerance_s)


@pytest.mark.parametrize("seed", range(40))
def test_a_random_family_agrees(seed: int) -> None:
    """Forms thrown together: two ways of counting, the Timeline's and verification's, meet."""
    form = honest(random_form(Random(seed)))
    report = verify_bytes(form, made(form), quick=True)
    assert report.disagreements == ()


def random_form(pick: Random) -> str:
    """A form with meters, marks, endings, cuts, changes of tempo and parts at random."""
    names = ("a", "b", "c")
    entries = [f"{pick.choice(names)} {how}" for how in ("x2", "bars 1-2", "x4", "bars 2-3 x3")]
    pick.shuffle(entries)
    head = [f"capo: {pick.randint(0, 7)}", f"count-in: {pick.randint(0, 3)}"]
    head += [f"tempo: {{bpm: {pick.randint(400, 2000) / 10}, beat: 3/8}}", "sections:"]
    sections = [line for name in names for line in random_section(name, pick)]
    return "\n".join([*head, *sections, f"form: [{', '.join(entries)}]"])


def random_section(name: str, pick: Random) -> list[str]:
    def chord() -> str:
        marks = ("", "", "(push)", "(stop)", "(ring)", "(push ring)")
        return pick.choice(("A", "F#m7", "D/F#", "Bb", "N.C.")) + pick.choice(marks)

    def bars(meter: str, count: int) -> list[str]:
        beats = len(parse_meter(meter).beats)
        goes_on = " ".join("/" * beats)
        each_beat = " ".join(chord() for _ in range(beats))
        return [pick.choice((chord(), chord(), each_beat, goes_on, "%")) for _ in range(count)]

    meter, later = pick.choice(METERS), pick.choice(METERS)
    body = [chord(), *bars(meter, pick.randint(2, 5))]
    if pick.random() < 0.4:
        body += [f"{later} {chord()}", *bars(later, 3)]
    lines = [f"  {name}:", f"    meter: {meter}", f'    bars: "| {" | ".join(body)} |"']
    if pick.random() < 0.4:
        lines.append(f"    endings: {{1: '| {chord()} |', 2: '| {chord()} | {chord()} |'}}")
    if pick.random() < 0.6:
        change = f"to: {pick.randint(400, 2000) / 10}, over: {pick.choice((1, 2))}"
        lines.append(
            f"    tempo: {{bpm: {pick.randint(40, 200)}, beat: 1/4, {change}, "
            f"from: {pick.choice(('first', 'last'))}}}"
        )
    if pick.random() < 0.5:
        click = pick.choice(("off", "{plays: 1 of 3}", "{subdivide: 1/8}"))
        bass = pick.choice(("off", "{line: beats}", "{line: roots}"))
        lines.append(f"    parts: {{click: {click}, bass: {bass}}}")
    return lines


# The tolerance

TWO_TEMPOS = (
    "count-in: 0\nsections: {a: {bars: '| A | D |'}, b: {tempo: 60, bars: '| E | A |'}}\n"
    "form: [a, b]"
)
# Seconds, quarters so far and seconds a quarter at each marker: both tempos are exact in MIDI.
PLACES = [(0, 0, Fraction(1, 2)), (4, 8, Fraction(1))]


@pytest.mark.parametrize("ticks_per_quarter", [24, 96, 480, 960])
@pytest.mark.parametrize("place", [0, 1])
def test_the_tolerance_is_computed(place: int, ticks_per_quarter: int) -> None:
    """Half a tick of ours at the tempo there and, at another resolution, a tick of the file's;
    a microsecond for every quarter so far, and a nanosecond."""
    form = honest(TWO_TEMPOS)
    account = replace(by_summing(made(form)), tick_quarters=Fraction(1, ticks_per_quarter))
    assert account.markers is not None
    at_s, quarters, quarter_s = PLACES[place]
    ticks = Fraction(1, 1920) + (Fraction(1, ticks_per_quarter) if ticks_per_quarter != 960 else 0)
    tolerance = float(quarter_s * ticks) + 1e-6 * quarters + 1e-9
    for share, agrees in ((0.999, True), (-0.999, True), (1.001, False), (-1.001, False)):
        markers = list(account.markers)
        markers[place] = (at_s + share * tolerance, markers[place][1])
        report = compare(expect(form), [replace(account, markers=markers)])
        assert report.agrees is agrees
        if at_s or share > 0:  # the file starts at 0, at the tempo of its start
            assert report.worst_s == pytest.approx(tolerance, rel=0.0011)


def test_the_reported_tolerance_is_the_last_bar_line_s() -> None:
    """16 quarters; the last at 60, where half of 1/960 s is 0.52 ms."""
    form = honest(TWO_TEMPOS)
    report = verify_bytes(form, made(form))
    assert report.tolerance_s == pytest.approx(1 / 1920 + 1e-6 * 16 + 1e-9, abs=1e-15)
    assert report.worst_s == 0


def test_ten_hours_stay_within_it() -> None:
    """97.3 is 616,649.54 microseconds a quarter, written as 616,650: near the most that rounding
    can be off, which is half of what cutting off can.

    So long a file is past what pretty_midi reads, and the report says that.
    """
    form = honest(
        "tempo: 97.3\ncount-in: 0\n"
        "parts: {bass: off, guitar: off, click: {plays: 1 of 16}}\n"
        f"sections: {{a: {{bars: '| N.C. {'| / / / / ' * 15}|', times: 1000}}}}\nform: [a]"
    )
    report = verify_bytes(form, made(form))
    assert report.disagreements == ()
    assert expect(form).seconds > 36_000
    quarters = 16 * 1000 * 4
    last_line_off_s = quarters * (616_650e-6 - 60 / 97.3)
    assert 0.9 * report.tolerance_s / 2 < last_line_off_s < report.tolerance_s / 2
    assert report.worst_s == pytest.approx(last_line_off_s)
    assert "pretty_midi" in report.left_out


SONG = """\
title: Held Up
tempo: 92
sections:
  verse: {bars: "| A | D | F#m | E |"}
  turn: {bars: "| D | A |", times: 2}
  close: {tempo: {to: 60, over: 1}, bars: "| D E | A(ring) |"}
form: [verse, turn, verse, close]
"""


def test_the_table_shows_what_was_measured() -> None:
    """A file 1% slow: the measured columns are the file's, not the form's."""
    form = read_form_text(SONG)
    slow = read_form_text(SONG.replace("92", "91.08"))
    rows = verify_bytes(form, made(slow)).rows
    assert [row.label for row in rows] == [
        "Verse 1",
        "Turn (1 of 2)",
        "Turn (2 of 2)",
        "Verse 2",
        "Close",
    ]
    verse = rows[0]
    assert (verse.first_bar, verse.bars) == (1, 4)
    assert verse.seconds == pytest.approx(16 * 60 / 92)
    assert verse.found_seconds == pytest.approx(16 * 60 / 91.08, abs=1e-4)
    assert rows[-1].found_seconds is not None
    assert rows[-1].found_seconds > rows[-1].seconds
