"""The typesetter: turns a source into pages. One compiler serves all charts of a process."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from backing.errors import BackingError, raise_shortage
from backing.system.cores import usable_cores
from backing.system.install import install_command
from backing.system.shortages import need_memory, need_threads

if TYPE_CHECKING:
    from typst import Compiler

FORMATS = ("pdf", "svg", "png")
DOTS = 150.0
#: The memory that it needs, in bytes: with too little, it ends the process (seen with 80 MB).
NEEDED_BYTES = 192 << 20


def typeset(
    source: str, kind: str = "pdf", system_fonts: bool = False, dots: float = DOTS
) -> tuple[bytes, ...]:
    """Typeset a source.

    Args:
        source: as `typeset.source` makes it.
        kind: pdf, svg or png.
        system_fonts: whether the machine's fonts may be used as well.
        dots: of a PNG, per inch.

    Returns:
        One PDF, or an SVG or PNG for each page.

    Raises:
        BackingError: the typesetter is not installed, or it refused the source, for example
            because something is too large for a page; or there is not enough memory.
    """
    compiler = _compiler(system_fonts)
    from typst import TypstError

    try:
        made = compiler.compile(
            input=source.encode("utf-8"),
            format=kind,  # type: ignore[arg-type]
            ppi=dots if kind == "png" else None,
            timestamp=0,
        )
    except TypstError as error:
        # The template's own errors are sentences, after this prefix.
        what = " ".join(error.message.removeprefix("panicked with: ").split())
        raise BackingError(f"the chart can't be typeset: {what}") from None
    except BaseException as error:  # a panic of the typesetter is not an Exception
        raise_shortage(error)
        raise
    if isinstance(made, list):
        return tuple(made)
    assert made is not None
    return (made,)


def ask(source: str, label: str) -> str:
    """The metadata under a label in a source, as JSON; the machine's fonts are used."""
    _compiler(True)
    from typst import Compiler

    compiler = Compiler(input=source.encode("utf-8"))
    return compiler.query(label, field="value", one=True, format="json")


@lru_cache(maxsize=2)
def _compiler(system_fonts: bool) -> Compiler:
    try:
        need_memory(NEEDED_BYTES)
        need_threads(usable_cores() + 1)
        from typst import Compiler
    except (ImportError, MemoryError, RuntimeError) as error:
        raise_shortage(error)
        if not isinstance(error, ImportError):
            raise
        what = f"a chart needs the typesetter. To install it: {install_command('chart')}"
        raise BackingError(what) from None
    return Compiler(ignore_system_fonts=not system_fonts)
