"""How much wider a block is made so that keys fit, and for which pieces."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from claybed.errors import CannotError
from claybed.flow.cutting import RoomError
from claybed.flow.sideways import aside
from claybed.materials import shelf
from claybed.proof.closings import close_one_way
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.parted import Layout

Made = tuple[Layout, Assembly, float, float]


def keyed_pieces(assembly: Assembly, brief: Brief) -> set[str]:
    """The pieces whose keys are worth a wider block: the first of two main ones that meet, and every side
    piece where a seam may have been led round a place or no two main ones meet.
    """
    sides = {piece.id for piece in assembly.pieces if aside(piece)}
    if assembly.base or ("A", "B") not in assembly.contacts:
        return sides
    return {"A"} | (sides if brief.keep_out else set())


def told_apart(assembly: Assembly) -> bool:
    """Whether the keys that a mold has let it close one way only: in a narrow block they can stand in a
    pattern that fits turned round as well.
    """
    return all(check.ok for check in close_one_way(assembly, keys_asked=False))


def key_rooms_mm() -> list[float]:
    """What is added to the wall in turn until keys fit, mm. Source: materials/practice."""
    step_mm = shelf.value("practice", "key_room_step_mm").value
    return [k * step_mm for k in range(int(shelf.value("practice", "key_room_most_mm").value / step_mm) + 1)]


def wider_still(
    made: Made | None, attempt: Callable[[float, bool], Made], brief: Brief, most_ml: float
) -> Made | None:
    """The mold in a block wider than usual where only that gives every side piece keys, else `made` as it is.

    Asked of molds whose main pieces do not meet: there nothing but its keys tells a side piece its place.
    `attempt` lays out and cuts with so much more wall, mm, and raises RoomError where wanted keys find no
    room; of what it makes at most `most_ml` may be left to fill. Source: materials/practice
    (key_room_sides_most_mm).
    """
    if made is None or not (made[1].base or ("A", "B") not in made[1].contacts):
        return made
    step_mm = shelf.value("practice", "key_room_step_mm").value
    room_mm = shelf.value("practice", "key_room_most_mm").value + step_mm
    while room_mm <= shelf.value("practice", "key_room_sides_most_mm").value:
        with contextlib.suppress(RoomError):
            try:
                wider = attempt(room_mm, True)
            except CannotError:
                return made
            if wider[3] <= most_ml and {key.bump_on for key in wider[1].keys} >= keyed_pieces(
                wider[1], brief
            ):
                return wider
        room_mm += step_mm
    return made
