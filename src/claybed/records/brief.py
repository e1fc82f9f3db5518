"""What was asked, in one record; every stage reads only the fields it names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from claybed.records.studio import Band, BoardSet, Lifter

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A place where no seam may run, as a region of the object's frame: lo <= p . direction <= hi, in mm."""

    direction: Vector
    lo_mm: float
    hi_mm: float


@dataclass(frozen=True, slots=True)
class KeepOutSpot:
    """A painted place where no seam may run: a ball in the object's frame, `centre_mm` with `radius_mm`."""

    centre_mm: Vector
    radius_mm: float


Region = KeepOut | KeepOutSpot


@dataclass(frozen=True, slots=True)
class Brief:
    """What a person asked of a plan. Lengths mm, volumes ml, masses g; None means "you choose".

    Object: `unit` of the file; `height_mm` scales to a measured height along `up`; `mouth` closes a vessel;
    `close_holes` closes it with the holes through its wall;
    `mass_g`; `body` picks one of several bodies (1-based); `up` is the direction that is up when it stands;
    `max_triangles` refuses larger files.
    Survey: `axis` fixes the pull (object frame); `flat_seam` asks for a plane; `keep_out` regions;
    `max_fill_ml` is the most oil clay accepted; `pose_tolerance_deg`.
    Mold: `pieces` 1 to 6; `shape`; `use`; `wall_mm` least plaster around the cavity; `ware_wall_mm` the wall
    of the ware to be cast; `gate`, or the way in which it comes out (object frame); `gate_bore_mm`; `keys`;
    `hump` fills the inside of a vessel instead, to drape clay over.
    Pours: `consistency` parts of water per 100 of plaster by mass; `waste` fraction; `form`; `bucket_l`
    largest batch of slurry; `plaster` the entry in materials.
    Lifting: `lift_kg` the most one piece may weigh wet, by default what two people lift together.
    Bench: `boards` and `bands` the studio owns (none: whatever fits is got); `drills` how many can mix at
    once, `mixing` how; `scale_step_g` the scale's step; `bench_mm` and `shelf_mm` working heights;
    `release` what parts plaster from plaster; `lifter` who lifts; `water_celsius` of the mix (None: the
    usual); `porous` an object that drinks; `hollow_ml` room inside it for ballast; `made_of` what it
    softens like; `second_pour` when.
    Ware: `clay` body and `slip` by name; `clays` the text of the studio's file that may hold them;
    `fired_height_mm` and `fired_capacity_ml` wanted of the fired piece; `expansion_fraction` of plaster in
    setting, linear, over `generations` castings from model to mold.
    """

    unit: str | None = None
    height_mm: float | None = None
    mouth: bool = False
    close_holes: bool = False
    mass_g: float | None = None
    body: int | None = None
    up: Vector = (0.0, 0.0, 1.0)
    max_triangles: int = 5_000_000
    axis: Vector | None = None
    flat_seam: bool = False
    keep_out: tuple[Region, ...] = ()
    max_fill_ml: float | None = None
    pose_tolerance_deg: float = 2.0
    pieces: int | None = None
    shape: Literal["auto", "boxed", "round"] = "auto"
    use: Literal["slip", "press"] = "slip"
    hump: bool = False
    wall_mm: float | None = None
    ware_wall_mm: float = 4.0
    gate: Literal["auto", "none"] | Vector = "auto"
    gate_bore_mm: float | None = None
    keys: bool = True
    consistency: float = 100.0 / 1.3
    waste: float | None = None
    form: Literal["hand", "boards", "case"] = "hand"
    bucket_l: float = 8.0
    plaster: str = "pottery_plaster"
    lift_kg: float = 21.0
    boards: tuple[BoardSet, ...] = ()
    bands: tuple[Band, ...] = ()
    drills: int = 1
    mixing: Literal["drill", "hand"] = "drill"
    scale_step_g: float = 1.0
    bench_mm: float = 900.0
    shelf_mm: float = 1500.0
    release: Literal["soap", "oil", "wax"] = "soap"
    lifter: Lifter = "staff"
    water_celsius: float | None = None
    porous: bool = False
    hollow_ml: float | None = None
    made_of: Literal["unknown", "ceramic", "wood", "pla", "oil_clay", "wax"] = "unknown"
    second_pour: Literal["same_day", "wrapped", "soaked"] = "same_day"
    clay: str | None = None
    slip: str | None = None
    clays: str = ""
    fired_height_mm: float | None = None
    fired_capacity_ml: float | None = None
    expansion_fraction: float = 0.0
    generations: int = 1
