"""How slip fills and leaves the cavity: what the gate stage measures on the closed mold."""

from __future__ import annotations

import math
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
class Slug:
    """Slip that fills a bore and does not run out: `volume_ml`, give or take `spread_ml`; its lowest point
    `at_mm` in the block's frame when the mold is held to drain; `wide_mm` what the wall leaves of the bore;
    `tip` the direction of the block that is down while it runs into the rest of the hollow (None: in no way
    that was tried).
    """

    volume_ml: float
    spread_ml: float
    at_mm: Place
    wide_mm: float
    tip: Place | None = None


@dataclass(frozen=True, slots=True)
class Shut:
    """Slip that the growing wall shuts in: `volume_ml` and the part's middle `at_mm` in the block's frame;
    the neck before it at `neck_at_mm`, through which a ball of `neck_mm` passes while it is empty, and
    `closes_at_wall_mm`, the wall on flat plaster at which that has grown shut (None: not looked for).
    """

    volume_ml: float
    at_mm: Place
    neck_at_mm: Place | None = None
    neck_mm: float | None = None
    closes_at_wall_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Solid:
    """A neck that casts solid: `volume_ml` of it, its narrowest place `at_mm` in the block's frame, `wide_mm`
    there, and `closes_at_wall_mm`, the wall on flat plaster at which that has grown shut.
    """

    volume_ml: float
    at_mm: Place
    wide_mm: float
    closes_at_wall_mm: float


@dataclass(frozen=True, slots=True)
class SolidEnd:
    """A rim, point or plate that casts solid: `volume_ml` of clay further from slip than a wall is, its
    thickest place `at_mm` in the block's frame, and how thick it is there.
    """

    volume_ml: float
    at_mm: Place
    thick_mm: float


@dataclass(frozen=True, slots=True)
class Starved:
    """A part that casts solid behind a way out that is clay before it, so that no topping up feeds it:
    `slip_ml` of slip in it at that time, the place `at_mm` in the block's frame that turns to clay last, and
    `closes_at_wall_mm`, the wall on flat plaster at which its way out has grown shut.
    """

    slip_ml: float
    at_mm: Place
    closes_at_wall_mm: float


@dataclass(frozen=True, slots=True)
class Flow:
    """Filling and draining, measured on cells of `cell_mm`.

    `cavity_ml` of slip that it takes; `fill_up` the direction of the block that is up while it fills, and
    `air` what that traps; `drain_down` the direction that is down while it drains, `slip` what then stays
    and `slip_ml` in all; `turn_down` a second direction that empties it further (None: none does) and
    `turned_ml` left once turned back; `closed` parts that the wall of `wall_mm` cuts off from the gate, so
    that they stay full; `solid` necks in which no hollow is left, with hardly any slip behind them, and
    `ends` rims, points and plates like that; `slugs` what fills a bore and stays in it after all holding and
    turning; `starved` parts that are solid in the end, and cut off before that. Slip that stays is measured
    on cells of `slip_cell_mm`. Where too much stays, `thinner_mm` is a wall at which next to nothing would,
    and `solid_mm` one at which what stays is clay throughout; None where none near was found, or none sought.
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
    closed: tuple[Shut, ...]
    solid: tuple[Solid, ...] = ()
    ends: tuple[SolidEnd, ...] = ()
    slugs: tuple[Slug, ...] = ()
    starved: tuple[Starved, ...] = ()
    slip_cell_mm: float = math.nan
    thinner_mm: float | None = None
    solid_mm: float | None = None

    @property
    def left_ml(self) -> float:
        """Slip that stays after the best there is to do, ml; parts that are cut off are `shut_ml`."""
        return min(self.slip_ml, self.turned_ml) if self.turn_down is not None else self.slip_ml

    @property
    def shut_ml(self) -> float:
        """Slip in parts that are cut off, ml."""
        return sum(part.volume_ml for part in self.closed)
