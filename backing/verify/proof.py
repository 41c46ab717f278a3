"""A MIDI file compared with what is expected, by both readers."""

from __future__ import annotations

from pathlib import Path
from stat import S_ISDIR, S_ISREG

from backing.errors import BackingError, ShortageError, naming, read_error
from backing.form.model import Form
from backing.practice.versions import Version
from backing.verify.compare import compare, expected_of
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import (
    PRETTY_MIDI_MOST_BYTES,
    PRETTY_MIDI_MOST_TICKS,
    Measured,
    by_pretty_midi,
    by_summing,
)
from backing.verify.report import Report

#: 20,000 bars of sixteenths in every part come to 20 MB, which takes a few seconds to read.
MOST_BYTES = 24 << 20


def verify_file(
    form: Form, path: str | Path, count_in: bool = True, version: Version | None = None
) -> Report:
    """Check a MIDI file against its form with two independent readers.

    Args:
        form: as read.
        path: a Standard MIDI File of type 0 or 1, or of type 2 with one track; at most 24 MiB.
        count_in: False for a file without the count-in.
        version: the practice version that the file holds; None is the song as written.

    Raises:
        BackingError: the file can't be opened, read as MIDI or compared with a form.
    """
    return compare_file(expected_of(form, version, count_in), path)


def compare_file(expected: Expected, path: str | Path) -> Report:
    """Compare a MIDI file with what is expected, as `verify_file` does."""
    data = _whole(path)
    try:
        with naming(path, "can't be checked"):
            return compare_bytes(expected, data)
    except ShortageError:
        raise
    except BackingError as error:
        raise BackingError(f"{path}: {error} Give a type 0 or 1 MIDI file.") from None


def verify_bytes(
    form: Form,
    data: bytes,
    count_in: bool = True,
    quick: bool = False,
    version: Version | None = None,
) -> Report:
    """Check a MIDI file's bytes against its form with two independent readers.

    Args:
        form: as read.
        data: a Standard MIDI File of type 0 or 1, or of type 2 with one track.
        count_in: False for a file without the count-in.
        quick: True uses our own reader alone, and doesn't look for the cause of what disagrees.
        version: the practice version that the file holds; None is the song as written.

    Returns:
        What agrees and what doesn't: `agrees`, `disagreements`, `worst_s`, `tolerance_s`.

    Raises:
        BackingError: they can't be read as MIDI or compared with a form.
    """
    return compare_bytes(expected_of(form, version, count_in), data, quick)


def compare_bytes(expected: Expected, data: bytes, quick: bool = False) -> Report:
    """Compare a MIDI file's bytes with what is expected.

    Our own reader must be able to read them. If pretty_midi can't, the report's `left_out`
    says why, and our own reader decides. `quick` uses it alone, without a look for the cause.

    Raises:
        BackingError: they can't be read as MIDI or compared with a form.
    """
    account = by_summing(data)
    if quick:
        return compare(expected, [account], with_cause=False)
    accounts, why = [account], _too_much_for_pretty_midi(account, data)
    if not why:
        try:
            accounts.append(by_pretty_midi(data))
        except ShortageError:
            raise
        except BackingError as error:
            why = str(error).rstrip(".")
    return compare(expected, accounts)._replace(left_out=why)


def size_of_file(path: str | Path, wanted: str) -> int:
    """The size in bytes of a regular file that can be opened.

    A pipe or a device could keep a reader waiting, or feed it without end.

    Args:
        path: the file.
        wanted: what to give instead, for the message: "a MIDI file".

    Raises:
        BackingError: there is no such file, or it isn't a regular one.
    """
    try:
        found = Path(path).stat()
        if S_ISREG(found.st_mode):
            with Path(path).open("rb"):
                pass
    except OSError as error:
        raise read_error(path, error, f"Give {wanted}.") from None
    except ValueError:
        raise _unreadable(path, "its name has a null character in it", wanted) from None
    if S_ISDIR(found.st_mode):
        raise _unreadable(path, "this is a folder, not a file", wanted)
    if not S_ISREG(found.st_mode):
        raise _unreadable(path, "this is a pipe or a device", wanted)
    return found.st_size


def _whole(path: str | Path) -> bytes:
    """All bytes of a file of at most `MOST_BYTES`."""
    size = size_of_file(path, "a MIDI file")
    data = b""
    if size <= MOST_BYTES:
        try:
            with naming(path, "can't be read"), Path(path).open("rb") as file:
                data = file.read(min(size, MOST_BYTES) + 1)
        except OSError as error:
            raise read_error(path, error, "Give a MIDI file.") from None
    if max(size, len(data)) > MOST_BYTES:
        raise BackingError(
            f"{path}: the file is larger than {MOST_BYTES >> 20} MiB. "
            "Give a type 0 or 1 MIDI file of a song."
        )
    return data


def _unreadable(path: str | Path, why: str, wanted: str) -> BackingError:
    return BackingError(f"{path}: {why}. Give {wanted}.")


def _too_much_for_pretty_midi(account: Measured, data: bytes) -> str:
    if (account.last_tick or 0) >= PRETTY_MIDI_MOST_TICKS:
        return f"pretty_midi isn't used for files of {PRETTY_MIDI_MOST_TICKS:,} ticks or more"
    if len(data) > PRETTY_MIDI_MOST_BYTES:
        return f"pretty_midi isn't used for files over {PRETTY_MIDI_MOST_BYTES >> 10} KiB"
    return ""
