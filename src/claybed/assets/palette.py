"""The colours of paper, pictures and the 3D view, as hex text; light bench and dark bench.

Text on its ground keeps a contrast of at least 5.1 : 1. Nothing is told by colour alone: what locks is
hatched, pieces carry their letter, checks carry a mark and a word.
"""

from __future__ import annotations

from claybed.geometry.origins import Origin

LIGHT = {
    "ground": "#F6F1E7",
    "sheet": "#FFFDF8",
    "text": "#2A3036",
    "quiet": "#5F5A50",
    "act": "#A8481F",
    "holds": "#35705C",
    "look": "#8A5A00",
    "stop": "#8C2332",
    "water": "#2C4A8A",
    "rule": "#D9D0BF",
}

DARK = {
    "ground": "#22282D",
    "sheet": "#2C3339",
    "text": "#F1ECE2",
    "quiet": "#B9B2A4",
    "act": "#E89A73",
    "holds": "#8CC7AE",
    "look": "#E3B65C",
    "stop": "#E58A93",
    "water": "#9DB6EA",
    "rule": "#4A535B",
}

PLASTER = "#CFC8BA"
FRESH = "#EFE9DC"
OXIDE = "#8C2332"
OXIDE_PALE = "#D9A6A4"
SLATE = "#2A3036"
GATE = "#E9D9A8"

# Slate to plaster by even steps of lightness; the last is lighter than the ground of any printer.
WALL_RAMP = ("#2A3036", "#55595B", "#848480", "#B6B1A6", "#EAE3D4")
CONTOUR = "#A8481F"

# Sand and blue-grey for the first two; the rest differ in lightness as well as hue, so that the first four
# stay apart in grey, and for eyes that lack one kind of cone.
PIECES = ("#D8BE8E", "#8FA3B3", "#A36A5B", "#6F8F7F", "#E4D7A8", "#7D7796")


def css_variables() -> str:
    """Both benches as CSS variables: the light one, the dark one where it is preferred or chosen."""
    light, dark = (";".join(f"--{name}:{value}" for name, value in table.items()) for table in (LIGHT, DARK))
    return (
        f":root{{{light};color-scheme:light}}"
        f"@media (prefers-color-scheme:dark){{:root:not([data-bench=light]){{{dark};color-scheme:dark}}}}"
        f":root[data-bench=dark]{{{dark};color-scheme:dark}}"
    )


def piece_colour(index: int) -> str:
    """The colour of the piece at `index` (0 for piece A); repeats after six, where the letter tells them
    apart."""
    return PIECES[index % len(PIECES)]


def face_colours(piece: str | None = None) -> dict[Origin, str]:
    """Colour by what a face comes from.

    `piece` is the piece's own colour; None gives the colours of the model, which is plaster grey all over
    but for its fill and gate.
    """
    body = piece if piece is not None else PLASTER
    cavity = FRESH if piece is not None else PLASTER
    return {
        Origin.OBJECT: cavity,
        Origin.MOUTH: cavity,
        Origin.MEND: cavity,
        Origin.FILL: OXIDE,
        Origin.GATE: GATE,
        Origin.KEY: body,
        Origin.PARTING: body,
        Origin.OUTSIDE: body,
    }


def rgb(colour: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255, of a text like "#2A3036"; raises ValueError for any other form."""
    if len(colour) != 7 or not colour.startswith("#"):
        raise ValueError(f"not a colour: {colour!r}")
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
