"""What the shell offers at the Tab key for the commands' options and arguments.

One table, by the name that is typed; a parameter that isn't in it completes nothing but itself.
The functions get what the line holds so far, and return every word that may stand there: the
shell keeps those that begin with what is typed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import click
from click.shell_completion import CompletionItem
from click.types import StringParamType

if TYPE_CHECKING:
    from backing.form import Form

Offer = Callable[[click.Context, str], Iterable[str]]


def _demos(context: click.Context, typed: str) -> Iterable[str]:
    from backing.form.demos import demo_names

    return demo_names()


def _formats(context: click.Context, typed: str) -> Iterable[str]:
    from backing.audio.encode import FORMATS

    return _listed(FORMATS, typed)


def _keys(context: click.Context, typed: str) -> Iterable[str]:
    """Every key that a signature can show, the major ones first."""
    from backing.theory.keys import Key
    from backing.theory.pitch import LETTERS, PitchName

    for minor in (False, True):
        for letter in LETTERS:
            for accidental in (0, 1, -1):
                try:
                    yield str(Key(PitchName(letter, accidental), minor))
                except ValueError:
                    continue


def _instruments(context: click.Context, typed: str) -> Iterable[str]:
    from backing.form.starter_strings import typed_name as word
    from backing.theory.instruments import INSTRUMENTS

    return map(word, INSTRUMENTS)


def _tunings(context: click.Context, typed: str) -> Iterable[str]:
    """The named tunings of the instrument on the line."""
    from backing.errors import BackingError
    from backing.form.starter_strings import read_strings
    from backing.form.starter_strings import typed_name as word
    from backing.theory.tunings import NAMED

    try:
        strings = read_strings(context.params.get("instrument"), None)
    except BackingError:
        return []
    return map(word, NAMED[strings.instrument.name])


def _build_ups(context: click.Context, typed: str) -> Iterable[str]:
    from backing.form.practice_options import BUILD_UPS

    return BUILD_UPS


def _parts(context: click.Context, typed: str) -> Iterable[str]:
    from backing.form.parts import PARTS

    return _listed(PARTS, typed)


def _arrangements(context: click.Context, typed: str) -> Iterable[str]:
    """The arrangements of the forms on the line."""
    return _one_word(name for form in _forms(context) for name in form.arrangements)


def _sections(context: click.Context, typed: str) -> Iterable[str]:
    """The sections of the forms on the line, or the second of two: `verse..chorus`."""
    names = _one_word(entry.section for form in _forms(context) for entry in form.entries)
    first, dots, _ = typed.partition("..")
    return [f"{first}{dots}{name}" if dots else name for name in names]


def _one_word(names: Iterable[str]) -> list[str]:
    """Names without a space, each once: not every shell would quote one that has a space."""
    return list(dict.fromkeys(name for name in names if " " not in name))


def _forms(context: click.Context) -> list[Form]:
    """The forms on the line that can be read."""
    from backing.errors import BackingError
    from backing.form import read_form

    # An option that has no value yet can leave the arguments unread.
    given = [*context.args, *(context.params.get("forms") or ())]
    forms = []
    for path in given:
        try:
            forms.append(read_form(path))
        except BackingError:
            continue
    return forms


def _listed(words: Iterable[str], typed: str) -> list[str]:
    """The words that may follow those before the last comma."""
    before, comma, _ = typed.rpartition(",")
    return [f"{before}{comma}{word}" for word in words if word not in before.split(",")]


#: The words that are offered for a value.
WORDS: MappingProxyType[str, Offer] = MappingProxyType(
    {
        "arrangement": _arrangements,
        "audio": _formats,
        "build-up": _build_ups,
        "demo": _demos,
        "instrument": _instruments,
        "key": _keys,
        "only": _parts,
        "section": _sections,
        "tuning": _tunings,
        "without": _parts,
    }
)
#: Parameters that take a file, or a folder where the help calls the value DIR.
FILES = ("file", "form", "form-out", "forms", "out", "soundfont")


class _Completed(StringParamType):
    """Text, with what the shell offers for it."""

    def __init__(self, offer: Offer | None, path: str) -> None:
        self.offer, self.path = offer, path

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        if self.offer is None:
            return [CompletionItem(incomplete, type=self.path)]
        words = self.offer(ctx, incomplete)
        return [CompletionItem(word) for word in words if word.startswith(incomplete)]


def typed_name(parameter: click.Parameter) -> str:
    """An option's name without its dashes, or an argument's name."""
    if isinstance(parameter, click.Option):
        return max(parameter.opts, key=len).lstrip("-")
    return str(parameter.name)


def with_completion(command: click.Command) -> click.Command:
    """The command, made ready to answer the shell; for the run that completes, not for others."""
    for parameter in command.get_params(click.Context(command)):
        name = typed_name(parameter)
        if name in WORDS or name in FILES:
            path = "dir" if parameter.metavar == "DIR" else "file"
            kind: Any = _Completed(WORDS.get(name), path)
            parameter.type = kind
    return command
