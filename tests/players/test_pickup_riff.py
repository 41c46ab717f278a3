"""A pickup with a riff of its own: what is played in it, and what is refused."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.errors import FormError
from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.practice import Version, play_version
from backing.practice.versions import PLAIN
from backing.verify import verify_bytes

EIGHTH = Fraction(1, 8)
ROWS = ["--------", "--------", "--------", "------0-", "----0-2-", "--0-----"]


def tab(rows: list[str]) -> str:
    return "".join(
        f"      {name}|{row}|\n" for name, row in zip("EBGDAE"[-len(rows) :], rows, strict=True)
    )


def form(first: str = "verse", bars: str = "| N.C. / / D |", rows: list[str] = ROWS) -> str:
    return (
        f'pickup: {{bars: "{bars}", parts: {{lead: {{riff: lead-in}}}}}}\nkey: D\n'
        f"riffs:\n  lead-in:\n    step: 1/8\n    tab: |\n{tab(rows)}"
        f"  tune:\n    step: 1/4\n    tab: |\n{tab(['5-5-'] + ['----'] * 5)}"
        "parts: {lead: off}\nsections:\n"
        '  verse: {bars: "| D | G |"}\n'
        '  tune: {bars: "| D | G |", parts: {guitar: {riff: tune}, lead: {riff: tune}}}\n'
        f"form: [{first}, tune]\n"
    )


@pytest.mark.parametrize("first", ["verse", "tune"])
def test_the_pickup_has_its_own_riff_and_the_song_its_own(played, first: str) -> None:
    song = played(form(first))
    pickup = song.timeline.pickup
    assert pickup is not None
    notes = [note for note in song.notes("lead") if note.start_whole < pickup.end_whole]
    assert [(note.start_whole - pickup.start_whole) / EIGHTH for note in notes] == [2, 4, 6, 6]
    assert all(note.end_whole <= pickup.end_whole for note in notes)
    guitar = [note for note in song.notes("guitar") if note.start_whole < pickup.end_whole]
    assert bool(guitar) == (first == "verse")  # it strums D, but plays no riff of the first pass
    after = [note for note in song.notes("lead") if note.start_whole >= pickup.end_whole]
    assert len(after) == {"verse": 4, "tune": 8}[first]


@pytest.mark.parametrize("first", ["verse", "tune"])
@pytest.mark.parametrize(
    "version",
    [
        PLAIN,
        Version(transpose=2),
        Version((Fraction(3, 4), Fraction(1)), between=1),
        Version(without=frozenset({"guitar"})),
        Version(loop=2),
    ],
)
def test_files_with_a_pickups_riff_are_proven(first: str, version: Version) -> None:
    read = read_form_text("title: Led In\ntempo: 92\n" + form(first))
    data = to_bytes(play_version(read, version).score)
    assert verify_bytes(read, data, version=version).disagreements == ()


def for_bass(first: str, instrument: str, push: str) -> str:
    """The pickup's riff on a bass, whose first chord may come early; the tune has a riff too."""
    text = form(first, rows=ROWS[2:]).replace("lead: {riff: lead-in}", "bass: {riff: lead-in}")
    return (
        text.replace("guitar: {riff: tune}, ", "bass: {riff: lead-in}, ").replace(
            'bars: "| D | G |"', f'bars: "| D{push} | G |"'
        )
        + f"instrument: {instrument}\n"
    )


@pytest.mark.parametrize("push", ["", "(push)"])
@pytest.mark.parametrize("instrument", ["guitar", "bass"])
@pytest.mark.parametrize("first", ["verse", "tune"])
def test_the_bass_may_have_a_riff_in_the_pickup(
    played, first: str, instrument: str, push: str
) -> None:
    text = for_bass(first, instrument, push)
    song = played(text)
    pickup = song.timeline.pickup
    assert pickup is not None
    notes = [note for note in song.notes("bass") if note.start_whole < pickup.end_whole]
    places = [(note.start_whole - pickup.start_whole) / EIGHTH for note in notes]
    comes_early = [7] * (first == "verse" and push != "")  # the line's chord, not the riff's
    assert places == [2, 4, 6, 6, *comes_early]
    read = read_form_text("title: Led In\ntempo: 92\n" + text)
    for version in (PLAIN, Version(transpose=2), Version((Fraction(3, 4),), loop=2)):
        data = to_bytes(play_version(read, version).score)
        assert verify_bytes(read, data, version=version).disagreements == ()


@pytest.mark.parametrize("first", ["verse", "tune"])
@pytest.mark.parametrize(
    ("lead", "plays"),
    [
        ("off", []),
        ("{strum: {step: 1/4, play: D D D D}}", [6]),  # the pickup's D
        ("{pick: {step: 1/4, play: p i m a}}", [6]),
        ("{volume: 50}", [2, 4, 6]),
        ("{riff: tune}", [2, 4, 6]),
        ("on", [2, 4, 6]),
    ],
)
def test_an_arrangement_may_take_the_pickups_riff_away(
    first: str, lead: str, plays: list[int]
) -> None:
    text = form(first) + f"arrangements: {{simple: {{lead: {lead}}}}}\n"
    read = read_form_text("title: Led In\ntempo: 92\nhuman: 0\n" + text)
    version = Version(arrangement="simple")
    song = play_version(read, version)
    assert verify_bytes(read, to_bytes(song.score), version=version).disagreements == ()
    (notes,) = [track.notes for track in song.score.tracks if track.part == "lead"] or [()]
    early = Fraction(1, 32)  # a stroke starts a little before its place
    starts = {note.start_whole + early for note in notes}
    places = sorted({start // EIGHTH for start in starts if start < 1})
    assert places == plays


def test_a_riff_of_the_pickup_that_is_lost_is_found() -> None:
    read = read_form_text("title: Led In\ntempo: 92\n" + form())
    without = read._replace(pickup_parts={})
    for right, wrong in ((read, without), (without, read)):
        data = to_bytes(play_version(wrong, PLAIN).score)
        assert verify_bytes(right, data).disagreements


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            form(rows=[row + "--" for row in ROWS]),
            "the pickup is in 4/4, but the riff lead-in has 10",
        ),
        (form(bars="| 1/4 D |"), "the pickup is in 1/4, but the riff lead-in has 8 cells of 1/8"),
        (form(rows=[f"{row}|{row}" for row in ROWS]), "but the riff lead-in has 2"),
        (form().replace("[verse", "[{section: verse, transpose: -1}"), "can't be transposed by -1"),
        (form().replace("riff: lead-in", "riff: leadin"), "there is no riff 'leadin'"),
        (form().replace("lead: {riff: lead-in}", "lead: {volume: 9}"), "lead has no key 'volume'"),
        (form(bars="| D | G |"), "a pickup must be exactly one bar"),
    ],
)
def test_what_does_not_fit_is_refused(text: str, message: str) -> None:
    with pytest.raises(FormError) as refused:
        read_form_text("title: Led In\ntempo: 92\n" + text)
    assert message in str(refused.value)
