"""How slip fills and leaves the cavity: what the gate stage measures on the closed mold."""

from __future__ import annotations

from dataclasses import dataclass

Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Hold:
    """Air or slip that is caught together: `volume_ml`, and the place `at_mm` in the block's frame: for air
    the top of the pocket, for slip its lowest point when the mold is held to drain, for a cut-off part its
    middle.
    """

    volume_ml: float
    at_mm: Place


@dataclass(frozen=True, slots=True)
class Flow:
    """Filling and draining, measured on cells of `cell_mm`.

    `cavity_ml` of slip that it takes; `fill_up` the direction of the block that is up while it fills, and
    `air` what that traps; `drain_down` the direction that is down while it drains, `slip` what then stays
    and `slip_ml` in all; `turn_down` a second direction that empties it further (None: none does) and
    `turned_ml` at most left after both; `closed` parts that the wall of `wall_mm` cuts off from the gate,
    so that they stay full.
    """

    cell_mm: float
    wall_mm: float
    cavity_ml: float
    fill_up: Place
    air: tuple[Hold, ...]
    drain_down: Place
    slip_ml: float
    slip: tuple[Hold, ...]
    turn_down: Place | None
    turned_ml: float
    closed: tuple[Hold, ...]

    @property
    def left_ml(self) -> float:
        """Slip that stays after the best there is to do, ml; parts that are cut off are not counted."""
        return min(self.slip_ml, self.turned_ml) if self.turn_down is not None else self.slip_ml
