"""What a studio owns and how it works, typed once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BoardMaterial = Literal["mdf", "melamine", "ply", "plastic"]
BandMaterial = Literal["steel", "plastic", "lino"]
Lifter = Literal["school", "staff"]


@dataclass(frozen=True, slots=True)
class BoardSet:
    """Boards of one size that stand around a pour: `count` of them, mm."""

    name: str
    length_mm: float
    height_mm: float
    thickness_mm: float
    count: int = 4
    material: BoardMaterial = "mdf"


@dataclass(frozen=True, slots=True)
class Band:
    """A flexible strip that is rolled into a round form: length and height, mm."""

    name: str
    length_mm: float
    height_mm: float
    material: BandMaterial = "plastic"


@dataclass(frozen=True, slots=True)
class Bucket:
    """Buckets of one size: what one holds to the brim, l, and how many there are."""

    volume_l: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who lifts: `lifts` as school (beginners, pupils) or staff (used to it)."""

    name: str
    lifts: Lifter = "staff"


@dataclass(frozen=True, slots=True)
class PlasterLot:
    """A sack in use: kind of plaster, lot number, date opened (ISO, or empty), own ratio if one is kept."""

    kind: str
    lot: str = ""
    opened: str = ""
    consistency: float | None = None


@dataclass(frozen=True, slots=True)
class Studio:
    """A studio: what it owns, what it keeps to, how high it works.

    `drills` mixers driven by a motor; `scale_step_g` the smallest step of the scale; `consistency` the ratio
    kept, water per 100 of plaster; `lift_kg` the most one piece may weigh wet (None: by who lifts);
    `bench_mm` and `shelf_mm` working heights above the floor; `release` what parts plaster from plaster;
    `water_celsius` of the tap. None and empty lists mean that nothing is known, and the usual is taken.
    """

    name: str = ""
    units: Literal["metric", "us"] = "metric"
    boards: tuple[BoardSet, ...] = ()
    bands: tuple[Band, ...] = ()
    buckets: tuple[Bucket, ...] = ()
    drills: int = 1
    people: tuple[Person, ...] = ()
    scale_step_g: float | None = None
    plasters: tuple[PlasterLot, ...] = ()
    consistency: float | None = None
    lift_kg: float | None = None
    bench_mm: float | None = None
    shelf_mm: float | None = None
    release: str | None = None
    water_celsius: float | None = None
