"""Bridges over a plug: what it goes round stays on its main piece where only that piece can leave it.

A side piece opens first. A plug that goes all round, as into the trough round a lid, cuts off the plaster
inside the ring, and where the object is over some of that, as under a knob, it cannot leave with the side
piece. A narrow wall left standing across the plug keeps it on its main piece; what the wall stands on is
filled.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from claybed.geometry.carving import Solid, moved
from claybed.geometry.mesh import Floats
from claybed.mold.side_faces import Interface
from claybed.mold.side_level import practice

Vector = tuple[float, float, float]
# So many places are tried across what is cut off, none nearer to its ends than this share.
PLACES = 13
FROM_END_SHARE = 0.1
# A main pull that leads nearer to the side piece's own leads to no wall beside it (sine of its climb).
STEEPEST = 0.94
FAR_MM = 1e3


class BridgeError(Exception):
    """Side piece `number` cuts off plaster that only a main piece leaves; `bridges` would keep it there."""

    def __init__(self, number: int, bridges: Sequence[Solid]) -> None:
        super().__init__(f"what side piece {number} goes round is cut off")
        self.number, self.bridges = number, tuple(bridges)


def bridge_to(held: Solid, fill: Solid, face: Interface, main: Vector) -> Solid | None:
    """The bridge that keeps on its main piece, which leaves along `main`, what the plug of a side piece cut
    off; None where it would keep more filled than it is worth, or so little is cut off that it may be filled.

    `held` is what of it the object is over, `fill` what is filled while there is no side piece at `face`, all
    in the block's frame. Whatever a main piece leaves leads on along its pull through that piece, so there
    the bridge runs. Across, it stands where it keeps least filled, and its sides widen downwards as those of
    the plug do upwards. Source: materials/practice.
    """
    along = face.rotation @ np.array(main)
    if held.volume() <= 1000.0 * practice("fill_most_ml"):
        return None
    if face.plug is None or abs(float(along[2])) > STEEPEST:
        return None
    x, y = along[:2] / float(np.linalg.norm(along[:2]))
    rotation: Floats = np.array([[x, y, 0.0], [-y, x, 0.0], [0.0, 0.0, 1.0]]) @ face.rotation
    gap = moved(fill ^ face.tool, rotation)
    kept = moved(held, rotation)
    tried = ((moved(wall, rotation.T), (gap ^ wall).volume()) for wall in _walls(kept, gap, face.level_mm))
    best = min(tried, key=lambda one: one[1], default=None)
    if best is None or practice("bridge_worth_ratio") * best[1] > held.volume():
        return None
    return best[0]


def _walls(held: Solid, gap: Solid, level_mm: float) -> Iterator[Solid]:
    """Walls that lead from what is held along x over the gap, to a place that nothing locks along x and where
    they are high enough to hold; the pull of the side piece is z.
    """
    low_x, low_y, _, high_x, high_y, _ = held.bounding_box()
    slope = float(np.tan(np.radians(practice("plug_taper_deg"))))
    half_mm = practice("bridge_least_mm") / 2.0
    start_mm = (low_x + high_x) / 2.0
    spare_mm = FROM_END_SHARE * (high_y - low_y)
    for y_mm in np.linspace(low_y + spare_mm, high_y - spare_mm, PLACES).tolist():
        strip = Solid.cube((FAR_MM, 2.0 * half_mm, 2.0 * FAR_MM)).translate(
            (start_mm, y_mm - half_mm, -FAR_MM)
        )
        under = gap ^ strip
        if under.is_empty():
            continue
        foot_mm, rim_mm = gap.bounding_box()[2] - 1.0, under.bounding_box()[5]
        top_mm = min(level_mm, rim_mm + practice("bridge_rise_mm"))
        wider_mm = slope * (top_mm - foot_mm)
        yield Solid.hull_points(
            [
                (x_mm, y_mm + side * (half_mm + more_mm), z_mm)
                for z_mm, more_mm in ((top_mm, 0.0), (foot_mm, wider_mm))
                for x_mm in (start_mm - more_mm, start_mm + FAR_MM)
                for side in (-1.0, 1.0)
            ]
        )
