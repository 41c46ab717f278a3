"""The practice page: one HTML file with the song's chart, its notes and its samples."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from backing.audio.soundfonts import Soundfont
    from backing.form import Form

__all__ = ["Page", "make_page"]

#: Licenses under which a page with a bank's samples in it may be passed on freely.
PERMISSIVE = ("MIT", "GeneralUser GS license (free for any use)")


class Page(NamedTuple):
    """A page's text, the bank whose samples are in it, and sentences for the user."""

    html: str
    soundfont: Soundfont
    remarks: tuple[str, ...]


def make_page(form: Form, soundfont: str | None = None, seed: int = 0) -> Page:
    """Make a form's practice page; the same form, seed and soundfont give the same page.

    >>> import backing
    >>> made = backing.make_page(backing.read_form("song.yaml"))
    >>> "<title>Two Gates" in made.html
    True

    Args:
        form: as read.
        soundfont: the path of an .sf2 bank; None takes the first with a permissive license, or
            else the first.
        seed: which of many performances, as `build` has it; any whole number.

    Returns:
        The page (`html`), the soundfont whose samples are in it, and sentences for the user.

    Raises:
        BackingError: an engine or a soundfont is missing, or the engine failed.
    """
    from backing.audio.engines import advice, choose
    from backing.page.assemble import assemble
    from backing.page.data import song_data
    from backing.page.levels import click_gains, level
    from backing.page.notes import clicks, sounding
    from backing.page.sprite import MARKER_S, MIME, sprite
    from backing.players import play
    from backing.players.human import humanize
    from backing.timeline import unroll

    engine, bank = choose(), choose_bank(soundfont)
    timeline = unroll(form)
    data = song_data(timeline)
    heard = sounding(humanize(play(timeline), form.human, seed), timeline)
    made = sprite(heard.needs, clicks(data), bank, engine)
    data |= {
        "gain": level(heard.parts, made, data["end"]),
        "parts": heard.parts,
        "click": {"gains": click_gains(), "rate": made.rate, "sounds": made.click_places},
        "sprite": {"mime": MIME, "rate": made.rate, "marker": MARKER_S},
        "samples": made.table,
        "bank": {"name": made.soundfont.name, "license": made.soundfont.license or ""},
    }
    remarks = tuple(remark for remark in (advice(engine), *made.warnings) if remark)
    return Page(assemble(data, made.encoded, made.clicks), made.soundfont, remarks)


def choose_bank(option: str | None = None) -> Soundfont:
    """The bank for a page: the one asked for, else the first that may be passed on freely.

    Raises:
        BackingError: the bank asked for is damaged or not there, or there is none at all.
    """
    import os

    from backing.audio.soundfonts import VARIABLE, choose, find

    if option is None and not os.environ.get(VARIABLE):
        for bank in find():
            if bank.license in PERMISSIVE:
                return bank
    return choose(option)
