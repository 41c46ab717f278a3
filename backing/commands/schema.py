"""`schema`: the form language as a JSON Schema."""

from __future__ import annotations

import click


@click.command()
@click.option("--out", metavar="FILE", help="Write to a file in place of printing.")
def schema(out: str | None) -> None:
    """Print the form language as a JSON Schema, for editors that complete and check YAML.

    Example: backing schema --out song-form.json
    """
    import json
    from pathlib import Path

    from backing.files import write_whole
    from backing.form.schema import form_schema

    text = json.dumps(form_schema(), ensure_ascii=False, indent=2)
    if out is None:
        click.echo(text)
        return
    write_whole(Path(out), f"{text}\n".encode())
    click.echo(f"Wrote {out}")
