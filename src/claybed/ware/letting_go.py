"""What comes off in time where the clay grips its mold, in which order, and the words that tell it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


def opening_letters(plan: Mapping[str, Any]) -> tuple[str, ...]:
    """The letters of a plan document's pieces in the order in which they come off."""
    return tuple(str(p["id"]) for p in sorted(plan.get("pieces") or (), key=lambda p: int(p["order"])))


def held_pieces(grip: Mapping[str, Any], opening: Sequence[str]) -> tuple[str, ...]:
    """Those of `opening` that the clay grips: of `grip`, `piece` holds most, and `gripped` are all of them,
    absent from plans that knew the first alone.
    """
    return tuple(name for name in opening if name in (grip["piece"], *(grip.get("gripped") or ())))


def off_in_time(grip: Mapping[str, Any], opening: Sequence[str]) -> tuple[str, ...]:
    """The pieces that come off in time, in their order; none where the ware itself comes out, of one piece
    or of two that are both gripped.

    Two come off either first. More do in the order `opening` alone, as they lock in any other, so that all up
    to the last gripped one are off in time.
    """
    held = held_pieces(grip, opening)
    if len(opening) == 1 or len(opening) == len(held) == 2:
        return ()
    if len(opening) > 2 and held:
        return tuple(opening[: list(opening).index(held[-1]) + 1])
    return (str(grip["piece"]),)


def onto(grip: Mapping[str, Any], opening: Sequence[str]) -> str:
    """What the clay shrinks onto, after those words: one piece, or all that it grips and the one it grips
    most.
    """
    held = held_pieces(grip, opening)
    if len(held) < 2:
        return f"piece {grip['piece']}"
    return f"pieces {', '.join(held[:-1])} and {held[-1]}, most onto {grip['piece']},"


def in_time(grip: Mapping[str, Any], opening: Sequence[str]) -> str:
    """What is done where the clay grips, from a small letter on; " within", a time and since when follow."""
    off = off_in_time(grip, opening)
    if not off:
        return "take the ware out as soon as the clay keeps its shape,"
    if len(opening) <= 2:
        return f"take piece {off[0]} off first, as soon as the clay keeps its shape,"
    last = f"the ware is out of piece {off[-1]}" if len(off) == len(opening) else f"piece {off[-1]} is off"
    turn = f"in its own order, {', then '.join(off)}" if off[1:] else f"at piece {off[0]}, which comes first"
    return f"open the mold {turn}, as soon as the clay keeps its shape, so that {last}"
