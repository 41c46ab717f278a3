"""The form in playing order: exact places and times, labels, endings, cuts, pushes, merging."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.form import read_form_text
from backing.form.model import PartSettings
from backing.form.parts import LINE, SUBDIVIDE
from backing.timeline import Timeline, unroll

BAR = Fraction(1)


def unrolled(text: str) -> Timeline:
    """A form's timeline: its text without title, tempo and count-in unless they are the matter."""
    given = [line.split(":")[0] for line in text.splitlines() if line[:1].isalpha()]
    usual = {"title": "Trial", "tempo": "120", "count-in": "0"}
    head = "".join(f"{key}: {value}\n" for key, value in usual.items() if key not in given)
    return unroll(read_form_text(head + text))


def chords(timeline: Timeline) -> list[str]:
    return [str(span.chord or "N.C.") for span in timeline.spans]


def bpms(timeline: Timeline) -> list[tuple[Fraction, Fraction]]:
    return [(change.start_whole, change.quarter_bpm) for change in timeline.tempos]


# Exact time


def test_ten_hours_at_an_even_tempo_end_on_the_second() -> None:
    timeline = unrolled('sections: {a: {bars: "| A | D | E | A |", times: 45}}\nform: [a x100]')
    assert len(timeline.bars) == 18_000
    assert timeline.seconds(timeline.end_whole) == 36_000


def test_twelve_hours_at_an_awkward_tempo_end_on_the_exact_fraction() -> None:
    """1,100 passes of 16 bars at 97.3; the 50th, 100th... slow to 61.7 over their last 2 bars."""
    timeline = unrolled(
        "tempo: 97.3\ncount-in: 2\n"
        "sections: {a: {bars: '| A | D | E | A | % | % | % | % | A | D | E | A | % | % | % | % |',"
        " tempo: {to: 61.7, over: 2}}}\n"
        f"form: [{', '.join(['a x50'] * 22)}]"
    )
    start, target = Fraction(973, 10), Fraction(617, 10)
    steady_beats = 4 * (2 + 1100 * 16 - 22 * 2)
    slowing_s = sum(60 / (start + (target - start) * Fraction(k, 8)) for k in range(1, 9))
    total = steady_beats * 60 / start + 22 * slowing_s
    assert total > 12 * 3600
    assert timeline.seconds(timeline.end_whole) == total


def test_a_bar_s_time_does_not_depend_on_how_it_was_reached() -> None:
    """Bar n of a steady song starts at (n - 1) bars, at the thousandth as at the first."""
    timeline = unrolled('tempo: 97.3\nsections: {a: {bars: "| A |", times: 1000}}\nform: [a]')
    bar_s = 4 * 60 / Fraction(973, 10)
    times = [timeline.seconds(bar.start_whole) for bar in timeline.bars]
    assert times == [n * bar_s for n in range(1000)]


# Tempo


def test_an_even_change_over_the_last_bars() -> None:
    """From 100 to 60 over 2 bars: beat k of 8, from 0, holds 100 - 40 (k + 1) / 8."""
    timeline = unrolled(
        "tempo: 100\nsections: {a: {bars: '| A | D | E |', tempo: {to: 60, over: 2}}}\n"
        "form: [a, {section: a, tempo: {to: 60, over: 1}}]"
    )
    first = [(BAR + Fraction(k, 4), 100 - Fraction(40 * (k + 1), 8)) for k in range(8)]
    then = [(5 * BAR + Fraction(k, 4), 100 - Fraction(40 * (k + 1), 4)) for k in range(4)]
    assert bpms(timeline) == [(Fraction(0), Fraction(100)), *first, (3 * BAR, Fraction(100)), *then]
    assert first[-1][1] == then[-1][1] == 60


def test_only_the_last_pass_of_an_entry_slows() -> None:
    timeline = unrolled(
        "tempo: 100\nsections: {a: {bars: '| A |', tempo: {to: 60, over: 1}}}\nform: [a x3]"
    )
    slowing = [(2 * BAR + Fraction(k, 4), Fraction(100 - 10 * (k + 1))) for k in range(4)]
    assert bpms(timeline) == [(Fraction(0), Fraction(100)), *slowing]


def test_a_change_from_the_first_bars_stays_where_it_led() -> None:
    """It happens in the entry's first pass; the rest of it and the next passes hold the target."""
    timeline = unrolled(
        "tempo: 100\ncount-in: 1\n"
        "sections: {a: {bars: '| A | D |', tempo: {to: 140, over: 1, from: first}}, b: {bars: E}}\n"
        "form: [a x2, b]"
    )
    rising = [(BAR + Fraction(k, 4), Fraction(110 + 10 * k)) for k in range(4)]
    assert bpms(timeline) == [(Fraction(0), Fraction(100)), *rising, (5 * BAR, Fraction(100))]


def test_a_change_steps_by_the_meter_s_beats() -> None:
    """In 6/8 at a dotted quarter = 60 (quarter = 90), two steps a bar; in 7/8 one a group."""
    timeline = unrolled(
        "tempo: 60\nmeter: 6/8\nsections: {a: {bars: '| A | 7/8 D |', tempo: {to: 40, over: 2}}}\n"
        "form: [a]"
    )
    steps = [60 - Fraction(20 * (k + 1), 5) for k in range(5)]
    eighths = [0, 3, 6, 8, 10]  # 3+3, then 2+2+3
    assert bpms(timeline) == [
        (Fraction(eighth, 8), step * Fraction(3, 2))
        for eighth, step in zip(eighths, steps, strict=True)
    ]


def test_a_new_meter_keeps_the_note_value() -> None:
    """At a quarter = 120 an eighth lasts 1/4 s in every meter."""
    timeline = unrolled(
        "sections: {a: {bars: '| A | 6/8 D | 2/2 E | 7/8 A | 3/16 D |'}}\nform: [a]"
    )
    assert bpms(timeline) == [(Fraction(0), Fraction(120))]
    seconds = [
        timeline.seconds(b.end_whole) - timeline.seconds(b.start_whole) for b in timeline.bars
    ]
    assert seconds == [eighths * Fraction(1, 4) for eighths in (8, 6, 8, 7, Fraction(3, 2))]


def test_a_tempo_counts_the_beat_that_it_names() -> None:
    timeline = unrolled(
        "tempo: {bpm: 60, beat: 3/8}\n"
        "sections: {a: {bars: A}, b: {meter: 6/8, tempo: 50, bars: D}, c: {meter: 2/2, tempo: 50, "
        "bars: E}}\nform: [a, b, c]"
    )
    assert [bpm for _, bpm in bpms(timeline)] == [90, 75, 100]


def test_a_section_s_tempo_and_meter_are_its_own() -> None:
    timeline = unrolled(
        "sections: {a: {bars: '| 3/4 A | D |'}, b: {meter: 5/4, tempo: 90, bars: '| A |'}}\n"
        "form: [a, b, a]"
    )
    assert [str(bar.meter) for bar in timeline.bars] == ["3/4", "3/4", "5/4", "3/4", "3/4"]
    assert bpms(timeline) == [
        (Fraction(0), Fraction(120)),
        (Fraction(3, 2), Fraction(90)),
        (Fraction(11, 4), Fraction(120)),
    ]


def test_a_bar_s_meter_holds_to_the_end_of_the_pass() -> None:
    timeline = unrolled("sections: {a: {bars: '| A | 2/4 E | D |', times: 2}}\nform: [a]")
    assert [str(bar.meter) for bar in timeline.bars] == ["4/4", "2/4", "2/4"] * 2


def test_the_count_in_takes_the_first_bar_s_meter_and_tempo() -> None:
    text = "count-in: 2\nsections: {a: {tempo: 90, bars: '| 3/4 A | D |'}}\nform: [a]"
    timeline = unrolled(text)
    assert [bar.number for bar in timeline.count_in] == [-1, 0]
    assert [str(bar.meter) for bar in timeline.count_in] == ["3/4", "3/4"]
    assert timeline.start_whole == Fraction(3, 2)
    assert timeline.seconds(timeline.start_whole) == 6 * Fraction(60, 90)
    without = unroll(timeline.form, count_in=False)
    assert without.count_in == ()
    assert without.start_whole == 0


# Labels, passes, endings, cuts


def test_labels() -> None:
    timeline = unrolled(
        "sections:\n  intro: {bars: A, times: 4}\n  chorus: {bars: D}\n"
        "  verse: {bars: '| A | D | E | A | D | E | A | D |'}\n"
        "form:\n- intro\n- verse\n- chorus\n- verse bars 5-8\n- verse bars 3-3 x2\n"
        "- {section: chorus, label: Last chorus, times: 2}\n- {section: verse, label: Verse 9}\n"
    )
    assert [playing.label for playing in timeline.passes] == [
        "Intro (1 of 4)",
        "Intro (2 of 4)",
        "Intro (3 of 4)",
        "Intro (4 of 4)",
        "Verse 1",
        "Chorus",
        "Verse 2, bars 5-8",
        "Verse 3, bar 3 (1 of 2)",
        "Verse 3, bar 3 (2 of 2)",
        "Last chorus (1 of 2)",
        "Last chorus (2 of 2)",
        "Verse 9",
    ]
    assert [bar.number for bar in timeline.bars] == list(range(1, len(timeline.bars) + 1))


def test_endings_by_pass() -> None:
    """Pass n of an entry takes ending ((n - 1) mod 2) + 1, from 1 afresh in each entry."""
    timeline = unrolled(
        "sections: {a: {bars: A, times: 2, endings: {1: '| D |', 2: '| E | G |'}}}\nform: [a, a x2]"
    )
    once = ["A", "D", "A", "E", "G"]
    assert chords(timeline) == once * 3
    assert [(p.number, p.of) for p in timeline.passes] == [(1, 2), (2, 2)] + [
        (n, 4) for n in range(1, 5)
    ]


def test_an_ending_of_several_passes() -> None:
    timeline = unrolled(
        "sections: {a: {bars: A, times: 4, endings: {1-3: '| D |', 4: '| E |'}}}\nform: [a]"
    )
    assert chords(timeline) == ["A", "D"] * 3 + ["A", "E"]


def test_an_entry_s_own_ending() -> None:
    timeline = unrolled(
        "sections: {a: {bars: A, endings: {1: '| D |', 2: '| E |'}}}\n"
        "form: [{section: a, ending: 2}, {section: a, ending: 1, times: 3}]"
    )
    assert chords(timeline) == ["A", "E", *["A", "D"] * 3]


def test_a_cut_counts_through_body_and_first_ending() -> None:
    """Bars 2-3 of three: the section's own `times` doesn't apply, the entry's does."""
    timeline = unrolled(
        "sections: {a: {bars: '| A | F#m |', times: 2, endings: {1: '| D |', 2: '| E |'}}}\n"
        "form: [a bars 2-3 x3, {section: a, bars: 3-3, ending: 2}]"
    )
    assert chords(timeline) == ["F#m", "D"] * 3 + ["E"]
    assert [bar.pattern_bar for bar in timeline.bars] == [1, 2] * 3 + [2]


@pytest.mark.parametrize(
    ("bars", "cut", "expected"),
    [
        ("| A D | % | E |", "2-3", ["A", "D", "E"]),  # % is the bar before the cut
        ("| A D | / E / / | G |", "2-3", ["D", "E", "G"]),  # / takes up the chord before
        ("| A | D(push ring) | / / E / |", "3-3", ["D", "E"]),
        ("| A | N.C. | / / E / |", "3-3", ["N.C.", "E"]),
        ("| A | / / D / | % |", "3-3", ["D", "D"]),  # % of a bar that goes on goes on with D
    ],
)
def test_a_cut_goes_on_as_if_the_earlier_bars_had_played(
    bars: str, cut: str, expected: list[str]
) -> None:
    timeline = unrolled(f"sections: {{a: {{bars: '{bars}'}}}}\nform: [a bars {cut}]")
    assert chords(timeline) == expected
    assert timeline.spans[0].start_whole == timeline.start_whole


def test_a_cut_resumes_a_mark_but_no_push() -> None:
    timeline = unrolled(
        "sections: {a: {bars: '| A | D(push ring) | / / E / |'}}\nform: [a, a bars 3-3]"
    )
    assert timeline.spans[-2].marks == {"ring"}
    assert timeline.spans[-2].start_whole == 3 * BAR


def test_a_cut_keeps_the_meter_that_was_set_before_it() -> None:
    timeline = unrolled("sections: {a: {bars: '| 3/4 A | D | E |'}}\nform: [a bars 2-3]")
    assert [str(bar.meter) for bar in timeline.bars] == ["3/4", "3/4"]


def test_a_cut_slows_over_its_own_last_bars() -> None:
    timeline = unrolled(
        "tempo: 100\nsections: {a: {bars: '| A | D | E |', tempo: {to: 60, over: 1}}}\n"
        "form: [a bars 1-2 x2]"
    )
    slowing = [(3 * BAR + Fraction(k, 4), Fraction(100 - 10 * (k + 1))) for k in range(4)]
    assert bpms(timeline) == [(Fraction(0), Fraction(100)), *slowing]


# Chords in their bars


@pytest.mark.parametrize(
    ("meter", "bar", "eighths"),
    [
        ("4/4", "A D", [0, 4]),
        ("4/4", "A / / D", [0, 6]),
        ("6/8", "A D", [0, 3]),
        ("6/8", "A / / / D /", [0, 4]),
        ("12/8", "A D", [0, 6]),
        ("7/8", "A D E", [0, 2, 4]),
        ("7/8 (3+2+2)", "A D E", [0, 3, 5]),
        ("11/8 (3+3+3+2)", "A / D E", [0, 6, 9]),
        ("5/8", "A D", [0, 3]),
    ],
)
def test_slots(meter: str, bar: str, eighths: list[int]) -> None:
    timeline = unrolled(f"meter: {meter}\ntempo: {{bpm: 120, beat: 1/4}}\n"
                        f"sections: {{a: {{bars: '| {bar} |'}}}}\nform: [a]")  # fmt: skip
    assert [span.slot_whole * 8 for span in timeline.spans] == eighths
    assert timeline.spans[-1].end_whole == timeline.end_whole


def test_a_bar_again_keeps_the_places_of_its_chords() -> None:
    """A bar of 3/4 again as 6/8, which is as long: its quarters stay quarters."""
    timeline = unrolled("sections: {a: {bars: '| 3/4 A D E | 6/8 % |'}}\nform: [a]")
    assert [span.slot_whole * 4 for span in timeline.spans] == [0, 1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("bars", "number", "slot", "sounds"),
    [
        ("| A | D(push) |", 1, Fraction(1), Fraction(7, 8)),  # over the bar line
        ("| A / D(push) / |", 1, Fraction(1, 2), Fraction(3, 8)),
        ("| A(push) | D |", 0, Fraction(0), Fraction(0)),  # the song starts on its bar line
        # A chord of an eighth (two sixteenths in 4/16) keeps half of itself.
        ("| 4/16 A / D(push) / |", 1, Fraction(1, 8), Fraction(1, 16)),
        # The second push is measured from where the first one sounds.
        ("| 4/16 A / D(push) E(push) |", 2, Fraction(3, 16), Fraction(1, 8)),
    ],
)
def test_a_push(bars: str, number: int, slot: Fraction, sounds: Fraction) -> None:
    timeline = unrolled(f"tempo: {{bpm: 100, beat: 1/4}}\ncount-in: 1\n"
                        f"sections: {{a: {{bars: '{bars}'}}}}\nform: [a]")  # fmt: skip
    span, start = timeline.spans[number], timeline.start_whole
    assert (span.slot_whole - start, span.start_whole - start) == (slot, sounds)
    if number:
        assert timeline.spans[number - 1].end_whole == span.start_whole


def test_a_push_into_a_section_keeps_its_own_pass() -> None:
    timeline = unrolled("sections: {a: {bars: A}, b: {bars: 'D(push)'}}\nform: [a, b]")
    assert timeline.spans[1].start_whole == Fraction(7, 8)
    assert timeline.spans[1].playing.section == "b"


# Merging


def test_song_section_and_entry_merge_key_by_key() -> None:
    timeline = unrolled(
        "parts:\n  click: {sound: claves, subdivide: 1/8, volume: 90}\n"
        "sections:\n  a:\n    bars: A\n    parts: {click: {volume: 70, accent: off}}\n"
        "form:\n- a\n- {section: a, parts: {click: {sound: wood}, bass: off}}\n"
    )
    plain, changed = (playing.settings.parts for playing in timeline.passes)
    values = {"sound": "claves", "subdivide": Fraction(1, 8), "volume": 70, "accent": False}
    printed = PartSettings(on=True, values=values)
    assert plain == {"click": printed}
    assert changed["click"].sound == "wood"
    assert (changed["click"].volume, SUBDIVIDE.of(changed["click"])) == (70, Fraction(1, 8))
    assert changed["bass"].on is False


def test_a_mapping_after_off_turns_the_part_on() -> None:
    timeline = unrolled(
        "parts: {bass: off}\n"
        "sections: {a: {bars: A}, b: {bars: D, parts: {bass: {line: beats}}}}\nform: [a, b]"
    )
    a, b = (playing.settings.parts["bass"] for playing in timeline.passes)
    assert (a.on, b.on, LINE.of(b)) == (False, True, "beats")


def test_off_after_a_mapping_keeps_what_was_said() -> None:
    timeline = unrolled(
        "parts: {bass: {line: beats}}\nsections: {a: {bars: A, parts: {bass: off}}}\n"
        "form: [a, {section: a, parts: {bass: {volume: 90}}}]"
    )
    a, again = (playing.settings.parts["bass"] for playing in timeline.passes)
    assert (a.on, LINE.of(a)) == (False, "beats")
    assert (again.on, LINE.of(again), again.volume) == (True, "beats", 90)


def test_tempos_merge_too() -> None:
    """The song's beat, the section's change and the entry's speed make one tempo."""
    timeline = unrolled(
        "tempo: {bpm: 60, beat: 1/2}\nmeter: 2/2\n"
        "sections: {a: {bars: '| A | D |', tempo: {to: 40, over: 1}}}\n"
        "form: [a, {section: a, tempo: 80}, {section: a, tempo: {to: 20, over: 1}}]"
    )
    halves = [(int(at * 2), int(bpm / 2)) for at, bpm in bpms(timeline)]
    song = [(0, 60), (2, 50), (3, 40)]
    faster, slower = [(4, 80), (6, 60), (7, 40)], [(8, 60), (10, 40), (11, 20)]
    assert halves == song + faster + slower


# The end


@pytest.mark.parametrize("bpm", ["40", "97.3", "120", "331"])
def test_the_ring_out_is_two_seconds_rounded_up_to_a_64th(bpm: str) -> None:
    timeline = unrolled(f"tempo: {bpm}\nsections: {{a: {{bars: A}}}}\nform: [a]")
    seconds = timeline.ring_out_whole * timeline.seconds_per_whole(timeline.end_whole)
    a_64th = timeline.seconds_per_whole(timeline.end_whole) / 64
    assert 2 <= seconds < 2 + a_64th
    assert (timeline.ring_out_whole * 64).denominator == 1
