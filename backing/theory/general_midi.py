"""General MIDI: the names of percussion, its kits, and which programs sustain.

Source: MIDI Manufacturers Association, RP-003 (General MIDI System Level 1).
Percussion sounds on channel 10 by note number, 35-81; programs are counted from 0. A program on
channel 10 chooses a kit (RP-024, General MIDI 2, whose table is given from memory and agrees with
a Roland owner's manual and with the sample names of free soundfonts).
"""

from __future__ import annotations

PERCUSSION = {
    35: "Acoustic Bass Drum",
    36: "Bass Drum 1",
    37: "Side Stick",
    38: "Acoustic Snare",
    39: "Hand Clap",
    40: "Electric Snare",
    41: "Low Floor Tom",
    42: "Closed Hi-Hat",
    43: "High Floor Tom",
    44: "Pedal Hi-Hat",
    45: "Low Tom",
    46: "Open Hi-Hat",
    47: "Low-Mid Tom",
    48: "Hi-Mid Tom",
    49: "Crash Cymbal 1",
    50: "High Tom",
    51: "Ride Cymbal 1",
    52: "Chinese Cymbal",
    53: "Ride Bell",
    54: "Tambourine",
    55: "Splash Cymbal",
    56: "Cowbell",
    57: "Crash Cymbal 2",
    58: "Vibraslap",
    59: "Ride Cymbal 2",
    60: "Hi Bongo",
    61: "Low Bongo",
    62: "Mute Hi Conga",
    63: "Open Hi Conga",
    64: "Low Conga",
    65: "High Timbale",
    66: "Low Timbale",
    67: "High Agogo",
    68: "Low Agogo",
    69: "Cabasa",
    70: "Maracas",
    71: "Short Whistle",
    72: "Long Whistle",
    73: "Short Guiro",
    74: "Long Guiro",
    75: "Claves",
    76: "Hi Wood Block",
    77: "Low Wood Block",
    78: "Mute Cuica",
    79: "Open Cuica",
    80: "Mute Triangle",
    81: "Open Triangle",
}

#: Kits by their programs: the one of level 1, and General MIDI 2's brush set.
STANDARD_KIT, BRUSH_KIT = 0, 40
#: What the brush set has in place of the snare, the clap and the electric snare.
BRUSHES = {38: "Brush Tap", 39: "Brush Slap", 40: "Brush Swirl"}

#: What drummers call the drums of a kit, for those that the standard names otherwise.
KIT_NAMES = {
    "kick": 36,
    "bass drum": 36,
    "snare": 38,
    "rim": 37,
    "clap": 39,
    "hi-hat": 42,
    "floor tom": 43,
    "mid tom": 47,
    "crash": 49,
    "ride": 51,
    "splash": 55,
    "wood block": 76,
}

#: Programs whose notes last as long as they are held; those of all others die away.
SUSTAINED = frozenset(
    {*range(16, 24), *range(40, 45), *range(48, 55), *range(56, 96)}
)  # organs, bowed strings, ensembles, brass, reeds, pipes, and synthesizers

#: The guitar with a hand on its strings: Electric Guitar (muted).
MUTED_GUITAR = 28

#: What a metronome may sound like: percussion for an accented click, and for a plain one.
CLICK_SOUNDS = {"wood": (76, 77), "sticks": (37, 37), "claves": (75, 75), "cowbell": (56, 56)}


def percussion_number(name: str) -> int:
    """The note number of a percussion sound: a General MIDI name or a drummer's.

    Case, hyphens and spaces don't matter. Raises ValueError, with the nearest names.
    """
    number = _NUMBERS.get(_plain(name))
    if number is None:
        from difflib import get_close_matches

        near = get_close_matches(name.lower(), [*KIT_NAMES, *map(str.lower, PERCUSSION.values())])
        advice = f"did you mean {' or '.join(near)}?" if near else "write one such as kick or snare"
        raise ValueError(f"{name!r} isn't a percussion sound of General MIDI; {advice}")
    return number


def _plain(name: str) -> str:
    return "".join(character for character in name.lower() if character.isalnum())


_NUMBERS = {_plain(name): number for number, name in PERCUSSION.items()} | {
    _plain(name): number for name, number in KIT_NAMES.items()
}
