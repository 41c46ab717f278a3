"""Forms made to break the reader are read, or refused at their place: soon, in little memory."""

from __future__ import annotations

import builtins
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from form.songs import LEAST, MOST_SECONDS, least_s, song, spoiled

from backing.cli import main
from backing.errors import BackingError, FormError
from backing.form import read_form_text
from backing.form.comments import without_comment
from backing.form.reader import read_form, read_form_bytes
from backing.timeline import unroll

MOST_MIB = 300
SIZE = 1 << 18

# Huge numbers


@pytest.mark.parametrize(
    "number",
    ["1e308", "-1e308", "1e-308", ".inf", ".nan", "-92", "0", "0x5C", "0o134", "9_2", "9" * 5000,
     "{bpm: 1e308, beat: 1/4}", "{bpm: 92, beat: 1/999999999}", "{bpm: 92, beat: 999999999/1}"],
    ids=lambda number: number[:20],
)  # fmt: skip
def test_a_tempo_must_be_a_plain_number_in_its_range(only, number):
    problem = only(spoiled("92", number))
    assert problem.line == 2
    assert len(problem.message) < 200


@pytest.mark.parametrize(
    "entry",
    ["verse x999999999", "verse x0", "verse x10000", "verse x99999999999999999999", "verse x1e9",
     "verse bars 1-999999999", "verse bars 0-1", "verse bars 2-1", "verse bars 1-2 x999999999",
     "{section: verse, times: 999999999}", "{section: verse, bars: 1-99999}",
     "{section: verse, transpose: 999999}", "{section: verse, ending: 999999}"],
)  # fmt: skip
def test_no_entry_plays_more_bars_than_a_form_can_hold(only, entry):
    assert only(spoiled("- verse", f"- {entry}")).line == 7


@pytest.mark.parametrize(
    ("key", "value"),
    [("capo", "99999999999"), ("count-in", "1e3"), ("meter", "999999999/4"),
     ("meter", "4/999999999"), ("meter", "999/16 (999)"), ("pitch", "1e308"), ("human", "101"),
     ("per_row", "999999"), ("feel", "{swing: 999999999/1}"), ("feel", "{swing: 1/0}"),
     ("parts", "{click: {plays: 1 of 9999}}"), ("parts", "{click: {volume: 999999999}}"),
     ("tuning", "C-1 C-1 C-1 C-1 C-1 C-1"), ("tuning", "E2 A2 D3 G3 B3 G9"),
     ("shapes", "{A: x-99-99-99-99-99}"), ("strums", "{a: {step: 999/1, play: D}}"),
     ("strums", "{a: {step: 1/0, play: D}}")],
)  # fmt: skip
def test_numbers_elsewhere_have_their_ranges(only, key, value):
    assert only(song(**{key: value})).line == 5


# Tricks with letters


@pytest.mark.parametrize(
    "text",
    [spoiled("- verse", "- verse x٣"), spoiled("- verse", "- verse x２"),
     spoiled("- verse", "- verse bars ١-٢"), spoiled("- verse", "- {section: verse, bars: ١-٢}"),
     spoiled("92", "９２"), song(capo="٣"), song(meter="٤/٤"), song(feel="{swing: ٣/٢}"),
     song(parts="{click: {plays: ٢ of ٤}}"), song(shapes="{A: x٠2220}"), spoiled("| A |", "| Ａ |"),
     spoiled("| A |", "| А |"), spoiled("| A |", "| ٤/٤ A |"), song(tuning="E٢ A2 D3 G3 B3 E4")],
)  # fmt: skip
def test_only_the_common_digits_and_letters_count(problems, text):
    assert problems(text)


def test_letters_that_only_look_like_others_are_reported_apart_with_advice(only):
    problem = only(spoiled("- verse", "- vеrse"))  # a Cyrillic e
    assert problem.fix == "Did you mean verse?"


def test_an_accent_may_be_typed_in_either_way(reads):
    for written, named in (("Cafe\u0301", "Café"), ("Café", "Cafe\u0301")):
        form = reads(LEAST.replace("verse:", f"{written}:").replace("- verse", f"- {named}"))
        assert form.entries[0].section == "Café"


@pytest.mark.parametrize("trick", ["\u202e", "\u200b", "\u2066", "\u00ad", "\u2060", "\U000e0041"])
def test_invisible_letters_are_kept_out_of_names_and_messages(only, trick):
    for text in (
        LEAST.replace("verse", f"ve{trick}rse"),
        spoiled("| A |", f"| A{trick} |"),
        spoiled("tempo:", f"te{trick}mpo:").replace("title", "tempo: 9\ntitle"),
        spoiled("- verse", f"- ve{trick}rse"),
    ):
        problem = only(text) if "tempo: 9\n" not in text else None
        if problem is None:
            with pytest.raises(FormError) as caught:
                read_form_text(text)
            problem = caught.value.problems[0]
        assert f"{problem.message}{problem.fix}".isprintable()


@pytest.mark.parametrize("turn", ["\u202a", "\u202b", "\u202c", "\u202d", "\u202e", "\u2066",
                                  "\u2067", "\u2068", "\u2069", "\u206a"])  # fmt: skip
def test_what_turns_the_direction_of_writing_reaches_no_file(only, turn):
    """It would turn what follows a title on a page, and hide the ending of a file's name."""
    for written in (f"Lan{turn}tern", f'"Lan\\u{ord(turn):04x}tern"'):
        problem = only(spoiled("Lantern", written))
        assert problem.line == 1
        assert f"(U+{ord(turn):04X}) isn't allowed in a form. Delete it." in (
            f"{problem.message} {problem.fix}"
        )


@pytest.mark.parametrize("title", ["שיר לשבת", "أغنية", "می‌خواهم", "👩‍🎤", "‏שיר"])
def test_writing_from_right_to_left_and_joined_letters_are_read(reads, title):
    assert reads(spoiled("Lantern", title)).title == title


def test_a_file_s_name_can_not_steer_the_terminal():
    with pytest.raises(FormError) as caught:
        read_form_bytes(b"title: a\n", "a\x1b[31m\nb.yaml")
    assert "\x1b" not in str(caught.value)
    assert str(caught.value).startswith("a\N{REPLACEMENT CHARACTER}[31m\N{REPLACEMENT CHARACTER}b")


# Tricks with YAML


@pytest.mark.parametrize(
    "tricky",
    ["!!python/object/apply:os.system [ls]", "!!python/name:os.system", "!!binary aGk=",
     "!!set {a}", "!<tag:yaml.org,2002:int> 3", "!!timestamp 2001-01-01"],
)  # fmt: skip
def test_a_yaml_tag_creates_no_object(only, tricky):
    assert "!" in only(spoiled("Lantern", tricky)).message


def test_merge_keys_merge_nothing(problems):
    found = problems("<<: {tempo: 92}\n" + LEAST.replace("tempo: 92\n", ""))
    assert "no key '<<'" in found[0].message + found[1].message


def filled(start: str, piece: str, end: str = "") -> str:
    """The least form with a quarter of a mebibyte of pieces after `start`, or at its own end."""
    begun = next(
        (known for known in ("title: ", "tempo: ", "| A", "- verse") if start.startswith(known)), ""
    )
    room = SIZE - len((LEAST + start + end).encode())
    written = start + piece * (room // len(piece.encode())) + end
    return LEAST.replace(begun, written, 1) if begun else LEAST + written


# fmt: off
LARGE = {
    "newlines": filled("", "\n"),
    "comments": filled("", "# a\n"),
    "blanks": filled("title: ", " ", "a "),
    "one value": filled("title: ", "x"),
    "accents": filled("title: a", "\u0301"),
    "quoted": filled('title: "', "\\x41", '" # '),
    "backslashes": LEAST.replace("Lantern", '"' + "\\" * (SIZE - 200) + '"'),
    "anchors": filled("title: &a", "a", " x "),
    "one key": filled("t", "t", ": a"),
    "a number": filled("tempo: ", "9"),
    "an entry": filled("- verse", " x2 verse"),
    "meters": filled("| A", " | 4/4("),
    "brackets": filled("| A", "("),
    "comments in bars": filled("| A", " #"),
    "comments in brackets": filled("| A (", " #"),
    "comments after brackets": filled("| A", " ( #"),
    "marks": filled("| A", "(push)"),
    "a chord": filled("| A", "#11"),
    "a pattern": filled('strums: {a: {step: 1/8, play: "', "D ", '"}}'),
    "a tab": filled('riffs: {a: {step: 1/8, tab: "e|', "-", '|"}}'),
    "tab rows": filled("riffs:\n a:\n  step: 1/8\n  tab: |\n", "   e|-|\n"),
    "a shape": filled("shapes: {A: x", "-x", "}"),
    "a tuning": filled("tuning: E2", " E2"),
    "endings": filled("x: {", "1,", "}"),
    "flow": filled("x: [", "a,", "]"),
    "wide alias": filled("x: &a [" + "a," * 4_000 + "]\ny: [", "*a,", "]"),
    "problems": filled("", "k: a\n"),
}
# fmt: on


@pytest.mark.parametrize("name", LARGE)
def test_a_form_full_of_anything_is_answered_quickly(name):
    data = LARGE[name].encode()
    assert SIZE * 0.7 < len(data) <= SIZE
    assert least_s(lambda: received(data)) < MOST_SECONDS


def received(data: bytes) -> None:
    """Read, or refused at some place and in not too many words."""
    try:
        read_form_bytes(data, "a.yaml")
        return
    except FormError as error:
        refusal = error
    assert refusal.problems
    assert len(str(refusal)) < 50_000


def test_comments_are_found_in_one_pass():
    start = time.process_time()
    assert without_comment("(" + " #" * 500_000) == "(" + " #" * 500_000
    assert without_comment("(" + " #" * 500_000 + ") # so") == "(" + " #" * 500_000 + ") "
    assert time.process_time() - start < MOST_SECONDS


def test_the_largest_takes_little_memory(tmp_path):
    paths = []
    for name in ("brackets", "a chord", "comments after brackets", "meters"):
        piece = LARGE[name][len(LEAST) // 2 :][: SIZE // 2]
        text = LEAST.replace("| A", "| A" + piece * 3)
        paths.append(tmp_path / f"{name}.yaml")
        paths[-1].write_text(text[:SIZE])
    script = (
        "import gc, re, sys\n"
        "from backing.errors import FormError\n"
        "from backing.form.reader import read_form\n"
        "for path in sys.argv[1:]:\n"
        "    try: read_form(path)\n"
        "    except FormError: gc.collect()\n"
        # not ru_maxrss, which a process inherits from the one that starts it
        "print(re.search(r'VmHWM:\\s+(\\d+)', open('/proc/self/status').read())[1])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *paths], capture_output=True, text=True, check=True
    )
    kibibytes = int(done.stdout)
    assert 5 < kibibytes / 1024 < MOST_MIB


# Files that aren't forms


def test_ten_megabytes_are_refused_right_away(tmp_path):
    path = tmp_path / "big.yaml"
    path.write_bytes(b"a: b\n" * 2_000_000)
    start = time.process_time()
    with pytest.raises(FormError, match="larger than 128 KiB"):
        read_form(path)
    assert time.process_time() - start < 0.5


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("missing", "there is no such file."),
        ("folder", "this is a folder, not a file."),
        ("loop", "can't be read: its links lead in a circle."),
        ("below a file", "can't be read: part of this path is a file, not a folder."),
        ("long", "can't be read: the name is too long."),
        ("socket", "can't be read: this is not an ordinary file."),
    ],
)
def test_what_can_not_be_opened_is_one_sentence(tmp_path: Path, what: str, why: str) -> None:
    path = tmp_path / "a.yaml"
    if what == "folder":
        path.mkdir()
    elif what == "loop":
        path.symlink_to(path)
    elif what == "below a file":
        path.write_text(LEAST)
        path = path / "b.yaml"
    elif what == "long":
        path = tmp_path / ("a" * 5000)
    elif what == "socket":
        with socket.socket(socket.AF_UNIX) as server:
            server.bind(str(path))
    with pytest.raises(BackingError) as caught:
        read_form(path)
    assert str(caught.value) == f"{path}: {why} Give a form, such as song.yaml."
    assert str(caught.value).count("\n") == 0
    assert_refused(path)


def test_a_file_that_may_not_be_read_is_one_sentence(tmp_path, monkeypatch):
    # The superuser may read everything, so permission is refused by hand.
    def refused(*_: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(builtins, "open", refused)
        with pytest.raises(BackingError, match="can't be read") as caught:
            read_form(tmp_path / "a.yaml")
    assert "you don't have permission" in str(caught.value)


@pytest.mark.parametrize(
    "data",
    [b"\0" * 100, LEAST.encode().replace(b"Lantern", b"L\0ntern"), LEAST.encode("utf-16"),
     LEAST.encode("utf-32"), LEAST.encode().replace(b"Lantern", b"L\xe4ntern"), b"\xff\xfe",
     b"MThd\0\0\0\6\0\1\0\1\1\xe0", b"\x89PNG\r\n\x1a\n", b"PK\3\4", b"%PDF-1.7\n",
     b"\xef\xbb\xbf" * 2, b"\xed\xa0\x80", b"\xc0\x80", b"\xf8\x88\x80\x80\x80",
     b"title: a\n\tb: c\n", b"\t", b"\r", b"%", b"!", b"- ", b"? ", b": ", b"...", b"---\n---\n",
     b"{", b"[", b"'", b'"', b"|", b">", b"&", b"*", b"&a *a"],
    ids=repr,
)  # fmt: skip
def test_bytes_that_are_not_a_form_are_refused_by_the_commands(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(data)
    assert_refused(path)


def assert_refused(path: Path) -> None:
    """Both commands end with 2 and a sentence that names the file, and leave nothing behind."""
    before = sorted(path.parent.parent.rglob("*"))
    for command in (["check", str(path)], ["build", str(path), "--out", str(path.parent)]):
        result = CliRunner().invoke(main, command)
        assert result.exit_code == 2
        assert isinstance(result.exception, SystemExit)
        assert result.output.startswith(str(path))
    assert sorted(path.parent.parent.rglob("*")) == before


# Windows and old editors


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_a_byte_order_mark_change_nothing(reads, ends, mark):
    text = LEAST.replace('"| A | D |"', "|\n      | A | D/F# |\n      | 3/4 E | % |")
    assert reads(mark + text.replace("\n", ends)) == reads(text)
    assert len(unroll(reads(mark + text.replace("\n", ends))).bars) == 4
