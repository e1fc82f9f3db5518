"""All pours of a plan with what was noticed on the way: what the pours stage hands on."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.finding import Finding
from claybed.records.pour import FloatReading, Pour


@dataclass(frozen=True, slots=True)
class Poured:
    """The pours in pouring order; whether the object floats, when its mass is known; findings on the mix."""

    pours: tuple[Pour, ...]
    floating: FloatReading | None
    findings: tuple[Finding, ...]
