"""The examples of the public names that make or read sound."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_public_names import OF_SOUND, examples, run_example

EXAMPLES = {example.name: example for example in examples() if example.name in OF_SOUND}


def test_each_is_here() -> None:
    assert set(EXAMPLES) == set(OF_SOUND)


@pytest.mark.parametrize("name", ["make_page", "render_audio"])
def test_an_example_of_sound_runs(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run_example(EXAMPLES[name], tmp_path)


def test_the_example_of_proof_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the file that the example of rendering makes."""
    monkeypatch.chdir(tmp_path)
    run_example(EXAMPLES["render_audio"], tmp_path)
    run_example(EXAMPLES["verify_audio"], tmp_path)
