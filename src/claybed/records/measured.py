"""The object as measured: what intake hands to every later stage."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.geometry.mesh import Mesh
from claybed.records.finding import Finding
from claybed.records.measuring import Measuring, VolumeBand


@dataclass(frozen=True, slots=True)
class Repair:
    """One mend made to the input: what, how often, how much.

    `step` a snake_case code (weld, drop_degenerate, drop_duplicate, orient, flip_all, fill_hole, keep_outer,
    unite, remesh, drop_scrap); `count` how many places; `amount` and `unit` of its size (mm, mm2, mm3);
    `says` one plain sentence.
    """

    step: str
    count: int
    amount: float
    unit: str
    says: str


@dataclass(frozen=True, slots=True)
class MendSummary:
    """What all repairs together did to the shape.

    `volume_change_percent` against the volume enclosed before (nan when the input enclosed none);
    `largest_shift_mm` the largest distance from the mended surface to the input surface, mends of holes left
    out.
    """

    volume_change_percent: float
    largest_shift_mm: float


@dataclass(frozen=True, slots=True)
class UnitReading:
    """The length unit of the file and how it was known.

    `unit` mm, cm, m, in or ft; `mm_per_unit` the factor; `how` asked, file, inferred or scaled;
    `says` one sentence for the person.
    """

    unit: str
    mm_per_unit: float
    how: str
    says: str


@dataclass(frozen=True, slots=True)
class MouthReading:
    """The closed mouth of a vessel, in the object's frame.

    `rim_mm` the rim loop as points (n tuples), ordered counter-clockwise seen from above (from `up`);
    `up` unit vector out of the mouth; `brim_mm` height along `up` at which it overflows; `overflow_ml` what
    it holds to that level; `closed_ml` the inside volume closed off up to the spanning surface.
    `inside_opens` whether no face of that inside overhangs, so that a filling leaves upwards.
    """

    rim_mm: tuple[tuple[float, float, float], ...]
    up: tuple[float, float, float]
    brim_mm: float
    overflow_ml: float
    closed_ml: float
    inside_opens: bool = False


@dataclass(frozen=True, slots=True)
class WallHole:
    """A hole through a vessel's wall that was closed for the mold, in the object's frame.

    `mark` its letter, `where` its place in words and `turned` how far round it is; `at_mm` the middle of its
    rim outside, `out` the unit vector that it looks along there; `width_mm` and `length_mm` the least and the
    largest width of its narrowest end, `area_mm2` of that; `depth_mm` from rim to rim and `volume_ml` what
    fills it, both 0 for an opening closed at a rim of its own; `rim_mm` the rim outside as points.
    """

    at_mm: tuple[float, float, float]
    out: tuple[float, float, float]
    width_mm: float
    length_mm: float
    area_mm2: float
    depth_mm: float
    volume_ml: float
    rim_mm: tuple[tuple[float, float, float], ...]
    mark: str = ""
    where: str = ""
    turned: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class HollowReading:
    """The vessel whose inside is the object, in the object's frame.

    `vessel` as read, its wall included; `up` unit vector out of the opening; `rim_high_mm` and `rim_low_mm`
    the highest and lowest place of its rim along `up`, `foot_mm` its lowest place; `holds_ml` up to where it
    overflows.
    """

    vessel: Mesh
    up: tuple[float, float, float]
    rim_high_mm: float
    rim_low_mm: float
    foot_mm: float
    holds_ml: float

    @property
    def height_mm(self) -> float:
        """From the foot to the highest place of the rim."""
        return self.rim_high_mm - self.foot_mm


@dataclass(frozen=True, slots=True)
class MeasuredObject:
    """A closed, outward-oriented solid in millimetres, and how it was come by.

    `mesh` frame "object"; faces that close a mouth carry Origin.MOUTH, mends Origin.MEND. `solid_ml` is the
    volume of `mesh` (what displaces plaster); `area_cm2` and `extent_mm` are of `mesh`. `volume_rel_95` is
    the half-width of the 95 % interval of the volume as a fraction (0 for a digital model taken at its word);
    where the interval is not even, `uneven` holds both sides and `volume_rel_95` the wider one. `measuring`
    how it was measured, when the file says so. `hollow` is set where the object is the inside of a vessel,
    closed at its rim; `mouth` where it is the outside. `holes` through its wall that were closed.
    """

    name: str
    mesh: Mesh
    unit: UnitReading
    solid_ml: float
    area_cm2: float
    extent_mm: tuple[float, float, float]
    repairs: tuple[Repair, ...]
    mend: MendSummary
    mouth: MouthReading | None
    mass_g: float | None
    volume_rel_95: float
    findings: tuple[Finding, ...]
    uneven: VolumeBand | None = None
    measuring: Measuring | None = None
    hollow: HollowReading | None = None
    holes: tuple[WallHole, ...] = ()

    @property
    def band(self) -> VolumeBand:
        """The 95 % interval of the volume."""
        return self.uneven or VolumeBand(self.volume_rel_95, self.volume_rel_95)
