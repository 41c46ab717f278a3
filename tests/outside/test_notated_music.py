"""Music by others, turned into forms: the built file's bars must be the reference's.

Three sources, all inside music21's wheel and read from there; nothing of them is kept here:
a test suite of MusicXML files, a lead sheet of Stephen Foster's "I Dream of
Jeanie with the Light Brown Hair", and tunes of Ryan's Mammoth Collection (1883) in ABC
notation. Only what is written goes into a form (see `notation_as_form`); what is played comes from
music21's own expansion of the repeats, and is compared with the file as two readers
measure it: the number of bars, each bar line and the duration, in quarters and seconds.

music21's expansion is trusted where every repeat has its start, or is the first of its
tune and goes back to the top; a later `:|` without one it plays from the top again, which
ABC 2.1 (4.8) does not say. Directions in words (D.C., segno) music21 takes for text, so both
sides play past them. What is left out is listed below with its reason.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

import music21
import pretty_midi
import pytest
from music21 import abcFormat, converter, harmony, note, stream
from music21.abcFormat import translate
from music21.musicxml import xmlToM21
from music21.repeat import ExpanderException
from outside.notation import Unsayable, bars_of, pieces_of, with_pickup
from outside.notation_as_form import form_of

from backing.errors import BackingError
from backing.form import read_form_text
from backing.tracks.one import midi_of
from backing.verify.readers.measured import by_summing

HOME = Path(music21.__file__).parent
(SUITE,) = (HOME / "musicxml").glob("*TestSuite")
LEAD_SHEET = HOME / "corpus" / "leadSheet" / "fosterBrownHair.mxl"
TUNES = HOME / "corpus" / "ryansMammoth"

#: Files of the suite that are left out, by their numbers in it, and why.
LEFT_OUT_OF_SUITE = {
    "02a": "a bar of 95/128 of a whole note",
    "03ab": "a meter in units of 1/64",
    "13aa": "a double sharp or flat for a root",
    "31c": "a tempo changes inside a bar",
    "45c": "a later repeat without its start",
    "45d": "badly formed repeats",
    "45f": "badly formed repeats",
    "45g": "badly formed repeats",
    "71f": "a chord of the kind Neapolitan",
    "71g": "two chords at one place",
    "99a": "a bar of 9/32 of a whole note",
}

#: Tunes that are left out, by file, for each reason.
LEFT_OUT_OF_TUNES = {
    "a later repeat without its start": (
        "BagOfMealThe BattleTheCashJig BelleOfBostonReel BelleOfTheStageLancashireClog "
        "BullyForYouJig ComeUnderMyPladdieJig EbbTideHornpipe FarewellSweetNoraJig FlingDangReel "
        "GreenSleevesJig HiberniasPrideReel HumorsOfGlendartThe JollyTinkersReel KittyOfOulartJig "
        "MollInTheWadJig NightOfFunJigThe OldBachelorsReel PaddyHandlysGooseReel RivalReelThe "
        "ShinsAroundTheFiresideJig SkipRopeClog TellHerIAmJig TerencesRambleReel"
    ).split(),
    "a repeat without its end": (
        "ComeToYourTayReel DublinLassesReel JackOnTheGreenJig NewLineReel ScotchPatriotsReel "
        "ThreeMerrySistersReel"
    ).split(),
    "a repeat ends before its bar line": ["RumAndOnionsJig"],
    "an ending for one pass alone": ["Eviction"],
    "a bar of 0 units": ["CosmopoliteReelThe"],
    "a meter in units of 1/32": ["42dHighlandRegimentStrathspey"],
    "a bar of 11/12 of a whole note": ["EssenceOfCinnamonSeed"],
}

#: Of each meter's tunes, in the order of their files, every n-th is taken.
EVERY = {"2/4": 4, "2/2": 3, "6/8": 3, "4/4": 1, "9/8": 1, "12/8": 1}
METER_SIGNS = {"C": "4/4", "C|": "2/2"}

#: A MIDI tempo is whole microseconds a quarter (SMF 1.0, FF 51); readers add in floats.
ROUNDING_S = 0.5e-6


@dataclass(frozen=True)
class Reference:
    """What music21 plays: each bar line with the last, in quarters and seconds."""

    quarters: list[float]
    seconds: list[float]


def played(part: Any) -> Reference:
    """music21's own expansion of a part's repeats."""
    expanded = part.expandRepeats()
    bars = expanded.getElementsByClass(stream.Measure)
    lines = [*(float(bar.offset) for bar in bars), float(expanded.highestTime)]
    tempos = expanded.metronomeMarkBoundaries()

    def seconds(at: float) -> float:
        spans = ((max(0.0, min(end, at) - start), mark) for start, end, mark in tempos)
        return sum(mark.durationToSeconds(length) for length, mark in spans if length)

    return Reference(lines, [seconds(line) for line in lines])


def assert_as_played(data: bytes, reference: Reference, before_s: Sequence[float] = ()) -> None:
    """Hold the file's bar lines and end against the reference; `before_s` are its count-in's.

    The file goes on for two seconds after its last bar line, to let strings ring; the
    last chord is struck on a beat and held up to that line.
    """
    start = before_s[-1] if before_s else 0.0
    expected = [*before_s[:-1], *(start + line for line in reference.seconds)]
    pretty = pretty_midi.PrettyMIDI(BytesIO(data))
    end = float(pretty.get_end_time())
    by_pretty = [float(line) for line in pretty.get_downbeats() if line < end - 1e-3]
    summed = [line for line in by_summing(data).bar_lines if line < end + 1e-3]
    close = {"abs": 1e-6 + ROUNDING_S * reference.quarters[-1], "rel": 0}
    assert len(by_pretty) + 1 == len(summed) == len(expected)
    assert summed == pytest.approx(expected, **close)
    assert [*by_pretty, end] == pytest.approx(expected, **close)


# The test suite and the lead sheet


def suite_files() -> dict[str, str]:
    """The suite's files by their numbers."""
    names = sorted(path.stem for path in SUITE.glob("*.xml"))
    by_number = {name.partition("-")[0]: name for name in names}
    assert len(by_number) == len(names)
    return by_number


FILES = suite_files()


def part_of(name: str) -> Any:
    """The first part of a file of the suite."""
    return xmlToM21.MusicXMLImporter().scoreFromFile(str(SUITE / f"{name}.xml")).parts[0]


def build(part: Any, title: str, count_in: int = 0) -> bytes:
    return midi_of(read_form_text(form_of(part, title, count_in)))


@pytest.mark.filterwarnings("ignore::music21.musicxml.xmlObjects.MusicXMLWarning")
@pytest.mark.parametrize("number", [n for n in FILES if n not in LEFT_OUT_OF_SUITE])
def test_the_suite(number: str) -> None:
    part = part_of(FILES[number])
    assert_as_played(build(part, number), played(part))


@pytest.mark.parametrize("number", LEFT_OUT_OF_SUITE)
def test_what_is_left_out_of_the_suite(number: str) -> None:
    part = part_of(FILES[number])
    with pytest.raises((Unsayable, ExpanderException), match=LEFT_OUT_OF_SUITE[number]):
        played(part), form_of(part, number)


#: Quarters played, as music21, partitura and verovio all have them.
AGREED_QUARTERS = {
    "11a-TimeSignatures": 42.5,
    "45b-RepeatWithAlternatives": 20,
    "45e-Repeats-Nested-Alternatives": 56,
}


@pytest.mark.parametrize("name", AGREED_QUARTERS)
def test_what_three_readers_agree_on(name: str) -> None:
    file = pretty_midi.PrettyMIDI(BytesIO(build(part_of(name), name)))
    half_second = 0.5  # a quarter, as music21 takes it where no tempo is written
    assert file.get_end_time() / half_second == pytest.approx(AGREED_QUARTERS[name], abs=1e-6)


def lead_sheet() -> Any:
    return converter.parse(LEAD_SHEET, forceSource=True).parts[0]


def test_the_lead_sheet() -> None:
    """35 written bars and 65 played, of four quarters each."""
    part, reference = lead_sheet(), played(lead_sheet())
    assert (len(bars_of(part)), len(reference.quarters) - 1) == (35, 65)
    assert reference.quarters[-1] == 260
    assert_as_played(build(part, "Lead sheet"), reference)


def test_the_lead_sheet_s_chords() -> None:
    """At each of music21's chord symbols, played out, the file names and sounds its bass."""
    part = lead_sheet()
    assert len(part.recurse().getElementsByClass(harmony.ChordSymbol)) == 40
    symbols = part.expandRepeats().flatten().getElementsByClass(harmony.ChordSymbol)
    file = by_summing(build(part, "Lead sheet"))
    assert file.chords is not None
    (bass,) = (voice.notes for voice in file.voices if voice.name == "Bass")
    struck = {
        round(start, 6): pitch % 12 for start, pitch in zip(bass.starts, bass.pitches, strict=True)
    }
    # Half a second a quarter: what music21 takes where no tempo is written.
    assert [struck.get(symbol.offset / 2) for symbol in symbols] == [
        symbol.bass().pitchClass for symbol in symbols
    ]
    assert [(at, text) for at, text in file.chords if text != "N.C."] == [
        (symbol.offset / 2, symbol.figure.replace("-", "b")) for symbol in symbols
    ]


# Ryan's Mammoth Collection


@dataclass(frozen=True)
class Tune:
    """What a tune has of that which is compared."""

    pickup: bool
    short_bars: bool
    repeats: bool
    endings: bool


def tune_part(file: Path) -> Any:
    """A tune as music21 reads it, but without beams, on which no bar depends: they take long."""
    with patch.object(stream.Stream, "makeBeams", lambda self, **_: self):
        text = file.read_text(encoding="utf-8", errors="replace")
        return translate.abcToStreamScore(abcFormat.ABCFile().readstr(text)).parts[0]


def tune_files(meter: str) -> list[Path]:
    """The collection's tunes that start in a meter, in the order of their files."""
    found = []
    for file in sorted(TUNES.glob("*.abc")):
        written = re.search(
            r"^M:\s*(\S+)", file.read_text(encoding="utf-8", errors="replace"), re.M
        )
        if written and METER_SIGNS.get(written[1], written[1]) == meter:
            found.append(file)
    return found


def only_bars(part: Any) -> Any:
    """The part with a rest in place of each bar's notes and chords, to play it out quickly.

    Hardly a tune has chord symbols; all take their tonic.
    """
    for measure in part.getElementsByClass(stream.Measure):
        quarters = measure.duration.quarterLength
        measure.remove(list(measure.notesAndRests))
        measure.insert(0, note.Rest(quarterLength=quarters))
    return part


@cache
def compared(meter: str) -> tuple[list[Tune], dict[str, str]]:
    """Build a meter's tunes and compare them: those that agree, and the others with why."""
    tunes, faults = [], {}
    left_out = {name for names in LEFT_OUT_OF_TUNES.values() for name in names}
    for number, file in enumerate(tune_files(meter)[:: EVERY[meter]]):
        if file.stem in left_out:
            continue
        try:
            tunes.append(compare(file, count_in=number % 3))
        except (AssertionError, Unsayable, ExpanderException, BackingError) as error:
            faults[file.stem] = f"{type(error).__name__}: {error}"
    return tunes, faults


def compare(file: Path, count_in: int) -> Tune:
    """Build one tune, and compare it with music21's playing of it."""
    part = only_bars(tune_part(file))
    bars = bars_of(part)
    pickup, pieces = with_pickup(pieces_of(bars))
    reference = played(part)
    # The pickup takes the place of the count-in's last bar.
    clicked = max(0, count_in - 1) if pickup else count_in
    bar_s = reference.seconds[2] - reference.seconds[1] if pickup else reference.seconds[1]
    before_s = [bar_s * number for number in range(clicked + 1)]
    form = form_of(part, file.stem, count_in, guitar=False)
    assert_as_played(midi_of(read_form_text(form)), reference, before_s)
    return Tune(
        pickup is not None,
        any(bar.short for bar in bars[1:]),
        any(piece.times > 1 for piece in pieces),
        any(bar.passes for bar in bars),
    )


@pytest.mark.parametrize("meter", EVERY)
def test_tunes(meter: str) -> None:
    tunes, faults = compared(meter)
    assert not faults
    assert tunes


def test_enough_tunes() -> None:
    """At least 300 in all, and enough of what makes bars hard to count."""
    tunes = [tune for meter in EVERY for tune in compared(meter)[0]]
    assert len(tunes) >= 300
    assert sum(tune.pickup for tune in tunes) >= 200
    assert sum(tune.short_bars for tune in tunes) >= 200
    assert sum(tune.repeats for tune in tunes) >= 200
    assert sum(tune.endings for tune in tunes) >= 20


@pytest.mark.parametrize("reason", LEFT_OUT_OF_TUNES)
def test_why_tunes_are_left_out(reason: str) -> None:
    """The first of each reason's tunes, to show that the reason is one."""
    part = only_bars(tune_part(TUNES / f"{LEFT_OUT_OF_TUNES[reason][0]}.abc"))
    with pytest.raises(Unsayable, match=reason):
        form_of(part, "Left out")
