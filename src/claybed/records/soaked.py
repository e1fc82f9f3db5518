"""Casting on a plan's own mold: what is asked of it and how thick the wall becomes, place by place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Bytes, Floats, Ints, Mesh
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned


@dataclass(frozen=True, slots=True)
class Soil:
    """How slip and plaster work on each other, as the simulation takes it.

    `cake_mm2_per_s` = cake permeability x suction / viscosity; `plaster_mm2_per_s` the same of wet plaster;
    `water_per_cake_ratio` ml of water that a ml of cake sends into the mold; `fillable_fraction` pore room
    of dry plaster that takes water up; `wet_share` of that already full; `head_per_mm` pressure of a mm of
    slip as a share of the suction; `release_ratio` ml of water that a ml of cake gives up afterwards, until
    it is leather-hard; `spread_mm2_per_s` how fast water evens out in plaster at rest.
    """

    cake_mm2_per_s: float
    plaster_mm2_per_s: float
    water_per_cake_ratio: float
    fillable_fraction: float
    wet_share: float
    head_per_mm: float
    release_ratio: float
    spread_mm2_per_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Airing:
    """Air that dries a mold between casts.

    `area_mm2` (cells,) open face of each cell; `rate_mm_per_s` water that a wet face loses; `critical_share`
    of what a cell can hold, below which it loses in proportion to what is left.
    """

    area_mm2: Floats
    rate_mm_per_s: float
    critical_share: float


@dataclass(frozen=True, slots=True)
class CastOrder:
    """How many casts of how long.

    `minutes_min` slip stands in the mold, `release_min` until the cast comes out, `rest_min` until the next
    fill, in the air of `airing` when there is one.
    """

    casts: int
    minutes_min: float
    release_min: float
    rest_min: float
    airing: Airing | None = None


@dataclass(frozen=True, slots=True, eq=False)
class PlasterGrid:
    """The plaster as numbered cells, and the cavity's wall as patches.

    `cell_mm` side; `low_mm` (3,) the grid's corner; `number` (x, y, z) int32 of each cell, -1 for none;
    `cells` (n, 3) int32 its place; `plaster_mm3` (n,) its plaster, slivers beside it included; `piece` (n,)
    int32 which piece most of it is, -1 for none; `near` (n, 6) int32. Of each patch: `cell` (p,), `area_mm2`
    (p,), `at_mm` (p, 3), `normal` (p, 3) into the plaster, `bends_per_mm` (p, 2) principal curvatures, above
    0 where slip is inside the bend; `most_mm` (p,) half the way to the wall on the other side. `wall` the
    cavity's surface with short edges, `patch_of` (faces,) of it, -1 where no plaster is near. `cavity`
    (x, y, z) share of each cell that is cavity; `up` (3,) towards the opening while slip stands in the mold;
    `left_out_mm3` plaster thinner than a cell that no cell took.
    """

    cell_mm: float
    low_mm: Floats
    number: NDArray[np.int32]
    cells: Ints
    plaster_mm3: Floats
    piece: Ints
    near: Ints
    cell: Ints
    area_mm2: Floats
    at_mm: Floats
    normal: Floats
    bends_per_mm: Floats
    most_mm: Floats
    wall: Mesh
    patch_of: Ints
    cavity: Floats
    up: Floats
    left_out_mm3: float


@dataclass(frozen=True, slots=True, eq=False)
class Cast:
    """One cast.

    `wall_mm` (patches,) at the end of its minutes; `pull_share` (patches,) the suction still behind each
    patch as a share of that of dry plaster; `closed` (patches,) uint8 where it met the other side.
    `given_ml` water sent into the mold while it stood, `released_ml` afterwards; `taken_ml` what the plaster
    then held more; `dried_ml` what left it in the rest before this cast; `cake_ml` clay left in the mold;
    `soaked_cm2` wall behind which less than half the suction is left.
    """

    wall_mm: Floats
    pull_share: Floats
    closed: Bytes
    given_ml: float
    released_ml: float
    taken_ml: float
    dried_ml: float
    cake_ml: float
    soaked_cm2: float


@dataclass(frozen=True, slots=True)
class Pocket:
    """Slip that stays when the mold is drained: how much, its middle, and how deep it stands."""

    slip_ml: float
    at_mm: tuple[float, float, float]
    deep_mm: float


@dataclass(frozen=True, slots=True)
class MapAsk:
    """What is asked of a cast map; None takes the shelf's or the plan's figure.

    `rate` wall² / time of the slip in a dry mold, mm²/min, with its working; `minutes_min` in the mold, or
    `wall_mm` aimed at; `casts` one after another; `slip_ratio` and `solids_ratio` density of slip and of dry
    clay over that of water; `cast_water_fraction` and `leather_water_fraction` of the wet mass;
    `slowdown_fraction` second cast over first, less 1, or `sorptivity_mm_per_sqrt_min` of the dry plaster
    instead; `suction_kpa`; `moisture_fraction` water in the plaster before the first cast, of its dry mass;
    `release_min` and `rest_min` between casts, the rest in `air` (still, fan or cabinet) of `air_celsius`,
    `humidity_fraction` and `air_m_per_s`, the pieces `opened` or closed and strapped; `cell_mm`; `thicker_mm`
    of plaster to compare with, 0 for no comparison. `workings` tells of a field where its number is from,
    when that is neither the shelf nor what was typed.
    """

    rate: Reckoned | None = None
    minutes_min: float | None = None
    wall_mm: float | None = None
    casts: int = 1
    slip_ratio: float | None = None
    solids_ratio: float | None = None
    cast_water_fraction: float | None = None
    leather_water_fraction: float | None = None
    slowdown_fraction: float | None = None
    sorptivity_mm_per_sqrt_min: float | None = None
    suction_kpa: float | None = None
    moisture_fraction: float = 0.0
    release_min: float | None = None
    rest_min: float = 0.0
    air: Literal["still", "fan", "cabinet"] = "still"
    air_celsius: float | None = None
    humidity_fraction: float | None = None
    air_m_per_s: float | None = None
    opened: bool = False
    cell_mm: float | None = None
    thicker_mm: float = 10.0
    workings: Mapping[str, Figure] = field(default_factory=dict)
