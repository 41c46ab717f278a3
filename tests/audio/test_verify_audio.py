"""Audio held against its form: honest files agree, and each kind of wrong one is caught.

The audio is made here, by numpy: clicks at the exact times over held harmonics.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from backing.cli import main
from backing.errors import BackingError
from backing.form import read_form_text
from backing.form.model import Form
from backing.players import play
from backing.timeline import unroll
from backing.verify import expect
from backing.verify.expected.click import every_click
from backing.verify.sound.audio import TOLERANCE_S, AudioReport, verify_audio

RATE = 44100
WAYS = ("wav", "flac", "ogg", "mp3")
LOSSLESS = ("wav", "flac")
SONG = """title: Heard
tempo: {tempo}
count-in: 1
{more}
sections:
  a: {{bars: "| A | D | E7 | A |", times: 3}}
  b: {{bars: "| F#m | D | 3/4 E7 | 4/4 E7 |", tempo: {{to: 84, over: 2}}}}
form: [a, b]
"""


def song(tempo: str = "121.7", more: str = "") -> Form:
    return read_form_text(SONG.format(tempo=tempo, more=more), "heard.yaml")


def click(accented: bool, level: float = 0.5) -> Any:
    at = np.arange(round(0.06 * RATE)) / RATE
    tone = 1900 if accented else 1450
    return level * np.sin(2 * np.pi * tone * at + 0.5) * np.exp(-at / 0.008)


def bed(form: Form, frames: int, level: float = 0.12) -> Any:
    """Chords struck at their times, each note a few fading harmonics."""
    times = tuple(chord.start_s for chord in expect(form).chords)
    return _bed(times, frames, level).copy()


@lru_cache(maxsize=8)
def _bed(times: tuple[Fraction, ...], frames: int, level: float) -> Any:
    out = np.zeros(frames)
    for number, chord_s in enumerate(times):
        start = round(chord_s * RATE)
        at = np.arange(min(RATE * 2, frames - start)) / RATE
        for pitch in (110, 220, 277.2, 329.6):
            for harmonic in range(1, 7):
                hz = pitch * harmonic * 2 ** (number % 5 / 12)
                fade = np.exp(-at * (1.5 + harmonic)) * np.minimum(at / 0.004, 1)
                out[start : start + len(at)] += (
                    level / harmonic**1.3 * np.sin(2 * np.pi * hz * at + harmonic) * fade
                )
    return out


def sound(form: Form, stem: bool = False, late_s: float = 0.0) -> Any:
    """A form as its mix or its click stem."""
    expected = expect(form)
    frames = round(expected.end_s * RATE)
    out = np.zeros(frames) if stem else bed(form, frames)
    for one in every_click(expected):
        if one.plays:
            start = round((one.at_s + Fraction(late_s)) * RATE)
            burst = click(one.accented)
            out[start : start + len(burst)] += burst
    return out


def saved(signal: Any, folder: Path, way: str) -> Path:
    path = folder / f"heard.{way}"
    stereo = np.stack([signal, signal], axis=1).astype(np.float32)
    assert np.abs(stereo).max() < 1
    soundfile.write(str(path), stereo, RATE)
    return path


def heard(form: Form, signal: Any, folder: Path, way: str = "wav") -> AudioReport:
    return verify_audio(form, saved(signal, folder, way))


def wrong(report: AudioReport) -> set[str]:
    return {finding.what for finding in report.findings if not finding.agrees}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("stem", [False, True], ids=["mix", "stem"])
def test_honest_audio_agrees_to_the_sample(tmp_path: Path, way: str, stem: bool) -> None:
    form = song()
    report = heard(form, sound(form, stem), tmp_path, way)
    assert report.agrees, report.findings
    assert report.clicks_found == report.clicks_expected == 4 * 17 - 1
    most = 1.0 if stem else 3.0  # of its clicks, each laid on the nearest sample; the bed masks
    assert report.worst_s <= most / RATE
    assert abs(report.drift_s) <= most / RATE


def test_expected_clicks_are_where_the_click_plays() -> None:
    for more in (
        "parts: {click: {subdivide: 1/8}}\nfeel: swing",
        "parts: {click: {subdivide: 1/16}}\nfeel: {swing: 3/1, on: 1/8}",
        "parts: {click: {subdivide: 1/8t}}\nfeel: {swing: by-tempo}",
        "parts: {click: {plays: 1 of 3}}\npickup: '| N.C. / / D |'",
        "parts: {click: off}",
        "meter: 6/8\nparts: {click: {subdivide: 1/8}}\nfeel: swing",
    ):
        if "6/8" in more:
            form = read_form_text(
                "title: T\ntempo: 60\nmeter: 6/8\nparts: {click: {subdivide: 1/8}}\nfeel: swing\n"
                "sections: {a: {bars: '| A | D |', tempo: {to: 40, over: 1}}}\nform: [a]",
                "t",
            )
        else:
            form = song(more=more)
        for count_in in (True, False):
            timeline = unroll(form, count_in)
            played = [
                timeline.seconds(note.start_whole)
                for track in play(timeline).tracks
                if track.part == "click"
                for note in track.notes
            ]
            owed = [c.at_s for c in every_click(expect(form, count_in)) if c.plays]
            assert sorted(played) == owed


@pytest.mark.parametrize("way", WAYS)
def test_audio_stretched_by_a_thousandth_is_caught(tmp_path: Path, way: str) -> None:
    form = song()
    signal = sound(form)
    at = np.arange(round(len(signal) * 1.001)) / 1.001
    stretched = np.interp(at, np.arange(len(signal)), signal)
    assert "length" in wrong(heard(form, stretched, tmp_path, way))
    same_length = heard(form, stretched[: len(signal)], tmp_path, way)
    assert {"click times", "drift"} <= wrong(same_length) or "clicks" in wrong(same_length)
    assert same_length.findings[0].agrees


@pytest.mark.parametrize("way", WAYS)
def test_fifty_milliseconds_cut_out_are_caught(tmp_path: Path, way: str) -> None:
    form = song()
    signal = sound(form)
    middle, cut = len(signal) // 2, round(0.05 * RATE)
    short = np.delete(signal, np.s_[middle : middle + cut])
    assert "length" in wrong(heard(form, short, tmp_path, way))
    padded = heard(form, np.concatenate([short, np.zeros(cut)]), tmp_path, way)
    assert padded.findings[0].agrees
    assert not padded.agrees


@pytest.mark.parametrize("way", WAYS)
def test_a_wrong_tempo_is_caught(tmp_path: Path, way: str) -> None:
    played = song("121.2")
    report = heard(song(), sound(played), tmp_path, way)
    assert {"length", "clicks"} & wrong(report)
    assert len(wrong(report)) > 1


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("stem", [False, True], ids=["mix", "stem"])
def test_clicks_five_milliseconds_late_are_caught(tmp_path: Path, way: str, stem: bool) -> None:
    form = song()
    report = heard(form, sound(form, stem, 0.005), tmp_path, way)
    assert wrong(report) == {"click times"}
    assert report.offset_s == pytest.approx(0.005, abs=0.0005)


@pytest.mark.parametrize("way", WAYS)
def test_one_click_late_or_missing_is_caught(tmp_path: Path, way: str) -> None:
    form = song()
    frames = round(expect(form).end_s * RATE)
    for moved_s in (0.005, None):
        out = bed(form, frames)
        for number, one in enumerate(every_click(expect(form))):
            late = moved_s if number == 30 else 0
            if late is not None:
                start = round((float(one.at_s) + late) * RATE)
                out[start : start + len(click(True))] += click(one.accented)
        found = wrong(heard(form, out, tmp_path, way))
        assert found == ({"click times"} if moved_s else {"clicks"})


def test_an_extra_click_in_the_count_in_is_caught(tmp_path: Path) -> None:
    form = song()
    for way in WAYS:
        signal = sound(form)
        start = round(float(every_click(expect(form))[2].at_s + Fraction(1, 4)) * RATE)
        signal[start : start + len(click(True))] += click(False)
        assert wrong(heard(form, signal, tmp_path, way)) == {"clicks"}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("after", [0.11, 0.25, 0.37])
def test_an_extra_click_anywhere_in_a_click_stem_is_caught(
    tmp_path: Path, way: str, after: float
) -> None:
    form = song()
    signal = sound(form, stem=True)
    start = round((float(every_click(expect(form))[41].at_s) + after) * RATE)
    signal[start : start + len(click(True))] += click(False)
    assert wrong(heard(form, signal, tmp_path, way)) == {"clicks"}


def test_another_form_and_a_cut_off_file_are_caught(tmp_path: Path) -> None:
    form = song()
    other = read_form_text("title: O\ntempo: 90\nsections: {a: {bars: A}}\nform: [a x9]", "o")
    for way in WAYS:
        assert not heard(other, sound(form), tmp_path, way).agrees
        path = saved(sound(form), tmp_path, way)
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
        try:
            assert "length" in wrong(verify_audio(form, path))
        except BackingError as error:
            assert "can't be read as audio" in str(error)  # noqa: PT017
            assert error.exit_code == 2  # noqa: PT017


def test_a_click_in_a_bar_without_one_is_caught(tmp_path: Path) -> None:
    quiet = song(more="parts: {click: {plays: 1 of 2}}")
    assert heard(quiet, sound(quiet), tmp_path).agrees
    assert wrong(heard(quiet, sound(song()), tmp_path)) == {"clicks"}


@pytest.mark.parametrize("count", [False, True], ids=["without count-in", "with"])
@pytest.mark.parametrize("kind", ["claves", "wood"])
def test_a_sound_that_the_count_in_lacks_is_learned(tmp_path: Path, count: bool, kind: str) -> None:
    form = song(more=f"parts: {{click: {{subdivide: 1/8, sound: {kind}}}}}")
    signal = sound(form)
    if not count:
        signal = signal[round(expect(form).count_in_s * RATE) :]
    report = verify_audio(form, saved(signal, tmp_path, "wav"), count_in=count)
    assert report.agrees, report.findings
    late = np.concatenate([signal[:200000], np.zeros(220), signal[200000:-220]])
    assert not verify_audio(form, saved(late, tmp_path, "wav"), count_in=count).agrees


def test_without_a_click_only_the_length_is_proven(tmp_path: Path) -> None:
    off = read_form_text(
        "title: T\ncount-in: 0\nparts: {click: off}\nsections: {a: {bars: A}}\ntempo: 99\n"
        "form: [a x4]",
        "t",
    )
    report = heard(off, bed(off, round(expect(off).end_s * RATE)), tmp_path)
    assert report.agrees
    assert report.length_only
    form = song()
    stem = bed(form, round(expect(form).end_s * RATE))
    report = heard(form, stem, tmp_path)
    assert report.agrees
    assert report.length_only
    assert wrong(heard(form, stem[:-5], tmp_path)) == {"length"}


def test_an_untagged_mp3_may_be_late_by_its_encoders_delay(tmp_path: Path) -> None:
    form = song()
    path = tmp_path / "heard.mp3"
    stereo = np.stack([sound(form)] * 2, axis=1)
    steady = {"bitrate_mode": "CONSTANT", "compression_level": 0.3}
    soundfile.write(str(path), stereo, RATE, format="MP3", **steady)
    data = path.read_bytes()
    assert b"LAME" in data[:400]
    rates = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
    first = 144000 * rates[data[2] >> 4] // RATE + (data[2] >> 1 & 1)
    path.write_bytes(data[first:])
    report = verify_audio(form, path)
    assert report.agrees, report.findings
    assert report.offset_s * RATE == pytest.approx(1105, abs=8)
    assert report.worst_s < TOLERANCE_S / 2


def test_samples_that_are_not_numbers_disagree_without_a_warning(tmp_path: Path) -> None:
    """pytest turns a warning into an error, which would end the command."""
    form, path = tmp_path / "form.yaml", tmp_path / "x.wav"
    form.write_text("title: T\ntempo: 120\nsections: {a: {bars: A}}\nform: [a x4]\n")
    for sample in (np.inf, np.nan, 1e38):
        soundfile.write(str(path), np.full(RATE * 11, sample), RATE, subtype="FLOAT")
        result = CliRunner().invoke(main, ["verify", str(form), str(path)])
        assert isinstance(result.exception, SystemExit), result.exception
        assert result.exit_code == 1
        assert all(line.startswith("Disagrees (samples): ") for line in result.output.splitlines())


@pytest.mark.parametrize(("rate", "reads"), [(1, 0), (999, 0), (1000, 1), (2_000_000_000, 0)])
def test_impossible_sample_rates_are_refused(tmp_path: Path, rate: int, reads: int) -> None:
    path = tmp_path / "x.wav"
    soundfile.write(str(path), np.zeros(80), rate)
    if reads:
        assert not verify_audio(song(), path).agrees
        return
    with pytest.raises(BackingError, match=f"it has {rate:,} samples a second") as caught:
        verify_audio(song(), path)
    assert caught.value.exit_code == 2


@pytest.mark.parametrize("data", [b"", b"RIFF", b"not audio at all" * 99])
def test_a_file_that_is_not_audio_is_refused_in_a_sentence(tmp_path: Path, data: bytes) -> None:
    for way in WAYS:
        path = tmp_path / f"bad.{way}"
        path.write_bytes(data)
        with pytest.raises(BackingError, match="can't be read as audio") as caught:
            verify_audio(song(), path)
        assert caught.value.exit_code == 2
    with pytest.raises(BackingError, match="there is no such file"):
        verify_audio(song(), tmp_path / "none.wav")
