"""How slip or hands get in: decided before the block is laid out, joined to the object after."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class GateTrial:
    """A place for a gate, judged on cells of `cell_mm`.

    `words` where it is, `out` the unit direction (object frame) in which it comes out there; `air_ml` trapped
    while it fills, `slip_ml` that stays after draining and turning, `shut_ml` behind necks that grow shut,
    each with the mold held as well as may be.
    """

    words: str
    out: Vector
    air_ml: float
    slip_ml: float
    shut_ml: float
    cell_mm: float

    @property
    def left_ml(self) -> float:
        """What neither fills nor empties, ml."""
        return self.air_ml + self.slip_ml + self.shut_ml


@dataclass(frozen=True, slots=True)
class GatePlan:
    """Which gate a mold gets.

    `kind` bore, mouth, face or none; `out` unit direction (object frame) in which it leaves the block, (0, 0,
    0) for none; `bore_mm` its narrowest diameter, nan when it is not round; `along_pull` whether it leaves
    along the pull; `reason` why. `at_base` when the bore runs along the flat face that the object stands on.
    `slot_mm` how thick the object must be at a bore's inner end for slip to run out past the wall that builds
    up, nan for other gates.
    A bore keeps clear of the ends of side pieces that leave along `beside` (object frame); one along the pull
    may be as narrow as `least_mm` where no wider one finds room. One that was made
    narrower than `usual_bore_mm` (nan: it was not) leaves the object's end, of which that would take
    `usual_takes_ml`, the last `usual_takes_mm`; both 0 where it only has no room.
    `in_place_of` is the gate to take where no mold with this one holds.
    """

    kind: Literal["bore", "mouth", "face", "none"]
    out: Vector
    bore_mm: float
    along_pull: bool
    reason: str
    at_base: bool = False
    slot_mm: float = math.nan
    beside: tuple[Vector, ...] = ()
    least_mm: float = math.nan
    at_mm: Vector | None = None
    chosen: Literal["", "better", "next", "usual", "neck", "neck_narrow", "neck_keeps", "wider"] = ""
    places: int = 0
    end_mm: float = math.nan
    tried: tuple[GateTrial, ...] = ()
    in_place_of: GatePlan | None = None
    usual_bore_mm: float = math.nan
    usual_takes_mm: float = 0.0
    usual_takes_ml: float = 0.0
