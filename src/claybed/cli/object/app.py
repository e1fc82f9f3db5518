"""The commands below `claybed object`, one module each."""

from __future__ import annotations

import typer

from claybed.cli.object import displaced, extrude, photo, photos, relief, revolve, scan, shape, show, turn

app = typer.Typer(
    name="object",
    help="Makes an object file from what you can measure; plan, survey and mix take it like a mesh.",
    epilog="Example: claybed object show gourd.claybed",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command(epilog="Example: claybed object turn readings.csv --reading 0.5mm --out vase.claybed")(turn.turn)
app.command(epilog="Example: claybed object shape tile 100x100x12mm --corner 3mm --out tile.claybed")(
    shape.shape
)
app.command(epilog="Example: claybed object revolve profile.svg --axis left --size 180mm")(revolve.revolve)
app.command(epilog="Example: claybed object extrude leaf.dxf --thick 18mm --draft 6")(extrude.extrude)
app.command(epilog="Example: claybed object relief fern.png --width 120mm --raised 4mm")(relief.relief)
app.command(epilog="Example: claybed object scan rough.ply --height 180mm --out gourd.claybed")(scan.scan)
app.command(
    epilog="Example: claybed object displaced --water 640g --mass 310g --box 120x90x180mm --out gourd.claybed"
)(displaced.displaced)
app.command(epilog="Example: claybed object photo vase.jpg --bar 149.2mm --check vase-outline.jpg")(
    photo.photo
)
app.command(epilog="Example: claybed object photos ring/*.jpg --bar 149.2mm --out jug.claybed")(photos.photos)
app.command(epilog="Example: claybed object show gourd.claybed --why")(show.show)
