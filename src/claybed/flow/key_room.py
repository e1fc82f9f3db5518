"""How much wider a block is made so that keys fit, and for which pieces."""

from __future__ import annotations

from claybed.flow.sideways import aside
from claybed.materials import shelf
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief


def keyed_pieces(assembly: Assembly, brief: Brief) -> set[str]:
    """The pieces whose keys are worth a wider block: the first of two main ones that meet, and every side
    piece where a seam may have been led round a place or no two main ones meet.
    """
    sides = {piece.id for piece in assembly.pieces if aside(piece)}
    if assembly.base or ("A", "B") not in assembly.contacts:
        return sides
    return {"A"} | (sides if brief.keep_out else set())


def key_rooms_mm() -> list[float]:
    """What is added to the wall in turn until keys fit, mm. Source: materials/practice."""
    step_mm = shelf.value("practice", "key_room_step_mm").value
    return [k * step_mm for k in range(int(shelf.value("practice", "key_room_most_mm").value / step_mm) + 1)]
