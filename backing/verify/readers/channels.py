"""What each channel plays and is set to: its notes, controllers, programs and pitch wheel.

Source: MIDI 1.0 (MIDI Manufacturers Association). Controllers 7, 10 and 11 are volume,
pan and expression, and 91 is the reverb send (RP-023).
Controllers 101 and 100 choose a registered parameter, and 6 and 38 set its value: 0 is the
wheel's range in semitones and cents, 1 the fine tuning in steps of 100/8192 cents around
8192, 2 the coarse tuning in semitones around 64. Controllers 99 and 98 choose a parameter
that isn't registered, which has no meaning here.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from operator import itemgetter
from typing import NamedTuple

from backing.verify.readers.smf import Track
from backing.verify.readers.voices import ChannelSettings, FineSetting, Setting, latest

VOLUME, PAN, EXPRESSION, REVERB = 7, 10, 11, 91
#: How far a wheel bends until a file sets its range, in semitones (General MIDI level 1).
USUAL_BEND_RANGE = 2.0
_VALUE, _FINE_VALUE = 6, 38
_OTHER_PARAMETERS = (98, 99)
_LOWER, _UPPER = 100, 101
_BEND_RANGE, _FINE_TUNING, _COARSE_TUNING = 0, 1, 2
_NONE = 127 << 7 | 127


class Control(NamedTuple):
    """A controller's new value, from `at_s` on."""

    at_s: float
    number: int
    value: int


class Rows(NamedTuple):
    """A channel's notes in a track, in ticks, in order of their starts.

    `endless` are the places in these lists of notes that nothing ends.
    """

    starts: list[int]
    ends: list[int]
    pitches: list[int]
    velocities: list[int]
    endless: list[int]


def notes_by_channel(track: Track) -> dict[int, Rows]:
    """A track's notes by channel; a note that nothing else ends lasts as long as the track."""
    rows: dict[int, Rows] = {}
    open_: dict[int, deque[int]] = {}  # by channel and pitch, notes' places in their rows
    for tick, channel, pitch, velocity in track.notes():
        key = channel << 7 | pitch
        waiting = open_.get(key)
        if velocity:
            found = rows.get(channel)
            if found is None:
                found = rows[channel] = Rows([], [], [], [], [])
            if waiting is None:
                waiting = open_[key] = deque()
            waiting.append(len(found.starts))
            found.starts.append(tick)
            found.ends.append(track.end)
            found.pitches.append(pitch)
            found.velocities.append(velocity)
        elif waiting:
            rows[channel].ends[waiting.popleft()] = tick
    for key, waiting in open_.items():
        rows[key >> 7].endless.extend(waiting)
    return rows


def kits_of_notes(tracks: Sequence[Track], channel: int) -> list[list[int]]:
    """For each track, the program that a channel has at each of its notes, as they are sounded.

    All tracks set it, the first one first at a tick. The lists are empty where none sets any.
    """
    changes = sorted(
        (tick, number, notes, program)
        for number, track in enumerate(tracks)
        for tick, status, program, notes in track.settings
        if status == 0xC0 | channel
    )
    if not changes:
        return [[] for _ in tracks]
    programs = [0, *(program for _, _, _, program in changes)]
    places = [change[:3] for change in changes]
    return [
        [
            programs[bisect_right(places, (tick, number, place))]
            for place, (tick, of_channel, _, velocity) in enumerate(track.notes())
            if of_channel == channel and velocity
        ]
        for number, track in enumerate(tracks)
    ]


def settings_by_channel(
    tracks: Iterable[Track], seconds: Callable[[int], float]
) -> dict[int, ChannelSettings]:
    """What all tracks together set each channel to; `seconds` is the time of a tick."""
    every = sorted((event for track in tracks for event in track.settings), key=itemgetter(0))
    programs: dict[int, list[Setting]] = defaultdict(list)
    controls: dict[int, list[Control]] = defaultdict(list)
    wheels: dict[int, list[Setting]] = defaultdict(list)
    for tick, status, first, second in every:
        channel, at_s = status & 0x0F, seconds(tick)
        if status < 0xC0:
            controls[channel].append(Control(at_s, first, second))
        elif status < 0xD0:
            programs[channel].append((at_s, first))
        else:
            wheels[channel].append((at_s, (second << 7 | first) - 8192))
    return {
        channel: channel_settings(programs[channel], controls[channel], wheels[channel])
        for channel in {*programs, *controls, *wheels}
    }


def channel_settings(
    programs: list[Setting], controls: Iterable[Control], wheel: list[Setting]
) -> ChannelSettings:
    """What a channel is set to, from its events in order of time."""
    of: dict[int, list[Setting]] = {number: [] for number in (VOLUME, PAN, REVERB, EXPRESSION)}
    parameters = _Parameters()
    for at_s, number, value in controls:
        if number in of:
            of[number].append((at_s, value))
        else:
            parameters.take(at_s, number, value)
    bends = list(_bends(wheel, parameters.bend_ranges))
    return ChannelSettings(
        programs, of[VOLUME], of[PAN], bends, parameters.tuning, of[REVERB], of[EXPRESSION]
    )


def _bends(wheel: Iterable[Setting], ranges: Sequence[FineSetting]) -> Iterator[FineSetting]:
    """The wheel's places, from -8192 to 8191, in cents."""
    for at_s, place in wheel:
        semitones = latest(ranges, at_s)
        whole = USUAL_BEND_RANGE if semitones is None else semitones
        yield at_s, place / 8192 * whole * 100


class _Parameters:
    """The registered parameters so far; each value has upper and lower seven bits."""

    def __init__(self) -> None:
        self.chosen = _NONE
        self.values: dict[int, tuple[int, int]] = {}
        self.bend_ranges: list[FineSetting] = []
        self.tuning: list[FineSetting] = []

    def take(self, at_s: float, number: int, value: int) -> None:
        if number == _UPPER:
            self.chosen = value << 7 | self.chosen & 127
        elif number == _LOWER:
            self.chosen = self.chosen & ~127 | value
        elif number in _OTHER_PARAMETERS:
            self.chosen = _NONE
        elif number in (_VALUE, _FINE_VALUE) and self.chosen <= _COARSE_TUNING:
            _, lower = self.values.get(self.chosen, (0, 0))
            upper, _ = self.values.get(self.chosen, (value, 0))
            self.values[self.chosen] = (value, lower) if number == _VALUE else (upper, value)
            self._note(at_s)

    def _note(self, at_s: float) -> None:
        if self.chosen == _BEND_RANGE:
            semitones, hundredths = self.values[_BEND_RANGE]
            _put(self.bend_ranges, at_s, semitones + hundredths / 100)
        else:
            coarse, _ = self.values.get(_COARSE_TUNING, (64, 0))
            upper, lower = self.values.get(_FINE_TUNING, (64, 0))
            cents = (coarse - 64) * 100 + ((upper << 7 | lower) - 8192) * 100 / 8192
            _put(self.tuning, at_s, cents)


def _put(settings: list[FineSetting], at_s: float, value: float) -> None:
    """Add a setting; of several at one time only the last stays."""
    if settings and settings[-1][0] == at_s:
        settings.pop()
    settings.append((at_s, value))
