"""Options and arguments that several commands take."""

from __future__ import annotations

import click

FORMS = click.argument("forms", metavar="FORM...", nargs=-1, required=True)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON for scripts.")
QUIET = click.option("-q", "--quiet", is_flag=True, help="Print nothing but what is wrong.")
NO_COUNT_IN = click.option("--no-count-in", is_flag=True, help="Bar 1 stands at the file's start.")
