"""A thousand spoiled forms: refused in sentences with places, or read; soon, and quietly."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from mutations import MOST_SECONDS, mutant, receive, sources
from part_tables import with_every_key
from ruamel.yaml import YAML
from soundness import check_sound

from backing.cli import main
from backing.errors import FormError, Problem
from backing.form import language, read_form_text
from backing.form.kinds import NEVER, Kind
from backing.form.parts import COMMON_KEYS, GUITARS, PARTS
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

MUTANTS = 1000
BATCHES = 10


@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_spoiled_form_is_refused_with_places_or_read(
    batch: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    share = MUTANTS // BATCHES
    read = 0
    for number in range(batch * share, (batch + 1) * share):
        got = receive(mutant(number))
        assert not got.fault, f"mutant {number}: {got.fault}"
        assert got.seconds < MOST_SECONDS, f"mutant {number}"
        read += got.form is not None
    assert 0 < read < share
    assert list(tmp_path.iterdir()) == []


def test_spoiled_forms_that_are_still_forms_build_and_are_proven() -> None:
    received = [receive(mutant(number)) for number in range(60)]
    forms = [got.form for got in received if got.form is not None and got.bars <= 80]
    assert forms
    for form in forms:
        data = midi_of(form)
        assert check_sound(data) == []
        assert verify_bytes(form, data, quick=True).agrees


@pytest.mark.parametrize("command", [["check"], ["build", "--out", "out"]])
def test_the_commands_refuse_spoiled_forms_in_sentences_and_write_nothing(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    bad = [number for number in range(40) if receive(mutant(number)).form is None]
    names = [f"{number}.yaml" for number in bad]
    for number, name in zip(bad, names, strict=True):
        (tmp_path / name).write_bytes(mutant(number))
    result = CliRunner().invoke(main, [command[0], *names, *command[1:]])
    assert result.exit_code == 2
    assert isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output
    assert all(f"{name}:" in result.output for name in names)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names)


def test_a_number_is_always_the_same_mutant() -> None:
    assert [mutant(number) for number in range(50)] == [mutant(number) for number in range(50)]
    assert len({mutant(number) for number in range(200)}) > 190


def test_every_source_is_a_form() -> None:
    assert with_every_key() in sources()
    for text in set(sources()):
        assert read_form_text(text)


def test_the_song_with_every_key_has_every_key() -> None:
    song = YAML(typ="base", pure=True).load(with_every_key())
    sections = list(song["sections"].values())
    passes = [printed for section in sections for printed in section.get("on-pass", {}).values()]
    lines = [line for line in song["form"] if isinstance(line, dict)]
    assert set(song) == keys_of(language.SONG)
    assert keys_in(sections) == keys_of(language.SECTION)
    assert keys_in(passes) == keys_of(language.PASS)
    assert keys_in(lines) == keys_of(language.ENTRY)
    printed = [level.get("parts", {}) for level in (song, *sections, *passes, *lines)]
    assert keys_in(printed) == set(PARTS)
    for part in PARTS.values():
        names = [part.name for part in GUITARS] if part in GUITARS else [part.name]
        written = [
            level[name] for level in printed for name in names if isinstance(level.get(name), dict)
        ]
        common = {key.name for key in COMMON_KEYS}
        assert keys_in(written) - common == {key.name for key in part.keys}


def keys_of(table: Mapping[str, Kind]) -> set[str]:
    return {key for key, kind in table.items() if kind.schema != NEVER}


def keys_in(mappings: Iterable[Mapping[str, Any]]) -> set[str]:
    return {key for mapping in mappings for key in mapping}


def test_reception_sees_what_is_wrong_with_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = ["ab"]
    wrong = [
        FormError("a", []),
        FormError("a", [Problem(2, 1, "this is wrong.")], lines),
        FormError("a", [Problem(1, 4, "this is wrong.")], lines),
        FormError("a", [Problem(1, 1, "no stop")], lines),
        FormError("a", [Problem(1, 1, "long " * 20_000 + ".")], lines),
        RecursionError("deep"),
    ]
    for error in wrong:

        def refuse(data: bytes, name: str, error: Exception = error) -> None:
            raise error

        monkeypatch.setattr("mutations.read_form_bytes", refuse)
        assert receive(b"").fault


def test_an_error_never_moves_the_cursor() -> None:
    error = FormError("a\x1b", [Problem(1, 1, "a \x1b stands here.", "Take \u202e out.")], ["\x1b"])
    assert all(line.isprintable() for line in str(error).split("\n"))
    assert error.problems[0].message == "a \N{REPLACEMENT CHARACTER} stands here."
