"""Soundfonts: the order of search, and files that are not banks."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from backing.audio.soundfonts import VARIABLE, bundled, choose, find, validate
from backing.errors import BackingError


def test_the_bundled_soundfont_is_general_midi_with_drums() -> None:
    bank = validate(bundled().path)
    assert {(0, program) for program in range(128)} <= bank.presets
    assert (128, 0) in bank.presets
    assert bundled().license == "GPL-2"


def test_option_comes_before_variable_before_folder(
    tmp_path: Path, bank: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "soundfonts").mkdir()
    inside = shutil.copy(bank, tmp_path / "soundfonts" / "mine.sf2")
    named = shutil.copy(bank, tmp_path / "named.sf2")
    asked = shutil.copy(bank, tmp_path / "asked.sf2")
    monkeypatch.setenv(VARIABLE, str(named))
    places = [font.path.resolve() for font in find(asked)]
    assert places[:3] == [Path(asked), Path(named), Path(inside)]
    assert places[-1] == bank.resolve()
    assert choose(asked).path == Path(asked)
    assert choose().path == Path(named)
    monkeypatch.delenv(VARIABLE)
    assert choose().path.resolve() == Path(inside)


def test_a_damaged_soundfont_in_a_folder_is_skipped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv(VARIABLE)
    (tmp_path / "soundfonts").mkdir()
    bad = tmp_path / "soundfonts" / "default.sf2"
    bad.write_bytes(b"RIFF\x10\0\0\0sfbk")
    assert bad.resolve() not in [font.path.resolve() for font in find()]
    assert choose().path.name != "default.sf2"


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (lambda data: data[:-1000], "cut short"),
        (lambda data: b"", "is not a soundfont"),
        (lambda data: b"MThd" + data[4:], "is not a soundfont"),
        (lambda data: data[:8] + b"WAVE" + data[12:], "is not a soundfont"),
        (lambda data: data.replace(b"pdta", b"xxxx"), "has no pdta"),
        (lambda data: data.replace(b"phdr", b"xxxx"), "table phdr"),
        (lambda data: data[:16] + b"\xff\xff\xff\x7f" + data[20:], "sizes do not add up"),
        (lambda data: data[:-70] + b"\xff" * 20 + data[-50:], "a sample lies outside"),
    ],
)
def test_a_damaged_soundfont_is_refused_with_its_name(
    tmp_path: Path, bank: Path, change: object, word: str
) -> None:
    bad = tmp_path / "bad.sf2"
    bad.write_bytes(change(bank.read_bytes()))  # type: ignore[operator]
    with pytest.raises(BackingError, match=word) as caught:
        choose(bad)
    assert "bad.sf2" in str(caught.value)


def test_a_compressed_soundfont_is_not_called_damaged(tmp_path: Path, bank: Path) -> None:
    data = bytearray(bank.read_bytes())
    assert data[24:28] == b"ifil"
    data[32] = 3  # the major version, as real ones have it; their sizes don't add up, either
    data[16:20] = b"\xff\xff\xff\x7f"
    (tmp_path / "small.sf3").write_bytes(data)
    with pytest.raises(BackingError) as caught:
        choose(tmp_path / "small.sf3")
    assert str(caught.value) == (
        f"{tmp_path / 'small.sf3'}: is a compressed soundfont (.sf3), and only .sf2 files "
        "are read. Choose another soundfont."
    )


def test_a_pipe_is_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.sf2")
    with pytest.raises(BackingError, match="this is a pipe"):
        choose(tmp_path / "a.sf2")


def test_a_missing_soundfont_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BackingError, match="there is no such file"):
        choose(tmp_path / "none.sf2")
