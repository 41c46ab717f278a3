"""Forms that are too large, too deep or too long are refused, and soon."""

from __future__ import annotations

import time

import pytest
from form.songs import LEAST, song, spoiled

from backing.errors import FormError
from backing.form.reader import read_form, read_form_bytes
from backing.form.tree import MAX_DEPTH


def quick(text: str | bytes, most_seconds: float = 5) -> FormError:
    data = text.encode() if isinstance(text, str) else text
    start = time.process_time()
    with pytest.raises(FormError) as caught:
        read_form_bytes(data, "a.yaml")
    assert time.process_time() - start < most_seconds
    assert len(str(caught.value)) < 50_000
    return caught.value


@pytest.mark.parametrize("wide", [2, 9])
def test_aliases_that_multiply_are_refused_at_once(wide):
    rows = ["x:", "  - &a0 [A, A]"]
    rows += [f"  - &a{i} [{', '.join([f'*a{i - 1}'] * wide)}]" for i in range(1, 22)]
    error = quick(LEAST + "\n".join(rows), 2)
    assert "too large" in str(error)


def test_long_text_counts_wherever_an_alias_repeats_it():
    bars = "|A" * 100_000
    sections = "".join(f"  s{i}: {{bars: *b}}\n" for i in range(1000))
    text = spoiled('"| A | D |"', f'&b "{bars}"').replace("form:", f"{sections}form:")
    assert "too large" in str(quick(text))


def test_a_form_of_one_mebibyte_is_read_and_a_byte_more_is_refused(reads):
    filler = "#" * ((1 << 20) - len(LEAST))
    assert reads(LEAST + filler) == reads(LEAST)
    error = quick(LEAST + filler + "#", 0.5)
    assert error.problems[0].message.startswith("this file is larger than 1 MiB")


def test_a_large_file_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "big.yaml"
    path.write_bytes(b"#" * (3 << 20))
    with pytest.raises(FormError, match="larger than 1 MiB"):
        read_form(path)


@pytest.mark.parametrize("opener", ["[", "{", "- ", "? "])
def test_deep_nesting_is_refused(opener):
    text = opener * (500_000 // len(opener))
    (problem,) = quick(text, 3).problems
    assert f"more than {MAX_DEPTH} levels deep" in problem.message
    assert problem.line == 1


def test_nesting_through_aliases_counts():
    rows = ["x:", "  - &a0 [A]"] + [f"  - &a{i} [*a{i - 1}]" for i in range(1, 40)]
    assert "deep" in str(quick(LEAST + "\n".join(rows), 1))


@pytest.mark.parametrize(
    "bars",
    ["| A " * 260_000, "A\n      " * 120_000, "|%" * 500_000, "|Axy" * 250_000, "A" * 1_000_000,
     "A" + " /" * 500_000, "(" * 1_000_000, "A" + "(push)" * 170_000],
    ids=lambda bars: bars[:8],
)  # fmt: skip
def test_a_mebibyte_of_bars_is_refused_within_five_seconds(bars):
    if "\n" in bars:
        quick(spoiled('"| A | D |"', "|\n      " + bars))
    else:
        quick(spoiled('"| A | D |"', f'"| A {bars}"'))


@pytest.mark.parametrize("start", ["!", "!!", "!<", "!a!", "%TAG ! "])
@pytest.mark.parametrize("more", ["a", "%41", "!", "(", "~"])
def test_a_mebibyte_of_a_tag_is_refused_within_two_seconds(start, more):
    value = start + more * (1_000_000 // len(more))
    for text in (value, f"title: {value}", f"form: [{value}]", f"&a {value}", f"- {value}"):
        quick(text, 2)


def test_too_many_values_are_refused_within_five_seconds():
    quick(LEAST + "".join(f"k{i}: a\n" for i in range(80_000)))
    quick(LEAST + "  - verse\n" * 100_000)


@pytest.mark.parametrize(
    ("sections", "form"),
    [
        ('{verse: {bars: "A|A|A"}}', "[verse x9999]"),
        ("{verse: {bars: A, times: 9999}}", "[verse x9999]"),
        ("{verse: {bars: A}}", "[verse x9999, verse x9999, verse x3]"),
        ("{verse: {bars: A, times: 9999, endings: {1: A, 2: A}}}", "[verse x2]"),
        ('{verse: {bars: "A|D"}}', "[verse bars 1-2 x9999, verse x2]"),
    ],
)
def test_more_than_20_000_played_bars_are_refused_at_once(problems, sections, form):
    start = time.process_time()
    (problem,) = problems(song(sections=sections, form=form))
    assert "more than 20,000 bars" in problem.message
    assert time.process_time() - start < 1


def test_20_000_played_bars_are_read(reads):
    assert reads(song(sections='{verse: {bars: "A|D"}}', form="[verse x9999, verse]"))


def test_more_than_20_000_written_bars_are_refused(problems):
    ten = '"%s"' % ("A|" * 10_001)
    found = problems(song(sections=f"{{verse: {{bars: {ten}}}, other: {{bars: {ten}}}}}"))
    assert "at most 20,000 bars" in found[0].message


def test_many_endings_and_many_entries_are_read_in_time(reads):
    endings = "".join(f"      {number}: E\n" for number in range(1, 1000))
    text = (
        "title: a\ntempo: 92\nsections:\n  verse:\n    bars: |\n"
        + "      A\n" * 15_000
        + f"    endings:\n{endings}form:\n"
        + "  - verse bars 1-1\n" * 10_000
    )
    start = time.process_time()
    assert len(reads(text).entries) == 10_000
    assert time.process_time() - start < 10


def test_a_song_of_forty_lines_is_read_quickly(reads):
    sections = "".join(
        f"  s{number}:\n    bars: |\n      | A | F#m7 | D / / E7 | % |\n      | E7(ring) | N.C. |\n"
        for number in range(8)
    )
    text = f"title: a\ntempo: 92\nkey: A\ncapo: 3\nsections:\n{sections}form:\n  - s1 x2\n  - s2\n"
    assert text.count("\n") == 40
    reads(text)
    seconds = []
    for _ in range(5):
        start = time.process_time()
        reads(text)
        seconds.append(time.process_time() - start)
    assert min(seconds) < 0.03
