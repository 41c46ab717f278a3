"""Counts in words."""

from __future__ import annotations

_TIMES = {2: "twice", 3: "three times", 4: "four times"}
_ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth"}
_NUMBERS = {4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}
_SUFFIXES = {1: "st", 2: "nd", 3: "rd"}
_INTERVALS = {1: "a semitone", 2: "a tone"}


def plural(count: int, noun: str) -> str:
    """A count with its noun: 1 bar, 8 bars."""
    return f"{count} {noun}{'s' * (count != 1)}"


def number(count: int) -> str:
    """A number of strings or rows: four, eight, 12."""
    return _NUMBERS.get(count, str(count))


def times(count: int) -> str:
    """How often: twice, three times, 5 times."""
    return _TIMES.get(count, f"{count} times")


def ordinal(count: int) -> str:
    """Which one: first, second, 7th, 21st."""
    if count in _ORDINALS:
        return _ORDINALS[count]
    teen = 10 < count % 100 < 20
    return f"{count}{'th' if teen else _SUFFIXES.get(count % 10, 'th')}"


def interval(semitones: int) -> str:
    """A distance in pitch: a semitone, a tone, 3 semitones."""
    return _INTERVALS.get(semitones, f"{semitones} semitones")


def moved(semitones: int) -> str:
    """A distance in pitch with its direction: up a tone, down 3 semitones."""
    return f"{'up' if semitones > 0 else 'down'} {interval(abs(semitones))}"
