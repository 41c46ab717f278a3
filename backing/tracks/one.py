"""One version of one form as files: played, proven, and only then given their names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from backing.errors import BackingError, DisagreementError, ShortageError, naming
from backing.form import Form
from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.human import humanize
from backing.practice.versions import PLAIN, Version
from backing.score import Score
from backing.system.files import write_in_work_folder
from backing.system.place import LeftAlone, NewFile, place
from backing.system.work import work_folder, writing
from backing.timeline import unroll
from backing.verify import Expected, Report, compare_bytes, expected_of

if TYPE_CHECKING:
    from backing.audio.sound_files import AudioOptions, Sounds
    from backing.verify.sound.audio import AudioReport


class Built(NamedTuple):
    """A version's MIDI file, its form, and the report that proved it first.

    `expected` is what the report compares it with. `sounds` are the sound files beside it, if any
    were made; `notes` are sentences about a practice version. `left` are other people's files
    with such names, which were not replaced; what was made for those names is gone.
    """

    path: Path
    form: Form
    report: Report
    expected: Expected
    sounds: Sounds | None = None
    version: Version = PLAIN
    notes: tuple[str, ...] = ()
    left: tuple[LeftAlone, ...] = ()

    @property
    def is_written(self) -> bool:
        """Whether the MIDI file has its name; False if another person's file was left there."""
        return all(one.path != self.path for one in self.left)


class Piece(NamedTuple):
    """A version to make; `stem` is the path of its files without an ending.

    `force` also replaces files that are not ours (see `system.place`).
    """

    form: Form
    stem: Path
    version: Version = PLAIN
    count_in: bool = True
    seed: int = 0
    audio: AudioOptions | None = None
    force: bool = False


def midi_of(form: Form, count_in: bool = True, seed: int = 0, version: Version = PLAIN) -> bytes:
    """A form's backing track as a Standard MIDI File; the same form and seed give the same bytes.

    For the song as written these are the bytes of
    `to_bytes(humanize(play(unroll(form, count_in)), form.human, seed))`: `play` puts every note
    exactly on the grid, and `humanize` moves them as far as the form's `human` allows.

    Args:
        form: as read.
        count_in: False leaves the count-in out.
        seed: which of many performances, all as human as the form says; any whole number.
        version: a practice version; `Version()` is the song as written.

    Raises:
        BackingError: the form has no such bars, sections or key, or can't be written as MIDI.
    """
    score, _ = score_of(form, version, count_in, seed)
    return to_bytes(score)


def score_of(
    form: Form, version: Version = PLAIN, count_in: bool = True, seed: int = 0
) -> tuple[Score, tuple[str, ...]]:
    """A version as it is played, and notes on it."""
    if version == PLAIN:
        return humanize(play(unroll(form, count_in)), form.human, seed), ()
    from backing.practice.played import play_version

    take = play_version(form, version, count_in, seed)
    return take.score, take.notes


def make(
    piece: Piece,
    progress: Callable[[float], None] = lambda share: None,
    cores: int | None = None,
) -> Built:
    """Write a version's MIDI file and, with `piece.audio`, its sound; each is proven first.

    Args:
        piece: what to make, in a hidden work folder: files that are there are replaced.
        progress: called with the share of the sound that is rendered, 0 to 1.
        cores: how many the sound may use at once; None uses all.

    Raises:
        BackingError: it can't be played or written.
        DisagreementError: what was made doesn't match the form.
    """
    form, stem, audio = piece.form, piece.stem, piece.audio
    score, notes = score_of(form, piece.version, piece.count_in, piece.seed)
    data = to_bytes(score)
    expected = expected_of(form, piece.version, piece.count_in)
    report = _proved(expected, data)
    path = stem.with_name(f"{stem.name}.mid")
    write_in_work_folder(path, data)
    sounds = audio and _sounds(score, expected, stem, audio, progress, cores, _whole(piece, score))
    return Built(path, form, report, expected, sounds, piece.version, notes)


def save(
    piece: Piece,
    progress: Callable[[float], None] = lambda share: None,
    cores: int | None = None,
) -> Built:
    """Make a version in a hidden folder, then give its files their names; arguments as in `make`.

    Another person's file is left as it is (`Built.left`).

    Raises:
        BackingError: it can't be played or written; then no file gets its name.
        DisagreementError: what was made doesn't match the form.
    """
    out = piece.stem.parent
    ending = "mid" if piece.audio is None else piece.audio.format
    with naming(out / f"{piece.stem.name}.{ending}"), work_folder(out) as work:
        inside = work / "made"
        with writing(inside):
            inside.mkdir()
        try:
            with naming(inside / f"{piece.stem.name}.{ending}"):
                built = make(piece._replace(stem=inside / piece.stem.name), progress, cores)
        except BackingError as error:
            raise error.with_text(str(inside), str(out)) from None
        made = {path.name: NewFile(path) for path in sorted(inside.iterdir())}
        left = place(out, work, made, piece.force)
    sounds = built.sounds
    if sounds is not None:
        placed = [one._replace(path=out / one.path.name) for one in sounds.files]
        taken = {one.path for one in left}
        sounds = sounds._replace(files=tuple(one for one in placed if one.path not in taken))
    return built._replace(path=out / built.path.name, sounds=sounds, left=left)


def _whole(piece: Piece, score: Score) -> Score:
    """The whole song at full tempo, which gives every version its balance and its gain."""
    if piece.version == PLAIN and piece.count_in:
        return score
    return score_of(piece.form, seed=piece.seed)[0]


def _proved(expected: Expected, data: bytes) -> Report:
    try:
        report = compare_bytes(expected, data, quick=True)
    except ShortageError:
        raise
    except BackingError as error:  # too long for our own reader, for one
        raise BackingError(f"{expected.title}: the MIDI file was not kept: {error}") from None
    what = f"{expected.title}: the MIDI file"
    _must_agree(report, what)
    if found := [*(f"no {label}" for label in report.lost), *report.noted]:
        raise DisagreementError(f"{what} isn't complete, so it was not kept ({'; '.join(found)}).")
    return report


def _must_agree(report: Report | AudioReport, what: str) -> None:
    if not report.agrees:
        found = "; ".join(f"{finding.what}: {finding.says}" for finding in report.disagreements)
        raise DisagreementError(f"{what} doesn't match the form, so it was not kept ({found}).")


def _sounds(
    score: Score,
    expected: Expected,
    stem: Path,
    audio: AudioOptions,
    progress: Callable[[float], None],
    cores: int | None,
    whole: Score,
) -> Sounds:
    from backing.audio.sound_files import render_audio
    from backing.verify.sound.audio import compare_audio

    def prove_sound(path: Path) -> None:
        _must_agree(compare_audio(expected, path), f"{expected.title}: the sound")

    return render_audio(score, stem, audio, progress, prove_sound, cores, whole)
