"""A comma between braces: the advice is to quote the text or the key that it cuts in two."""

from __future__ import annotations

import pytest
from form.songs import song

from backing.errors import FormError
from backing.form import read_form_text


def advice(text: str) -> list[str]:
    with pytest.raises(FormError) as caught:
        read_form_text(text)
    return [f"{problem.message} {problem.fix}" for problem in caught.value.problems]


@pytest.mark.parametrize("pieces", [("thumb low", "then high"), ("one", "2", "three, again")])
@pytest.mark.parametrize(
    ("key", "keys"),
    [
        ("note", {"sections": "{{verse: {{bars: A, note: {}}}}}"}),
        ("words", {"sections": "{{verse: {{bars: A, words: {}, times: 1}}}}"}),
        ("label", {"form": "[{{section: verse, label: {}, times: 2}}]"}),
        ("note", {"sections": "{{verse: {{bars: A, on-pass: {{1: {{note: {}}}}}}}}}"}),
        ("section", {"practice": "[{{section: {}, loop: 2}}]"}),
    ],
)
def test_a_cut_text_is_shown_whole_in_quotes(key, keys, pieces) -> None:
    typed = ", ".join(pieces)
    (name, written), *_ = keys.items()
    assert advice(song(**{name: written.format(typed)})) == [
        f"between braces the comma ends '{key}'. Put the text in quotes:  {key}: \"{typed}\""
    ]


def test_a_cut_title_of_a_song_in_braces() -> None:
    text = "{title: Now, then, tempo: 90, sections: {verse: {bars: A}}, form: [verse]}"
    assert advice(text)[0].endswith('Put the text in quotes:  title: "Now, then"')


def test_quoted_text_with_a_piece_after_it() -> None:
    written = """{verse: {bars: A, note: "softly", then loud}}"""
    assert advice(song(sections=written)) == [
        "between braces the comma ends 'note'. Put the text in quotes:  note: \"softly, then loud\""
    ]


@pytest.mark.parametrize("keys", ["2,4", "1, 2-3", "1,2,3"])
def test_a_cut_key_of_passes_is_shown_whole_in_quotes(keys: str) -> None:
    written = f"{{verse: {{bars: A, times: 4, on-pass: {{{keys}: {{dynamic: soft}}}}}}}}"
    first, whole = keys.split(",")[0], ",".join(keys.replace(" ", "").split(","))
    assert advice(song(sections=written)) == [
        f"between braces the comma ends '{first}'. Put the key in quotes:  \"{whole}\": ..."
    ]


def test_a_key_of_passes_cut_after_another_pass() -> None:
    written = "{verse: {bars: A, times: 4, on-pass: {1: {note: a}, 2,4: {note: b}}}}"
    assert 'Put the key in quotes:  "2,4": ...' in advice(song(sections=written))[0]


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"form": "[{section: verse, x2}]"}, "a form entry has no key 'x2'"),
        ({"form": "[{section: verse, transpose: 2, 3}]"}, "a form entry has no key '3'"),
        ({"practice": "[{without: guitar, bass}]"}, "Put several values in brackets"),
        ({"form": "[{section: verse, note: }]"}, "note is missing here"),
    ],
)
def test_what_is_no_cut_text_has_its_own_advice(keys, words) -> None:
    assert words in advice(song(**keys))[0]


def test_commas_in_quotes_blocks_and_plain_lines_are_text() -> None:
    form = read_form_text(
        "title: Now, then\ntempo: 90\nsections:\n  verse:\n    bars: A\n    note: one, two\n"
        'form: [{section: verse, label: "a, b"}]\n'
    )
    assert (form.title, form.sections["verse"].settings.note) == ("Now, then", "one, two")
    assert form.entries[0].label == "a, b"
