"""Why a stroke doesn't fit the grip of its chord, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from backing.theory.pitch import note_name
from backing.verify.comparison.grips import (
    Grip,
    Run,
    Sweep,
    fingers_fit,
    in_order,
    is_over_all,
    sweep_fits,
)
from backing.verify.expected.guitar import Held, Stroke
from backing.verify.report import Fault

MOST_DAMPED = 4


class Played(NamedTuple):
    """A stroke with the notes that were found for it: their places, and their pitches by tick."""

    stroke: Stroke
    places: Sequence[int]
    sweep: Sweep

    @property
    def run(self) -> Run:
        """The pitches from the low string to the high one, as far as ticks tell."""
        return in_order(self.sweep)


#: What a stroke is judged by: its fingers, if it is picked, and its pitches.
What = tuple[tuple[str, ...], Sweep]


def what(one: Played) -> What:
    return one.stroke.move.fingers, one.sweep


def on_grip(what: What, grip: Grip) -> bool:
    fingers, sweep = what
    return fingers_fit(fingers, in_order(sweep), grip) if fingers else sweep_fits(sweep, grip)


def misfit(one: Played, held: Held, grip: Grip | None, left_out: set[What]) -> str:
    """Why a stroke doesn't fit the grip; "" if it does."""
    if one.stroke.move.stroke == "x" or one.stroke.amid_riff:
        return _strange_pitch(one, held, grip)
    if what(one) not in left_out:
        return _strings_missed(one, held, grip)
    strange = _strange(one, held)
    if strange and held.shape is None:
        return f"{note_name(strange[0])} isn't in {held.symbol}"
    names = " ".join(map(note_name, one.run))
    way = {"D": " down", "U": " up"}.get(one.stroke.move.stroke, "")
    if grip is None:
        return f"plays {names}{way}, which isn't a shape of {held.symbol}"
    shape = " ".join(note_name(pitch) for pitch in grip if pitch is not None)
    return f"plays {names}{way}, not the shape of {held.symbol}: {shape}"


def _strange(one: Played, held: Held) -> list[int]:
    """The pitches of a stroke that aren't in its chord."""
    return [pitch for pitch in one.run if not held.tones >> pitch % 12 & 1]


def _strange_pitch(one: Played, held: Held, grip: Grip | None) -> str:
    """What is wrong with a damped stroke, or with one that a riff cuts into."""
    if one.stroke.move.stroke == "x" and len(one.run) > MOST_DAMPED:
        return f"strikes {len(one.run)} damped strings, not {MOST_DAMPED} at most"
    wrong = set(_strange(one, held)) - set(grip or ())
    return f"{note_name(min(wrong))} isn't in {held.symbol}" if wrong else ""


def _strings_missed(one: Played, held: Held, grip: Grip | None) -> str:
    """Whether a full stroke misses strings; an easier shape may have fewer than the writer's."""
    unknown = grip is None or (held.easier and grip == held.shape)
    if not one.stroke.full or unknown or grip is None or is_over_all(one.sweep, grip):
        return ""
    return f"plays {len(one.run)} of the strings of {held.symbol}, not all"


def bass_left_out(played: Sequence[Played], held: Held, grip: Grip | None) -> Iterator[Fault]:
    """A chord whose lowest string the form names, and that no downstroke reaches."""
    down = [one for one in played if one.stroke.move.stroke == "D" and not one.stroke.amid_riff]
    if not down:
        return
    if held.shape is not None and grip == held.shape:
        reached = held.easier or any(_reaches_lowest(one.sweep, grip) for one in down)
    else:
        lowest = min(one.run[0] for one in down) % 12
        reached = held.lowest is None or lowest == held.lowest
    if not reached:
        yield Fault(down[0].stroke.at_s, f"{held.symbol} is struck without its lowest string")


def _reaches_lowest(sweep: Sweep, grip: Grip) -> bool:
    return next(pitch for pitch in grip if pitch is not None) in sweep[0]
