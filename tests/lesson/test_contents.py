"""The contents: every file with its length, tempo and a sentence; a page that is sound HTML."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pytest
from form.songs import song as form_text
from lesson.songs import NAMES, song

from backing.chart.drawing import drawing
from backing.form import read_form_text
from backing.lesson import Order, lesson
from backing.lesson.contents import Row, advice, html, text
from backing.lesson.identity import song_text
from backing.lesson.plan import items
from backing.page.data import song_data
from backing.practice.exercise_notes import exercise_notes
from backing.timeline import unroll

VOID = {"meta", "br", "link", "img"}


class Page(HTMLParser):
    """A page's links, words and open elements; what is not balanced is an error."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.links: list[str] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [value or "" for name, value in attrs if name in ("href", "src")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "song.yaml").write_text(song("Kettle & <Pot>"), "utf-8")
    (outcome,) = lesson([tmp_path / "song.yaml"], tmp_path / "out", Order(jobs=1))
    assert outcome.folder is not None, outcome.error
    return outcome.folder


def test_every_file_is_linked_and_every_link_leads_to_a_file(folder: Path) -> None:
    page = Page((folder / "contents.html").read_text("utf-8"))
    assert [unquote(link) for link in page.links] == NAMES
    assert all((folder / unquote(link)).is_file() for link in page.links)
    assert not any(link.startswith(("/", "http", "file")) for link in page.links)


def test_titles_are_text_not_markup(folder: Path) -> None:
    page = (folder / "contents.html").read_text("utf-8")
    assert "<Pot>" not in page
    assert "Kettle & <Pot>" in Page(page).words


def test_lengths_and_tempos_are_exact(folder: Path) -> None:
    # 240 bpm: 60% is 144, 75% is 180. Five bars of 4 beats with the count-in and the ring-out of
    # two seconds (forms/README.md says it of a ring; the last bar here holds none).
    printed = (folder / "contents.txt").read_text("utf-8")
    lines = [line for line in printed.splitlines() if line.startswith("0")]
    assert [line.split("   ")[2] for line in lines] == ["144 bpm", "180 bpm", "144 to 240 bpm"]
    assert [line.split("   ")[0] for line in lines] == NAMES
    ended = 5 * 4 * 60 / 144
    minutes, seconds = lines[0].split("   ")[1].split(":")
    assert ended <= int(minutes) * 60 + int(seconds) + 0.5 <= ended + 3


def test_notes_on_a_version_are_in_the_contents(tmp_path: Path) -> None:
    text = song().replace("by 20", "by 30")
    (tmp_path / "song.yaml").write_text(text)
    lesson([tmp_path / "song.yaml"], tmp_path, Order(jobs=1))
    printed = " ".join((tmp_path / "Kettle" / "contents.txt").read_text("utf-8").split())
    assert (
        "to 100%. The ladder's last step is 10 percentage points, not 30, to end on 100%."
        in printed
    )


def test_the_page_knows_light_and_dark_and_its_language(folder: Path) -> None:
    page = (folder / "contents.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>\n")
    assert '<html lang="en">' in page
    assert "color-scheme: light dark" in page
    assert '<meta charset="utf-8">' in page
    assert "script" not in page


@pytest.mark.parametrize(
    ("exercise", "says"),
    [
        ("60", "Play along with the whole song, at 60% of the tempo."),
        ("100", "Play along with the whole song, at full tempo."),
        (
            "{ladder: 60-100 by 10, section: verse}",
            "Play along with the verse, each time faster by 10 percentage points of full tempo, "
            "from 60% to 100%.",
        ),
        (
            "{bars: 1-2, loop: 8}",
            "Play along with bars 1-2, 8 times without stopping, at full tempo.",
        ),
        (
            "{without: guitar, speed: 75}",
            "The guitar is left out: you are the guitarist of the whole song, at 75% of the tempo.",
        ),
        (
            "{without: [bass, click]}",
            "Play the whole song without the click and bass: that is your part, at full "
            "tempo.",
        ),
        (
            "{only: [click, guitar]}",
            "Play the whole song with the click and guitar alone, at full tempo.",
        ),
        (
            "{trade: 1}",
            "Trade with the guitar in the whole song: it plays 1 bar, then you play 1 bar on your "
            "own, at full tempo.",
        ),
        (
            "{transpose: -1, capo: 0, easier: on}",
            "Play along with the whole song, at full tempo, 1 semitone lower, without a capo, "
            "with easier shapes.",
        ),
        (
            "{key: C, capo: 3}",
            "Play along with the whole song, at full tempo, in C, with the capo at fret 3.",
        ),
        (
            "{ladder: 100-80 by 20}",
            "Play along with the whole song, each time slower by 20 percentage points of full "
            "tempo, from 100% to 80%.",
        ),
    ],
)  # fmt: skip
def test_what_to_do_is_a_sentence(exercise: str, says: str) -> None:
    (item,) = items(read_form_text(form_text(key="A", practice=f"[{exercise}]")))
    assert advice(item.version) == says


def test_sound_plays_in_the_page_and_other_files_are_linked() -> None:
    form = read_form_text(form_text())
    rows = [Row(("01 a.mid", "01 a.mp3"), "Play.", 61_499, ("92",)), Row(("chart.pdf",), "Print.")]
    page = html(form, rows, frozenset({".mp3"}))
    assert Page(page).links == ["01%20a.mid", "01%20a.mp3", "01%20a.mp3", "chart.pdf"]
    assert page.count("<audio ") == 1
    assert text(form, rows).endswith(
        "01 a.mid\n01 a.mp3   1:01   92 bpm\n    Play.\nchart.pdf\n    Print.\n"
    )


def test_the_head_says_what_percentages_refer_to() -> None:
    form = read_form_text(form_text(meter="6/8", tempo="56.5", key="G", capo="2", by="the project"))
    head = text(form, []).splitlines()
    assert head[:3] == [
        "Lantern",
        "by the project",
        "key G, capo 2, 6/8, 56.5 bpm as written, counting 3/8",
    ]
    assert re.search("<p>by the project</p>", html(form, [], frozenset()))


NOTED = """\
title: T
by: Ann
for: <Ben>
tempo: 100
sections: {verse: {bars: "| A | D |"}}
form: [verse]
practice:
  - {section: verse, loop: 4, note: "thumb low & slow"}
  - {section: verse, loop: 4, note: now the fingers}
  - 60, 75
  - {speed: [60, 75], note: sing}
"""


def test_the_teachers_sentences_and_the_students_name(tmp_path: Path) -> None:
    form = read_form_text(NOTED)
    rows = [Row((f"{item.name}.mid",), "Play.", note=item.note) for item in items(form)]
    assert [row.note for row in rows] == [
        "thumb low & slow", "now the fingers", "", "", "sing", "sing",
    ]  # fmt: skip
    assert len({row.files for row in rows}) == 6
    page = Page(html(form, rows, frozenset()))
    assert {"by Ann", "for <Ben>", "thumb low & slow", "now the fingers"} <= {*page.words}
    assert "\nby Ann\nfor <Ben>\n" in text(form, rows)
    assert "    Play.\n    thumb low & slow\n" in text(form, rows)


def test_a_note_changes_the_page_and_the_contents_but_no_sound() -> None:
    form = read_form_text(NOTED)
    other = read_form_text(NOTED.replace("now the fingers", "thumb").replace("Ben", "Eve"))
    assert song_text(form) == song_text(other)
    assert list(exercise_notes(form)) == [
        "Verse, loop 4, 100%: thumb low & slow",
        "Verse, loop 4, 100%: now the fingers",
        "Whole song, 60%, 75%: sing",
    ]
    head = drawing(form).head
    assert head.by == "Ann, for <Ben>"
    assert head.notes == tuple(exercise_notes(form))
    data = song_data(unroll(form))
    assert (data["by"], tuple(data["notes"])) == (head.by, head.notes)
    assert data["id"] == song_data(unroll(other))["id"]
