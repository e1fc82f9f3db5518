"""Gates and necks that grow shut while a wall is cast."""

from __future__ import annotations

import math

from claybed.materials import shelf
from claybed.physics import closing
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Narrow
from claybed.ware.reckoning import reckon, taken

_PER_MM2_MIN = 1.0 / 6e7  # m²/s in a mm²/min


def narrows_of(
    bores_mm: tuple[float, ...], slots_mm: tuple[float, ...], wall: Reckoned, k: Reckoned
) -> tuple[Narrow, ...]:
    """When round bores and flat slots (mm) grow shut, and how wide they must be for a wall and a rate."""
    found = []
    clear = shelf.value("practice", "gate_clear_least_mm")
    for kind, widths, factor, work in (
        ("bore", bores_mm, "closing_bore_factor", closing.bore_closing_time_s),
        ("slot", slots_mm, "closing_slot_factor", closing.slot_closing_time_s),
    ):
        times = shelf.value("practice", factor)
        for width in widths:
            found.append(
                Narrow(
                    kind=kind,
                    width_mm=taken(width, "mm", "narrowest width"),
                    closes_minutes=reckon(
                        lambda width_mm, k_mm2_per_min, work=work: (
                            work(width_mm / 1000, k_mm2_per_min * _PER_MM2_MIN) / 60
                        ),
                        "min",
                        "D^2 / (8 k)" if kind == "bore" else "g^2 / (4 k)",
                        "casting-law",
                        width_mm=width,
                        k_mm2_per_min=k,
                    ),
                    least_mm=reckon(
                        lambda wall_mm, closes_at, clear_mm: (
                            math.hypot(closes_at * wall_mm, clear_mm)
                            if closes_at > 2.5
                            else closes_at * wall_mm + clear_mm
                        ),
                        "mm",
                        "width at which enough stays open when the wall is cast",
                        "casting-law",
                        wall_mm=wall,
                        closes_at=times.value,
                        clear_mm=clear.value,
                    ),
                )
            )
    return tuple(found)
