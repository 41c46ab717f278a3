"""The page's samples: rendered by the audio engine one after another, cut, and encoded as one.

MP3, since every browser's `decodeAudioData` reads it (Ogg Vorbis and Opus came late to
Safari, and AAC has no free encoder here). Encoders and decoders add silence in front, and
not all take it away again, so the sprite begins with an impulse where the page finds how much
was added. The click is apart from it: 16-bit samples as they are, exact to one of them.

Held sounds get a loop: its end runs over into its start, where the two are most alike. All
others die away by themselves or, after `MOST_S`, in a fade. The engine's small room is in.
"""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.audio.engines import Engine
from backing.audio.render import RATE, render
from backing.audio.soundfonts import Soundfont
from backing.page.notes import HELD, Wanted
from backing.players.click import ACCENT, SOUNDS
from backing.score import Note, Score, TempoChange, Track

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backing.page.data import Json

#: How long a sample may be: of a plucked or struck string, of a drum.
MOST_S, MOST_DRUM_S = 5.0, 2.5
#: How long all may be together, for a page of less than 6 MB, and what no sample is cut below.
MOST_TOGETHER_S, LEAST_S = 480.0, 1.0
#: How long a note rings after its end is measured of each instrument, within these bounds, as
#: the seconds in which it falls by 26 dB; a hat that is shut is silent at once.
RELEASE_S, LEAST_RELEASE_S, MOST_RELEASE_S, SHUT_S = 0.2, 0.08, 0.8, 0.06
#: A sample ends where it stays below this share of its peak.
FLOOR = 0.003
FADE_S = 0.25
#: Held sounds: where the loop starts, the shortest and longest loop, and how long it runs over.
LOOP_AT_S, LOOP_S, LOOP_MOST_S, OVER_S = 1.0, 1.6, 2.4, 0.25
#: Between two samples; as much is rendered after each note for it to end.
GAP_S, ENDING_S = 0.06, 1.0
#: Where the impulse stands, and where the first sample may start.
MARKER_S, FIRST_S = 0.05, 0.25
#: What counts as sound where an ending is measured, of full scale.
AUDIBLE = 0.0003
#: Each sample's peak in the sprite.
PEAK = 0.7
#: The engine's noise in 16 bits, below which a click has ended.
QUIET = 2
#: libsndfile's measure of compression, 0 to 1: about 90 kbit/s in one channel.
COMPRESSION = 0.3
MIME = "audio/mpeg"
#: At this quarter tempo a whole note lasts four seconds.
TEMPO = TempoChange(Fraction(0), Fraction(60))
BLOCK = 64


class Sprite(NamedTuple):
    """The encoded samples, what the page must know of each, and what made them.

    `levels` is each sample's peak as the engine plays it over its peak in the sprite;
    `powers` its mean square in its first half second, as the engine plays it. `clicks` are
    little-endian 16-bit samples at full scale, and `click_places` by sound where each kind's
    samples start and how many they are.
    """

    encoded: bytes
    table: list[Json]
    levels: list[float]
    powers: list[float]
    clicks: bytes
    click_places: Json
    rate: int
    soundfont: Soundfont
    warnings: tuple[str, ...] = ()


def sprite(
    needs: Mapping[Wanted, float], clicks: Sequence[str], soundfont: Soundfont, engine: Engine
) -> Sprite:
    """Render, cut and encode the samples that a song needs, and its clicks.

    Args:
        needs: the samples, each with the longest that it must sound, in seconds.
        clicks: the click sounds, keys of `SOUNDS`.

    Raises:
        BackingError: the engine failed.
    """
    import numpy as np

    rate = engine.rate or RATE
    lengths = _lengths(needs)
    keys = list(dict.fromkeys(key for name in clicks for key in SOUNDS[name]))
    places, score = _score(lengths, keys, rate)
    with TemporaryDirectory() as folder:
        rendered = render(score, Path(folder), soundfont, engine, rate)
        frames = np.fromfile(rendered.mix, "<f4").reshape(-1, 2).mean(axis=1)
    struck, click_places = _clicks(frames, clicks, keys, rate)
    ends = {wanted: places[wanted] + int(length * rate) for wanted, length in lengths.items()}
    releases = _releases(frames, ends, rate)
    table, levels, powers = [], [], []
    pieces = [np.zeros(int(FIRST_S * rate), "f4")]
    pieces[0][int(MARKER_S * rate)] = 1.0
    at = len(pieces[0])
    sets: dict[int | None, int] = {}
    for wanted, length in lengths.items():
        start = places[wanted]
        piece = frames[start : start + int(length * rate)].copy()
        loop = None
        if wanted.program in HELD:
            piece, loop = _looped(piece, rate)
        else:
            piece = _ended(piece, rate)
        peak = float(np.abs(piece).max(initial=0.0)) or 1.0
        powers.append(float(np.mean(np.square(piece[: rate // 2]))) if len(piece) else 0.0)
        levels.append(peak / PEAK)
        table.append(
            {
                "at": at / rate,
                "length": len(piece) / rate,
                "loop": loop and [(at + loop[0]) / rate, (at + loop[1]) / rate],
                "pitch": None if wanted.program is None else wanted.pitch,
                "set": sets.setdefault(wanted.program, len(sets)),
                "layer": wanted.velocity,
                "release": releases[wanted.program],
            }
        )
        pieces += [piece * (PEAK / peak), np.zeros(int(GAP_S * rate), "f4")]
        at += len(piece) + int(GAP_S * rate)
    return Sprite(
        _encoded(np.concatenate(pieces), rate),
        table,
        levels,
        powers,
        struck,
        click_places,
        rate,
        rendered.soundfont,
        rendered.warnings,
    )


def _clicks(
    frames: Any, names: Sequence[str], keys: Sequence[int], rate: int
) -> tuple[bytes, Json]:
    """The clicks, which were rendered first, a second apart."""
    import numpy as np

    pcm, found, at = [], {}, 0
    for index, key in enumerate(keys):
        piece = frames[index * rate : (index + 1) * rate]
        whole = np.rint(piece * (32767 / (float(np.abs(piece).max(initial=0.0)) or 1.0)))
        whole = np.trim_zeros(whole * (np.abs(whole) > QUIET), "b")
        pcm.append(whole.astype("<i2").tobytes())
        found[key] = [at, len(whole)]
        at += len(whole)
    places = {
        name: dict(zip(("accent", "plain"), (found[key] for key in SOUNDS[name]), strict=True))
        for name in names
    }
    return b"".join(pcm), places


def _lengths(needs: Mapping[Wanted, float]) -> dict[Wanted, float]:
    """How long each sample may be: of very many the longest are cut until all have room."""
    most = MOST_S
    while True:
        lengths = {wanted: _length(wanted, need, most) for wanted, need in needs.items()}
        if sum(lengths.values()) <= MOST_TOGETHER_S or most < LEAST_S:
            return lengths
        most *= 0.95


def _length(wanted: Wanted, need_s: float, most_s: float) -> float:
    if wanted.program in HELD:
        return LOOP_AT_S + LOOP_MOST_S + OVER_S
    if wanted.program is None:
        return min(MOST_DRUM_S, most_s)
    return min(most_s, need_s + MOST_RELEASE_S)


def _score(
    lengths: Mapping[Wanted, float], keys: Sequence[int], rate: int
) -> tuple[dict[Wanted, int], Score]:
    """Every sample's first frame, and a score with the clicks, a second apart, and then the
    samples one by one, on whole blocks of the engine's.
    """
    places: dict[Wanted, int] = {}
    by_program: dict[int | None, list[Note]] = {}
    frame = -(-(len(keys) * rate) // BLOCK) * BLOCK
    for wanted, length in lengths.items():
        places[wanted] = frame
        held = int(length * rate)
        notes = by_program.setdefault(wanted.program, [])
        start, end = _whole(frame, rate), _whole(frame + held, rate)
        notes.append(Note(start, end, wanted.pitch, wanted.velocity))
        frame += -(-(held + int(ENDING_S * rate)) // BLOCK) * BLOCK
    clicks = tuple(
        Note(Fraction(index, 4), Fraction(8 * index + 1, 32), key, ACCENT)
        for index, key in enumerate(keys)
    )
    tracks = [Track("click", "Click", None, 100, 0, clicks)]
    tracks += [
        Track(f"set {index}", f"Set {index}", program, 100, 0, tuple(notes))
        for index, (program, notes) in enumerate(by_program.items())
    ]
    return places, Score("", tuple(tracks), (TEMPO,), (), (), (), (), _whole(frame, rate))


def _whole(frame: int, rate: int) -> Fraction:
    return Fraction(frame, 4 * rate)


def _encoded(samples: Any, rate: int) -> bytes:
    import soundfile

    buffer = BytesIO()
    with soundfile.SoundFile(
        buffer,
        "w",
        rate,
        1,
        "MPEG_LAYER_III",
        format="MP3",
        bitrate_mode="VARIABLE",
        compression_level=COMPRESSION,
    ) as file:
        file.write(samples)
    return buffer.getvalue()
