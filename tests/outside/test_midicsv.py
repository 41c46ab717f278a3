"""The built file as Debian's midicsv prints it, tick by tick.

Collected only where the program is installed; conftest.py says so where it is not, and
refuses that under continuous integration.
"""

from __future__ import annotations

import csv
import subprocess
from collections import Counter
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from outside.conftest import Song

TICKS = 960


@pytest.fixture(scope="module")
def rows(song: Song, tmp_path_factory: pytest.TempPathFactory) -> list[list[str]]:
    """Each row: track from 1, tick, what it is, its values."""
    path = tmp_path_factory.mktemp("midicsv") / "song.mid"
    path.write_bytes(song.data)
    done = subprocess.run(["midicsv", str(path)], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    return list(csv.reader(done.stdout.splitlines(), skipinitialspace=True))


def of(rows: list[list[str]], kind: str) -> list[list[str]]:
    return [row for row in rows if row[2] == kind]


def test_header(rows: list[list[str]]) -> None:
    assert rows[0][2:] == ["Header", "1", "6", str(TICKS)]
    assert rows[-1][2] == "End_of_file"


def test_tempos(song: Song, rows: list[list[str]]) -> None:
    """Microseconds a quarter: 60,000,000 / tempo, to the nearest (SMF 1.0, FF 51)."""
    tempos = [(int(tick), int(us)) for _, tick, _, us in of(rows, "Tempo")]
    assert tempos == [(at * TICKS, round(60_000_000 / bpm)) for at, bpm in song.tempos]


def test_meters(song: Song, rows: list[list[str]]) -> None:
    """The unit as a power of two (SMF 1.0, FF 58)."""
    meters = [(int(row[1]), int(row[3]), 2 ** int(row[4])) for row in of(rows, "Time_signature")]
    assert meters == [(at * TICKS, n, d) for at, n, d in song.meters]


def test_notes(song: Song, rows: list[list[str]]) -> None:
    names = {row[0]: row[3] for row in of(rows, "Title_t")}
    struck = Counter(names[row[0]] for row in of(rows, "Note_on_c") if int(row[5]))
    ended = Counter(names[row[0]] for row in of(rows, "Note_off_c"))
    assert struck == song.notes
    assert ended == song.notes


def test_markers_and_chords(rows: list[list[str]]) -> None:
    markers = [(int(tick) / TICKS, text) for _, tick, _, text in of(rows, "Marker_t")]
    assert markers == [
        (0, "Count-in"),
        (4, "Verse 1"),
        (18, "Lilt"),
        (30, "Verse 2"),
        (44, "Close"),
    ]
    chords = [(int(tick) / TICKS, text) for _, tick, _, text in of(rows, "Text_t")]
    assert chords[:5] == [(4, "A"), (8, "D"), (10, "E"), (12, "A"), (14, "D")]


def test_lyrics(rows: list[list[str]]) -> None:
    """A space ends a word, 0D a line, 0A a paragraph (RP-017); midicsv prints them in octal."""
    lyrics = [(int(tick) / TICKS, text) for _, tick, _, text in of(rows, "Lyric_t")]
    assert lyrics == [
        (start + at, text)
        for start in (4, 30)
        for at, text in ((0, "la "), (4, "lö\\015"), (10, "so\\012"))
    ]


def test_duration(song: Song, rows: list[list[str]]) -> None:
    """Every track ends on one tick, and the ticks to the last bar line come to its seconds."""
    ends = {int(row[1]) for row in of(rows, "End_track")}
    assert ends == {(song.quarters + song.ring_out_quarters) * TICKS}
    tempos = [(int(tick), int(us)) for _, tick, _, us in of(rows, "Tempo")]
    last_line = song.quarters * TICKS
    until = [tick for tick, _ in tempos[1:]] + [last_line]
    microseconds = sum(
        (end - tick) * us / TICKS for (tick, us), end in zip(tempos, until, strict=True)
    )
    assert microseconds == pytest.approx(float(song.seconds) * 1e6, abs=0.5 * song.quarters)
