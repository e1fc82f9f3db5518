"""Cuts of side pieces that reach further than what took part in them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from claybed.geometry.carving import Solid, Workbench
from claybed.geometry.nearby import Near, Shaft, StitchError
from claybed.geometry.slab import LatticeSolid
from claybed.mold.crumbs import settled
from claybed.mold.side_faces import Interface

# Where a cut reaches what was left out, so much more takes part the next time.
REACH_ROOM_MM = 1.0
DEEPER_MM = 3.0


class ReachError(Exception):
    """Side piece `number` reaches `places` that did not take part in its cut; none when everything has to."""

    def __init__(self, number: int, places: Sequence[Shaft]) -> None:
        super().__init__(f"side piece {number} reaches further than its cut")
        self.number, self.places = number, places


def at_rest_of(
    bench: Workbench,
    parts: Mapping[str, Near],
    name: str,
    solid: Solid,
    *,
    number: int,
    face: Interface,
    shafts: Sequence[Shaft],
) -> tuple[LatticeSolid, bool]:
    """A part of `parts` as it was cut, as `settled` gives it. Raises ReachError where more has to take part
    than what lies over the level of `face` and in `shafts`.
    """
    try:
        return settled(bench, parts[name], solid)
    except StitchError as fault:
        places = [Shaft.over(points @ face.rotation.T) for points in fault.loose_mm]
        places = [place.widened(REACH_ROOM_MM) for place in places] or [_deeper(face.level_mm, shafts)]
        raise ReachError(number, places) from fault


def _deeper(level_mm: float, shafts: Sequence[Shaft]) -> Shaft:
    """All that lies further below a level than any of some shafts that reach as wide."""
    floor_mm = min((shaft.floor_mm for shaft in shafts if math.isinf(shaft.low_mm[0])), default=level_mm)
    return Shaft((-math.inf, -math.inf), (math.inf, math.inf), floor_mm - DEEPER_MM)
