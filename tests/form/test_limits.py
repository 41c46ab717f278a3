"""Forms that are too large, too deep or too long are refused, and soon."""

from __future__ import annotations

import time

import pytest
from form.songs import LEAST, MOST_SECONDS, least_s, song, spoiled

from backing.errors import FormError
from backing.form.reader import read_form, read_form_bytes
from backing.form.tree import MAX_DEPTH

MOST_BYTES = 128 * 1024


def quick(text: str, most_seconds: float = MOST_SECONDS) -> FormError:
    """The error for a form that isn't refused for its bytes alone, after a short time."""
    data = text.encode()
    assert len(data) <= MOST_BYTES
    errors = []

    def refused() -> None:
        with pytest.raises(FormError) as caught:
            read_form_bytes(data, "a.yaml")
        errors.append(caught.value)

    assert least_s(refused) < most_seconds
    assert len(str(errors[0])) < 20_000
    return errors[0]


def full(start: str, piece: str, end: str = "") -> str:
    """A form of the largest size, with a piece repeated after its start."""
    room = MOST_BYTES - len((start + end).encode())
    return start + piece * (room // len(piece.encode())) + end


@pytest.mark.parametrize("wide", [2, 9])
def test_aliases_that_multiply_are_refused_at_once(wide):
    rows = ["x:", "  - &a0 [A, A]"]
    rows += [f"  - &a{i} [{', '.join([f'*a{i - 1}'] * wide)}]" for i in range(1, 22)]
    error = quick(LEAST + "\n".join(rows), 2)
    assert "too large" in str(error)


def test_long_text_counts_wherever_an_alias_repeats_it():
    bars = "|A" * 50_000
    sections = "".join(f"  s{i}: {{bars: *b}}\n" for i in range(1000))
    text = spoiled('"| A | D |"', f'&b "{bars}"').replace("form:", f"{sections}form:")
    assert "too large" in str(quick(text))


def test_a_form_of_128_kibibytes_is_read_and_a_byte_more_is_refused(reads):
    text = full(LEAST, "#")
    assert len(text) == MOST_BYTES
    assert reads(text) == reads(LEAST)
    with pytest.raises(FormError) as caught:
        reads(text + "#")
    assert caught.value.problems[0].message.startswith("this file is larger than 128 KiB")


def test_a_large_file_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "big.yaml"
    path.write_bytes(b"#" * (3 << 20))
    with pytest.raises(FormError, match="larger than 128 KiB"):
        read_form(path)


@pytest.mark.parametrize("opener", ["[", "{", "- ", "? "])
def test_deep_nesting_is_refused(opener):
    (problem,) = quick(full("", opener)).problems
    assert f"more than {MAX_DEPTH} levels deep" in problem.message
    assert problem.line == 1


def test_nesting_through_aliases_counts():
    rows = ["x:", "  - &a0 [A]"] + [f"  - &a{i} [*a{i - 1}]" for i in range(1, 40)]
    assert "deep" in str(quick(LEAST + "\n".join(rows), 1))


@pytest.mark.parametrize(
    "bars",
    ["| A ", "|%", "|Axy", "A", " /", "(", "A(push)", "(push)", "4/4(", "A A "],
)  # fmt: skip
def test_a_form_full_of_bars_is_refused_within_two_seconds(bars):
    before, after = LEAST.split('"| A | D |"')
    quick(full(f"{before}|\n      | A ", bars, after))
    quick(full(f'{before}"| A ', bars, f'"{after}'))


def test_a_form_full_of_lines_of_bars_is_read_within_two_seconds(reads):
    before, after = LEAST.split('"| A | D |"')
    text = full(f"{before}|\n      A", "\n      A", after)
    assert least_s(lambda: reads(text)) < MOST_SECONDS
    assert reads(text).sections["verse"].body_bars > 16_000


@pytest.mark.parametrize("start", ["!", "!!", "!<", "!a!", "%TAG ! "])
@pytest.mark.parametrize("more", ["a", "%41", "!", "(", "~"])
def test_a_long_tag_is_refused_within_two_seconds(start, more):
    for before in ("", "title: ", "form: [", "&a ", "- "):
        quick(full(before + start, more), 0.5)


@pytest.mark.parametrize(
    "piece",
    ["k: a\n", "- a\n", "? a\n", "- - - a\n", "a: {b: {c: []}}\n", "- &a a\n", "- *a\n"],
)
def test_a_form_full_of_lines_of_yaml_is_refused_within_two_seconds(piece):
    quick(full("x: &a a\ny:\n" if piece == "- *a\n" else "", piece))


@pytest.mark.parametrize(
    ("start", "piece"),
    [("x: [", "{a: 1}, "), ("x: [", f"{'[' * 20}{']' * 20}, "), ("x: [", "&a [], "),
     ("x: {", "a: b, "), ("x: [", "a b "), ("x: [", "a\n"), ("x: ", "a, "), ('x: "', "a\n"),
     ("x: |\n ", "\n\n "), ("x: >\n ", "a: b\n ")],
)  # fmt: skip
def test_a_value_full_of_anything_is_refused_within_two_seconds(start, piece):
    quick(full(start, piece))


@pytest.mark.parametrize("many", ["[], ", "{}, ", "[a], ", "{a: b}, "])
def test_lists_and_keys_count_as_values_too(many):
    assert "too large" in str(quick(full("x: [", many)))


def test_a_form_of_five_thousand_values_is_read_and_more_are_refused(reads):
    # The form, the keys title, tempo, sections and form with their values, the section, its bars.
    others = 1 + 2 * 4 + 2 + 2
    rows = "  - verse\n" * (5_000 - others)
    assert len(reads(LEAST.replace("  - verse\n", rows)).entries) == 5_000 - others
    assert "too large" in str(quick(LEAST.replace("  - verse\n", rows + "  - verse\n")))


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
        + "      A\n" * 7_000
        + f"    endings:\n{endings}form:\n"
        + "  - verse bars 1-1\n" * 2_000
    )
    assert len(text) < MOST_BYTES
    assert least_s(lambda: reads(text)) < MOST_SECONDS
    assert len(reads(text).entries) == 2_000


@pytest.mark.parametrize(
    ("of_pass", "entry", "entries"),
    [("{}", "verse bars 1-1", 2_900), ("{bars: A}", "verse", 900),
     ("{}", "{section: verse, ending: 9}", 500)],
)  # fmt: skip
def test_many_passes_and_many_entries_are_read_in_time(reads, of_pass, entry, entries):
    passes = "".join(f"      {number}: {of_pass}\n" for number in range(1, 1000))
    endings = "    endings: {1-9: E}\n" if "ending" in entry else ""
    text = LEAST.replace("form:\n", f"{endings}    on-pass:\n{passes}form:\n")
    text = text.replace("  - verse\n", f"  - {entry}\n" * entries)
    assert least_s(lambda: reads(text)) < MOST_SECONDS
    assert len(reads(text).entries) == entries


@pytest.mark.parametrize("start", ["title: *", "title: &a [*", "a: *b", "? *"])
@pytest.mark.parametrize("letters", ["a", "é", "a-"])
def test_no_message_repeats_a_long_word(start, letters):
    error = quick(full(start, letters))
    assert all(len(problem.message + problem.fix) < 600 for problem in error.problems)


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
