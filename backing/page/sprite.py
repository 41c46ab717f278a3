"""The page's samples: rendered by the audio engine one after another, cut, and encoded as one.

MP3, since every browser's `decodeAudioData` reads it (Ogg Vorbis and Opus came late to
Safari, and AAC has no free encoder here). Encoders and decoders add silence in front, and
not all remove it again, so the sprite begins with an impulse, the marker, from which the page
works out how much was added. The click is apart from it: 16-bit samples as they are, exact to
one sample.

Held sounds get a loop; all others die away by themselves or, after `MOST_S`, in a fade. The
engine's small room is included.
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.audio.engines import Engine
from backing.audio.render import RATE, render
from backing.audio.soundfonts import Soundfont
from backing.errors import BackingError
from backing.page.notes import SampleKey
from backing.page.sample_shaping import (
    LOOP_AT_S,
    LOOP_MOST_S,
    MOST_RELEASE_S,
    OVER_S,
    looped,
    one_channel,
    releases,
    trimmed,
)
from backing.players.click import ACCENT
from backing.score import Control, Note, Score, TempoChange, Track
from backing.system.shortages import NUMPY_BYTES, need_memory
from backing.system.work import writing
from backing.theory.general_midi import CLICK_SOUNDS, STANDARD_KIT, SUSTAINED

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from backing.page.page_json import ClickPlaces, SampleData

#: How long a sample may be: of a plucked or struck string, of a drum.
MOST_S, MOST_DRUM_S = 5.0, 2.5
#: How long all may be together, for a page of less than 6 MB, and what no sample is cut below.
MOST_TOGETHER_S, LEAST_S = 480.0, 1.0
#: Between two samples; and what is rendered after each note for it to end.
GAP_S, ENDING_S = 0.06, 1.0
#: Where the marker stands, where the first sample may start, and how far in the page looks for
#: the marker, which the decoder may have moved.
MARKER_S, FIRST_S, MARKER_WITHIN_S = 0.05, 0.25, 0.5
#: Each sample's peak in the sprite; the marker is at full scale.
PEAK = 0.7
#: The engine's noise in 16 bits, below which a click has ended.
QUIET = 2
#: libsndfile's measure of compression, 0 to 1: about 90 kbit/s in one channel.
COMPRESSION = 0.3
MIME = "audio/mpeg"
#: At this quarter-note tempo a whole note lasts four seconds.
TEMPO = TempoChange(Fraction(0), Fraction(60))
BLOCK = 64


class Sprite(NamedTuple):
    """The encoded samples, what the page must know of each, and what made them.

    `levels` are each sample's peak as the engine plays it over its peak in the sprite;
    `powers` its mean square in its first half second, as the engine plays it. `clicks` are
    little-endian 16-bit samples at full scale, and `click_places` says for each sound where the
    samples of each kind start and how many they are; `click_peaks` are, by key, their peaks as
    the engine plays them.
    """

    encoded: bytes
    table: list[SampleData]
    levels: list[float]
    powers: list[float]
    clicks: bytes
    click_places: dict[str, ClickPlaces]
    click_peaks: dict[int, float]
    rate: int
    soundfont: Soundfont
    warnings: tuple[str, ...] = ()


class _Sample(NamedTuple):
    """A sample as it is rendered and shaped: its frames, and the loop in them where it has one."""

    key: SampleKey
    frames: Any
    loop: tuple[int, int] | None
    peak: float
    power: float


def sprite(
    needs: Mapping[SampleKey, float],
    clicks: Sequence[str],
    soundfont: Soundfont,
    engine: Engine,
    folder: Path,
    shortened: Mapping[int, float] = MappingProxyType({}),
) -> Sprite:
    """Render, cut and encode the samples that a song needs, and its clicks.

    Args:
        needs: the samples, each with the longest that it must sound, in seconds.
        clicks: the click sounds, keys of `CLICK_SOUNDS`.
        folder: where the raw sound goes, which is removed again.
        shortened: as in `render`.

    Raises:
        BackingError: the engine failed.
    """
    need_memory(NUMPY_BYTES)
    import numpy as np

    rate = engine.rate or RATE
    lengths = _lengths(needs)
    keys = list(dict.fromkeys(key for name in clicks for key in CLICK_SOUNDS[name]))
    places, score = _score(lengths, keys, rate)
    rendered = render(score, folder, soundfont, engine, rate, shortened=shortened)
    stereo = np.fromfile(rendered.mix, "<f4").reshape(-1, 2)
    rendered.mix.unlink()
    frames = stereo.mean(axis=1)
    spans = {
        key: slice(places[key], places[key] + int(length * rate)) for key, length in lengths.items()
    }
    ends = {key: span.stop for key, span in spans.items()}
    for span in spans.values():
        whole = slice(span.start, span.stop + int(ENDING_S * rate))
        frames[whole] = stereo[whole] @ one_channel(stereo[span])
    samples = [_shaped(key, frames[span], rate) for key, span in spans.items()]
    pcm, click_places, peaks = _clicks(frames, clicks, keys, rate)
    return Sprite(
        _encoded(_joined(samples, rate), rate, folder / "samples.mp3"),
        list(_table(samples, releases(frames, ends, ENDING_S, rate), rate)),
        [sample.peak / PEAK for sample in samples],
        [sample.power for sample in samples],
        pcm,
        click_places,
        peaks,
        rate,
        rendered.soundfont,
        rendered.warnings,
    )


def _shaped(key: SampleKey, rendered: Any, rate: int) -> _Sample:
    import numpy as np

    loop = None
    if key.program in SUSTAINED:
        frames, *loop_ends = looped(rendered, rate)
        loop = (loop_ends[0], loop_ends[1])
    else:
        frames = trimmed(rendered, rate)
    peak = float(np.abs(frames).max(initial=0.0)) or 1.0
    power = float(np.mean(np.square(frames[: rate // 2]))) if len(frames) else 0.0
    return _Sample(key, frames, loop, peak, power)


def _joined(samples: Sequence[_Sample], rate: int) -> Any:
    """The marker, then all samples at the same peak, with gaps between them."""
    import numpy as np

    head = np.zeros(int(FIRST_S * rate), "f4")
    head[int(MARKER_S * rate)] = 1.0
    pieces = [head]
    for sample in samples:
        pieces += [sample.frames * (PEAK / sample.peak), np.zeros(int(GAP_S * rate), "f4")]
    return np.concatenate(pieces)


def _table(
    samples: Sequence[_Sample], release_s: Mapping[int | None, float], rate: int
) -> Iterator[SampleData]:
    """Where each sample is in the sprite, and what the page must know of it."""
    at = int(FIRST_S * rate)
    instruments: dict[int | None, int] = {}
    for key, frames, loop, _, _ in samples:
        yield {
            "at": at / rate,
            "length": len(frames) / rate,
            "loop": loop and ((at + loop[0]) / rate, (at + loop[1]) / rate),
            "pitch": None if key.program is None else key.pitch,
            "instrument": instruments.setdefault(key.program, len(instruments)),
            "layer": key.velocity,
            "release": release_s[key.program],
        }
        at += len(frames) + int(GAP_S * rate)


def _clicks(
    frames: Any, names: Sequence[str], keys: Sequence[int], rate: int
) -> tuple[bytes, dict[str, ClickPlaces], dict[int, float]]:
    """The clicks, which were rendered first, a second apart, as 16-bit samples; and their peaks."""
    import numpy as np

    pcm: list[bytes] = []
    found: dict[int, tuple[int, int]] = {}
    peaks: dict[int, float] = {}
    at = 0
    for index, key in enumerate(keys):
        piece = frames[index * rate : (index + 1) * rate]
        peaks[key] = float(np.abs(piece).max(initial=0.0))
        whole = np.rint(piece * (32767 / (peaks[key] or 1.0)))
        whole = np.trim_zeros(whole * (np.abs(whole) > QUIET), "b")
        pcm.append(whole.astype("<i2").tobytes())
        found[key] = (at, len(whole))
        at += len(whole)
    places: dict[str, ClickPlaces] = {}
    for name in names:
        accent, plain = CLICK_SOUNDS[name]
        places[name] = {"accent": found[accent], "plain": found[plain]}
    return b"".join(pcm), places, peaks


def _lengths(needs: Mapping[SampleKey, float]) -> dict[SampleKey, float]:
    """How long each sample may be: where there are very many, the longest are cut until all fit."""
    most = MOST_S
    while True:
        lengths = {key: _length(key, need, most) for key, need in needs.items()}
        if sum(lengths.values()) <= MOST_TOGETHER_S or most < LEAST_S:
            return lengths
        most *= 0.95


def _length(key: SampleKey, need_s: float, most_s: float) -> float:
    if key.program in SUSTAINED:
        return LOOP_AT_S + LOOP_MOST_S + OVER_S
    if key.program is None:
        return min(MOST_DRUM_S, most_s)
    return min(most_s, need_s + MOST_RELEASE_S)


def _score(
    lengths: Mapping[SampleKey, float], keys: Sequence[int], rate: int
) -> tuple[dict[SampleKey, int], Score]:
    """Every sample's first frame, and a score of the clicks, a second apart, and then the
    samples one by one, each at the start of a block of the engine.
    """
    places: dict[SampleKey, int] = {}
    by_program: dict[tuple[int | None, int], list[Note]] = {}
    frame = -(-(len(keys) * rate) // BLOCK) * BLOCK
    for key, length in lengths.items():
        places[key] = frame
        held = int(length * rate)
        notes = by_program.setdefault((key.program, key.kit), [])
        start, end = _whole(frame, rate), _whole(frame + held, rate)
        notes.append(Note(start, end, key.pitch, key.velocity))
        frame += -(-(held + int(ENDING_S * rate)) // BLOCK) * BLOCK
    clicks = tuple(
        Note(Fraction(index, 4), Fraction(8 * index + 1, 32), key, ACCENT)
        for index, key in enumerate(keys)
    )
    tracks = [Track("click", "Click", None, 100, 0, clicks)]
    tracks += [
        _track(f"set {index}", program, kit, notes)
        for index, ((program, kit), notes) in enumerate(by_program.items())
    ]
    return places, Score("", tuple(tracks), (TEMPO,), (), (), (), (), _whole(frame, rate))


def _track(part: str, program: int | None, kit: int, notes: Sequence[Note]) -> Track:
    """A track of one instrument, or of one kit."""
    changes = () if kit == STANDARD_KIT else (Control(notes[0].start_whole, "program", kit),)
    return Track(part, part.title(), program, 100, 0, tuple(notes), (), changes)


def _whole(frame: int, rate: int) -> Fraction:
    return Fraction(frame, 4 * rate)


def _encoded(samples: Any, rate: int, path: Path) -> bytes:
    """Samples as MP3, by way of a file that is removed again.

    In memory, the encoder would call Python for each write, and a Ctrl-C in there would be lost.
    """
    import soundfile

    try:
        with soundfile.SoundFile(
            path,
            "w",
            rate,
            1,
            "MPEG_LAYER_III",
            format="MP3",
            bitrate_mode="VARIABLE",
            compression_level=COMPRESSION,
        ) as file:
            file.write(samples)
    except (soundfile.LibsndfileError, AssertionError):
        raise BackingError(f"{path}: can't be written. Is the disk full?") from None
    with writing(path):
        data = path.read_bytes()
        path.unlink()
    return data
