"""`verify` on files of every kind: how it ends, and in which words.

Exit code 0: the music agrees, perhaps by one reader and with labels lost; 1: it is MIDI and is
not what the form says; 2: it can't be read as MIDI, or is of a type that can't be compared.
Never a traceback.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from time import process_time

import pytest
from click.testing import CliRunner, Result
from midi_files import (
    CHORDS,
    CONDUCTOR,
    ENDED,
    FORM,
    MARKER,
    METER,
    NOW_ENDED,
    TEMPO,
    TITLE,
    WHOLE,
    at,
    chunk,
    meta,
    smf,
    with_conductor,
)
from midi_mutations import mutant

from backing.cli import main
from backing.verify import proof
from backing.verify.readers import measured
from backing.verify.readers import smf as reader
from backing.verify.readers.measured import by_summing

#: How the lines start that say what disagrees.
DISAGREEING = ("Disagrees: ", "  at ", "  and ", "Also lost", "The ", "pretty_midi ")
HINT = "Give a type 0 or 1 MIDI file."
MOST_DELTA = b"\xff\xff\xff\x7f"
NOTE, OFF = b"\0\x90\x3c\x40", b"\x60\x80\x3c\x40"
BASS = meta(0x03, b"Bass")
CHORDS_ALONE = meta(0x01, b"A") + ENDED

#: What a file agrees with by both readers, or by one: then what is printed of the other.
AGREES = {
    "whole": (WHOLE, ""),
    "no time signature": (with_conductor(TITLE, TEMPO, MARKER, ENDED), ""),
    "no tempo": (with_conductor(TITLE, METER, MARKER, ENDED), ""),
    "a longer header": (smf(CONDUCTOR, CHORDS, more=b"\0\1\2\3"), ""),
    "bytes after the last track": (WHOLE + b"MTrk and more", ""),
    "another track after the last one": (WHOLE + chunk(b"MTrk", b"nothing to read"), ""),
    "longer meta events": (
        with_conductor(
            TITLE, meta(0x51, b"\7\xa1\x20\0\0"), meta(0x58, b"\4\2\x18\x08\0"), MARKER, ENDED
        ),
        "",
    ),
    "an unknown meta event": (with_conductor(meta(0x4A, b"?"), CONDUCTOR), ""),
    "system exclusive": (with_conductor(b"\0\xf0\3\x7e\x7f\xf7", CONDUCTOR), ""),
    "system exclusive without an end": (with_conductor(b"\0\xf0\2\x7e\x7f", CONDUCTOR), ""),
    "the same tempo in another track": (smf(CONDUCTOR, TEMPO + CHORDS), ""),
    "its last event instead of an end of track": (
        smf(CONDUCTOR, CHORDS.removesuffix(ENDED) + meta(0x05, delta=at(768))),
        "",
    ),
    "type 0 with two tracks": (smf(CONDUCTOR, CHORDS, CHORDS, kind=0), ""),
    "type 2 with a single track": (smf(CONDUCTOR[: -len(ENDED)] + CHORDS_ALONE, kind=2), ""),
    "a tempo a microsecond off, in another track": (
        smf(CONDUCTOR.replace(TEMPO, b""), meta(0x51, b"\7\xa1\x21") + CHORDS),
        "",
    ),
    "an unknown chunk first": (
        WHOLE[:14] + chunk(b"XFIH", b"123") + WHOLE[14:],
        "pretty_midi can't read it (no MTrk header",
    ),
    "nine sharps": (
        with_conductor(meta(0x59, b"\x09\0"), CONDUCTOR),
        "pretty_midi can't read it (Could not decode key",
    ),
    "a frame rate that there isn't": (
        with_conductor(meta(0x54, b"\xff\0\0\0\0"), CONDUCTOR),
        "pretty_midi can't read it (KeyError: 7",
    ),
    "a channel prefix without a channel": (
        with_conductor(meta(0x20), CONDUCTOR),
        "pretty_midi can't read it (list index out of range",
    ),
    "a high byte in system exclusive": (
        with_conductor(b"\0\xf0\2\xaa\xf7", CONDUCTOR),
        "pretty_midi can't read it (data byte must be",
    ),
}

#: What agrees but for labels, and which are lost.
LOST = {
    "no tracks": (
        smf(),
        "title, markers, chord names, ends of tracks",
    ),
    "no tracks, type 0": (
        smf(kind=0),
        "title, markers, chord names, ends of tracks",
    ),
    "tracks without events": (
        smf(b"", b""),
        "title, markers, chord names, ends of tracks",
    ),
    "an empty track more": (
        smf(CONDUCTOR, CHORDS, b""),
        "ends of tracks",
    ),
    "tracks without an end of track": (
        smf(TITLE + TEMPO, b""),
        "markers, chord names, ends of tracks",
    ),
    "ends of track alone": (
        smf(NOW_ENDED, NOW_ENDED),
        "title, markers, chord names, ends of tracks",
    ),
    "type 0": (
        smf(CONDUCTOR, kind=0),
        "chord names",
    ),
    "a tempo of 0 later": (
        with_conductor(TITLE, TEMPO, METER, MARKER, meta(0x51, bytes(3), at(384)), ENDED),
        "ends of tracks",
    ),
    "1 tick a quarter": (
        smf(CONDUCTOR, CHORDS, division=1),
        "ends of tracks",
    ),
    "32,767 ticks a quarter": (
        smf(CONDUCTOR, CHORDS, division=0x7FFF),
        "ends of tracks",
    ),
    "the longest delta": (
        smf(CONDUCTOR, CHORDS, meta(0x2F, delta=MOST_DELTA)),
        "ends of tracks",
    ),
    "ten million ticks less one": (
        smf(CONDUCTOR, CHORDS, meta(0x2F, delta=b"\x84\xe2\xac\x7f")),
        "ends of tracks",
    ),
    "ends without a note": (
        smf(CONDUCTOR, CHORDS, BASS + OFF * 9 + NOW_ENDED),
        "ends of tracks",
    ),
    "a chord of control characters": (
        smf(CONDUCTOR, CHORDS.replace(b"\x01\x01A", b"\x01\x05A\x1b[2J")),
        "chord names",
    ),
    "a chord of 127 letters": (
        smf(CONDUCTOR, CHORDS.replace(b"\x01\x01A", b"\x01\x7fA" + b"(" * 126)),
        "chord names",
    ),
    "an empty chord": (
        smf(CONDUCTOR, CHORDS.replace(b"\x01\x01A", b"\x01\0")),
        "chord names",
    ),
}

#: Titles that are only noted.
NOTED = {
    "another title": (
        with_conductor(meta(0x03, b"T\0"), CONDUCTOR),
        "The file's title is 'T\\x00', not 'T'.",
    ),
    "a title in Latin-1": (
        with_conductor(meta(0x03, b"\xe9"), CONDUCTOR),
        "The file's title is 'é', not 'T'.",
    ),
    "a title of control characters": (
        with_conductor(meta(0x03, b"\x1b[2J\r\n"), CONDUCTOR),
        "The file's title is '\\x1b[2J\\r\\n', not 'T'.",
    ),
    "a title of 127 letters": (
        with_conductor(meta(0x03, b"x" * 127), CONDUCTOR),
        f"The file's title is '{'x' * 60}...', not 'T'.",
    ),
}

#: What doesn't agree, and words of what is printed.
DISAGREES = {
    "a tempo of 0": (
        with_conductor(TITLE, meta(0x51, bytes(3)), METER, MARKER, ENDED),
        "at 0:00.000, bar 1: infinitely many quarters a minute, not 120",
    ),
    "a tempo of 1": (
        with_conductor(TITLE, meta(0x51, b"\0\0\1"), METER, MARKER, ENDED),
        "at 0:00.000, bar 1: 60000000 quarters a minute, not 120",
    ),
    "0/4": (
        with_conductor(TITLE, TEMPO, meta(0x58, b"\0\2\x18\x08"), MARKER, ENDED),
        "at 0:00.000, bar 1: the meter is 0/4, not 4/4",
    ),
    "4 over 2 to the 255th": (
        with_conductor(TITLE, TEMPO, meta(0x58, b"\4\xff\x18\x08"), MARKER, ENDED),
        "at 0:00.000, bar 1: the meter is 4/2^255, not 4/4",
    ),
    "a time signature within the bar": (
        with_conductor(TITLE, TEMPO, MARKER, meta(0x58, METER[4:], at(96)), ENDED),
        "at 0:00.500, bar 1: a bar line where the form has none",
    ),
    "another time signature at the end": (
        with_conductor(CONDUCTOR[: -len(ENDED)], meta(0x58, b"\3\2\x18\x08", at(768)), NOW_ENDED),
        "after the last bar: a change to 3/4, where the meter stays",
    ),
    "the longest delta a thousand times": (
        smf(CONDUCTOR, CHORDS, meta(0x06, b"A", MOST_DELTA) * 1000 + NOW_ENDED),
        "after the last bar: the marker 'A', where no section starts",
    ),
    "a thousand bars of no length": (
        smf(CONDUCTOR, CHORDS, meta(0x58, b"\0\0\0\0", b"\x83\0") * 1000 + NOW_ENDED),
        "after the last bar: a change to 0/1, where the meter stays",
    ),
    "notes without an end": (
        smf(CONDUCTOR, CHORDS, BASS + NOTE * 9 + NOW_ENDED),
        "at 0:00.000, bar 1: a note never ends",
    ),
    "an empty marker": (
        with_conductor(meta(0x06), CONDUCTOR),
        "at 0:00.000, bar 1: the marker '', not 'A'",
    ),
}

#: What can't be read or compared, and why.
REFUSED = {
    "empty": (b"", "it is empty"),
    "one byte": (b"M", "cut short at byte 1, in the header"),
    "half a mark": (b"MT", "cut short at byte 2, in the header"),
    "a mark alone": (b"MThd", "cut short at byte 4, in the header"),
    "a header cut short": (WHOLE[:13], "cut short at byte 13, in the header"),
    "a header longer than the file": (b"MThd\xff\xff\xff\xff" + bytes(6), "cut short at byte 14"),
    "a header of 4 bytes": (b"MThd\0\0\0\4\0\1\0\0" + WHOLE[14:], "its header has 4 bytes"),
    "zeros": (bytes(400), "it doesn't start with MThd"),
    "text": (b"title: T\n", "it doesn't start with MThd"),
    "MIDI after other bytes": (b"ID3\4" + bytes(60) + WHOLE, "it is an MP3 file"),
    "a WAV file": (b"RIFF\x24\0\0\0WAVEfmt " + bytes(28), "it is a WAV file"),
    "RIFF around MIDI": (
        b"RIFF" + (len(WHOLE) + 12).to_bytes(4, "little") + b"RMIDdata" + WHOLE,
        "it is MIDI wrapped in a RIFF file",
    ),
    "an Ogg file": (b"OggS" + bytes(40), "it is an Ogg file"),
    "a FLAC file": (b"fLaC" + bytes(40), "it is a FLAC file"),
    "type 2": (smf(CONDUCTOR, CHORDS, kind=2), "it is of type 2, whose tracks are separate"),
    "type 3": (
        smf(CONDUCTOR, CHORDS, kind=3),
        "its header says type 3; there are types 0, 1 and 2",
    ),
    "type 65,535": (smf(CONDUCTOR, CHORDS, kind=0xFFFF), "its header says type 65535"),
    "0 ticks a quarter": (smf(CONDUCTOR, CHORDS, division=0), "0 ticks a quarter note"),
    "frames": (smf(CONDUCTOR, CHORDS, division=0xE728), "it counts time in frames"),
    "fewer tracks": (smf(CONDUCTOR, count=2), "its header says 2 tracks, and it holds 1"),
    "65,535 tracks": (smf(count=0xFFFF), "its header says 65535 tracks, and it holds 0"),
    "a chunk's head cut short": (WHOLE[:18], "cut short at byte 18, in track 1"),
    "a track cut short": (WHOLE[:40], "cut short at byte 40, in track 1"),
    "a track shorter than its events": (
        smf(CONDUCTOR[:-2], CHORDS),
        "in track 1, an event goes on past the end of the track",
    ),
    "a track that ends in a delta": (smf(CONDUCTOR, b"\x81"), "at byte 60, in track 2, an event"),
    "a number of five bytes": (
        smf(CONDUCTOR, b"\xff\xff\xff\xff\x7f\x90\x40\x40"),
        "at byte 60, in track 2, a number is longer than four bytes",
    ),
    "a number without end": (smf(b"\xff" * 100_000), "a number is longer than four bytes"),
    "no status byte": (
        smf(b"\0\x3c\x40" + ENDED),
        "at byte 22, in track 1, an event has no status",
    ),
    "running status after a meta event": (
        smf(CONDUCTOR, NOTE + MARKER + b"\0\x3c\0" + ENDED),
        "an event has no status byte",
    ),
    "a high byte in a note": (smf(b"\0\x90\x3c\x80\x00" + ENDED), "is cut off by the next one"),
    "a high byte in a program": (smf(b"\0\xc0\x80" + ENDED), "is cut off by the next one"),
    "a status that no file holds": (smf(b"\0\xf4" + ENDED), "an event has the status F4"),
    "a clock among the events": (smf(b"\0\xf8" + ENDED), "an event has the status F8"),
    "a tempo of 2 bytes": (
        with_conductor(meta(0x51, b"\7\xa1"), ENDED),
        "a tempo has 2 bytes, not 3",
    ),
    "a time signature of 1 byte": (
        with_conductor(meta(0x58, b"\4"), ENDED),
        "a time signature has 1 bytes, not 4",
    ),
    "a text longer than its track": (
        with_conductor(b"\0\xff\x01\x7fA"),
        "an event goes on past the end of the track",
    ),
    "system exclusive longer than its track": (
        with_conductor(b"\0\xf0\x7f\x7e"),
        "an event goes on past the end of the track",
    ),
    "events after the end of the track": (
        with_conductor(CONDUCTOR, NOTE),
        "events follow the end of the track",
    ),
}


def run(form: Path, file: object, *options: str) -> Result:
    return CliRunner().invoke(main, ["verify", str(form), str(file), *options])


@pytest.fixture
def form(tmp_path: Path) -> Path:
    path = tmp_path / "t.yaml"
    path.write_text(FORM)
    return path


def ended(result: Result, code: int) -> str:
    """What a run printed on the error stream, after it ended with a code and no other exception."""
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output
    return result.stderr


def fault(result: Result, path: Path) -> str:
    """What is wrong with how a run on a file ended, "" if nothing is."""
    if result.exception and not isinstance(result.exception, SystemExit):
        return repr(result.exception)
    lines = result.stderr.splitlines()
    match result.exit_code:
        case 0:
            good = ("All agree, read back by " in result.stdout) != (
                "The music agrees." in result.stdout
            ) and not lines
        case 1:
            good = bool(lines) and all(
                line.startswith(DISAGREEING) and line.isprintable() for line in lines
            )
            good = good and lines[0].startswith("Disagrees: ")
        case 2:
            good = len(lines) == 1 and not result.stdout
            good = good and lines[0].startswith(f"{path}: ") and lines[0].endswith(HINT)
        case _:
            good = False
    return "" if good else f"{result.exit_code}: {result.output}"


@pytest.mark.parametrize("name", AGREES)
def test_what_agrees(name: str, form: Path, tmp_path: Path) -> None:
    data, left_out = AGREES[name]
    path = tmp_path / "x.mid"
    path.write_bytes(data)
    result = run(form, path)
    assert ended(result, 0) == ""
    readers = "our own reader:" if left_out else "our own reader and pretty_midi:"
    assert f"ead back by {readers}" in result.stdout
    assert ("pretty_midi can't" in result.stdout) == bool(left_out)
    assert left_out in result.stdout


@pytest.mark.parametrize("name", LOST)
def test_what_loses_labels(name: str, form: Path, tmp_path: Path) -> None:
    data, lost = LOST[name]
    path = tmp_path / "x.mid"
    path.write_bytes(data)
    result = run(form, path)
    assert ended(result, 0) == ""
    assert f"The music agrees. Lost on the way: {lost}.\n" in result.stdout
    assert "The music agrees." in ended(run(form, path, "--strict"), 1)


@pytest.mark.parametrize("name", NOTED)
def test_another_title_is_noted(name: str, form: Path, tmp_path: Path) -> None:
    data, sentence = NOTED[name]
    path = tmp_path / "x.mid"
    path.write_bytes(data)
    result = run(form, path)
    assert ended(result, 0) == ""
    assert "The music agrees.\n" in result.stdout
    assert f"\n{sentence}\n" in result.stdout
    assert sentence in ended(run(form, path, "--strict"), 1)


@pytest.mark.parametrize("name", DISAGREES)
def test_what_disagrees(name: str, form: Path, tmp_path: Path) -> None:
    data, words = DISAGREES[name]
    path = tmp_path / "x.mid"
    path.write_bytes(data)
    printed = ended(run(form, path), 1)
    assert words in printed
    assert printed.startswith("Disagrees: ")
    for line in printed.splitlines():
        assert line.startswith(DISAGREEING)
        assert line.isprintable()
        assert len(line) < 250
    assert "All agree" not in printed


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused(name: str, form: Path, tmp_path: Path) -> None:
    data, why = REFUSED[name]
    path = tmp_path / "x.mid"
    path.write_bytes(data)
    result = run(form, path)
    printed = ended(result, 2)
    kind = "compared with a form" if name in ("type 2", "frames") else "read as MIDI"
    assert printed.startswith(f"{path}: it can't be {kind}: ")
    assert why in printed
    assert printed.endswith(f". {HINT}\n")
    assert printed.count("\n") == 1
    assert result.stdout == ""
    assert ended(run(form, path, "--json"), 2) == printed
    assert ended(run(form, path, "-q"), 2) == printed


# Paths that are not regular files.


def test_a_missing_file_a_folder_a_pipe_and_a_device(form: Path, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.mid"
    os.mkfifo(pipe)
    (tmp_path / "endless.mid").symlink_to("/dev/zero")
    (tmp_path / "endless.wav").symlink_to("/dev/zero")
    os.mkfifo(tmp_path / "pipe.flac")
    (tmp_path / "folder.mp3").mkdir()
    for name, why in (
        ("none.mid", "there is no such file"),
        (".", "this is a folder, not a file"),
        ("pipe.mid", "this is a pipe or a device"),
        ("endless.mid", "this is a pipe or a device"),
        ("endless.wav", "this is a pipe or a device"),
        ("pipe.flac", "this is a pipe or a device"),
        ("folder.mp3", "this is a folder, not a file"),
        ("none.ogg", "there is no such file"),
        ("a\0b.mid", "its name has a null character in it"),
        ("x" * 300 + ".mid", "can't be read: the name is too long"),
    ):
        kind = "an audio" if name.endswith((".wav", ".flac", ".mp3", ".ogg")) else "a MIDI"
        path = f"{tmp_path}/{name}"
        printed = ended(run(form, path), 2)
        shown = path.replace("\0", "\N{REPLACEMENT CHARACTER}")
        assert printed == f"{shown}: {why}. Give {kind} file.\n"


def test_a_name_that_can_t_be_printed_is_still_one_sentence(form: Path, tmp_path: Path) -> None:
    for name in (b"a\nb\x1b[2J.mid", b"\xff.mid"):
        path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
        path.write_bytes(b"no MIDI")
        printed = ended(run(form, path), 2)
        assert printed.count("\n") == 1
        assert printed.rstrip("\n").isprintable()
        assert printed.startswith(f"{tmp_path}/")
        assert ".mid: it can't be read as MIDI: " in printed


def test_a_file_that_may_not_be_opened(
    form: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The superuser may open all files, so the refusal is made here."""
    path = tmp_path / "x.mid"
    path.write_bytes(WHOLE)
    opened = Path.open

    def refuse(self: Path, *args: object) -> object:
        if self == path:
            raise PermissionError(13, "Permission denied")
        return opened(self, *args)

    monkeypatch.setattr(Path, "open", refuse)
    printed = ended(run(form, path), 2)
    assert printed == f"{path}: can't be read: you don't have permission. Give a MIDI file.\n"


def test_a_file_too_large_is_not_read(form: Path, tmp_path: Path) -> None:
    path = tmp_path / "x.mid"
    path.write_bytes(WHOLE)
    os.truncate(path, proof.MOST_BYTES)
    assert "All agree" in run(form, path).stdout  # what follows the last track is skipped
    for size in (proof.MOST_BYTES + 1, 1 << 40):  # sparse
        os.truncate(path, size)
        printed = ended(run(form, path), 2)
        assert printed.startswith(f"{path}: the file is larger than 24 MiB. Give")
        assert printed.count("\n") == 1


# What one reader can't see or isn't asked.


def test_a_tempo_in_another_track_is_one_that_pretty_midi_ignores(
    form: Path, tmp_path: Path
) -> None:
    """SMF 1.0 has a file of type 1 keep its tempos in the first track."""
    form.write_text(FORM.replace("120", "100"))
    path = tmp_path / "x.mid"
    slower = meta(0x51, bytes.fromhex("09 27 C0"))  # 600,000 microseconds a quarter
    events = [part.replace(ENDED, meta(0x2F, delta=at(708))) for part in (CONDUCTOR, CHORDS)]
    path.write_bytes(smf(events[0].replace(TEMPO, slower), events[1]))
    assert ended(run(form, path), 0) == ""
    path.write_bytes(smf(events[0].replace(TEMPO, b""), slower + events[1]))
    assert ended(run(form, path), 1) == (
        "Disagrees: tempos.\n  at 0:00.000, bar 1: 120 quarters a minute, not 100 "
        "(found only by pretty_midi)\n"
    )


def test_long_files_are_left_to_the_summing_reader(form: Path, tmp_path: Path) -> None:
    path = tmp_path / "x.mid"
    path.write_bytes(with_conductor(meta(0x01, b"x" * 127) * 17_000, CONDUCTOR))
    result = run(form, path)
    assert ended(result, 0) == ""
    assert "pretty_midi isn't used for files over 256 KiB" in result.stdout


def test_a_note_that_never_ends_is_named(form: Path, tmp_path: Path) -> None:
    """Of three notes struck and two ended it is the last that goes on."""
    form.write_text(FORM.replace("bass: off", "bass: {line: roots}"))
    path = tmp_path / "x.mid"
    path.write_bytes(smf(CONDUCTOR, CHORDS, BASS + (NOTE + OFF) * 2 + NOTE + NOW_ENDED))
    details = json.loads(run(form, path, "--json").stdout)["details"]
    (endless,) = [each for each in details if each["says"] == "a note never ends"]
    assert (endless["at_seconds"], endless["bar"]) == (1.0, "bar 1")
    path.write_bytes(smf(CONDUCTOR, CHORDS, BASS + (NOTE + OFF) * 3 + NOW_ENDED))
    assert "never ends" not in run(form, path, "--json").stdout


def test_a_file_without_notes_says_so_first(form: Path, tmp_path: Path) -> None:
    form.write_text(FORM.replace("bass: off", "bass: {line: roots}"))
    path = tmp_path / "x.mid"
    path.write_bytes(WHOLE)
    assert ended(run(form, path), 1).startswith("Disagrees: the file has no notes.\n  at 0:00.000")


def test_too_many_texts_are_refused(
    form: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reader, "MOST_METAS", 50)
    path = tmp_path / "x.mid"
    path.write_bytes(smf(CONDUCTOR, *[CHORDS] * 10, MARKER * 26 + ENDED))
    assert ended(run(form, path), 0) == ""  # the same label at one place counts once
    path.write_bytes(smf(CONDUCTOR, *[CHORDS] * 10, MARKER * 27 + ENDED))
    assert "in track 12, there are more than 50 texts and tempos" in ended(run(form, path), 2)


def test_bar_lines_end_somewhere() -> None:
    """Bars of no length are a tick long, and fill the list long before the file's end."""
    endless = meta(0x58, bytes(4), MOST_DELTA) * 1000 + NOW_ENDED
    assert len(by_summing(smf(endless)).bar_lines) == measured.MOST_BAR_LINES


def test_too_many_tracks_are_refused(form: Path, tmp_path: Path) -> None:
    path = tmp_path / "x.mid"
    path.write_bytes(smf(*[NOW_ENDED] * reader.MOST_TRACKS))
    ended(run(form, path), 0)
    path.write_bytes(smf(*[NOW_ENDED] * 0xFFFF))
    printed = ended(run(form, path), 2)
    assert "it can't be compared with a form: it has more than 1,000 tracks." in printed


HALF_A_MILLION = {
    "notes": (NOTE + b"\1\x80\x3c\0") * 250_000,
    "programs": b"\1\xc0\1" * 500_000,
    "controllers": b"\1\xb0\7\1" * 500_000,
    "texts": meta(0x01, b"A") * 500_000,
    "names of chords that don't exist": b"".join(
        meta(0x01, b"A%05d" % number) for number in range(100_000)
    ),
    "markers": meta(0x06, b"A") * 500_000,
    "time signatures": METER * 500_000,
    "tempos": TEMPO * 500_000,
}


@pytest.mark.parametrize("name", HALF_A_MILLION)
def test_half_a_million_events_end_in_words(name: str, form: Path, tmp_path: Path) -> None:
    """Within 3 s of processor time; twice that leaves room for a busy machine."""
    path = tmp_path / "x.mid"
    path.write_bytes(smf(CONDUCTOR, CHORDS, HALF_A_MILLION[name] + NOW_ENDED))
    start = process_time()
    result = run(form, path)
    assert process_time() - start < 6
    assert fault(result, path) == ""


def test_the_reader_knows_nothing_of_the_writer() -> None:
    """A mistake that both shared would prove itself."""
    source = Path(reader.__file__).read_text(encoding="utf-8")
    imports = [line for line in source.splitlines() if line.startswith(("import ", "from "))]
    assert [line for line in imports if "backing" in line] == [
        "from backing.errors import BackingError"
    ]
    assert not any("mido" in line for line in imports)


def test_the_libraries_warn_of_nothing(form: Path, tmp_path: Path) -> None:
    """In a process of its own, which would show warnings that pytest collects."""
    for name, data, code in (
        ("tempo", smf(CONDUCTOR, TEMPO + CHORDS), 0),
        ("key", smf(CONDUCTOR, meta(0x59, b"\0\0") + CHORDS), 0),
        ("zero", smf(CONDUCTOR, meta(0x51, bytes(3)) + CHORDS), 1),
        ("empty", b"", 2),
    ):
        path = tmp_path / f"{name}.mid"
        path.write_bytes(data)
        command = [sys.executable, "-W", "always", "-m", "backing", "verify", str(form), str(path)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == code, done.stderr
        assert "arning" not in done.stderr
        assert not code or done.stderr.startswith(("Disagrees: ", f"{path}: "))


# What was built.


def test_a_built_file_that_cant_be_read_is_an_error_with_a_sentence(
    form: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("backing.tracks.one.to_bytes", lambda score: WHOLE[:-1])
    out = tmp_path / "out"
    result = CliRunner().invoke(main, ["build", str(form), "--out", str(out)])
    printed = ended(result, 2)
    assert printed.endswith(
        f"it can't be read as MIDI: cut short at byte {len(WHOLE) - 1}, in track 2.\n"
    )
    assert not list(out.glob("*"))


# Files spoiled at random.


@pytest.mark.parametrize("batch", range(4))
def test_a_spoiled_file_ends_in_words_with_a_code(batch: int, tmp_path: Path) -> None:
    codes = []
    path = tmp_path / "x.mid"
    forms: dict[str, Path] = {}
    for number in range(batch * 100, batch * 100 + 100):
        source, data = mutant(number)
        if source.form not in forms:
            forms[source.form] = tmp_path / f"{len(forms)}.yaml"
            forms[source.form].write_text(source.form, encoding="utf-8")
        path.write_bytes(data)
        result = run(forms[source.form], path)
        assert fault(result, path) == "", f"mutant {number}"
        codes.append(result.exit_code)
    assert set(codes) == {0, 1, 2}


def test_fault_sees_what_is_wrong_with_an_end(tmp_path: Path) -> None:
    """The judge itself: a traceback, an odd code, silence and more than a sentence."""

    def result(code: int, out: str, err: str, error: BaseException | None = None) -> Result:
        return Result(
            CliRunner(), out.encode(), err.encode(), (out + err).encode(), None, code, error
        )

    path = tmp_path / "x.mid"
    assert fault(result(2, "", f"{path}: no. {HINT}\n"), path) == ""
    wrong = [
        result(1, "", "Traceback", ZeroDivisionError("division by zero")),
        result(3, "", "three\n"),
        result(0, "", ""),
        result(0, "All agree, read back by \n", "a warning\n"),
        result(1, "", "All agree\n"),
        result(2, "", "no file named\n"),
        result(2, "", f"{path}: two\nlines. {HINT}\n"),
        result(2, "a table\n", f"{path}: no. {HINT}\n"),
    ]
    assert all(fault(each, path) for each in wrong)
