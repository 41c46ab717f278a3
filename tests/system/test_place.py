"""Which files may be replaced, and that a run cut short anywhere leaves only files on record."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backing.errors import BackingError
from backing.system import place as place_module
from backing.system.place import LeftAlone, NewFile, place, write_file
from backing.system.record import NAME, digest, read
from backing.system.work import work_folder

FORM = "title: A\ntempo: 90\nsections: {a: {bars: A}}\nform: [a]\n"


def placed(folder: Path, force: bool = False, **files: bytes) -> tuple[LeftAlone, ...]:
    with work_folder(folder) as work:
        made = {}
        for name, data in files.items():
            (work / name).write_bytes(data)
            made[name] = NewFile(work / name)
        return place(folder, work, made, force)


def test_a_new_file_is_placed_and_recorded(tmp_path: Path) -> None:
    assert placed(tmp_path / "a" / "b", one=b"1", two=b"2") == ()
    folder = tmp_path / "a" / "b"
    assert sorted(os.listdir(folder)) == [NAME, "one", "two"]
    assert {name: entry.digests for name, entry in read(folder).items()} == {
        name: (digest(folder / name),) for name in ("one", "two")
    }


def test_our_own_unchanged_file_is_replaced_silently(tmp_path: Path) -> None:
    for data in (b"1", b"2", b"2", b"3"):
        assert placed(tmp_path, one=data) == ()
        assert (tmp_path / "one").read_bytes() == data
        assert len(read(tmp_path)["one"].digests) == 1


def a_strangers(path: Path) -> None:
    path.write_bytes(b"mine")


def an_edited(path: Path) -> None:
    placed(path.parent, **{path.name: b"1"})
    path.write_bytes(b"1, edited")


def a_touched_up(path: Path) -> None:
    """Edited, and its old time put back."""
    placed(path.parent, **{path.name: b"1"})
    stamp = path.stat()
    path.write_bytes(b"X")
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))


def an_empty(path: Path) -> None:
    path.write_bytes(b"")


def a_million_blank_lines(path: Path) -> None:
    """Slow to search for a form's keys, if that is done badly."""
    path.write_bytes(b"\n" * 1_000_000)


def a_million_blanks(path: Path) -> None:
    path.write_bytes(b"," + b" " * 1_000_000)


def one_of_another_name(path: Path) -> None:
    """Ours, but moved here by hand from another name, over which somebody relies on it."""
    placed(path.parent, other=b"1")
    os.replace(path.with_name("other"), path)


def without_its_record(path: Path) -> None:
    placed(path.parent, **{path.name: b"1"})
    (path.parent / NAME).unlink()


def with_a_damaged_record(path: Path) -> None:
    placed(path.parent, **{path.name: b"1"})
    (path.parent / NAME).write_bytes(b'{"files": {"one": 7}}')


def a_link(path: Path) -> None:
    target = path.with_name("elsewhere")
    target.write_bytes(b"mine")
    path.symlink_to(target)


def a_link_to_ours(path: Path) -> None:
    placed(path.parent, one=b"1")
    os.rename(path, path.with_name("kept"))
    path.symlink_to(path.with_name("kept"))


def a_broken_link(path: Path) -> None:
    path.symlink_to(path.with_name("nowhere"))


STRANGE: list[Callable[[Path], None]] = [
    a_strangers, an_edited, a_touched_up, an_empty, a_million_blank_lines,
    a_million_blanks, one_of_another_name, without_its_record,
    with_a_damaged_record, a_link, a_link_to_ours, a_broken_link,
]  # fmt: skip


@pytest.mark.parametrize("make", STRANGE, ids=lambda make: make.__name__)
def test_any_other_file_is_left_until_force_replaces_it(
    tmp_path: Path, make: Callable[[Path], None]
) -> None:
    path = tmp_path / "one"
    make(path)
    before = (path.is_symlink(), path.read_bytes() if path.exists() else None)
    (left,) = placed(tmp_path, one=b"new", two=b"2")
    assert left.path == path
    assert "left as it is" in str(left)
    assert "--force" in str(left)
    assert (path.is_symlink(), path.read_bytes() if path.exists() else None) == before
    assert (tmp_path / "two").read_bytes() == b"2"
    assert placed(tmp_path, force=True, one=b"new") == ()
    assert not path.is_symlink()
    assert path.read_bytes() == b"new"
    for other in ("elsewhere", "kept"):
        if (tmp_path / other).exists():
            assert (tmp_path / other).read_bytes() in (b"mine", b"1")
    assert placed(tmp_path, one=b"newer") == ()


def test_a_file_with_the_same_bytes_is_ours_whoever_made_it(tmp_path: Path) -> None:
    (tmp_path / "one").write_bytes(b"same")
    assert placed(tmp_path, one=b"same") == ()
    assert placed(tmp_path, one=b"other") == ()


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize(
    "text",
    [
        FORM,
        FORM.replace("\n", "\r\n"),
        "{title: A, tempo: 90, sections: {a: {bars: A}}, form: [a]}",
        json.dumps({"title": "A", "tempo": 90, "sections": {}, "form": ["a"]}, indent=2),
        FORM.replace("title: A\n", ""),
        "# a half-typed song\nsections:\n  verse:\nform:\n",
        "\ufeff" + FORM,
        "\ufeffsections: {a: {bars: A}}\nform: [a]\n",
    ],
    ids=range(8),
)
def test_a_form_is_never_replaced(tmp_path: Path, text: str, force: bool) -> None:
    path = tmp_path / "one"
    path.write_bytes(text.encode())
    (left,) = placed(tmp_path, force=force, one=b"new")
    assert "this is a form" in str(left)
    assert path.read_bytes() == text.encode()


@pytest.mark.parametrize("force", [False, True])
def test_folders_and_devices_are_never_replaced(tmp_path: Path, force: bool) -> None:
    (tmp_path / "one").mkdir()
    os.mkfifo(tmp_path / "two")
    one, two = placed(tmp_path, force=force, one=b"1", two=b"2")
    assert "this is a folder" in str(one)
    assert "not an ordinary file" in str(two)
    assert (tmp_path / "one").is_dir()
    assert (tmp_path / "two").is_fifo()


def test_one_file_alone_is_written_or_refused_with_nothing_left(tmp_path: Path) -> None:
    path = tmp_path / "new" / "song.html"
    write_file(path, b"1")
    write_file(path, b"2")
    path.write_bytes(b"edited")
    with pytest.raises(BackingError, match="has been changed since backing made it") as error:
        write_file(path, b"3")
    assert error.value.exit_code == 2
    assert path.read_bytes() == b"edited"
    assert sorted(os.listdir(path.parent)) == [NAME, "song.html"]
    write_file(path, b"3", force=True)
    assert path.read_bytes() == b"3"


class Cut(BaseException):
    """The end of a run: nothing that comes after it is done."""


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["one", "two"]), st.sampled_from([b"1", b"2", b"3"]), st.integers(0, 4)
    ),
    min_size=1,
    max_size=8,
)


@settings(
    max_examples=150, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(steps=STEPS)
def test_runs_cut_short_anywhere_continue_silently(
    steps: list[tuple[str, bytes, int]],
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each run is cut before its nth change of the disk; the next must take our files for ours."""
    folder = tmp_path_factory.mktemp("cut")
    replace = os.replace
    for name, data, after in steps:
        left = after

        def counted(*paths: Path) -> None:
            nonlocal left
            if not left:
                raise Cut
            left -= 1
            replace(*paths)

        with monkeypatch.context() as patched:
            patched.setattr(os, "replace", counted)
            try:
                assert placed(folder, **{name: data}) == ()
            except Cut:
                continue
        assert (folder / name).read_bytes() == data
    assert placed(folder, a=b"last", b=b"last") == ()
    assert place_module.os.replace is replace


def test_a_record_of_another_user_costs_the_record_and_not_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    replace = os.replace

    def refuse(made: Path, path: Path) -> None:
        if Path(path).name == NAME:
            raise PermissionError(1, "Operation not permitted")
        replace(made, path)

    monkeypatch.setattr(os, "replace", refuse)
    assert placed(tmp_path, one=b"1") == ()
    assert (tmp_path / "one").read_bytes() == b"1"
    assert len(placed(tmp_path, one=b"2")) == 1


@pytest.mark.parametrize(
    "printed",
    [b"", b"[]", b"null", b"\xff", b"[" * 100_000, b'{"files": []}', b'{"files": {"one": null}}',
     b'{"files": {"one": {"digests": "x", "about": {}}}}',
     b'{"files": {"one": {"digests": [""], "about": {}}}}'],
    ids=range(9),
)  # fmt: skip
def test_a_damaged_record_makes_no_file_ours(tmp_path: Path, printed: bytes) -> None:
    (tmp_path / "one").write_bytes(b"mine")
    (tmp_path / NAME).write_bytes(printed)
    assert len(placed(tmp_path, one=b"1")) == 1
    assert (tmp_path / "one").read_bytes() == b"mine"
    (tmp_path / "one").unlink()
    (tmp_path / "one").symlink_to(tmp_path / "nowhere")
    assert len(placed(tmp_path, one=b"1")) == 1


@pytest.mark.parametrize("name", ["../one", "/etc/one", ".hidden", "a\\b", "", "a\0b"])
def test_names_outside_the_folder_are_not_read_from_a_record(tmp_path: Path, name: str) -> None:
    entry = {"digests": ["0" * 64], "about": {}}
    (tmp_path / NAME).write_text(json.dumps({"files": {name: entry, "fine": entry}}))
    assert set(read(tmp_path)) == {"fine"}


def a_later_record(path: Path) -> None:
    path.write_text(json.dumps({"version": 2, "files": {}, "more": 1}))


def a_folder_as_record(path: Path) -> None:
    path.mkdir()
    (path / "mine").write_bytes(b"mine")


def a_link_as_record(path: Path) -> None:
    other = path.with_name("other")
    write_file(other / "one", b"old")
    path.symlink_to(other / NAME)


def a_broken_link_as_record(path: Path) -> None:
    path.symlink_to(path.with_name("nowhere"))


def a_pipe_as_record(path: Path) -> None:
    os.mkfifo(path)


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize(
    "make",
    [a_later_record, a_folder_as_record, a_link_as_record, a_broken_link_as_record,
     a_pipe_as_record],
)  # fmt: skip
def test_what_stands_in_place_of_the_record_stays_and_no_file_is_replaced(
    tmp_path: Path, make: Callable[[Path], None], force: bool
) -> None:
    (tmp_path / "one").write_bytes(b"old")
    make(tmp_path / NAME)
    before = (tmp_path / NAME).lstat()
    for name in ("one", "two"):
        with pytest.raises(BackingError, match=r"one|\.backing\.json"):
            write_file(tmp_path / name, b"new", force)
    assert (tmp_path / "one").read_bytes() == b"old"
    assert not (tmp_path / "two").exists()
    after = (tmp_path / NAME).lstat()
    assert (after.st_ino, after.st_mode, after.st_size) == (
        before.st_ino, before.st_mode, before.st_size,
    )  # fmt: skip
    assert not (tmp_path / "nowhere").exists()
    assert [name for name in os.listdir(tmp_path) if "work" in name] == []
