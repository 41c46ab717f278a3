"""`schema`: the form language as a JSON Schema."""

from __future__ import annotations

import click

from backing.commands.options import FORCE, checked_ending


@click.command()
@click.option("--out", metavar="FILE", help="Write to a file instead of printing.")
@FORCE
def schema(out: str | None, force: bool) -> None:
    """Print the form language as a JSON Schema.

    Editors use it to complete and check YAML.

    Example: backing schema --out song-form.json
    """
    import json

    from backing.form.schema import form_schema
    from backing.system.place import write_file

    text = json.dumps(form_schema(), ensure_ascii=False, indent=2)
    if out is None:
        click.echo(text)
        return
    write_file(checked_ending(out, (".json",), "a schema"), f"{text}\n".encode(), force)
    click.echo(f"Wrote {out}")
