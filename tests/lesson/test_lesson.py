"""The week's folders: made once, kept up to date, whole or not at all."""

from __future__ import annotations

import fcntl
import json
import os
import resource
import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest
from click.testing import CliRunner, Result
from folders import shown
from lesson.songs import NAMES, PAGES, held, song, stamps

from backing.cli import main
from backing.form import read_form
from backing.lesson import Order, lesson, run
from backing.lesson.plan import items
from backing.system import work
from backing.verify import verify_file

HIDDEN = ".backing.json"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "song.yaml").write_text(song())
    return tmp_path


@pytest.fixture
def week(here: Path) -> Path:
    """A song's folder, made."""
    assert ran("song.yaml").exit_code == 0
    return here / "week" / "Kettle"


def ran(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["lesson", "--out", "week", "--jobs", "1", *arguments])


def changed(before: dict[str, int], after: dict[str, int]) -> set[str]:
    return {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)}


def test_a_folder_has_the_set_the_contents_and_a_record(week: Path) -> None:
    assert sorted(held(week.parent)) == sorted(
        [HIDDEN, *(f"Kettle/{name}" for name in [*NAMES, *PAGES, HIDDEN])]
    )


def test_every_file_matches_its_version(week: Path, here: Path) -> None:
    form = read_form(here / "song.yaml")
    for name, item in zip(NAMES, items(form), strict=True):
        report = verify_file(form, week / name, version=item.version)
        assert report.agrees, report.disagreements
    one, two = (items(form)[index].version for index in (0, 2))
    assert not verify_file(form, week / NAMES[1], version=one).agrees
    assert not verify_file(form, week / NAMES[0], version=two).agrees


def test_names_sort_in_practice_order(week: Path) -> None:
    files = [name for name in held(week) if name.endswith(".mid")]
    assert sorted(files) == NAMES


# Again


def test_a_second_run_changes_nothing_and_says_so(week: Path) -> None:
    before = stamps(week.parent)
    again = ran("song.yaml")
    assert "all 5 unchanged" in again.output
    assert stamps(week.parent) == before


@pytest.mark.parametrize("name", [*NAMES, *PAGES])
def test_what_was_changed_by_hand_is_left_and_what_was_deleted_is_made_again(
    week: Path, name: str
) -> None:
    whole = held(week)
    (week / name).write_bytes(whole[name][:-1] + b"?")
    result = ran("song.yaml")
    assert result.exit_code == 2
    says = f"week/Kettle/{name}: this file has been changed since backing made it"
    assert says in result.output
    assert held(week)[name] == whole[name][:-1] + b"?"
    assert ran("song.yaml", "--force").exit_code == 0
    assert held(week) == whole
    (week / name).unlink()
    before = stamps(week)
    assert "1 file made, 4 unchanged" in ran("song.yaml").output
    assert held(week) == whole
    assert changed(before, stamps(week)) == {name}


def test_a_comment_in_the_form_changes_no_file(week: Path, here: Path) -> None:
    before = stamps(week)
    (here / "song.yaml").write_text("# for Tuesday\n" + song())
    ran("song.yaml")
    assert stamps(week) == before


def test_a_changed_song_is_made_again(week: Path, here: Path) -> None:
    before = held(week)
    (here / "song.yaml").write_text(song().replace("| A | D |", "| A | E |"))
    ran("song.yaml")
    after = held(week)
    assert after.keys() == before.keys()
    assert {name for name in NAMES if before[name] != after[name]} == set(NAMES[:2])


def test_a_longer_list_makes_only_what_is_new(week: Path, here: Path) -> None:
    before = stamps(week)
    longer = song() + "    - {speed: 90, without: guitar}\n"
    (here / "song.yaml").write_text(longer)
    ran("song.yaml")
    new = "04 whole song 90% without guitar.mid"
    assert changed(before, stamps(week)) == {new, *PAGES, HIDDEN}


def test_files_of_an_older_list_are_removed(week: Path, here: Path) -> None:
    (here / "song.yaml").write_text(song().replace("60, 75", "60"))
    ran("song.yaml")
    assert sorted(held(week)) == sorted([NAMES[0], "02 chorus ladder 60-100%.mid", *PAGES, HIDDEN])


def test_a_file_that_somebody_changed_or_added_is_left_alone(week: Path, here: Path) -> None:
    (week / NAMES[1]).write_bytes(b"mine now")
    (week / "my notes.txt").write_bytes(b"mine")
    (here / "song.yaml").write_text(song().replace("60, 75", "60"))
    ran("song.yaml")
    files = held(week)
    assert files[NAMES[1]] == b"mine now"
    assert files["my notes.txt"] == b"mine"
    assert NAMES[1] not in json.loads(files[HIDDEN])["files"]


def test_force_makes_everything_again_and_the_same(week: Path) -> None:
    whole, before = held(week), stamps(week)
    assert "3 files made, 2 unchanged" in ran("song.yaml", "--force").output
    assert held(week) == whole
    assert changed(before, stamps(week)) == set(NAMES)


def test_another_program_makes_everything_again(
    week: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("backing.lesson.folder.program", lambda: "another")
    assert "3 files made" in ran("song.yaml").output


@pytest.mark.parametrize(
    "printed",
    [b"", b"[]", b"{", b'{"files": 1}', b'{"files": {"a": {}}}', b"\xff\xfe", b"null"],
)
def test_a_damaged_record_costs_only_time(week: Path, printed: bytes) -> None:
    whole = held(week)
    (week / HIDDEN).write_bytes(printed)
    assert ran("song.yaml").exit_code == 0
    assert held(week) == whole


def test_a_run_that_ended_just_before_its_record_leaves_the_record_of_any_other(
    week: Path, here: Path
) -> None:
    ran("song.yaml", "--zip")
    whole = held(here / "week")
    for folder in (week, here / "week"):
        printed = json.loads((folder / HIDDEN).read_text())
        for entry in printed["files"].values():
            entry["digests"].insert(0, "0" * 64)
        (folder / HIDDEN).write_text(json.dumps(printed))
    assert "all 6 unchanged" in ran("song.yaml", "--zip").output
    assert held(here / "week") == whole


def test_files_left_alone_are_named_as_well_as_failures(week: Path, here: Path) -> None:
    (week / NAMES[0]).write_bytes(b"mine")
    (here / "song.yaml").write_text(song() + "    - {key: Am}\n")
    result = ran("song.yaml")
    assert result.exit_code == 2
    assert "song.yaml: " in result.output
    assert f"week/Kettle/{NAMES[0]}: this file has been changed" in result.output


@pytest.mark.parametrize("name", ["../other.txt", ".hidden.txt"])
def test_a_record_that_names_files_elsewhere_or_hidden_ones_is_not_followed(
    week: Path, here: Path, name: str
) -> None:
    """A name that no lesson gives to a file is somebody else's, whatever a record says."""
    victim = week / name
    victim.write_bytes(b"keep me")
    record = json.loads((week / HIDDEN).read_text())
    from backing.system.record import digest

    record["files"][name] = {
        "digests": [digest(victim)],
        "about": {"key": "", "ms": 0, "bpm": [], "notes": []},
    }
    (week / HIDDEN).write_text(json.dumps(record))
    ran("song.yaml")
    assert victim.read_bytes() == b"keep me"


# The archive


def test_the_archive_holds_the_files_and_is_the_same_every_time(week: Path, here: Path) -> None:
    ran("song.yaml", "--zip")
    data = (here / "week" / "Kettle.zip").read_bytes()
    with ZipFile(here / "week" / "Kettle.zip") as archive:
        assert archive.testzip() is None
        inside = {info.filename: archive.read(info) for info in archive.infolist()}
    files = held(week)
    del files[HIDDEN]
    assert inside == {f"Kettle/{name}": data for name, data in files.items()}
    before = stamps(here / "week")
    assert "all 6 unchanged" in ran("song.yaml", "--zip").output
    assert stamps(here / "week") == before
    (here / "week" / "Kettle.zip").unlink()
    ran("song.yaml", "--zip", "--force")
    assert (here / "week" / "Kettle.zip").read_bytes() == data


def test_without_zip_our_archive_is_removed_and_another_stays(week: Path, here: Path) -> None:
    ran("song.yaml", "--zip")
    ran("song.yaml")
    assert not (here / "week" / "Kettle.zip").exists()
    (here / "week" / "Kettle.zip").write_bytes(b"mine")
    ran("song.yaml")
    assert (here / "week" / "Kettle.zip").read_bytes() == b"mine"


# Several songs


def test_a_folder_stands_for_its_forms_and_a_bad_one_is_skipped(here: Path) -> None:
    forms = here / "forms"
    forms.mkdir()
    for name, title in (("b", "Pot"), ("a", "Kettle"), ("c", "Pot")):
        (forms / f"{name}.yaml").write_text(song(title))
    (forms / "bad.yml").write_text(song().replace("verse, chorus]", "verze]"))
    (forms / "README.md").write_text("no form")
    result = ran("forms", "forms/a.yaml")
    assert result.exit_code == 2
    assert shown(here / "week") == ["Kettle", "Pot (b)", "Pot (c)"]
    assert "bad.yml:9:8: there is no section 'verze'. Did you mean verse?" in result.output
    assert "3 songs in week: 15 files made, 0 unchanged. 1 failed." in result.output


def test_more_jobs_make_the_same(here: Path) -> None:
    (here / "two.yaml").write_text(song("Two"))
    one = CliRunner().invoke(main, ["lesson", "song.yaml", "two.yaml", "--out", "a", "--jobs", "1"])
    many = CliRunner().invoke(
        main, ["lesson", "song.yaml", "two.yaml", "--out", "b", "--jobs", "4"]
    )
    assert (one.exit_code, many.exit_code) == (0, 0)
    assert held(here / "a") == held(here / "b")


def test_the_table_and_the_sentence(here: Path) -> None:
    # Five bars of 4/4 at 144 and at 180 bpm; three at 144, 192 and 240; the ring-out of two
    # seconds three times: 8.33 + 6.67 + 5 + 3.75 + 3 + 6
    assert ran("song.yaml").output.splitlines()[:2] == [
        "  song    made  unchanged  length",
        "  Kettle     5          0    0:33",
    ]


def test_json_says_what_each_form_came_to(here: Path) -> None:
    (here / "bad.yaml").write_text("title: x\n")
    result = CliRunner().invoke(
        main, ["lesson", "bad.yaml", "song.yaml", "--out", "week", "--jobs", "1", "--json"]
    )
    assert result.exit_code == 2
    bad, good = json.loads(result.stdout)
    assert bad["form"] == "bad.yaml"
    assert "needs the key tempo" in bad["error"]
    assert (good["title"], good["folder"], good["error"]) == ("Kettle", "week/Kettle", "")
    assert good["made"] == [*NAMES, *PAGES]
    assert ran("song.yaml", "-q").output == ""


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nowhere.yaml"], "nowhere.yaml: there is no such file"),
        (["empty"], "there is no form in this folder"),
        (["song.yaml", "--audio", "mp4"], "mp4: no such format"),
        (["song.yaml", "--audio", "mp3", "--soundfont", "nowhere.sf2"], "nowhere.sf2"),
        (["song.yaml", "--jobs", "0"], "--jobs"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_made(
    here: Path, arguments: list[str], says: str
) -> None:
    (here / "empty").mkdir()
    result = ran(*arguments)
    assert result.exit_code in (1, 2)
    assert says in result.output
    assert not (here / "week").exists() or held(here / "week") == {}


def test_a_list_that_cannot_be_played_names_the_form(here: Path) -> None:
    (here / "song.yaml").write_text(song().replace("- 60, 75", "- {key: Am}"))
    result = ran("song.yaml")
    assert result.exit_code == 2
    assert "song.yaml: " in result.output


# Where it can't be written


def test_a_folder_that_cannot_be_made_is_named(here: Path) -> None:
    (here / "week").write_text("a file")
    result = ran("song.yaml")
    assert result.exit_code == 2
    assert "week: can't be written" in result.output


def test_a_song_whose_folder_cannot_be_made_fails_alone(here: Path) -> None:
    (here / "week").mkdir()
    (here / "week" / "Kettle").write_text("a file")
    (here / "two.yaml").write_text(song("Two"))
    result = ran("song.yaml", "two.yaml")
    assert result.exit_code == 2
    assert "song.yaml: week/Kettle" in result.output
    assert "can't be written" in result.output
    assert sorted(held(here / "week" / "Two")) == sorted([*NAMES, *PAGES, HIDDEN])
    assert shown(here / "week") == ["Kettle", "Two"]


@pytest.mark.parametrize("most", [0, 60, 700])
def test_a_full_disk_leaves_nothing_half_written(here: Path, most: int) -> None:
    """A limit on a file's size stops a write amid it, as a full disk does."""

    def full() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    command = [sys.executable, "-m", "backing", "lesson", "song.yaml", "--out", "week"]
    done = subprocess.run(
        command, preexec_fn=full, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )  # fmt: skip
    assert done.returncode == 2
    name = "song.yaml: 01 whole song 60%.mid"
    assert f"{name}: can't be written: the file is too large for this disk." in done.stderr
    assert not (here / "week").exists()
    assert ran("song.yaml").exit_code == 0


def test_a_disk_that_fails_at_a_name_keeps_the_old_file(
    week: Path, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = held(week)
    (here / "song.yaml").write_text(song().replace("| A | D |", "| A | E |"))

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("backing.system.place.os.replace", refuse)
        result = ran("song.yaml")
    assert result.exit_code == 2
    assert "the disk is full" in result.output
    left = held(week)
    assert {name: left[name] for name in NAMES} == {name: whole[name] for name in NAMES}
    ran("song.yaml")
    assert held(week).keys() == whole.keys()
    assert held(week)[NAMES[0]] != whole[NAMES[0]]


def test_a_second_run_in_the_same_folder_is_refused(here: Path) -> None:
    (here / "week").mkdir()
    held_ = os.open(here / "week", os.O_RDONLY)
    fcntl.flock(held_, fcntl.LOCK_EX)
    result = ran("song.yaml")
    assert result.exit_code == 2
    assert "another run is at work in this folder" in result.output
    os.close(held_)
    assert ran("song.yaml").exit_code == 0


def test_what_a_killed_run_left_is_removed(here: Path) -> None:
    left = here / "week" / ".backing-work-4711-1" / "0-1"
    left.mkdir(parents=True)
    (left / "part.raw").write_bytes(b"x")
    (left.parent / work.NOTE).touch()
    ran("song.yaml")
    assert shown(here / "week") == ["Kettle"]


# Formats


@pytest.fixture
def no_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "find_spec", lambda name: None)


@pytest.mark.usefixtures("no_sound")
def test_without_sound_midi_is_made_with_one_notice(here: Path) -> None:
    text = song().replace("  formats: [midi]\n", "")
    (here / "song.yaml").write_text(text)
    (here / "two.yaml").write_text(text.replace("Kettle", "Two"))
    result = ran("song.yaml", "two.yaml")
    assert result.exit_code == 0
    notice = "Making MIDI files, because sound isn't possible: numpy is missing"
    assert result.output.count(notice) == 1
    assert (here / "week" / "Two" / NAMES[0]).is_file()


def test_progress_of_a_run_is_reported(here: Path) -> None:
    heard: list[object] = []
    outcomes = lesson(
        ["song.yaml"], "week", Order(jobs=2), heard.append, lambda: heard.append("step")
    )
    assert heard == [3, "step", "step", "step"]
    assert outcomes[0].made == (*NAMES, *PAGES)
    assert outcomes[0].seconds == pytest.approx(32.75, abs=0.01)
    assert lesson(["song.yaml"], "week")[0].made == ()
