"""`python -m backing`."""

from backing.cli import main

main(prog_name="backing")
