"""What was asked of cases to print: plain values, so that asking loads nothing that works with shapes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CaseAsk:
    """What a person asked of the cases; None is left to choose.

    `printer_mm` room of the printer (x, y, z); `plastic` a name of the shelf; `clearance_mm` by which bumps
    are poured smaller than their sockets, and grooves are printed wider than tongues; `wall_mm` of the case;
    `draft_deg` of the plaster's outside; `piece` one letter, or all; `generations` how many castings lie
    between the print and the working mold: 1 for printed cases, 2 for a printed piece and a plaster case, 3
    for the pieces of the plan, a plaster case and working molds. `slots` finger slots in the back edge: auto
    for heavy pieces, all or none.
    """

    printer_mm: tuple[float, float, float] = (220.0, 220.0, 250.0)
    plastic: str = "pla"
    clearance_mm: float | None = None
    wall_mm: float | None = None
    draft_deg: float | None = None
    piece: str | None = None
    generations: int = 1
    slots: str = "auto"
