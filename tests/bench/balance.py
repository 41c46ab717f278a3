"""How far each part is from its place in the balance, in demo songs and soundfonts.

    python tests/bench/balance.py [--quick] [SOUNDFONT.sf2 ...]

Each demo is rendered in stems, as the engine plays the notes ("before") and in balance ("after"),
and each stem's loudness is measured. Printed is how far it is from its target, in LU: the part's
own level and the form's volumes relative to the guitar. A last line has the farthest of all.
No figure is asserted here: `tests/outside/test_balance.py` does.
"""

from __future__ import annotations

import sys
import tempfile
from math import log10
from pathlib import Path
from typing import NamedTuple

from backing.audio.engines import choose
from backing.audio.frames import frame_at
from backing.audio.loudness import measure
from backing.audio.mixing import mixer_for
from backing.audio.render import Rendered, render
from backing.audio.soundfonts import Soundfont, find
from backing.audio.soundfonts import choose as choose_soundfont
from backing.form.reader import read_form
from backing.players import play
from backing.players.human import humanize
from backing.score import Score, with_settings
from backing.timeline import unroll

FORMS = Path(__file__).resolve().parents[2] / "forms"
QUICK = ("gatepost-blues", "orchard-wall")
GUITAR = "guitar"


class Off(NamedTuple):
    """How far a part is from its target, in LU, as the engine plays it and in balance."""

    target: float
    before: float
    after: float


def main() -> None:
    names = [argument for argument in sys.argv[1:] if argument != "--quick"]
    fonts = [choose_soundfont(name) for name in names] or find()
    forms = sorted(FORMS.glob("*.yaml"))
    if "--quick" in sys.argv:
        forms, fonts = [path for path in forms if path.stem in QUICK], fonts[:1]
    print(f"{'demo':24}{'part':8}{'target':>7}", *(f"{font.path.stem:>20.18}" for font in fonts))
    farthest = [Off(0, 0, 0)] * len(fonts)
    for path in forms:
        score = in_time(path)
        by_font = [off_targets(score, font) for font in fonts]
        for part, first in by_font[0].items():
            row = [of[part] for of in by_font]
            cells = (f"{off.before:+10.1f} -> {off.after:+5.1f}" for off in row)
            print(f"{path.stem:24}{part:8}{first.target:+7.1f}", *cells, flush=True)
            farthest = [worse(*pair) for pair in zip(farthest, row, strict=True)]
    cells = (f"{off.before:10.1f} -> {off.after:5.1f}" for off in farthest)
    print(f"{'farthest':39}", *cells)


def in_time(path: Path) -> Score:
    """A demo as it is played."""
    form = read_form(path)
    return humanize(play(unroll(form)), form.human)


def worse(one: Off, other: Off) -> Off:
    """The larger of two distances, before and after."""
    pairs = zip(one[1:], other[1:], strict=True)
    return Off(0, *(max(abs(a), abs(b)) for a, b in pairs))


def off_targets(score: Score, font: Soundfont) -> dict[str, Off]:
    """How far each part but the guitar is from its target."""
    with tempfile.TemporaryDirectory() as name:
        folder, engine = Path(name), choose()
        mixer = mixer_for(score, font, engine, folder)
        (folder / "plain").mkdir()
        plain = render(score, folder / "plain", font, engine, stems=True)
        before = levels(plain, score)
        after = levels(mixer.render(score, "balanced", stems=True), score)
    targets = {part: target(score, part) - target(score, GUITAR) for part in before}
    return {
        part: Off(goal, before[part] - before[GUITAR] - goal, after[part] - after[GUITAR] - goal)
        for part, goal in targets.items()
        if part != GUITAR
    }


def levels(rendered: Rendered, score: Score) -> dict[str, float]:
    """Each part's integrated loudness in LUFS."""
    return {part: measure(path, rendered.rate).lufs for part, path in rendered.stems.items()}


def target(score: Score, part: str) -> float:
    """A part's place in LU above a guitar at volume 100, as the mean over the time it plays."""
    at = frame_at(score.tempos, 1000)
    total = share = 0.0
    for track in score.tracks:
        for note, now in with_settings(track) if track.part == part else ():
            weight = at(note.end_whole) - at(note.start_whole) + 1
            total += weight * 10 ** ((now.level_lu + 40 * log10(now.volume / 100)) / 10)
            share += weight
    return 10 * log10(total / share)


if __name__ == "__main__":
    main()
