"""What is particular to a hump: the vessel it is cast in, the bed round that, and the plinth."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.figure import Worked
from claybed.records.finding import Finding


@dataclass(frozen=True, slots=True)
class Hump:
    """How a hump is cast in the vessel whose inside it takes: heights above the board, volumes of plaster and
    bed, and how steep its sides are.
    """

    ledge_from_board_mm: Worked
    sand_from_board_mm: Worked
    vessel_mm: Worked
    hump_mm: Worked
    ledge_mm: Worked
    plinth_mm: Worked
    rise_mm: Worked
    hollow_ml: Worked
    plinth_ml: Worked
    sand_ml: Worked
    sand_g: Worked
    clay_ml: Worked
    head_kpa: Worked
    steep_cm2: Worked
    findings: tuple[Finding, ...] = ()
