"""The practice page: one HTML file with the song's chart, its notes and its samples."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path

    from backing.audio.soundfonts import Soundfont
    from backing.form import Form
    from backing.page.page_json import ClickSoundData, PageData, PartData, SongData
    from backing.page.sprite import Sprite

__all__ = ["Page", "make_page"]

#: Licenses under which a page with a soundfont's samples in it may be passed on freely.
PERMISSIVE = ("MIT", "GeneralUser GS license (free for any use)")


class Page(NamedTuple):
    """A page's text, the soundfont whose samples are in it, and sentences for the user."""

    html: str
    soundfont: Soundfont
    warnings: tuple[str, ...]


def make_page(
    form: Form, soundfont: str | None = None, seed: int = 0, folder: Path | None = None
) -> Page:
    """Make a form's practice page; the same form, seed and soundfont give the same page.

    >>> import backing
    >>> made = backing.make_page(backing.read_form("song.yaml"))
    >>> "<title>Two Gates" in made.html
    True

    Args:
        form: as read.
        soundfont: the path of a soundfont (.sf2); None takes the first with a permissive license,
            or else the first.
        seed: which of many performances, as for `build`; any whole number.
        folder: where unfinished sound goes (up to 200 MB); None uses the system's folder for
            temporary files.

    Returns:
        The page (`html`), the soundfont whose samples are in it, and sentences for the user.

    Raises:
        BackingError: an engine or a soundfont is missing, or the engine failed.
    """
    from contextlib import nullcontext

    from backing.audio.engines import advice, choose
    from backing.audio.mixing import mixer_for
    from backing.page.assemble import assemble
    from backing.page.data import song_data
    from backing.page.levels import click_sounds, leveled
    from backing.page.notes import clicks, played_parts
    from backing.page.sprite import sprite
    from backing.players import play
    from backing.players.human import humanize
    from backing.system.work import temporary_folder
    from backing.timeline import unroll

    engine, source = choose(), choose_soundfont(soundfont)
    timeline = unroll(form)
    song = song_data(timeline)
    score = humanize(play(timeline), form.human, seed)
    with nullcontext(folder) if folder else temporary_folder() as unfinished:
        mixer = mixer_for(score, source, engine, unfinished)
        gains, shortened = mixer.gains, mixer.calibration.shortened()
        played = played_parts(score, timeline, gains)
        made = sprite(played.needs, clicks(song), source, engine, unfinished, shortened)
    parts, gain = leveled(played.parts, made, song["end"])
    data = _page_data(song, parts, gain, made, click_sounds(made, gains, gain))
    warnings = tuple(one for one in (advice(engine), *made.warnings) if one)
    return Page(assemble(data, made.encoded, made.clicks), made.soundfont, warnings)


def _page_data(
    song: SongData,
    parts: list[PartData],
    gain: float,
    made: Sprite,
    clicks: dict[str, ClickSoundData],
) -> PageData:
    """All that the page's scripts are given."""
    from backing.page.sprite import MARKER_S, MARKER_WITHIN_S, MIME

    return {
        **song,
        "gain": gain,
        "parts": parts,
        "click": {"rate": made.rate, "sounds": clicks},
        "sprite": {
            "mime": MIME,
            "rate": made.rate,
            "marker": MARKER_S,
            "markerWithin": MARKER_WITHIN_S,
        },
        "samples": made.table,
        "soundfont": {"name": made.soundfont.name, "license": made.soundfont.license or ""},
    }


def choose_soundfont(option: str | None = None) -> Soundfont:
    """The soundfont for a page: the one named, else the first that may be passed on freely.

    Raises:
        BackingError: the one named is damaged or missing, or there is none at all.
    """
    import os

    from backing.audio.soundfonts import VARIABLE, choose, find

    if option is None and not os.environ.get(VARIABLE):
        for found in find():
            if found.license in PERMISSIVE:
                return found
    return choose(option)
