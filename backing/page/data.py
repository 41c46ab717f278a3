"""A form as the page's script reads it: bars, passes, chords, riffs and the click, in seconds.

Times are exact ones rounded once to a double, from bar 1's bar line at the tempo as written;
a pickup's are negative. What sounds is worked out in `notes`, what a chord looks like in
`shape_data`; `page_json` has the types.
"""

from __future__ import annotations

from fractions import Fraction
from hashlib import sha256

from backing.form.model import Feel, Form, Tempo
from backing.page.bar_data import Grids, bar_places, bar_table
from backing.page.limits import LIMITS, PLAYBACK
from backing.page.page_json import SongData, TempoData
from backing.page.pass_data import pass_table
from backing.page.riff_data import riff_table
from backing.page.shape_data import ChordTable
from backing.practice.exercise_notes import exercise_notes
from backing.text.credits import credits_
from backing.text.feel import feel
from backing.text.tempo import beats_per_minute, equation, note_value_name
from backing.theory.instruments import GUITAR
from backing.theory.pitch import note_name
from backing.theory.shells import VOICINGS
from backing.timeline import Timeline


def song_data(timeline: Timeline) -> SongData:
    """Everything the page shows of a song, and its click; parts and samples are added later."""
    form = timeline.form
    zero = timeline.seconds(timeline.start_whole)

    def at(whole: Fraction) -> float:
        return float(timeline.seconds(whole) - zero)

    chords = ChordTable(timeline)
    grids = Grids()
    places = list(bar_places(timeline))
    bars = bar_table(timeline, places, at, chords, grids)
    return {
        "title": form.title,
        "by": credits_(form.by, form.student),
        "id": sha256(f"{form.title}\n{form.by}".encode()).hexdigest()[:16],
        "lang": "en",
        "key": str(form.key or ""),
        "soundingKey": str(form.key.transposed(form.capo) if form.key else ""),
        "capo": form.capo,
        "instrument": "" if form.instrument is GUITAR else form.instrument.name,
        "tuning": _tuning(form),
        "voicing": VOICINGS[form.voicing],
        "meter": str(form.meter),
        "feel": _feel(form.settings.feel),
        "notes": [*filter(None, (form.settings.note, *exercise_notes(form)))],
        "tempo": _tempo(form),
        "countIn": form.count_in_bars,
        "end": at(timeline.end_whole),
        "ring": at(timeline.end_whole + timeline.ring_out_whole) - at(timeline.end_whole),
        "grids": grids.table,
        "bars": bars,
        "chords": chords.table,
        "shapes": chords.shapes,
        "passes": pass_table(timeline, bars),
        "riffs": riff_table(timeline, at),
        "limits": LIMITS,
        "playback": PLAYBACK,
    }


def _tempo(form: Form) -> TempoData:
    tempo = form.settings.tempo or Tempo()
    bpm, beat = tempo.bpm or Fraction(0), note_value_name(tempo.beat_whole or Fraction(1, 4))
    return {"bpm": float(bpm), "beat": beat, "text": equation(beat, beats_per_minute(bpm))}


def _tuning(form: Form) -> str:
    if form.own_tuning == form.instrument.tuning:
        return ""
    return " ".join(note_name(note) for note in form.own_tuning)


def _feel(form_feel: Feel | None) -> str:
    """The song's feel in words, where it isn't straight."""
    if form_feel is None or form_feel.ratio == 1:
        return ""
    return feel(form_feel.ratio, form_feel.level_whole)
