"""Every key of every table of the language: values it takes, and one it refuses at its place."""

from __future__ import annotations

import pytest
from form.songs import KEYS, song
from part_tables import TAB, rows_of

from backing.form import exercises, language, parts
from backing.form.kinds import NEVER


def in_section(key: str, value: str) -> str:
    bars = "" if key == "bars" else 'bars: "| A | D |", '
    form = "[verse x6]" if key == "endings" else "[verse]"
    return song(sections=f"{{verse: {{{bars}{key}: {value}}}}}", form=form)


def in_entry(key: str, value: str) -> str:
    section = "" if key == "section" else "section: verse, "
    endings = ', endings: {1: "| E |"}' if key == "ending" else ""
    return song(
        sections=f'{{verse: {{bars: "| A | D |"{endings}}}}}', form=f"[{{{section}{key}: {value}}}]"
    )


def in_part(part: str):
    return lambda key, value: song(parts=f"{{{part}: {{{key}: {value}}}}}")


def in_song(key: str, value: str) -> str:
    return song(**{key: value})


def in_exercise(key: str, value: str) -> str:
    beside = {"between": "loop: 2, ", "keep-shapes": "key: B, "}
    return song(key="A", practice=f"[{{{beside.get(key, '')}{key}: {value}}}]")


def with_others(write, others: dict[str, str]):
    """A writer of one key beside others that it needs."""

    def text(key: str, value: str) -> str:
        printed = ", ".join(f"{name}: {word}" for name, word in (others | {key: value}).items())
        return write(f"{{{printed}}}")

    return text


# Every key of every table, walked: values it takes, and one it refuses, in double quotes


STEP = (["1/4", "1/8", "1/8t", "1/16", "1/16t"], "1/3")
SETTINGS = {
    "meter": (["3/4", "6/8", "12/8", "4/4 (2+2)"], "3/5"),
    "feel": (["straight", "swing", "{swing: 3/2, on: 1/16}", "{swing: by-tempo}"], "bouncy"),
    "dynamic": (["soft", "medium", "loud"], "huge"),
    "parts": (["{click: off}", "{bass: on}", "{}"], "loud"),
    "arrangement": ([], "loud"),
    "note": (["thumb on the low strings"], ""),
    "per-row": (["1", "4"], "0"),
}
RAMPS = ["92", "{to: 60, over: 1}", "{bpm: 60, to: 70, over: 2, from: first}"]
TEMPO = {
    "bpm": (["60", "92.5"], "fast"),
    "beat": (["1/4", "3/8", "1/8t"], "dotted"),
    "to": (["60"], "slow"),
    "over": (["1", "2"], "0"),
    "from": (["first", "last"], "middle"),
}


def switches_and_keys(part: parts.Part) -> list[str]:
    """`on`, `off`, nothing in particular, and each key with a value."""
    rows = rows_of(part)
    return ["on", "off", "{}", *(f"{{{key}: {values[0]}}}" for key, (values, _) in rows.items())]


WALKED = [
    (
        "a song",
        language.SONG,
        in_song,
        SETTINGS
        | {
            "title": (["A", "1999", "off", '"灯籠"'], ""),
            "by": (["me", "no"], ""),
            "for": (["Ben", "no"], "x" * 61),
            "tempo": (["10", "92", "92.5", "500", "{bpm: 60, beat: 3/8}"], "92 bpm"),
            "key": (["A", "F#m", "Bb minor"], "H"),
            "capo": (["0", "3", "11"], "12"),
            "count-in": (["0", "2", "8"], "9"),
            "shapes": (["{A: x02220}", "{C: x-10-12-12-11-10, E: 022100}"], "x02220"),
            "voicing": (["full", "shell"], "drop 2"),
            "pickup": (['"| N.C. / / D |"'], "| H |"),
            "instrument": (
                ["guitar", "ukulele", "baritone ukulele", "bass", "five-string bass"],
                "zither",
            ),
            "tuning": (["D2 A2 D3 G3 B3 E4", "drop D", "D A D G B E", "DADGAD"], "D A D"),
            "pitch": (["440", "442.5"], "1000"),
            "human": (["0", "75", "100"], "101"),
            "strums": (['{easy: {step: 1/4, play: "D D U D"}}'], "D D U D"),
            "picks": (['{broken: {step: 1/8, play: "p i m a"}}'], "p i m a"),
            "riffs": ([f'{{weir: {{step: 1/8, tab: "{TAB}"}}}}'], "weir"),
            "arrangements": (["{}", "{simple: {bass: off, guitar: {volume: 60}}}"], "simple"),
            "sections": (['{verse: {bars: "A"}}'], "verse"),
            "form": (["[verse]", "[verse x2, {section: verse}]"], "verse"),
            "practice": (
                ["[75]", '["60, 75", {section: verse, loop: 4}]', "{formats: midi}", "{set: [75]}"],
                "75",
            ),
        },
    ),
    (
        "practice",
        dict.fromkeys(("formats", "set")),
        lambda key, value: song(practice=f"{{{key}: {value}}}"),
        {
            "formats": ([*exercises.FORMATS, '"midi, mp3"', "[mp3, chart]"], "mp4"),
            "set": (['[75, "60%, 75.5%", {loop: 2}]'], "75"),
        },
    ),
    (
        "an exercise",
        language.EXERCISE,
        in_exercise,
        {
            "speed": (["10", "75.5", '"60, 75"', "[60, 75%, 300]"], "9"),
            "ladder": (
                ["60-100", "100% - 60%", '"62.5-75"', "60-100 by 5", '"60-100by2.5%"'],
                "60-100 by 0",
            ),
            "section": (["verse", "VERSE..Verse"], "..verse"),
            "bars": (["1-2", "2", "1 - 1"], "a-b"),
            "loop": (["1", "999"], "1000"),
            "build-up": (["front", "end"], "middle"),
            "between": (["0", "8"], "9"),
            "without": (["guitar", '"guitar, bass"', "[drums, pad]", "[Bass]"], "banjo"),
            "only": (["click", '"click,bass"', "[lead]"], "banjo"),
            "arrangement": ([], "loud"),
            "trade": (["1", "64"], "0"),
            "key": (["A", "Bb minor"], "H"),
            "capo": (["0", "11"], "12"),
            "transpose": (["+2", "-24"], "25"),
            "keep-shapes": (["on", "off"], "maybe"),
            "easier": (["on", "off"], "maybe"),
            "note": (["thumb on the low strings"], "x" * 301),
        },
    ),
    (
        "a section",
        language.SECTION,
        in_section,
        SETTINGS
        | {
            "bars": (['"| A |"', "A"], "| H |"),
            "times": (["1", "9999"], "0"),
            "endings": (['{1: "| E |"}', "{1-3: E}", '{"1,3": E, 2: D}'], "E"),
            "tempo": (RAMPS, "0"),
            "lift": (["on", "off"], "2"),
            "words": (["la", "off", '"| la |"'], ""),
            "on-pass": (["{1: {dynamic: loud}}"], "loud"),
        },
    ),
    (
        "an entry",
        language.ENTRY,
        in_entry,
        {
            "section": (["verse"], "chorus"),
            "times": (["1", "9999"], "10000"),
            "bars": (["1-2", "2", "1 - 1"], "a-b"),
            "ending": (["1"], "0"),
            "label": (["Last verse"], "x" * 61),
            "transpose": (["+2", "-3", "0"], "12"),
            "tempo": (RAMPS, "9"),
            **{key: SETTINGS[key] for key in ("feel", "dynamic", "parts", "arrangement", "note")},
            "lift": (["on", "off"], "2"),
            "on-pass": (["{1: {dynamic: loud}}", '{1-3: {bars: "| E |"}}'], "loud"),
            "words": (["la", "off", '"| la |"'], ""),
        },
    ),
    (
        "a pass",
        language.PASS,
        lambda key, value: in_section("on-pass", f"{{1: {{{key}: {value}}}}}"),
        SETTINGS
        | {
            "bars": (['"| A | E |"'], "| H |"),
            "tempo": (RAMPS, "0"),
            "words": (["la", "off", '"| la | |"'], ""),
        },
    ),
    (
        "the parts",
        parts.PART_KINDS,
        lambda key, value: song(parts=f"{{{key}: {value}}}"),
        {name: (switches_and_keys(part), "loud") for name, part in parts.PARTS.items()},
    ),
    *(
        (part.name, {key.name: key.kind for key in part.keys}, in_part(part.name), rows_of(part))
        for part in parts.PARTS.values()
    ),
    *(
        (
            f"{part}'s common keys",
            {key.name: key.kind for key in parts.COMMON_KEYS},
            in_part(part),
            {"volume": (["0", "127"], "128"), "pan": (["-64", "0", "+63"], "64")},
        )
        for part in parts.PARTS
    ),
    (
        "a tempo",
        dict.fromkeys(TEMPO),
        with_others(
            lambda text: in_section("tempo", text),
            {"bpm": "90", "beat": "1/4", "to": "80", "over": "1"},
        ),
        TEMPO,
    ),
    (
        "a section of two rows",
        {"words": None},
        lambda key, value: song(sections=f'{{verse: {{bars: "A|D\\nA|D", {key}: {value}}}}}'),
        {
            "words": (
                ["one line", '["first line", "second"]', '"| one | | two |"', "off", "[1, 2]",
                 '["| one | two |", "| |"]', '"one\\n\\n| two | three |"', '"| |"'],
                "",
            ),
        },
    ),
    (
        "a strum",
        {"step": None, "play": None},
        with_others(lambda text: song(strums=f"{{a: {text}}}"), {"step": "1/8", "play": "D"}),
        {
            "step": STEP,
            "play": (["D", '"D> U x - | D"', "x"], "D Q"),
        },
    ),
    (
        "a pick",
        {"step": None, "play": None},
        with_others(lambda text: song(picks=f"{{a: {text}}}"), {"step": "1/8", "play": "p"}),
        {"step": STEP, "play": (["p", '"p (pa) - p2 | i m"'], "p q")},
    ),
    (
        "a riff",
        {"step": None, "tab": None},
        with_others(lambda text: song(riffs=f"{{a: {text}}}"), {"step": "1/8", "tab": f'"{TAB}"'}),
        {"step": STEP, "tab": ([f'"{TAB}"'], "e|0|")},
    ),
]  # fmt: skip


def test_each_table_is_walked_to_its_last_key():
    for name, table, _, rows in WALKED:
        now = {key for key, kind in table.items() if kind is None or kind.schema != NEVER}
        assert set(rows) == now, name


@pytest.mark.parametrize(
    ("text"),
    [
        pytest.param(write(key, value), id=f"{name}: {key}: {value}")
        for name, _, write, rows in WALKED
        for key, (values, _) in rows.items()
        for value in values
    ],
)
def test_each_key_takes_its_values(reads, text):
    assert reads(text).title


@pytest.mark.parametrize(
    ("write", "key", "wrong"),
    [
        pytest.param(write, key, wrong, id=f"{name}: {key}")
        for name, _, write, rows in WALKED
        for key, (_, wrong) in rows.items()
    ],
)
def test_each_key_refuses_a_wrong_value_at_its_place(problems, write, key, wrong):
    text = write(key, f'"{wrong}"')
    found = problems(text)
    (line,) = [row for row in text.split("\n") if f'{key}: "{wrong}"' in row]
    at = line.rindex(f'{key}: "{wrong}"') + len(f'{key}: "') + 1
    assert text.split("\n").index(line) + 1 == found[0].line
    # The place is the value's own, or the character in it that is wrong.
    assert at - 1 <= found[0].column <= at + len(wrong)


@pytest.mark.parametrize("key", ["to", "over", "from"])
def test_the_tempo_of_a_whole_song_cannot_change_gradually(problems, key):
    found = problems(song(tempo=f"{{bpm: 60, {key}: 1}}"))
    assert any("Write the change in a section" in problem.fix for problem in found)


def test_a_whole_song_has_no_words(only):
    problem = only(song(words="la la"))
    assert problem.fix == "Write it in a section, a pass or a form entry."


@pytest.mark.parametrize(
    ("name", "write"), [pytest.param(name, write, id=name) for name, _, write, _ in WALKED]
)
def test_an_unknown_key_is_refused(problems, name, write):
    found = problems(write("zzz", "1"))
    assert any("has no key 'zzz'. Choose from: " in f"{p.message} {p.fix}" for p in found)


@pytest.mark.parametrize("missing", language.SONG_REQUIRED)
def test_a_song_needs_its_keys(problems, missing):
    text = "".join(f"{key}: {value}\n" for key, value in KEYS.items() if key != missing)
    messages = [problem.message for problem in problems(text)]
    assert messages == [f"a form needs the key {missing}."]
