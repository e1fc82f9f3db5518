"""Weighings of a drying mold, and what they say of the days to come."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.finding import Finding
from claybed.records.reckoned import Reckoned


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weighing: `at_s` seconds since the epoch, `mass_g` on the scale, `note` what the person said."""

    at_s: float
    mass_g: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Ready:
    """When a state should be reached: hours from the last weighing, with a 90 % interval.

    `reached` when the last weighing is at or below its mass already.
    """

    id: str
    mass_g: Reckoned
    reached: bool
    hours: Reckoned | None


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a log says: dry mass and rate as they fit the weighings, water left, and the states to come."""

    weighings: Reckoned
    last_g: Reckoned
    to_go_g: Reckoned
    dry_g: Reckoned
    water_percent: Reckoned
    loss_g_per_day: Reckoned | None
    plateau: bool
    ready: tuple[Ready, ...]
    findings: tuple[Finding, ...]
