"""The commands below `claybed object`, one module each."""

from __future__ import annotations

import typer

from claybed.cli.object import show, turn

app = typer.Typer(
    name="object",
    help="Makes an object file from what you can measure; plan, survey and mix take it like a mesh.",
    epilog="Example: claybed object show gourd.claybed",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command(epilog="Example: claybed object show gourd.claybed --why")(show.show)
app.command(epilog="Example: claybed object turn readings.csv --reading 0.5mm --out vase.claybed")(turn.turn)
