"""Practice versions at random, with many options at once."""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

from backing.form import Form
from backing.form.passes import bars_played
from backing.form.practice_records import Ladder
from backing.practice import Stretch, Version
from backing.theory.keys import parse_key

SPEEDS = (
    (Fraction(1),),
    (Fraction(3, 4),),
    (Fraction(125, 1000) * 5,),
    Ladder(Fraction(60, 100), Fraction(1), Fraction(15, 100)).speeds,
    Ladder(Fraction(120, 100), Fraction(90, 100), Fraction(10, 100)).speeds,
)
MOVES: tuple[dict[str, Any], ...] = (
    {}, {}, {"transpose": 3}, {"transpose": -2}, {"capo": 0}, {"capo": 4}, {"easier": True},
    {"key": parse_key("A")}, {"key": parse_key("Bbm")}, {"transpose": 2, "keep_shapes": True},
)  # fmt: skip


def bars_of(form: Form) -> int:
    return sum(bars_played(entry, form.sections[entry.section]) for entry in form.entries)


def drawn(form: Form, draw: Random) -> Version:
    """A version at random, with many options at once."""
    count = bars_of(form)
    first = draw.randint(1, count)
    last = draw.randint(first, min(count, first + draw.choice((0, 1, 3, 9))))
    section = draw.choice([entry.section for entry in form.entries])
    stretch = draw.choice((None, Stretch(bars=(first, last)), Stretch(section, section)))
    speeds = draw.choice(SPEEDS if stretch else SPEEDS[:3])
    loop = draw.choice((1, 1, 2, 3)) if stretch else draw.choice((1, 1, 2))
    without = draw.choice(("", "", "guitar", "click", "bass drums"))
    return Version(
        speeds,
        loop,
        stretch,
        draw.choice((0, 1, 2)) if len(speeds) * loop > 1 else 0,
        frozenset(without.split()),
        arrangement=draw.choice(("", *form.arrangements)),
        build_up=draw.choice(("", "", "front", "end")) if stretch and stretch.bars else "",
        trade=draw.choice((0, 0, 1, 2)) if "guitar" not in without else 0,
        **draw.choice(MOVES),
    )
