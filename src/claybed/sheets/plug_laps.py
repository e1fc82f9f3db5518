"""How a gate plug laps over a thin edge of the object: one sentence for sheet and template."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.wording import ruler

# An end that is fitted to the object by hand anyway reaches over it as little as this.
BY_HAND_MM = 4.0


def laps_of(gate: Mapping[str, Any]) -> tuple[float, float]:
    """How far the gate of a plan goes over the object above and below its middle, mm."""
    return gate.get("lap_above_mm", 0.0), gate.get("lap_below_mm", 0.0)


def lap_words(laps_mm: tuple[float, float], us: bool) -> str:
    """How far the plug's narrow end goes over the object above and below its middle; empty where it just
    stands against it.
    """
    above, below = laps_mm
    if max(above, below) < BY_HAND_MM:
        return ""
    if abs(above - below) < BY_HAND_MM:
        far = ruler(max(above, below), us)
        return f"Its narrow end goes {far} over the object's edge: roll it of oil clay and slit it for that."
    longer, far, near = (
        ("upper", ruler(above, us), below) if above > below else ("lower", ruler(below, us), above)
    )
    other = "stands against it" if near < BY_HAND_MM else f"goes {ruler(near, us)} over it"
    return f"The {longer} half of its narrow end goes {far} over the object, the other {other}: of oil clay."
