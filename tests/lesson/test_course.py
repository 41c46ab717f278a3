"""Songs' folders side by side: distinct names, links, and those that are out of date."""

from __future__ import annotations

import itertools
import json
import os
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from folders import RECORD, recorded, shown
from lesson.songs import held
from lesson.songs import song as long_song

from backing.cli import main
from backing.errors import BackingError
from backing.lesson import course, run
from backing.lesson.course import folder_names
from backing.lesson.tasks import Task, answer
from backing.system.files import same_on_some_disks

SONG = """\
title: {title}
tempo: 240
human: 0
sections: {{verse: {{bars: "| A |"}}}}
form: [verse]
practice: {{formats: [midi], set: [60]}}
"""
FILES = ["01 whole song 60%.mid", "contents.html", "contents.txt"]
COLLIDING = (
    "Foo", "Foo.zip", "FOO", "foo.ZIP", "Foo zip", "Foo.zip.zip", "Foo (b)", "Foo.", "..", ".", "",
    "song", "/", "contents.html", ".backing.json", "backing.json", "é", "e\u0301", "E\u0301",
    "e\u200d\u0301", "ß", "SS", "K", "\u212a", "con", "CON", "x" * 300, "x" * 300 + ".zip",
)  # fmt: skip


class InThisProcess:
    """Does the tasks of a lesson here, which is faster than starting a process for them."""

    def __class_getitem__(cls, of: type) -> type:
        return cls

    def __init__(self, module: str, jobs: int) -> None:
        assert (module, jobs) == ("backing.lesson.tasks", 1)

    def __enter__(self) -> InThisProcess:
        return self

    def __exit__(self, *error: object) -> None:
        pass

    def answers(self, tasks: list[Task]) -> Iterator[tuple[Task, object]]:
        for task in tasks:
            try:
                yield task, answer(task)
            except BackingError as error:
                yield task, error


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(run, "Workers", InThisProcess)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "forms").mkdir()
    return tmp_path


def type_song(form: str, title: str) -> None:
    Path("forms", f"{form}.yaml").write_text(SONG.format(title=json.dumps(title)))


def ran(*arguments: str) -> Result:
    result = CliRunner().invoke(main, ["lesson", "--out", "week", "--jobs", "1", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


# Names


def test_no_two_songs_share_a_folder_or_an_archive(tmp_path: Path) -> None:
    pairs = itertools.permutations(COLLIDING, 2)
    for titles in (*pairs, COLLIDING, COLLIDING[::-1], COLLIDING[::2] * 2):
        count = len(titles)
        songs = [(title, f"{'abc'[at % 3]}.yaml") for at, title in enumerate(titles)]
        names = folder_names(tmp_path, songs)
        files = [f"{name}{ending}" for name in names for ending in ("", ".zip")]
        assert len(set(map(same_on_some_disks, files))) == 2 * count, titles
        for name in names:
            assert name not in ("", ".", "..")
            assert not name.startswith(".")
            assert Path(name).name == name
            assert len(name.encode()) < 250


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_songs_with_such_titles_are_all_made_and_the_next_run_changes_nothing(
    here: Path, order: tuple[int, int]
) -> None:
    titles = [("Foo", "Foo.zip"), ("contents.html", ".."), ("é", "e\u0301")]
    for number, pair in enumerate(titles):
        for at in order:
            type_song(f"{number}{'ab'[at]}", pair[at])
    assert ran("forms", "--zip").exit_code == 0
    made = held(here / "week")
    assert sum(name.endswith(".mid") for name in made) == 6
    assert sum(name.endswith(".zip") for name in made) == 6
    again = ran("forms", "--zip", "--tidy")
    assert again.exit_code == 0
    assert "all 24 unchanged" in again.output
    assert held(here / "week") == made


def test_names_of_one_disk() -> None:
    for name in ("Foo", "é", "ẞ", "ǰ", "ΐ"):
        for form in ("NFC", "NFD"):
            other = unicodedata.normalize(form, name.upper())
            assert same_on_some_disks(other) == same_on_some_disks(name)
    assert same_on_some_disks("e") != same_on_some_disks("é")


def test_a_song_alone_keeps_the_folder_that_it_has_beside_one_with_its_title(here: Path) -> None:
    type_song("a", "Same")
    type_song("b", "Same")
    assert ran("forms").exit_code == 0
    before = held(here / "week")
    result = ran("forms/a.yaml", "--tidy")
    assert result.exit_code == 0
    assert "all 3 unchanged" in result.output
    assert held(here / "week") == before


# Links


def elsewhere(week: Path) -> Path:
    target = week.parent / "mine"
    target.mkdir()
    (target / FILES[0]).write_bytes(b"my recording")
    return target


def another_song(week: Path) -> Path:
    return week / "Other"


def nowhere(week: Path) -> Path:
    return week.parent / "nowhere"


def itself(week: Path) -> Path:
    return week / "Kettle"


def a_file(week: Path) -> Path:
    path = week.parent / "a file"
    path.write_bytes(b"mine")
    return path


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("target", [elsewhere, another_song, nowhere, itself, a_file])
def test_nothing_is_written_through_a_link_in_place_of_a_song_s_folder(
    here: Path, target: Callable[[Path], Path], force: bool
) -> None:
    type_song("k", "Kettle")
    type_song("o", "Other")
    assert ran("forms").exit_code == 0
    week = here / "week"
    os.rename(week / "Kettle", here / "kept")
    (week / "Kettle").symlink_to(target(week))
    before = held(here)
    result = ran("forms", "--zip", "--tidy", *(["--force"] if force else []))
    assert result.exit_code == 2
    assert result.output.count("forms/k.yaml: week/Kettle: this is a link where") == 1
    assert "1 song in week" in result.output
    assert (week / "Kettle").is_symlink()
    after = held(here)
    assert {name: after[name] for name in before} == before | {
        "week/.backing.json": after["week/.backing.json"]
    }
    assert set(after) - set(before) == {"week/Other.zip"}


def test_a_link_that_appears_during_the_run_is_not_followed(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_song("k", "Kettle")
    mine = elsewhere(here / "week")
    before = held(mine)
    original = course.enter

    def enter(folder: Path, form: str, work: Path) -> None:
        original(folder, form, work)
        if not folder.exists():
            folder.symlink_to(mine)

    monkeypatch.setattr(course, "enter", enter)
    result = ran("forms")
    assert result.exit_code == 2
    assert "this is a link" in result.output
    assert held(mine) == before


def test_the_output_folder_itself_may_be_a_link(here: Path) -> None:
    type_song("k", "Kettle")
    (here / "disk").mkdir()
    (here / "week").symlink_to(here / "disk")
    assert ran("forms").exit_code == 0
    assert shown(here / "disk" / "Kettle") == FILES


# Folders that are out of date


@pytest.fixture
def week(here: Path) -> Path:
    """A course of two songs with archives."""
    type_song("a", "Apple")
    type_song("b", "Berry")
    assert ran("forms", "--zip").exit_code == 0
    return here / "week"


NAMES = ["Apple", "Apple.zip", "Berry", "Berry.zip"]


def rename() -> None:
    type_song("a", "Avocado")


def remove() -> None:
    Path("forms/a.yaml").unlink()


@pytest.mark.parametrize("change", [rename, remove])
def test_an_old_folder_is_named_until_it_is_tidied(week: Path, change: Callable[[], None]) -> None:
    change()
    for _ in range(2):
        result = ran("forms", "--zip")
        assert result.exit_code == 0
        assert result.output.count("week/Apple: this song was renamed or its form is gone") == 1
        assert "add --tidy" in result.output
        assert set(NAMES) <= set(shown(week))
    assert ran("forms", "--zip", "-q").output == ""
    result = ran("forms", "--zip", "--tidy")
    assert result.exit_code == 0
    assert "Removed week/Apple" in result.output
    new = ["Avocado", "Avocado.zip"] if change is rename else []
    assert shown(week) == [*new, "Berry", "Berry.zip"]
    assert recorded(week) == set(shown(week))
    assert "Apple" not in ran("forms", "--zip").output


def leave_alone() -> None:
    """The song is only not among those of this run."""


def rename_unseen() -> None:
    type_song("a", "Avocado")


def move_the_forms_away() -> None:
    Path("b.yaml").write_bytes(Path("forms/b.yaml").read_bytes())
    os.rename("forms", "unplugged")
    Path("unplugged/b.yaml").rename("unplugged/c.yaml")


def make_unreadable() -> None:
    Path("forms/a.yaml").write_text("title: [")


@pytest.mark.parametrize(
    ("change", "forms"),
    [
        (leave_alone, ["forms/b.yaml"]),
        (rename_unseen, ["forms/b.yaml"]),
        (move_the_forms_away, ["b.yaml"]),
        (make_unreadable, ["forms"]),
    ],
)
def test_a_folder_whose_form_may_still_exist_is_kept(
    week: Path, change: Callable[[], None], forms: list[str]
) -> None:
    change()
    before = held(week / "Apple")
    for more in ([], ["--tidy"]):
        result = ran(*forms, "--zip", *more)
        assert result.exit_code == (2 if change is make_unreadable else 0)
        assert "week/Apple" not in result.output
    assert held(week / "Apple") == before
    assert set(NAMES) <= set(shown(week))


def test_songs_that_swap_their_titles_swap_their_folders(week: Path) -> None:
    type_song("a", "Berry")
    type_song("b", "Apple")
    result = ran("forms", "--zip", "--tidy")
    assert result.exit_code == 0
    assert "Removed" not in result.output
    assert shown(week) == NAMES


def test_one_of_two_swapped_songs_takes_only_its_own_old_folder_away(week: Path) -> None:
    type_song("a", "Berry")
    type_song("b", "Apple")
    assert "Removed week/Apple" in ran("forms/a.yaml", "--zip", "--tidy").output
    assert shown(week) == ["Berry", "Berry.zip"]
    assert ran("forms", "--zip", "--tidy").exit_code == 0
    assert shown(week) == NAMES


def test_a_renamed_song_that_fails_keeps_its_old_folder(week: Path) -> None:
    type_song("a", "Avocado")
    (week / "Avocado").write_bytes(b"mine")
    result = ran("forms", "--zip", "--tidy")
    assert result.exit_code == 2
    assert shown(week / "Apple") == FILES


def test_a_copy_and_a_folder_renamed_by_hand_are_the_user_s(week: Path) -> None:
    (week / "Apple").rename(week / "Apple in spring")
    before = held(week / "Apple in spring")
    type_song("a", "Avocado")
    assert ran("forms", "--zip", "--tidy").exit_code == 0
    assert held(week / "Apple in spring") == before


def add_a_file(folder: Path) -> Path:
    path = folder / "notes.txt"
    path.write_bytes(b"mine")
    return path


def change_a_file(folder: Path) -> Path:
    (folder / FILES[0]).write_bytes(b"mine")
    return folder / FILES[0]


def add_a_folder(folder: Path) -> Path:
    (folder / "photos").mkdir()
    return folder / "photos"


def add_a_hidden_file(folder: Path) -> Path:
    path = folder / ".mine"
    path.write_bytes(b"mine")
    return path


def replace_a_file_by_a_link(folder: Path) -> Path:
    target = folder.parent.parent / "target.mid"
    os.rename(folder / FILES[0], target)
    (folder / FILES[0]).symlink_to(target)
    return folder / FILES[0]


def change_the_archive(folder: Path) -> Path:
    path = folder.with_name("Apple.zip")
    path.write_bytes(b"mine")
    return path


def make_a_chart_there(folder: Path) -> Path:
    CliRunner().invoke(main, ["schema", "--out", str(folder / "mine.json")])
    return folder / "mine.json"


@pytest.mark.parametrize("change", [rename, remove])
@pytest.mark.parametrize(
    "touch",
    [add_a_file, change_a_file, add_a_folder, add_a_hidden_file, replace_a_file_by_a_link,
     change_the_archive, make_a_chart_there],
)  # fmt: skip
def test_what_is_not_ours_or_changed_is_left_and_named_once(
    week: Path, change: Callable[[], None], touch: Callable[[Path], Path]
) -> None:
    kept = touch(Path("week/Apple"))
    change()
    result = ran("forms", "--zip", "--tidy")
    assert result.exit_code == 2
    assert result.output.count(f"{kept}: this ") == 1
    assert "so it was left as it is" in result.output
    assert os.path.lexists(kept)
    if kept.is_file() and touch is not replace_a_file_by_a_link:
        assert touch is make_a_chart_there or kept.read_bytes() == b"mine"
    left = set(shown(week / "Apple")) if (week / "Apple").exists() else set()
    assert left == ({kept.name} if touch is not change_the_archive else set())
    again = ran("forms", "--zip", "--tidy")
    assert again.exit_code == 0
    assert "week/Apple" not in again.output
    assert os.path.lexists(kept)


def test_a_damaged_record_of_an_old_folder_removes_nothing(week: Path) -> None:
    (week / "Apple" / RECORD).write_bytes(b"{")
    rename()
    result = ran("forms", "--zip", "--tidy")
    assert result.exit_code == 2
    assert sorted(path.name for path in (week / "Apple").iterdir()) == [RECORD, *FILES]


def test_a_tidying_cut_short_is_continued(week: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rename()
    assert ran("forms", "--zip").exit_code == 0
    unlink = Path.unlink
    for steps in range(6):
        left = steps

        def counted(path: Path, missing_ok: bool = False) -> None:
            nonlocal left
            if "Apple" in str(path) and ".backing-work" not in str(path):
                if not left:
                    raise KeyboardInterrupt
                left -= 1
            unlink(path, missing_ok)

        with monkeypatch.context() as patched:
            patched.setattr(Path, "unlink", counted)
            try:
                CliRunner().invoke(
                    main, ["lesson", "forms", "--out", "week", "--zip", "--tidy", "-q"]
                )
            except KeyboardInterrupt:
                continue
    assert ran("forms", "--zip", "--tidy").exit_code == 0
    assert shown(week) == ["Avocado", "Avocado.zip", "Berry", "Berry.zip"]


def test_another_format_is_no_reason_to_remove_a_folder(week: Path) -> None:
    text = Path("forms/a.yaml").read_text().replace("60]", "75]")
    Path("forms/a.yaml").write_text(text)
    result = ran("forms", "--tidy")
    assert result.exit_code == 0
    assert shown(week) == ["Apple", "Berry"]
    assert shown(week / "Apple")[0] == "01 whole song 75%.mid"


def test_a_folder_made_from_a_pipe_is_never_out_of_date(here: Path) -> None:
    os.mkfifo(here / "pipe.yaml")
    assert course.form_key(here, "pipe.yaml") == ""
    Path("long.yaml").write_text(long_song())
    assert course.form_key(here / "week", "long.yaml") == "../long.yaml"
