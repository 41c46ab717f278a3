"""The song's words as lyrics, each at the bar line of its bar.

Source: "SMF Lyric Meta Event Definition" (MIDI Manufacturers Association, RP-017): a space ends
a word, a carriage return (0D) a line, and a line feed (0A) a paragraph. A line is a row of bars as
typed, a paragraph a pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from backing.form.words import SongWords
from backing.score import Words
from backing.timeline import Bar, Timeline

WORD_END, LINE_END, PARAGRAPH_END = " ", "\r", "\n"


def sung_words(timeline: Timeline) -> tuple[Words, ...]:
    """The words of all bars in playing order, with what ends them."""
    words = SongWords(timeline.form)
    found: list[Words] = []
    for _, of_pass in groupby(timeline.bars, key=lambda bar: id(bar.playing)):
        found += _of_pass(timeline, words, list(of_pass))
    return tuple(found)


def _of_pass(timeline: Timeline, words: SongWords, bars: Sequence[Bar]) -> list[Words]:
    playing = bars[0].playing
    texts = words.of(playing.entry, playing.number)
    if not texts:
        return []
    cut = timeline.form.entries[playing.entry].bars
    first = cut[0] - 1 if cut else 0
    sung = [(bar, texts[bar.pattern_bar - first]) for bar in bars]
    sung = [(bar, own) for bar, own in sung if own.text]
    found = []
    for index, (bar, (text, row)) in enumerate(sung):
        last = index == len(sung) - 1
        line_ends = not last and sung[index + 1][1].row != row
        end = PARAGRAPH_END if last else LINE_END if line_ends else WORD_END
        found.append(Words(bar.start_whole, text + end))
    return found
