"""What a form writes and nothing plays: patterns without a part, endings that a cut never reaches.

None of it is an error; `check` prints a line for each.
"""

from __future__ import annotations

from collections.abc import Iterator

from backing.errors import Problem
from backing.form.kinds import quoted
from backing.form.model import ONE_OF_THESE, Entry, Form, Section, Settings
from backing.form.passes import passes_played, set_by_pass, varied_passes
from backing.form.source import Source, read_source
from backing.form.tree import Node, compose


def unused(data: bytes, name: str, form: Form) -> tuple[Problem, ...]:
    """Each place of a form whose text changes nothing, in the order of the file.

    Args:
        data: the form's bytes, as they were read.
        name: what messages call it.
        form: what was read from them.
    """
    source = read_source(data, name)
    root = compose(source)
    if root is None:
        return ()
    return tuple(sorted([*_patterns(root, source, form), *_ignored_endings(root, source, form)]))


def _patterns(root: Node, source: Source, form: Form) -> Iterator[Problem]:
    used = _used(form)
    for table, what in (("strums", "strum"), ("picks", "pick"), ("riffs", "riff")):
        for key in _keys(root, table):
            if (what, _tidy(key.text)) not in used:
                says = f"no part plays the {what} {quoted(key.text)}."
                yield Problem(*source.place(key.start), says, f"Give a part  {what}: {key.text}")
    for key in _keys(root, "arrangements"):
        if ("arrangement", _tidy(key.text)) not in used:
            says = f"nothing here asks for the arrangement {quoted(key.text)}."
            fix = f"Write  arrangement: {key.text}  in a section, a line or an exercise."
            yield Problem(*source.place(key.start), says, fix)


def _keys(root: Node, table: str) -> list[Node]:
    """The names of what a table of the song defines."""
    tables = (value for key, value in root.pairs if key.text == table)
    return [key for value in tables for key, _ in value.pairs]


def _tidy(name: str) -> str:
    return " ".join(name.split())


def _used(form: Form) -> set[tuple[str, str]]:
    """Every strum, pick, riff and arrangement that is asked for by its name."""
    used = {("arrangement", exercise.arrangement) for exercise in form.practice.exercises}
    parts = [form.pickup_parts, *(each.parts for each in form.arrangements.values())]
    for settings in _settings(form):
        parts.append(settings.parts)
        if settings.arrangement is not None:
            used.add(("arrangement", settings.arrangement.name))
    for part in (part for of in parts for part in of.values()):
        used |= {
            (key, name) for key in ONE_OF_THESE if isinstance(name := part.values.get(key), str)
        }
    return used


def _settings(form: Form) -> Iterator[Settings]:
    """What the song, its sections, its lines and their passes set."""
    yield form.settings
    for section in form.sections.values():
        yield section.settings
        yield from (one.settings for one in section.on_pass.values())
    for entry in form.entries:
        yield entry.settings
        yield from (one.settings for one in entry.on_pass.values())


def _ignored_endings(root: Node, source: Source, form: Form) -> Iterator[Problem]:
    ignored = {
        (entry.section, entry.bars, entry.ending)
        for entry in form.entries
        if entry.ending is not None and not _reaches(entry, form.sections[entry.section])
    }
    lines = [item for key, value in root.pairs if key.text == "form" for item in value.items]
    for line in lines:
        written = {key.text: value for key, value in line.pairs}
        if {"section", "bars", "ending"} <= written.keys():
            first, _, last = written["bars"].text.partition("-")
            bars = int(first), int(last or first)
            number = written["ending"].text.strip()
            if (written["section"].text.strip(), bars, int(number)) in ignored:
                says = f"bars {first.strip()}-{bars[1]} end before ending {number} begins."
                place = source.place(written["ending"].start)
                yield Problem(*place, says, "Remove the key ending, or take more bars.")


def _reaches(entry: Entry, section: Section) -> bool:
    """Whether a line plays a bar of its ending in any of its passes."""
    if entry.bars is None:
        return True
    bodies = [section.body_bars] if passes_played(entry, section) else []
    for number in varied_passes(entry, section):
        own = set_by_pass(entry, section, number)
        if own is not None and own.rows is not None:
            bodies.append(sum(map(len, own.rows)))
    return entry.bars[1] > min(bodies)
