"""From a form's file to a proven MIDI file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from backing.errors import BackingError, DisagreementError
from backing.files import distinct_names, write_whole
from backing.form import Form, read_form
from backing.midi import to_bytes
from backing.players import play
from backing.players.human import humanized
from backing.timeline import unroll
from backing.verify import Report, verify_bytes

if TYPE_CHECKING:
    from backing.audio.build import Sounds, Wanted


class Built(NamedTuple):
    """A file that was written, its form, and the report that proved it first.

    `sounds` are the files of sound beside it, where they were asked for.
    """

    path: Path
    form: Form
    report: Report
    sounds: Sounds | None = None


def midi_of(form: Form, count_in: bool = True, seed: int = 0) -> bytes:
    """A form's backing track as a Standard MIDI File; the same form and seed give the same bytes.

    `seed` chooses one of many playings, all as human as the form says.
    """
    return to_bytes(humanized(play(unroll(form, count_in)), form.human, seed))


def prove(form: Form, data: bytes, count_in: bool = True) -> Report:
    """Hold a file's bytes against its form with the summing reader.

    Raises:
        DisagreementError: the file is not what the form says, which is a defect of ours.
    """
    report = verify_bytes(form, data, count_in, quick=True)
    if not report.agrees:
        said = "; ".join(f"{finding.what}: {finding.says}" for finding in report.disagreements)
        raise DisagreementError(
            f"{form.title}: what was built is not what the form says, so it was not kept ({said})."
        )
    return report


def build(
    paths: Sequence[str | Path],
    out: str | Path = ".",
    count_in: bool = True,
    each: Callable[[Built | BackingError], None] = lambda _: None,
    seed: int = 0,
    audio: Wanted | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> tuple[list[Built], list[BackingError]]:
    """Build forms into a folder, one file each; `each` hears of every form as it is done.

    With `audio`, each one's sound stands beside it; `progress` hears the share of a form's
    sound that is rendered, 0 to 1.

    A form that can't be built is passed over, and its error returned; the names of the
    others do not depend on it.
    """
    read: list[tuple[str | Path, Form | BackingError]] = [(path, _read(path)) for path in paths]
    good = [(path, form) for path, form in read if isinstance(form, Form)]
    names = iter(distinct_names([(form.title, str(path)) for path, form in good]))
    built: list[Built] = []
    errors: list[BackingError] = []
    for _, form in read:
        outcome = (
            form
            if isinstance(form, BackingError)
            else _build(form, Path(out), next(names), count_in, seed, audio, progress)
        )
        (errors if isinstance(outcome, BackingError) else built).append(outcome)  # type: ignore[arg-type]
        each(outcome)
    return built, errors


def _read(path: str | Path) -> Form | BackingError:
    try:
        return read_form(path)
    except BackingError as error:
        return error


def _build(
    form: Form,
    out: Path,
    name: str,
    count_in: bool,
    seed: int,
    audio: Wanted | None,
    progress: Callable[[float], None],
) -> Built | BackingError:
    try:
        data = midi_of(form, count_in, seed)
        report = prove(form, data, count_in)
        path = out / f"{name}.mid"
        write_whole(path, data)
        sounds = audio and _sounds(form, out / name, count_in, seed, audio, progress)
    except BackingError as error:
        return error
    return Built(path, form, report, sounds)


def _sounds(
    form: Form,
    stem: Path,
    count_in: bool,
    seed: int,
    audio: Wanted,
    progress: Callable[[float], None],
) -> Sounds:
    from backing.audio.build import build_audio
    from backing.verify.audio import verify_audio

    def proved(path: Path) -> None:
        found = verify_audio(form, path, count_in)
        if not found.agrees:
            said = "; ".join(
                f"{each.what}: {each.says}" for each in found.findings if not each.agrees
            )
            raise DisagreementError(
                f"{form.title}: the sound is not what the form says, so it was not kept ({said})."
            )

    timeline = unroll(form, count_in)
    score = humanized(play(timeline), form.human, seed)
    return build_audio(score, timeline, stem, audio, progress, proved)
