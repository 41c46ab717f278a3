"""`schema`: a JSON Schema of the form language."""

from __future__ import annotations

import click

from backing.commands.options import FORCE, checked_ending
from backing.commands.printing import print_value, say


@click.command()
@click.option("--out", metavar="FILE", help="Write to this file instead of printing.")
@FORCE
def schema(out: str | None, force: bool) -> None:
    """Print a JSON Schema of song files, for text editors.

    An editor with YAML support can then complete keys, explain them and mark mistakes.

    Example: backing schema --out song-form.json
    """
    import json

    from backing.form.schema import form_schema
    from backing.system.place import write_file

    if out is None:
        print_value(form_schema())
        return
    text = json.dumps(form_schema(), ensure_ascii=False, indent=2)
    write_file(checked_ending(out, (".json",), "a schema"), f"{text}\n".encode(), force)
    say(f"Wrote {out}")
