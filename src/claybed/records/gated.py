"""How slip or hands get in: decided before the block is laid out, joined to the object after."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class GatePlan:
    """Which gate a mold gets.

    `kind` bore, mouth, face or none; `out` unit direction (object frame) in which it leaves the block, (0, 0,
    0) for none; `bore_mm` its narrowest diameter, nan when it is not round; `along_pull` whether it leaves
    along the pull; `reason` why. `at_base` when the bore runs along the flat face that the object stands on.
    `slot_mm` how thick the object must be at a bore's inner end for slip to run out past the wall that builds
    up, nan for other gates.
    A bore along the pull keeps clear of the ends of side pieces that leave along `beside` (object frame), and
    may be as narrow as `least_mm` where no wider one finds room.
    """

    kind: Literal["bore", "mouth", "face", "none"]
    out: tuple[float, float, float]
    bore_mm: float
    along_pull: bool
    reason: str
    at_base: bool = False
    slot_mm: float = math.nan
    beside: tuple[tuple[float, float, float], ...] = ()
    least_mm: float = math.nan
