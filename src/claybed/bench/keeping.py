"""What stands in a form besides the object, as sentences: fillers that keep a later piece's place, and set
pieces that a pour is made beside.
"""

from __future__ import annotations

from claybed.materials import shelf
from claybed.records.standing import Keeper, StandingPour
from claybed.units import say_length


def around_closed(pour: StandingPour, kept: set[str]) -> str:
    """What the form of a piece poured aside stands around, and which set pieces stand up in it."""
    says = "The form stands around the closed pieces, close against them on all sides."
    walls = [letter for letter in pour.beside if letter not in kept]
    if not walls or pour.own_mm is None:
        return says
    named = " and ".join(walls)
    up, it, ends = ("stands", "it", "is the wall") if len(walls) == 1 else ("stand", "them", "are the walls")
    x_mm, y_mm = pour.own_mm
    return (
        f"{says} Piece{'' if len(walls) == 1 else 's'} {named} {up} up in it as high as the fill line and "
        f"{ends} of this pour on that side: {say_length(x_mm)} × {say_length(y_mm)} are left to fill beside "
        f"{it}."
    )


def keeping_words(keeper: Keeper, pour: StandingPour) -> str:
    """How the place of a piece that is poured later is kept in this form."""
    if pour.aside or pour.order > 1:
        hollows = [(mm, deep_mm) for letter, mm, deep_mm in keeper.hollows if letter == pour.piece]
        keys = ""
        if hollows:
            mm, deep_mm = max(hollows)
            keys = (
                f" Hollow it at {len(hollows)} places for the keys of piece {pour.piece}, Ø {say_length(mm)} "
                f"and {say_length(deep_mm)} deep, in the face that {pour.piece} will stand on."
            )
        if pour.aside and keeper.piece not in pour.beside:
            return (
                f"The filler of piece {keeper.piece} stays in, under this pour: make its end flush with the "
                f"faces of the closed pieces, since {pour.piece} will stand on it too.{keys}"
            )
        return f"The filler of piece {keeper.piece} stays in; bring it up to the fill line with clay.{keys}"
    keys = ""
    if keeper.keys:
        keys = (
            f" with {keeper.keys} keys of clay on it, Ø {say_length(keeper.key_mm)} and "
            f"{say_length(keeper.key_deep_mm)} high, where its template “Filler {keeper.piece}” has them,"
        )
    behind = "fill the object's pocket behind it with clay, tight and smooth."
    if keeper.plug_mm > 0.0:
        behind = (
            f"close what locks behind it with a plug of clay, {say_length(keeper.plug_mm)} deep, that widens "
            "all round towards the filler as on the template, tight and smooth."
        )
    if keeper.bridges:
        gap, wall = ("gap", "a wall") if keeper.bridges == 1 else ("gaps", "walls")
        behind += (
            f" Leave the {keeper.bridges} {gap} across it open that the template shows: plaster stands there "
            f"as {wall} and holds what the plug goes round."
        )
    thick = f"{say_length(keeper.thick_mm)} thick (a waxed board or a slab of clay)"
    if keeper.thin_mm is not None:
        thick = (
            f"that is a wedge, {say_length(keeper.thin_mm)} thick at the {keeper.thin_at} and "
            f"{say_length(keeper.thick_mm)} at the {keeper.thick_at} (a waxed board packed out to that, "
            "or clay), its slope to the object"
        )
    sunk = ""
    if keeper.sunk_mm >= shelf.value("bench", "filler_sunk_least_mm").value:
        sunk = (
            f" The object reaches {say_length(keeper.sunk_mm)} into it: of clay it is pressed on round that, "
            "a board is cut out along the ring on the template."
        )
    ends = ""
    if keeper.ends_at:
        fillers, run = ("filler", "runs") if len(keeper.ends_at) == 1 else ("fillers", "run")
        ends = f" It ends at the {fillers} of {' and '.join(keeper.ends_at)}, which {run} on to the corner."
    return (
        f"On the side to the {keeper.side}, inside the form, stand a filler {thick},{keys} as high as the "
        f"fill line, and {behind}{sunk}{ends} It keeps the place of piece {keeper.piece}."
    )
