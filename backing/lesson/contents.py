"""The page that lists a song's files, as HTML and as plain text: length, tempo, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from textwrap import fill
from typing import NamedTuple
from urllib.parse import quote

from backing.form.model import Form
from backing.form.practice_options import parts_in_words
from backing.practice.versions import Version
from backing.text.percent import decimal, exact_decimal, percent
from backing.text.tuning import tuned
from backing.theory.instruments import GUITAR, Instrument
from backing.theory.rhythm import note_value_text
from backing.theory.shells import VOICINGS

HTML, TEXT = "contents.html", "contents.txt"
#: What the files are for that a song has only one of.
ONCE = {
    "chart": "The song's chart, to print and put on the stand.",
    "page": "Open it in a browser: it plays the song at any speed and loops any bars.",
}
_COLUMNS = 78


class Row(NamedTuple):
    """An exercise, or a file for the whole song: its files, the one that a browser plays first.

    `sentence` says what to do, `note` what the teacher says about it.
    """

    files: tuple[str, ...]
    sentence: str
    ms: int = 0
    bpm: tuple[str, ...] = ()
    note: str = ""

    @property
    def length(self) -> str:
        """Minutes and seconds; empty if it has no length."""
        seconds = (self.ms + 500) // 1000
        return f"{seconds // 60}:{seconds % 60:02d}" if self.ms else ""

    @property
    def tempo(self) -> str:
        return f"{' to '.join(self.bpm)} bpm" if self.bpm else ""


def advice(version: Version, instrument: Instrument = GUITAR) -> str:
    """What a student of an instrument does with a version, as a sentence."""
    what, name = _of(version), instrument.title.lower()
    if version.trade:
        bars = "1 bar" if version.trade == 1 else f"{version.trade} bars"
        sentence = (
            f"Trade with the {name} in {what}: it plays {bars}, then you play {bars} on your own"
        )
    elif instrument.part in version.absent:
        sentence = f"The {name} is left out: you are the {instrument.player} of {what}"
    elif version.absent:
        absent = parts_in_words(version.absent, instrument)
        sentence = f"Play {what} without the {absent}: that is your part"
        if version.only:
            sentence = f"Play {what} with the {parts_in_words(version.only, instrument)} alone"
    else:
        sentence = f"Play along with {what}"
    return f"{sentence}{_how(version)}."


def _of(version: Version) -> str:
    if version.stretch is None:
        return "the whole song"
    name = str(version.stretch)
    return f"the {name}" if version.stretch.bars is None and name[0].islower() else name


def _how(version: Version) -> str:
    """The second half of the sentence: how often, how fast, in which key."""
    words = []
    if version.build_up:
        end = "first bar on" if version.build_up == "front" else "last bar back"
        times = f", each step {version.loop} times" if version.loop > 1 else ""
        words.append(f"a bar more each round, from the {end}{times}")
    if len(version.speeds) > 1:
        slow, fast = percent(version.speeds[0]), percent(version.speeds[-1])
        way = "faster" if version.speeds[-1] > version.speeds[0] else "slower"
        step = decimal(abs(version.speeds[1] - version.speeds[0]) * 100)
        points = "percentage point" if step == "1" else "percentage points"
        words.append(f"each time {way} by {step} {points} of full tempo, from {slow} to {fast}")
    elif version.loop > 1 and not version.build_up:
        words.append(f"{version.loop} times without stopping")
    if len(version.speeds) == 1:
        speed = version.speeds[0]
        if speed == 1:
            words.append("at full tempo")
        else:
            words.append(f"at {percent(speed)} of the tempo")
    if version.key is not None:
        words.append(f"in {version.key}")
    if version.transpose:
        way = "higher" if version.transpose > 0 else "lower"
        steps = "semitone" if abs(version.transpose) == 1 else "semitones"
        words.append(f"{abs(version.transpose)} {steps} {way}")
    if version.capo is not None:
        words.append(f"with the capo at fret {version.capo}" if version.capo else "without a capo")
    if version.easier:
        words.append("with easier shapes")
    return f", {', '.join(words)}" if words else ""


def text(form: Form, rows: Sequence[Row]) -> str:
    """The contents as plain text."""
    lines = [form.title, *_named(form), facts(form), ""]
    for row in rows:
        *more, last = row.files
        lines += more
        lines.append("   ".join(one for one in (last, row.length, row.tempo) if one))
        for said in filter(None, (row.sentence, row.note)):
            lines.append(fill(said, _COLUMNS, initial_indent="    ", subsequent_indent="    "))
    return "\n".join(lines) + "\n"


def html(form: Form, rows: Sequence[Row], sounds: frozenset[str]) -> str:
    """The contents as an HTML page; files with an ending in `sounds` can be played in it."""
    body = "\n".join(_row(row, sounds) for row in rows)
    by = "".join(f"<p>{escape(line)}</p>\n" for line in _named(form))
    return _PAGE.format(
        title=escape(form.title), by=by, facts=escape(facts(form)), style=_STYLE, rows=body
    )


def _named(form: Form) -> list[str]:
    """Who wrote the song, and whom the folder is for."""
    return [f"{word} {name}" for word, name in (("by", form.by), ("for", form.student)) if name]


def facts(form: Form) -> str:
    """Key, capo and meter, and the tempo that percentages refer to."""
    tempo = form.settings.tempo
    assert tempo is not None
    assert tempo.bpm is not None
    assert tempo.beat_whole is not None
    words = [f"for {form.instrument.name}"] if form.instrument is not GUITAR else []
    words += [f"key {form.key}"] if form.key is not None else []
    words += [f"capo {form.capo}"] if form.capo else []
    if form.own_tuning != form.instrument.tuning:
        words.append(tuned(form.own_tuning, form.key))
    words += filter(None, [VOICINGS[form.voicing]])
    counted = (
        f"{exact_decimal(tempo.bpm)} bpm as written, counting {note_value_text(tempo.beat_whole)}"
    )
    return ", ".join([*words, str(form.meter), counted])


def _row(row: Row, sounds: frozenset[str]) -> str:
    links = "<br>".join(f'<a href="{quote(name)}">{escape(name)}</a>' for name in row.files)
    sound = next((name for name in row.files if name[name.rfind(".") :] in sounds), None)
    player = f'<br><audio controls preload="none" src="{quote(sound)}"></audio>' if sound else ""
    note = f"<br><em>{escape(row.note)}</em>" if row.note else ""
    return (
        f"<tr><td>{links}{player}</td><td>{row.length}</td>"
        f"<td>{row.tempo}</td><td>{escape(row.sentence)}{note}</td></tr>"
    )


_STYLE = """\
:root { color-scheme: light dark; --line: #8888; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem;
  background: Canvas; color: CanvasText; }
h1 { margin: 0; }
table { border-collapse: collapse; width: 100%; margin-top: 1rem; }
th, td { text-align: left; vertical-align: top; padding: .5rem .75rem .5rem 0;
  border-bottom: 1px solid var(--line); }
td:nth-child(2), td:nth-child(3) { white-space: nowrap; font-variant-numeric: tabular-nums; }
a { color: LinkText; overflow-wrap: anywhere; }
audio { width: 100%; min-width: 14rem; margin-top: .25rem; }
@media (max-width: 40rem) {
  tr { display: block; border-bottom: 1px solid var(--line); padding: .5rem 0; }
  th { display: none; }
  td { display: block; border: 0; padding: .1rem 0; }
  td:empty { display: none; }
}
"""

_PAGE = """\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
{style}</style>
</head>
<body>
<h1>{title}</h1>
{by}<p>{facts}</p>
<table>
<thead><tr><th scope="col">File</th><th scope="col">Length</th><th scope="col">Tempo</th>\
<th scope="col">What to do</th></tr></thead>
<tbody>
{rows}
</tbody>
</table>
</body>
</html>
"""
