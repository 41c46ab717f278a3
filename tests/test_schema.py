"""The JSON Schema: it takes what the reader takes, and catches what a schema can."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from form.songs import KEYS, song
from form.test_language import WALKED
from form_printer import print_form
from form_strategies import forms
from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from backing.cli import main
from backing.errors import FormError
from backing.form import read_form_text
from backing.form.digits import decimal_between, whole_between
from backing.form.language import SONG_REQUIRED
from backing.form.model import ONE_OF_THESE
from backing.form.parts import GUITARS
from backing.form.schema import DRAFT, PLACES, form_schema
from backing.form.schema import KEYS as SAID

FORMS = sorted((Path(__file__).parent.parent / "forms").glob("*.yaml"))
EVERY_KEY = Path(__file__).parent / "data" / "every_key.yaml"
SCHEMA = form_schema()
VALIDATOR = Draft202012Validator(SCHEMA)

#: Wrong values of the language's walk that only a reader can see: chords in bars, a ratio of two
#: numbers, and names that must stand further up.
BEYOND = {
    *((table, "bars") for table in ("a section", "a pass")),
    ("a song", "pickup"),
    ("an entry", "section"),
    ("click", "plays"),
    *(
        (table, "arrangement")
        for table in ("a song", "an exercise", "a section", "an entry", "a pass")
    ),
    *((part.name, key) for part in GUITARS for key in ONE_OF_THESE),
    ("bass", "riff"),
}


def loaded(text: str) -> Any:
    """A form as an editor holds it: YAML 1.2 by its core rules, keys as text."""
    return json.loads(json.dumps(YAML(typ="safe", pure=True).load(text)))


def without_null(value: Any) -> Any:
    """A loaded form with `null` as the word that its writer typed."""
    if isinstance(value, dict):
        return {key: without_null(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [without_null(inner) for inner in value]
    return "null" if value is None else value


def takes(text: str) -> bool:
    return VALIDATOR.is_valid(loaded(text))


def records(schema: Any) -> Iterator[dict[str, Any]]:
    """Every mapping with known keys in a schema."""
    if isinstance(schema, dict):
        if "properties" in schema and "additionalProperties" in schema:
            yield schema
        for inner in schema.values():
            yield from records(inner)
    elif isinstance(schema, list):
        for inner in schema:
            yield from records(inner)


def loaded_as_1_1(text: str) -> Any:
    """A form as an editor that reads YAML 1.1 holds it: on and off are true and false."""
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 1)
    return json.loads(json.dumps(yaml.load(text)))


@pytest.mark.parametrize("path", [*FORMS, EVERY_KEY], ids=lambda path: path.stem)
def test_it_takes_what_yaml_1_1_makes_of_on_and_off(path: Path) -> None:
    text = path.read_text("utf-8")
    VALIDATOR.validate(loaded_as_1_1(text))
    assert '"true"' in json.dumps(loaded_as_1_1(EVERY_KEY.read_text("utf-8")))


def test_true_and_false_are_read_as_on_and_off() -> None:
    for on, off in (("on", "off"), ("true", "false")):
        form = read_form_text(song() + f"parts: {{drums: {off}, click: {{accent: {on}}}}}\n")
        assert form.settings.parts["drums"].on is False
        assert form.settings.parts["click"].values["accent"] is True


def test_it_is_a_schema_of_its_draft() -> None:
    assert SCHEMA["$schema"] == DRAFT == Draft202012Validator.META_SCHEMA["$id"]
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("path", FORMS, ids=lambda path: path.stem)
def test_every_demo_validates(path: Path) -> None:
    VALIDATOR.validate(loaded(path.read_text("utf-8")))


@settings(max_examples=60, suppress_health_check=list(HealthCheck), deadline=None)
@given(forms())
def test_any_form_that_reads_validates(text: str) -> None:
    form = read_form_text(text)
    VALIDATOR.validate(loaded(print_form(form)))
    # To an editor a title of `null` is a value that is missing; no other word is lost on it.
    VALIDATOR.validate(without_null(loaded(text)))


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(write(key, value), id=f"{name}: {key}: {value}")
        for name, _, write, rows in WALKED
        for key, (values, _) in rows.items()
        for value in values
    ],
)
def test_each_key_takes_its_values(text: str) -> None:
    VALIDATOR.validate(loaded(text))


@pytest.mark.parametrize(
    ("name", "key", "text"),
    [
        pytest.param(name, key, write(key, json.dumps(wrong)), id=f"{name}: {key}: {wrong}")
        for name, _, write, rows in WALKED
        for key, (_, wrong) in rows.items()
    ],
)
def test_each_key_refuses_a_wrong_value_unless_only_a_reader_can_see_it(
    name: str, key: str, text: str
) -> None:
    assert takes(text) == ((name, key) in BEYOND)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(write(key, value), id=f"{name}: {key}: {value}")
        for name, _, write, rows in WALKED
        for key in rows
        for value in ("[[1]]", "{zzz: 1}", "null")
    ]
    + [pytest.param(write("zzz", "1"), id=f"{name}: zzz") for name, _, write, _ in WALKED],
)
def test_each_key_refuses_another_kind_of_value_and_each_table_an_unknown_key(text: str) -> None:
    assert not takes(text)


@pytest.mark.parametrize("key", SONG_REQUIRED)
def test_a_song_needs_its_keys(key: str) -> None:
    assert takes(song())
    assert not takes(
        "".join(f"{name}: {message}\n" for name, message in KEYS.items() if name != key)
    )


@pytest.mark.parametrize(
    "keys",
    [
        {"sections": "{verse: {}}"},
        {"sections": "{}"},
        {"sections": '{verse x2: {bars: "| A |"}}'},
        {"sections": '{verse: {bars: "| A |", endings: {0: "| A |"}}}'},
        {"sections": '{verse: {bars: "| A |", endings: {}}}'},
        {"sections": '{verse: {bars: "| A |", endings: {last: "| A |"}}}'},
        {"sections": '{verse: {bars: "| A |", tempo: {to: 60}}}'},
        {"sections": '{verse: {bars: "| A |", tempo: {over: 2}}}'},
        {"sections": '{verse: {bars: "| A |", tempo: {bpm: 60, from: last}}}'},
        {"sections": '{verse: {bars: "| A |", on-pass: {1: {words: []}}}}'},
        {"form": "[]"},
        {"form": "[{times: 2}]"},
        {"form": "[[verse]]"},
        {"tempo": "{}"},
        {"tempo": "{beat: 1/4}"},
        {"tempo": "{bpm: 60, to: 90, over: 1}"},
        {"meter": "4/3"},
        {"meter": "7/8 (2+2+)"},
        {"key": "H"},
        {"tuning": "E2 A2 D3"},
        {"shapes": "{A: '022'}"},
        {"shapes": "{A: {fingers: x01230}}"},
        {"shapes": "{H: x02220}"},
        {"feel": "{on: 1/8}"},
        {"feel": "{swing: 2 to 1}"},
        {"strums": "{a: {step: 1/8}}"},
        {"strums": '{a: {step: 1/8, play: "D V"}}'},
        {"strums": '{"": {step: 1/8, play: D}}'},
        {"picks": '{a: {step: 1/8, play: "p k"}}'},
        {"parts": "{banjo: on}"},
        {"parts": "{guitar: {strum: a, pick: b}}"},
        {"parts": '{bass: {line: {step: 1/8, play: "1 14"}}}'},
        {"parts": "{bass: {line: {step: 1/8, play: 14}}}"},
        {"parts": "{drums: {beat: {step: 1/8, play: {}}}}"},
        {"parts": "{drums: {beat: {step: 1/8, play: {kick: x o}}}}"},
        {"parts": "{click: yes}"},
    ],
    ids=str,
)  # fmt: skip
def test_what_both_refuse(keys: dict[str, str]) -> None:
    text = song(**keys)
    with pytest.raises(FormError):
        read_form_text(text)
    assert not takes(text)


@pytest.mark.parametrize(
    ("low", "high"), [(0, 8), (1, 16), (-64, 63), (-11, 11), (1, 9999), (0, 127)]
)
def test_ranges_in_quotes_are_exact(low: int, high: int) -> None:
    pattern = re.compile(str(whole_between(low, high)["pattern"]))
    near = {*range(-130, 130), *range(high - 2, high + 120), 990, 999, 1000, 1001, 10_000, 99_999}
    for value in near:
        for text in (str(value), f"{value:+d}", f" {value:05d} "):
            assert bool(pattern.search(text)) == (low <= value <= high), text
    assert not pattern.search("")


@pytest.mark.parametrize(("low", "high"), [(10, 500), (390, 490)])
def test_decimals_in_quotes_are_exact(low: int, high: int) -> None:
    pattern = re.compile(str(decimal_between(low, high)["pattern"]))
    for tenths in range(0, high * 10 + 50):
        text = f"{tenths // 10}.{tenths % 10}"
        assert bool(pattern.search(text)) == (low * 10 <= tenths <= high * 10), text
    assert not pattern.search(f"{low}.")


def test_every_key_is_described_and_every_description_is_of_a_key() -> None:
    used: set[object] = set()
    for table in records(SCHEMA):
        for key, value in table["properties"].items():
            assert "description" in value, (table["title"], key)
            place = (table["title"], key) if (table["title"], key) in PLACES else key
            used.add(key if table["title"] == "A song's form" else place)
    assert used == set(SAID) | set(PLACES)


def test_descriptions_are_short_sentences() -> None:
    for message in (*SAID.values(), *PLACES.values()):
        assert len(message) <= 80
        assert message[-1] == "."


def test_the_command_prints_it_or_writes_it(tmp_path: Path) -> None:
    printed = CliRunner().invoke(main, ["schema"])
    assert printed.exit_code == 0
    assert json.loads(printed.output) == SCHEMA
    out = tmp_path / "song-form.json"
    written = CliRunner().invoke(main, ["schema", "--out", str(out)])
    assert written.output == f"Wrote {out}\n"
    assert json.loads(out.read_text("utf-8")) == SCHEMA
