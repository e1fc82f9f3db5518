"""A mix: the plaster for one space, and the batches it is made in."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Batch:
    """One bucketful. `water_g` and `plaster_g` to weigh, `slurry_ml` it makes."""

    number: int
    water_g: float
    plaster_g: float
    slurry_ml: float


@dataclass(frozen=True, slots=True)
class Mix:
    """Water and plaster for one space.

    `space_ml` to fill; `waste` fraction added; `slurry_ml` = space x (1 + waste); `consistency` water per 100
    plaster; `common_water_g`, `common_plaster_g` what the rule "water = space" would use.
    """

    space_ml: float
    waste: float
    slurry_ml: float
    consistency: float
    water_g: float
    plaster_g: float
    batches: tuple[Batch, ...]
    common_water_g: float
    common_plaster_g: float
