"""The commands below `claybed object`, one module each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from claybed.cli.commands import add, group
from claybed.cli.object import displaced, extrude, photo, photos, relief, revolve, scan, shape, show, turn

app = group(
    "object",
    "Make an object file from what you can measure; plan, survey and mix take it like a mesh.",
    example="claybed object show gourd.claybed",
    no_args_is_help=True,
)
_COMMANDS: Final[tuple[tuple[Callable[..., int | None], str], ...]] = (
    (turn.turn, "claybed object turn readings.csv --reading 0.5mm --out vase.claybed"),
    (shape.shape, "claybed object shape tile 100x100x12mm --corner 3mm --out tile.claybed"),
    (revolve.revolve, "claybed object revolve profile.svg --axis left --size 180mm"),
    (extrude.extrude, "claybed object extrude leaf.dxf --thick 18mm --draft 6"),
    (relief.relief, "claybed object relief fern.png --width 120mm --raised 4mm"),
    (scan.scan, "claybed object scan rough.ply --height 180mm --out gourd.claybed"),
    (
        displaced.displaced,
        "claybed object displaced --water 640g --mass 310g --box 120x90x180mm --out gourd.claybed",
    ),
    (photo.photo, "claybed object photo vase.jpg --bar 149.2mm --check vase-outline.jpg"),
    (photos.photos, "claybed object photos ring/*.jpg --bar 149.2mm --out jug.claybed"),
    (show.show, "claybed object show gourd.claybed --why"),
)
for _command, _example in _COMMANDS:
    add(app, _command, _example)
