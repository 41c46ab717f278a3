"""Names of files from titles: safe on every system, of their own letters, and never shared."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

import pytest
from click.testing import CliRunner
from folders import RECORD, shown
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.cli import main
from backing.system.files import MAX_NAME_BYTES, distinct_names, file_name

# Microsoft, "Naming Files, Paths, and Namespaces": reserved characters, device names (also with
# an ending), no dot or space at a name's end. POSIX adds the slash and NUL, both among them.
FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
DEVICES = {
    "CON",
    "PRN",
    "AUX",
    "NUL",
    *(f"{port}{n}" for port in ("COM", "LPT") for n in "0123456789¹²³"),
}

TRICKY = (
    "/", "\\", "..", ".", " ", "\0", "\n", "\r", "\t", ":", "*", "?", '"', "<", ">", "|", "~",
    "$HOME", "%2e%2e%2f", "CON", "con", "nul", "aux", "COM1", "lpt9", "COM¹", "PRN", "CON.", "a",
    "B", "ß", "İ", "é", "e\u0301", "静", "\u202e", "\u200b", "\ufeff", "\u2028", "🎸", "\U000e0001",
    "\ud800", "-", ".mid", "：", "／", "ﬀ", "ſ", "K",
)  # fmt: skip
#: Letters that look like a blank: fillers of Hangul, and Braille without a dot (Unicode names).
BLANK = "\u115f\u1160\u3164\uffa0\u2800"
TITLES = st.lists(st.sampled_from(TRICKY), max_size=6).map("".join) | st.text(max_size=40)
FEW = settings(max_examples=400, derandomize=True, deadline=None)


def is_safe(name: str) -> bool:
    """Whether a name can stand in any folder of any common system, with .mid after it."""
    return (
        0 < len(name.encode("utf-8")) <= MAX_NAME_BYTES
        and not FORBIDDEN.search(name)
        and name.split(".")[0].rstrip().upper() not in DEVICES
        and name == name.strip(". ")
        and Path(name).name == name
        and all(unicodedata.category(char)[0] != "C" for char in name)
        and not set(name) & set(BLANK)
    )


@FEW
@given(TITLES)
def test_any_title_makes_a_safe_name(title: str) -> None:
    name = file_name(title)
    assert is_safe(name), name
    assert file_name(name) == name


@pytest.mark.parametrize(
    "unsafe",
    [
        "",
        ".",
        "..",
        "a/b",
        "a\\b",
        "CON",
        "nul.txt",
        "a.",
        " a",
        "a\u202eb",
        "a\u3164b",
        "a" * 999,
        "a:b",
    ],
)
def test_what_is_not_safe(unsafe: str) -> None:
    assert not is_safe(unsafe)


@FEW
@given(
    st.text(
        st.characters(categories=("L", "M", "Nd"), exclude_characters=BLANK),
        min_size=1,
        max_size=40,
    )
)
def test_letters_of_any_script_are_kept(title: str) -> None:
    composed = unicodedata.normalize("NFC", title)
    if composed.upper() not in DEVICES:
        assert file_name(title) == composed.encode()[:MAX_NAME_BYTES].decode(errors="ignore")


@pytest.mark.parametrize("device", sorted(DEVICES))
def test_no_title_is_a_device(device: str) -> None:
    for title in (
        device,
        device.lower(),
        f" {device} ",
        f"{device}.",
        f"{device}.mid",
        f"{device} .",
    ):
        assert is_safe(file_name(title))
        assert device.lower() in file_name(title).lower()


@FEW
@given(
    st.lists(
        st.tuples(TITLES, st.sampled_from(("a.yaml", "b/a.yaml", "c.yaml", "..", ""))), max_size=8
    )
)
def test_names_of_one_build_never_meet(wanted: list[tuple[str, str]]) -> None:
    names = distinct_names(wanted)
    assert len(names) == len(wanted)
    seen = {unicodedata.normalize("NFD", name.casefold()) for name in names}
    assert len(seen) == len(names)
    assert all(map(is_safe, names))


@pytest.mark.parametrize(
    "titles",
    [
        ["Song", "Song", "Song"],
        ["Song", "SONG", "song (a)"],
        ["Song (b)", "Song", "Song"],
        ["Straße", "STRASSE"],
        ["Caf\u00e9", "Cafe\u0301"],
        ["a/b", "a:b", "a b"],
        ["...", "", "song"],
        ["川" * 200, "川" * 199],
        ["CON", "CON song"],
    ],
)
def test_titles_that_settle_alike_get_names_apart(titles: list[str]) -> None:
    names = distinct_names([(title, f"{'abc'[index]}.yaml") for index, title in enumerate(titles)])
    assert len({unicodedata.normalize("NFD", name.casefold()) for name in names}) == len(titles)
    assert all(map(is_safe, names))


@pytest.mark.parametrize(
    "title",
    ["../../escape", "..\\..\\escape", "/etc/passwd", "C:\\evil", "~/evil", "a/../../b", "....//x",
     "CON", "nul.mid", "静かな川", "ألف", "שלום", "Ωδή", "a\u0301", "🎸", "-rf *", "$(touch x)",
     "`x`", "x" * 200],
)  # fmt: skip
def test_a_build_stays_in_its_folder(title: str, tmp_path: Path) -> None:
    form = tmp_path / "in" / "form.yaml"
    form.parent.mkdir()
    quoted = title.replace("'", "''")
    form.write_text(
        f"title: '{quoted}'\ntempo: 90\nsections: {{a: {{bars: A}}}}\nform: [a]\n", encoding="utf-8"
    )
    out = tmp_path / "deep" / "out"
    result = CliRunner().invoke(main, ["build", str(form), "--out", str(out), "-q"])
    assert result.exit_code == 0
    (name,) = shown(out)
    built = out / name
    ours = {form, built, out / RECORD}
    assert {path for path in tmp_path.rglob("*") if path.is_file()} == ours
    assert built.name == f"{file_name(title)}.mid"
    assert is_safe(built.stem)


def test_long_names_stay_short_where_titles_clash() -> None:
    wanted = [("川" * 200, f"{'é' * 100}{number % 3}.yaml") for number in range(12)]
    names = distinct_names(wanted)
    assert len(set(names)) == 12
    assert all(map(is_safe, names))


def test_songs_of_one_title_are_all_kept(tmp_path: Path) -> None:
    text = "title: {}\ntempo: 90\nsections: {{a: {{bars: A}}}}\nform: [a]\n"
    paths = []
    for folder, title in (("x", "Тихо"), ("y", "ТИХО"), ("z", "Тихо")):
        path = tmp_path / folder / "song.yaml"
        path.parent.mkdir()
        path.write_text(text.format(title), encoding="utf-8")
        paths.append(str(path))
    result = CliRunner().invoke(main, ["build", *paths, "--out", str(tmp_path / "out"), "-q"])
    assert result.exit_code == 0
    assert set(shown(tmp_path / "out")) == {
        "Тихо (song).mid",
        "ТИХО (song) 2.mid",
        "Тихо (song) 3.mid",
    }


def test_versions_of_several_songs_never_share_a_file(tmp_path: Path) -> None:
    from fractions import Fraction

    from backing.practice.versions import PLAIN, Version
    from backing.system.files import same_on_some_disks
    from backing.theory.instruments import GUITAR
    from backing.tracks.forms import distinct_stems

    slow = Version(speeds=(Fraction(3, 4),))
    long = "x" * (MAX_NAME_BYTES - 1)
    for titles in (
        ("Foo", "Foo - 75%"), ("Foo - 75%", "Foo"), (f"{long}a", f"{long}b"), ("FOO - 75%", "foo"),
        ("Foo", "Foo - bass", "Foo - bass - 75%"), ("Foo - bass", "Foo"),
    ):  # fmt: skip
        names = distinct_names([(title, f"{at}.yaml") for at, title in enumerate(titles)])
        songs = [(name, GUITAR) for name in names]
        stems = distinct_stems(tmp_path, songs, (PLAIN, slow, slow), with_parts=True)
        files = [same_on_some_disks(s.name + end) for s in stems for end in ("", " - bass")]
        assert len(set(files)) == 6 * len(titles)
        assert stems[0] == tmp_path / titles[0]


def test_a_file_of_the_students_part_is_called_after_the_instrument(tmp_path: Path) -> None:
    """So a song that is called like it gets another name."""
    from backing.practice.versions import PLAIN
    from backing.theory.instruments import GUITAR, INSTRUMENTS
    from backing.tracks.forms import distinct_stems

    ukulele = INSTRUMENTS["ukulele"]
    for first, called in ((ukulele, "Foo - ukulele 2"), (GUITAR, "Foo - ukulele")):
        songs = [("Foo", first), ("Foo - ukulele", GUITAR)]
        _, second = distinct_stems(tmp_path, songs, (PLAIN,), with_parts=True)
        assert second.name == called
