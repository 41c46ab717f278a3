"""Which of a guitar's notes sound muted: its damped strokes and what a riff mutes, and no others.

Muted notes have General MIDI's program of the muted guitar, on channels of their own. A part
with another program than the form asks for is compared in `mix`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from backing.form.parts import PARTS
from backing.theory.general_midi import MUTED_GUITAR
from backing.theory.pitch import note_name
from backing.verify.readers.voices import Notes, Voice, latest
from backing.verify.report import Fault


def check_muting(
    part: str, muted: Iterable[int], ringing: Iterable[int], notes: Notes, voices: Sequence[Voice]
) -> Iterator[Fault]:
    """Compare the programs of muted notes and of those that ring.

    Args:
        part: the guitar.
        muted: the places of muted notes among `notes`.
        ringing: those of all others that may be compared.
        notes: all of the guitar's notes.
        voices: the voices whose notes those are. One whose programs the reader can't tell, or
            that the file doesn't set, is left out, and so are notes that several voices start.
    """
    programs: dict[tuple[float, int], float | None] = {}
    for voice in voices:
        for note in zip(voice.notes.starts, voice.notes.pitches, strict=True):
            found = latest(voice.settings.programs or (), note[0])
            programs[note] = None if note in programs else found
    own = frozenset(PARTS[part].programs.values())
    for places, wrong, says in (
        (muted, own, "rings, and isn't muted"),
        (ringing, {MUTED_GUITAR}, "is muted"),
    ):
        for place in places:
            start, pitch = notes.starts[place], notes.pitches[place]
            if programs.get((start, pitch)) in wrong:
                yield Fault(start, f"{note_name(pitch)} {says}")
