"""Which bars a stretch has, found by the names of sections, twice independently."""

from __future__ import annotations

from fractions import Fraction

import pytest
from practice_songs import song

from backing.errors import BackingError
from backing.practice import Stretch, Version
from backing.practice.stretch import at_speed, bars_of
from backing.timeline import unroll
from backing.verify.expected.practice_maths import expect_version

# Bars: verse 1-2, chorus 3 and 4 (two passes), verse 5-6, chorus 7-8, verse bar 2 as 9, and
# the verse once more with its own label, 10-11.
SONG = song(
    "tempo: 60\nsections:\n"
    '  verse: {bars: "| A | D |"}\n  chorus: {bars: "| E |", times: 2}\n'
    "form:\n  - verse\n  - chorus\n  - verse\n  - chorus\n  - verse bars 2\n"
    "  - {section: verse, label: Goodbye}\n"
)

FOUND = {
    ("verse", "verse"): (1, 2),
    ("Verse 2", "Verse 2"): (5, 6),
    ("chorus", "chorus"): (3, 4),
    ("CHORUS 2", "chorus 2"): (7, 8),
    ("Chorus 1 (2 of 2)", "Chorus 1 (2 of 2)"): (4, 4),
    ("Verse 3, bar 2", "Verse 3, bar 2"): (9, 9),
    ("Goodbye", "Goodbye"): (10, 11),
    ("verse", "chorus"): (1, 4),
    ("Verse 2", "chorus"): (5, 8),
    ("chorus", "verse"): (3, 6),
    ("Chorus 1 (2 of 2)", "Goodbye"): (4, 11),
}


@pytest.mark.parametrize("names", FOUND)
def test_a_section_is_found_by_its_name(names: tuple[str, str]) -> None:
    stretch = Stretch(*names)
    assert bars_of(unroll(SONG), stretch) == FOUND[names]
    expected = expect_version(SONG, Version(stretch=stretch))
    first, last = FOUND[names]
    assert expected.passes[0].first_bar == first
    assert len(expected.bars) == last - first + 1


@pytest.mark.parametrize(
    ("stretch", "says"),
    [
        (
            Stretch("bridge", "bridge"),
            "no section 'bridge'. The song has:\n    Verse 1\n    Chorus 1\n    Verse 2",
        ),
        (Stretch("Goodbye", "chorus"), "'chorus' comes before the stretch begins"),
        (Stretch(bars=(9, 12)), "there is no bar 12. The song has bars 1-11."),
        (Stretch(bars=(99, 99)), "there is no bar 99. The song has bars 1-11."),
        (Stretch(bars=(0, 1)), "there is no bar 0. The song has bars 1-11."),
        (Stretch(bars=(4, 2)), "bars 4-2 run backward"),
    ],
)
def test_bars_or_sections_that_the_song_lacks_are_refused(stretch: Stretch, says: str) -> None:
    with pytest.raises(BackingError) as error:
        bars_of(unroll(SONG), stretch)
    assert says in str(error.value)
    with pytest.raises(BackingError):
        expect_version(SONG, Version(stretch=stretch))


def test_at_another_speed_only_time_changes() -> None:
    timeline = unroll(SONG)
    slow = at_speed(timeline, Fraction(1, 2))
    assert (slow.bars, slow.spans) == (timeline.bars, timeline.spans)
    assert slow.seconds(timeline.end_whole) == 2 * timeline.seconds(timeline.end_whole)
