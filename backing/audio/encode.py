"""A raw file at a gain, encoded, tagged and measured again; it gets its name only when finished.

Samples go through in blocks, so memory does not grow with the length. 16-bit files are dithered
(triangular, one bit to each side) wherever there is sound; the noise is the same every time, and
silence stays silent. 24 bits and the lossy formats need none. The same sound gives the same bytes,
as long as the encoder has the same version.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.audio.loudness import BLOCK_FRAMES, CEILING_DB, CHANNELS, Loudness, measure
from backing.audio.song_level import ROOM_DB, limited
from backing.audio.tags import Tags, write_tags
from backing.errors import BackingError, write_error
from backing.system.files import whole

if TYPE_CHECKING:
    from backing.audio.loudness import Block

#: How many times a lossy file is encoded at most, each time under a lower ceiling.
MOST_TRIES = 4
DITHER_SEED = 1770
#: How much is written to learn why a file can't be written: more than a block of any disk.
_TRIED_BYTES = 1 << 20


class _Format(NamedTuple):
    """libsndfile's names for a format and subtype, and its settings."""

    name: str
    subtype: str
    lossless: bool
    settings: dict[str, Any]


#: Both lossy settings come to about 190 kbit/s for a full mix.
FORMATS = {
    "wav": _Format("WAV", "PCM_16", True, {}),
    "flac": _Format("FLAC", "PCM_16", True, {}),
    "ogg": _Format("OGG", "VORBIS", False, {"compression_level": 0.4}),
    "mp3": _Format(
        "MP3", "MPEG_LAYER_III", False, {"bitrate_mode": "VARIABLE", "compression_level": 0.2}
    ),
}
LOSSLESS_SUBTYPES = ("PCM_16", "PCM_24")


class Encoded(NamedTuple):
    """What the file holds, decoded again."""

    frames: int
    lufs: float
    true_peak_db: float


def encode(
    raw: Path,
    rate: int,
    target: Path,
    format_: str,
    gain_db: float,
    tags: Tags,
    subtype: str | None = None,
    ceiling_db: float | None = CEILING_DB,
    pulse: Callable[[], None] = lambda: None,
) -> Encoded:
    """Encode a raw file.

    Peaks over the ceiling are limited. A lossy encoder moves them: if the decoded true peak is
    over the ceiling, the file is encoded again with its peaks lower by the excess, at most three
    times. If it is still over, the figures returned show it.

    Args:
        raw: float32 frames, as `loudness` has them.
        rate: in Hz.
        target: the file to write; one that is there is replaced.
        format_: wav, flac, ogg or mp3.
        gain_db: added to every sample.
        tags: title, tempo and cues.
        subtype: PCM_16 (as None) or PCM_24, for wav and flac.
        ceiling_db: the most for the true peak; None leaves the gain as it is given (stems).
        pulse: called for each block; what it raises ends the work.

    Raises:
        BackingError: an unknown format, or one that doesn't have this rate; or the file can't be
            written whole. Then what was under the target's name is unchanged.
    """
    kind = _format(format_, subtype)
    with whole(target) as part:
        job = _Job(raw, rate, gain_db, part, target, kind, pulse)
        encoded = _encode_under(ceiling_db, job)
        write_tags(part, format_.lower(), tags, rate)
        if kind.name == "OGG":
            _number_stream(part)
    return encoded


def _format(name: str, subtype: str | None) -> _Format:
    """A format with its usual subtype, or the one that is given; raises BackingError."""
    name = name.lower()
    if name not in FORMATS:
        raise BackingError(f"{name}: no such sound format. Write one of {', '.join(FORMATS)}.")
    kind = FORMATS[name]
    if subtype is None:
        return kind
    if not kind.lossless or subtype not in LOSSLESS_SUBTYPES:
        raise BackingError(f"{name} is not written as {subtype}.")
    return kind._replace(subtype=subtype)


class _Job(NamedTuple):
    """Raw frames at a rate (Hz), the decibels to add to them, the temporary file to encode to, and
    the file it will become.
    """

    raw: Path
    rate: int
    gain_db: float
    part: Path
    target: Path
    kind: _Format
    pulse: Callable[[], None]


def _encode_under(ceiling_db: float | None, job: _Job) -> Encoded:
    """Encode a job, with lower peaks each time while the decoded ones are over the ceiling."""
    limit = ceiling_db
    if limit is not None and not job.kind.lossless:
        limit -= ROOM_DB
    for tries in range(1, MOST_TRIES + 1):
        sent = _write(job, limit)
        frames, loudness = measure_file(job.part, job.target)
        if frames != sent:
            raise _not_written(job, f"only {frames} of {sent} frames are in it")
        over = 0.0 if ceiling_db is None else loudness.true_peak_db - ceiling_db
        if limit is None or job.kind.lossless or over <= 0 or tries == MOST_TRIES:
            break
        limit -= over + ROOM_DB
    return Encoded(frames, loudness.lufs, loudness.true_peak_db)


def measure_file(path: Path, named: Path | None = None) -> tuple[int, Loudness]:
    """Decode a stereo file: how many frames it has, and how loud it is.

    Args:
        path: what to read.
        named: its name in errors, if that is another one.

    Raises:
        BackingError: it can't be decoded, or is not stereo.
    """
    import soundfile

    frames = 0

    def counted(blocks: Iterator[Block]) -> Iterator[Block]:
        nonlocal frames
        for block in blocks:
            frames += len(block)
            yield block

    try:
        with soundfile.SoundFile(_native(path)) as file:
            if file.channels != CHANNELS:
                raise BackingError(f"{named or path}: {file.channels} channels instead of 2.")
            loudness = measure(counted(_blocks(file)), file.samplerate)
            return frames, loudness
    except soundfile.LibsndfileError as error:
        raise BackingError(
            f"{named or path}: can't be read: {str(error.error_string).rstrip('.')}."
        ) from None


def _native(path: Path) -> str | bytes:
    """A path as the library opens any, even where its name isn't UTF-8; Windows has none such."""
    return str(path) if os.name == "nt" else os.fsencode(path)


def _blocks(file: Any) -> Iterator[Block]:
    """A file's frames as floats; for 16 bits the conversion here is much faster."""
    import numpy as np

    if file.subtype != "PCM_16":
        yield from file.blocks(BLOCK_FRAMES, dtype="float32", always_2d=True)
        return
    for block in file.blocks(BLOCK_FRAMES, dtype="int16", always_2d=True):
        yield block * np.float32(1 / 32768)


def _write(job: _Job, ceiling_db: float | None) -> int:
    """Encode to a temporary file; returns how many frames were sent."""
    import soundfile

    kind = job.kind
    sent, blocks = 0, limited(job.raw, job.rate, job.gain_db, ceiling_db)
    if kind.subtype == "PCM_16":
        blocks = _dithered(blocks)
    try:
        with soundfile.SoundFile(
            _native(job.part),
            "w",
            job.rate,
            CHANNELS,
            kind.subtype,
            format=kind.name,
            **kind.settings,
        ) as file:
            for block in blocks:
                job.pulse()
                file.write(block)
                sent += len(block)
    except (soundfile.LibsndfileError, AssertionError) as error:
        why = str(getattr(error, "error_string", "the disk took only part of it")).rstrip(".")
        raise _not_written(job, why) from None
    return sent


def _not_written(job: _Job, why: str) -> BackingError:
    """The error for a file that the encoder couldn't write, which doesn't say what the system said.

    So a little more is written, to see what the system says now.
    """
    try:
        with open(job.part, "ab") as file:
            file.write(bytes(_TRIED_BYTES))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        return write_error(job.target, error)
    return BackingError(f"{job.target}: can't be written: {why}.")


def _dithered(blocks: Iterator[Block]) -> Iterator[Any]:
    """Blocks rounded to 16 bits; all get the same noise, far below hearing."""
    import numpy as np

    random = np.random.Generator(np.random.PCG64(DITHER_SEED))
    shape = (BLOCK_FRAMES, CHANNELS)
    noise = random.random(shape, np.float32) - random.random(shape, np.float32)
    for block in blocks:
        steps = block * np.float32(32768)
        steps += noise[: len(block)] * (block != 0)
        np.rint(steps, out=steps)
        yield np.clip(steps, -32768, 32767, out=steps).astype(np.int16)


def _number_stream(path: Path) -> None:
    """Give an Ogg stream the number 1, instead of the random one from libsndfile."""
    from mutagen.ogg import OggPage

    with open(path, "r+b") as file:
        while True:
            start = file.tell()
            try:
                page = OggPage(file)
            except EOFError:
                return
            page.serial = 1
            data = page.write()
            file.seek(start)
            file.write(data)
