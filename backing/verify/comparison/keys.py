"""A file's key signatures against the keys that sound.

A key may be spelled either way: six sharps or six flats are one key. A file without any has
lost them, and one that has some where the form has no key says something new, which is noted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from backing.verify.comparison.reading import Reading
from backing.verify.report import Fault, Finding, Verdict

MOST_FAULTS = 20
_WHAT = "key signatures"
#: What keys are called, by their tonic's pitch class.
_MAJOR = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_MINOR = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


def check_keys(reading: Reading) -> Iterator[Finding]:
    """Compare the key at each place where one starts, in the form or in the file."""
    keys, wanted = reading.account.keys, reading.expected.keys
    if keys is None:
        return
    if not wanted:
        if keys:
            says = f"The file has a key signature, {_signature(*keys[0][1:])}; the form has no key."
            yield Finding(reading.account.reader, _WHAT, Verdict.NOTED, says)
        return
    if not keys:
        yield reading.lost(_WHAT, _WHAT)
        return
    faults = list(_faults(reading, keys))
    if faults:
        yield reading.differs(_WHAT, faults[:MOST_FAULTS])
    else:
        yield reading.agrees(_WHAT, f"{len(wanted)} where they belong")


def _faults(reading: Reading, keys: Sequence[tuple[float, int, bool]]) -> Iterator[Fault]:
    """Walk through both lists: each key of the form holds in the file from its start on."""
    found = [
        (reading.file.by_form(at_s), tonic_of(sharps, minor), sharps, minor)
        for at_s, sharps, minor in keys
    ]
    starts = [float(key.start_s) for key in reading.expected.keys]
    ends = [*starts[1:], float("inf")]
    for key, start, end in zip(reading.expected.keys, starts, ends, strict=True):
        within = reading.tolerance(start)
        before = [each for each in found if each[0] <= start + within]
        until = end - (0 if end == float("inf") else reading.tolerance(end))
        holding = [*before[-1:], *(each for each in found if start + within < each[0] < until)]
        name = _name(key.tonic, key.minor)
        if not before:
            yield Fault(start, f"no key signature, not {name}")
        for at_s, tonic, sharps, minor in holding:
            if (tonic, minor) != (key.tonic, key.minor):
                says = f"the key signature is {_signature(sharps, minor)}, not {name}"
                yield Fault(max(at_s, start), says)


def tonic_of(sharps: int, minor: bool) -> int:
    """The pitch class of the tonic of a key with so many sharps (or, below 0, flats)."""
    return (sharps * 7 + (9 if minor else 0)) % 12


def _signature(sharps: int, minor: bool) -> str:
    """A signature in words: 2 sharps, D major."""
    count = abs(sharps)
    signs = f"{count} {'sharp' if sharps > 0 else 'flat'}{'s' * (count != 1)}"
    return f"{signs if sharps else 'no sharps or flats'}, {_name(tonic_of(sharps, minor), minor)}"


def _name(tonic: int, minor: bool) -> str:
    return f"{_MINOR[tonic]} minor" if minor else f"{_MAJOR[tonic]} major"
