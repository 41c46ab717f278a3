"""Every demo to comma-separated values and back, by Debian's midicsv and csvmidi.

Collected only where the programs are installed, as `test_midicsv.py` is.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from backing.form import read_form
from backing.tracks.one import midi_of
from backing.verify import verify_bytes

FORMS = Path(__file__).resolve().parents[2] / "forms"
DEMOS = sorted(path.stem for path in FORMS.glob("*.yaml"))


@pytest.mark.parametrize("demo", DEMOS)
def test_a_demo_agrees_after_a_round_trip(demo: str, tmp_path: Path) -> None:
    """Nothing is lost on the way."""
    form = read_form(FORMS / f"{demo}.yaml")
    song, table, back = (tmp_path / name for name in ("song.mid", "song.csv", "back.mid"))
    song.write_bytes(midi_of(form))
    for command in (["midicsv", str(song), str(table)], ["csvmidi", str(table), str(back)]):
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        assert done.stderr == ""
    report = verify_bytes(form, back.read_bytes())
    assert (report.disagreements, report.lost, report.noted) == ((), (), ())
