"""A new song file: it builds at once in any meter and key, teaches, and replaces nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from backing.cli import main
from backing.errors import BackingError
from backing.form import read_form_text
from backing.form.demos import demo_bytes, demo_names
from backing.form.pattern_records import BassPattern
from backing.form.starter import starter
from backing.form.tab_cells import notes
from backing.system.files import write_whole
from backing.theory.chords import parse_chord
from backing.theory.instruments import INSTRUMENTS
from backing.theory.keys import Key, parse_key
from backing.theory.pitch import LETTERS, PitchName
from backing.theory.rhythm import METER_UNITS, Meter
from backing.theory.tunings import NAMED, parse_tuning
from backing.tracks.one import midi_of
from backing.verify import verify_bytes


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def meters() -> list[str]:
    """Every meter up to 13 units that needs no groups, and some that do."""
    found = []
    for unit in METER_UNITS:
        for count in range(1, 14):
            try:
                found.append(str(Meter(count, unit)))
            except ValueError:
                continue
    grouped = ["7/8 (3+2+2)", "8/8 (3+3+2)", "11/16 (3+3+3+2)", "4/4 (2+2)", "10/8 (2+3+2+3)"]
    return [*found, *grouped, "64/4", "63/1"]


def keys() -> list[Key]:
    found = []
    for letter in LETTERS:
        for accidental in (-1, 0, 1):
            for minor in (False, True):
                try:
                    found.append(Key(PitchName(letter, accidental), minor))
                except ValueError:
                    continue
    return found


def test_the_command_writes_a_file_named_after_the_title_and_it_builds(here: Path) -> None:
    result = run("new", "What Now?", "--meter", "3/4", "--bars", 6, "--tempo", 100, "--key", "F#m")
    assert (result.exit_code, result.output) == (0, "Wrote What Now.yaml\n")
    form = read_form_text((here / "What Now.yaml").read_text("utf-8"))
    assert (form.title, str(form.meter), str(form.key)) == ("What Now?", "3/4", "F#m")
    assert form.settings.tempo is not None
    assert form.settings.tempo.bpm == 100
    assert sum(map(len, form.sections["verse"].rows)) == 6
    built = run("build", "What Now.yaml")
    assert built.exit_code == 0
    assert "All agree" in built.output


def test_the_verse_has_eight_bars_in_rows_of_four_by_default() -> None:
    form = read_form_text(starter("Song"))
    assert [len(row) for row in form.sections["verse"].rows] == [4, 4]


@pytest.mark.parametrize("meter", meters())
def test_it_builds_in_any_meter(meter: str) -> None:
    form = read_form_text(starter("Song", meter, bars=3))
    assert str(form.meter) == meter
    assert verify_bytes(form, midi_of(form)).agrees


def test_with_uneven_beats_the_tempo_names_the_note_that_it_counts() -> None:
    text = starter("Song", "7/8", tempo="200")
    assert "tempo: {bpm: 200, beat: 1/8}" in text


@pytest.mark.parametrize("key", keys(), ids=str)
def test_the_chords_belong_to_the_key_and_are_spelled_like_it(key: Key) -> None:
    form = read_form_text(starter("Song", key=str(key)))
    (row, _) = form.sections["verse"].rows
    roots = [bar.cells[0].chord.root for bar in row if bar.cells[0].chord]
    first = LETTERS.index(key.tonic.letter)
    # I vi IV V, or i VI iv V: a letter for each degree (common practice)
    degrees = (0, 5, 3, 4)
    assert [LETTERS.index(root.letter) for root in roots] == [(first + d) % 7 for d in degrees]
    steps = (0, 8, 5, 7) if key.minor else (0, 9, 5, 7)
    tonic = key.tonic.pitch_class
    assert [root.pitch_class for root in roots] == [(tonic + step) % 12 for step in steps]


@pytest.mark.parametrize("meter", meters())
def test_the_lines_that_are_commented_out_can_be_read_too(meter: str) -> None:
    text = starter("Song", meter)
    # only a "# " before one of these keys hides a line of the form; the rest are comments
    opened = re.sub(
        r"^# (?=(?:capo|strums|parts|practice|  (?:mine|guitar)):|  - )", "", text, flags=re.M
    )
    assert opened.count("#") == text.count("#") - 8
    form = read_form_text(opened)
    assert form.capo == 2
    assert len(form.practice.exercises) == 2
    assert form.settings.parts["guitar"].strum == "mine"
    assert verify_bytes(form, midi_of(form)).agrees


def opened(text: str) -> str:
    """A new form whose lines that are commented out are lines of the form."""
    line = "(?:capo|strums|parts|shapes|riffs|practice):|  "
    return re.sub(rf"^( *)# (?={line})", r"\1", text, flags=re.M)


TUNINGS = [(name, tuning) for name, tunings in NAMED.items() for tuning in (None, *tunings)]


@pytest.mark.parametrize(("instrument", "tuning"), TUNINGS)
def test_a_new_form_is_for_the_instruments_strings(instrument: str, tuning: str | None) -> None:
    """In each of its tunings: the shape and the riff that it offers have a fret for each."""
    text = starter("Song", "6/8", key="Ebm", instrument=instrument, tuning=tuning)
    plain, whole = read_form_text(text), read_form_text(opened(text))
    expected = INSTRUMENTS[instrument]
    assert plain.instrument == whole.instrument == expected
    strings = parse_tuning(tuning, expected) if tuning else expected.tuning
    assert plain.own_tuning == whole.own_tuning == strings
    if instrument == "guitar" and tuning is None:
        assert not whole.riffs
        return
    (riff,) = whole.riffs.values()
    assert (riff.strings, len(riff.bars)) == (len(strings), 4)
    if expected.is_bass:
        assert not whole.shapes
        assert isinstance(whole.settings.parts["bass"].values["line"], BassPattern)
    else:
        assert [len(shape.frets) for shape in whole.shapes.values()] == [len(strings)]


@pytest.mark.parametrize(
    ("instrument", "tuning"), [*((name, None) for name in INSTRUMENTS), (None, "banjo")]
)
def test_a_new_form_for_an_instrument_builds_with_all_that_it_offers(
    instrument: str | None, tuning: str | None
) -> None:
    """Its riff has only tones of each bar's chord."""
    for meter in ("4/4", "7/8"):
        text = starter("Song", meter, bars=5, key="D", instrument=instrument, tuning=tuning)
        for written in (text, opened(text)):
            form = read_form_text(written)
            assert verify_bytes(form, midi_of(form)).agrees
    if not form.riffs:
        assert instrument == "guitar"
        return
    part = "bass" if form.instrument.is_bass else "lead"
    assert form.sections["verse"].settings.parts[part].riff == "tune"
    own = notes(form.riffs["tune"])
    assert all(note.fret is not None for note in own)
    bar_whole = form.meter.bar_whole
    for bar, chord in enumerate(("D", "Bm", "G", "A7")):
        tones = {
            (parse_chord(chord).root.pitch_class + up) % 12 for up in parse_chord(chord).intervals
        }
        found = [note for note in own if note.start_whole // bar_whole == bar]
        assert len(found) == len(form.meter.beats)
        assert {(form.own_tuning[-note.string] + (note.fret or 0)) % 12 for note in found} <= tones


@pytest.mark.parametrize("meter", [*meters()[::7], "64/4", "63/1", "8/8 (3+3+2)"])
def test_a_riff_for_any_meter_stays_on_its_line(meter: str) -> None:
    text = starter("Song", meter, key="C", instrument="five-string bass", tuning="high C")
    assert max(map(len, text.splitlines())) <= 100
    form = read_form_text(opened(text))
    assert form.meter.bar_whole > 5 or form.riffs


def test_the_command_asks_for_no_spaces_in_names(here: Path) -> None:
    for number, typed in enumerate(("baritone-ukulele", "baritone ukulele")):
        options = ("--instrument", typed, "--tuning", "half-step-down", "--out", f"{number}.yaml")
        result = run("new", "Song", *options)
        assert result.exit_code == 0, result.output
    for path in here.iterdir():
        form = read_form_text(path.read_text("utf-8"))
        assert (form.instrument.name, form.own_tuning) == ("baritone ukulele", (49, 54, 58, 63))


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--instrument", "ukelele"], "There is no instrument 'ukelele'. Did you mean ukulele?"),
        (["--instrument", "kazoo"], "Choose from: guitar, ukulele, baritone-ukulele, bass"),
        (["--instrument", "bass", "--tuning", "banjo"], "'banjo' isn't a tuning of a bass"),
        (["--tuning", "drop E"], "did you mean drop D?"),
        (["--tuning", "E A D"], "a tuning has 4 to 8 notes, not 3"),
    ],
)
def test_a_wrong_instrument_or_tuning_is_told(here: Path, options: list[str], says: str) -> None:
    result = run("new", "Song", *options)
    assert result.exit_code == 2
    assert says in " ".join(result.output.split())
    assert not [*here.iterdir()]


@pytest.mark.parametrize("option", ["--instrument", "--tuning"])
def test_a_demo_takes_no_instrument(option: str) -> None:
    result = run("new", "--demo", "starter", option, "banjo")
    assert result.exit_code == 2
    assert f"leave {option} out" in result.output


@pytest.mark.parametrize(
    "title",
    'Plain|a: b # c|null|Off|99|- dash|"quoted"|it\'s|静かな川|%|[x|back\\slash|& * !'.split("|"),
)
def test_any_title_is_kept(title: str) -> None:
    assert read_form_text(starter(title)).title == title


def test_no_line_is_longer_than_100_characters() -> None:
    for meter in meters():
        for line in starter("Song", meter, key="C#").splitlines():
            assert len(line) <= 100, line


def test_a_file_that_is_already_there_is_left_alone(here: Path) -> None:
    (here / "Song.yaml").write_text("mine")
    result = run("new", "Song")
    assert result.exit_code == 2
    assert "Song.yaml: there is already a file" in result.output
    assert (here / "Song.yaml").read_text() == "mine"
    assert [path.name for path in here.iterdir()] == ["Song.yaml"]
    assert run("new", "Song", "--out", "other/one.yaml", "-q").output == ""
    assert (here / "other" / "one.yaml").exists()


def test_a_broken_link_is_left_alone_too(here: Path) -> None:
    (here / "Song.yaml").symlink_to(here / "nowhere.yaml")
    assert run("new", "Song").exit_code == 2
    assert not (here / "nowhere.yaml").exists()


def test_a_file_is_left_alone_on_a_disk_without_hard_links(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError("no links here")

    monkeypatch.setattr("os.link", refuse)
    write_whole(here / "one", b"1", over=False)
    with pytest.raises(BackingError, match="there is already a file"):
        write_whole(here / "one", b"2", over=False)
    assert {path.name: path.read_bytes() for path in here.iterdir()} == {"one": b"1"}


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--meter", "3/5"], "a meter can't have 5 below"),
        (["--meter", "8/8"], "write its groups"),
        (["--key", "H"], "isn't a key"),
        (["--key", "G#"], "write Ab"),
        (["--tempo", "fast"], "'fast' doesn't work for a tempo"),
        (["--tempo", "9"], "from 10 to 500"),
        (["--tempo", "500", "--meter", "3/1"], "quarter notes a minute"),
        (["--bars", "0"], "Write 1 to 999"),
        (["--bars", "x"], "not a valid integer"),
    ],
)
def test_a_wrong_value_is_refused_and_nothing_written(
    arguments: list[str], says: str, here: Path
) -> None:
    result = run("new", "Song", *arguments)
    assert result.exit_code == 2
    assert says in result.output
    assert list(here.iterdir()) == []


def test_a_title_that_is_a_file_name_names_the_file(here: Path) -> None:
    assert run("new", "sub/first song.yaml").output == "Wrote sub/first song.yaml\n"
    assert read_form_text((here / "sub" / "first song.yaml").read_text()).title == "first song"


def test_the_demos_are_listed(here: Path) -> None:
    result = run("new", "--demo")
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert lines[1] == "  starter               Six Bars Before Breakfast"
    assert len(lines) == 3 + len(demo_names())
    assert (
        Path(lines[-1].removeprefix("All about forms: ")).read_text("utf-8").startswith("# Writing")
    )
    assert list(here.iterdir()) == []


@pytest.mark.parametrize("name", demo_names())
def test_a_demo_is_copied_as_it_stands_and_builds(name: str, here: Path) -> None:
    assert run("new", "--demo", name).output == f"Wrote {name}.yaml\n"
    assert (here / f"{name}.yaml").read_bytes() == demo_bytes(name)
    assert run("check", f"{name}.yaml", "-q").exit_code == 0


def test_a_demo_never_replaces_a_file(here: Path) -> None:
    (here / "starter.yaml").write_text("mine")
    result = run("new", "--demo", "starter")
    assert result.exit_code == 2
    assert "starter.yaml: there is already a file with this name" in result.output
    assert (here / "starter.yaml").read_text() == "mine"
    assert run("new", "--demo", "starter", "--out", "songs/first.yaml").exit_code == 0
    assert (here / "songs" / "first.yaml").read_bytes() == demo_bytes("starter")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--demo", "startre"], "There is no demo 'startre'. Did you mean starter?"),
        (["--demo", "zzz"], "Choose from: starter, ash-grove, "),
        (["Title", "--demo", "starter"], "either the song's title or --demo"),
        ([], "either the song's title or --demo"),
        (["--demo", "starter", "--key", "A"], "leave --key out"),
        (["--demo", "--bars", "4"], "leave --bars out"),
    ],
)
def test_a_demo_that_cannot_be_copied_is_refused_and_nothing_written(
    arguments: list[str], says: str, here: Path
) -> None:
    result = run("new", *arguments)
    assert result.exit_code == 2
    assert says in result.output
    assert list(here.iterdir()) == []


def test_an_empty_or_endless_title_is_refused(here: Path) -> None:
    assert run("new", " ").exit_code == 2
    assert run("new", "x" * 300).exit_code == 2
    assert list(here.iterdir()) == []


def test_the_keys_tested_are_all_that_a_key_signature_can_show() -> None:
    assert len(keys()) == 30
    assert parse_key("Cb") in keys()


def test_the_help_names_every_instrument() -> None:
    shown = " ".join(run("new", "--help").output.split())
    names = ", ".join(name.replace(" ", "-") for name in INSTRUMENTS)
    assert f"Every instrument: {names}." in shown
