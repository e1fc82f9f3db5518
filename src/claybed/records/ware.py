"""What becomes of a mold: sizes, slip, casts, pressings and drying, each number with its working."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.figure import Worked
from claybed.records.finding import Finding
from claybed.records.reckoned import Reckoned


@dataclass(frozen=True, slots=True)
class Shrinkage:
    """How a clay shrinks from mold to fired piece: `clay` its name or "", all in per cent of length.

    `growth_percent` is what plaster grows by over all castings between model and mold; `oversize_ratio` the
    model's length over the fired one.
    """

    clay: str
    total_percent: Reckoned
    drying_percent: Reckoned | None
    firing_percent: Reckoned | None
    growth_percent: Reckoned
    oversize_ratio: Reckoned
    volume_percent: Reckoned


@dataclass(frozen=True, slots=True)
class Sizes:
    """Lengths (mm) and volumes (ml) of model, wet and fired piece; None where nothing was asked."""

    model_mm: Reckoned | None = None
    fired_mm: Reckoned | None = None
    wet_wall_mm: Reckoned | None = None
    fired_wall_mm: Reckoned | None = None
    wet_capacity_ml: Reckoned | None = None
    fired_capacity_ml: Reckoned | None = None


@dataclass(frozen=True, slots=True)
class Bar:
    """A shrinkage bar read at each state; per cent of the length before. `bars` says how many were read."""

    bars: Reckoned
    total_percent: Reckoned
    drying_percent: Reckoned | None
    bisque_percent: Reckoned | None
    firing_percent: Reckoned | None
    oversize_ratio: Reckoned


@dataclass(frozen=True, slots=True)
class Boiled:
    """A boil test."""

    absorption_percent: Reckoned
    porosity_percent: Reckoned | None
    apparent_density_ratio: Reckoned | None
    bulk_density_ratio: Reckoned | None


@dataclass(frozen=True, slots=True)
class SlipState:
    """A slip by its weight: against water, per litre and imperial pint, and what is in it."""

    density_ratio: Reckoned
    litre_g: Reckoned
    pint_oz: Reckoned
    water_percent: Reckoned
    solids_percent: Reckoned
    solids_volume_percent: Reckoned
    dry_g_per_l: Reckoned


@dataclass(frozen=True, slots=True)
class SlipChange:
    """What brings a batch to a wanted weight: water or dry clay, one of them None."""

    target_ratio: Reckoned
    water_ml: Reckoned | None
    clay_g: Reckoned | None
    result_l: Reckoned


@dataclass(frozen=True, slots=True)
class SlipBatch:
    """What to weigh for a volume of slip."""

    slip_l: Reckoned
    clay_g: Reckoned
    water_g: Reckoned
    deflocculant_g: Reckoned


@dataclass(frozen=True, slots=True)
class TestPour:
    """k from test pours; `exponent_ratio` of time when two or more times were tried."""

    pours: Reckoned
    k_mm2_per_min: Reckoned
    exponent_ratio: Reckoned | None


@dataclass(frozen=True, slots=True)
class CastRow:
    """One cast of a row of casts without drying between."""

    number: Reckoned
    minutes: Reckoned
    water_percent: Reckoned | None


@dataclass(frozen=True, slots=True)
class PerCast:
    """Slip and water of one cast."""

    clay_ml: Reckoned
    top_up_ml: Reckoned
    slip_ml: Reckoned
    dry_g: Reckoned
    water_to_mold_g: Reckoned
    fill_ml: Reckoned | None
    drain_ml: Reckoned | None
    prepare_ml: Reckoned | None


@dataclass(frozen=True, slots=True)
class Narrow:
    """A gate or neck that grows shut."""

    kind: str
    width_mm: Reckoned
    closes_minutes: Reckoned
    least_mm: Reckoned


@dataclass(frozen=True, slots=True)
class TopUp:
    """A time at which the slip has sunk by what the spare holds."""

    minutes: Reckoned


@dataclass(frozen=True, slots=True)
class Cast:
    """A slip cast: time, wall, how the mold takes it, and how often; `start_percent` water in its plaster
    before, of its dry mass.
    """

    start_percent: Reckoned
    k_mm2_per_min: Reckoned
    wall_mm: Reckoned
    minutes: Reckoned
    release_minutes: Reckoned
    wet_depth_mm: Reckoned
    casts_before_drying: Reckoned | None
    casts_per_day: Reckoned | None
    casts_per_week: Reckoned | None
    discarded_casts: Reckoned
    rows: tuple[CastRow, ...]
    per_cast: PerCast | None
    narrows: tuple[Narrow, ...]
    top_ups: tuple[TopUp, ...]


@dataclass(frozen=True, slots=True)
class Press:
    """A pressing: slabs, coil, slip and wait."""

    slab_mm: Reckoned
    clay_g: Reckoned
    raw_clay_g: Reckoned
    slab_area_cm2: Reckoned
    slabs_per_block: Reckoned | None
    blocks: Reckoned
    coil_mm: Reckoned | None
    coil_g: Reckoned | None
    scoring_slip_ml: Reckoned | None
    wait_minutes: Reckoned


@dataclass(frozen=True, slots=True)
class DryState:
    """A state of dryness: `id` press_ready, slip_ready or shelf_dry; the water it may hold, the mass it shows
    on the scale, and the time it takes.
    """

    id: str
    water_percent: Reckoned
    mass_g: Reckoned | None
    hours: Reckoned | None


@dataclass(frozen=True, slots=True)
class Drying:
    """How one mold, or one piece of it, dries."""

    piece: str
    wet_g: Reckoned | None
    dry_g: Reckoned | None
    water_g: Reckoned
    area_cm2: Reckoned
    air_celsius: Reckoned
    humidity_percent: Reckoned
    wet_bulb_celsius: Reckoned
    speed_m_per_s: Reckoned
    rate_g_per_m2_h: Reckoned
    open_pan_g_per_m2_h: Reckoned
    states: tuple[DryState, ...]


@dataclass(frozen=True, slots=True)
class PieceFaces:
    """One mold piece by its letter: faces on the outside of the closed mold, all its faces, its plaster."""

    id: str
    outside_cm2: Reckoned
    open_cm2: Reckoned
    plaster_ml: Reckoned


@dataclass(frozen=True, slots=True)
class Measures:
    """What the finished solids say about ware.

    Cavity and plaster near it for casts; faces for drying, of all and of each of the `pieces`; seam for
    pressing. `capacity_ml` is what the wet piece holds inside its wall.
    """

    cavity_cm2: Reckoned
    cavity_ml: Reckoned
    near_plaster_ml: Reckoned
    seam_mm: Reckoned
    capacity_ml: Reckoned | None
    outside_cm2: Reckoned
    open_cm2: Reckoned
    plaster_ml: Reckoned
    face_mm: Reckoned
    pieces: tuple[PieceFaces, ...]


@dataclass(frozen=True, slots=True)
class Fired:
    """What the object becomes: fired height along "up", extents along x, y and z, capacity and wall."""

    height_mm: Reckoned
    x_mm: Reckoned
    y_mm: Reckoned
    z_mm: Reckoned
    wall_mm: Reckoned
    capacity_ml: Reckoned | None
    scaled: bool
    says: str


@dataclass(frozen=True, slots=True)
class Grip:
    """How ware grips its mold as it shrinks.

    `shrinkage_percent` of length until leather-hard; `held_mm` the length that plaster keeps from drawing
    away, 0 when all of it draws away; `grip_mm` by how much the clay is then too tight. Where that matters:
    `within_minutes` the mold should be opened, by which `piece`, and `at_mm` in the block's frame;
    `gripped` are all the pieces that the clay grips as it matters.
    """

    shrinkage_percent: Reckoned
    held_mm: Reckoned
    grip_mm: Reckoned
    within_minutes: Reckoned | None
    piece: str | None
    at_mm: Worked | None
    gripped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HoleCut:
    """A hole that was closed for the mold, to be cut in the leather-hard ware.

    `mark` its letter, `where` its place and `turned` how far round; `width_mm` and `length_mm` across it in
    the clay as it comes out of the mold, `fired_width_mm` and `fired_length_mm` what they fire to, None where
    no clay was named; `clay_ml` what is cut out of the wall.
    """

    mark: str
    where: str
    turned: str
    width_mm: Reckoned
    length_mm: Reckoned
    fired_width_mm: Reckoned | None
    fired_length_mm: Reckoned | None
    clay_ml: Reckoned


@dataclass(frozen=True, slots=True)
class Ware:
    """All of it for one plan.

    `drying` closed and strapped on slats, `drying_open` with the pieces apart, in a still room; `drying_days`
    from 15 % of water to slip-ready, closed; `holes` to cut.
    """

    measures: Measures
    shrinkage: Shrinkage | None
    fired: Fired | None
    slip: SlipState | None
    cast: Cast | None
    press: Press | None
    drying: Drying
    drying_open: Drying
    drying_days: Reckoned | None
    findings: tuple[Finding, ...]
    grip: Grip | None = None
    holes: tuple[HoleCut, ...] = ()
