"""What the ware page says of a kept cast map: walls cast by cast, soaked plaster, slip that stays."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.units import say_area, say_gauged, say_length, say_time, say_volume
from claybed.wording import in_system

# What the page itself says beside the picture, and need not be told a second time.
_SAID_ABOVE = ("cast_map_worth",)


def map_lines(cast_map: Mapping[str, Any], us: bool) -> dict[str, Any]:
    """Texts of a cast map for the sheet, in US units if `us`."""
    asked, casts = cast_map["asked"], cast_map["casts"]
    last = casts[-1]
    says = (
        f"Simulated at k = {asked['rate_mm2_per_min']:.3g} mm²/min, with {say_time(asked['minutes_min'])} of "
        f"slip in the mold each time. The picture shows cast {last['number']}. The table gives for each cast "
        "the least wall, the wall that half of the surface stays below, and the most."
    )
    rest = cast_map.get("rest")
    if rest is not None:
        says += (
            f" Between casts the mold stood {rest['stands']} for {say_time(asked['rest_min'])} and dried "
            f"{say_volume(sum(row['dried_ml'] for row in casts), us=us)} in all."
        )
    return {
        "says": says,
        "rows": [
            [
                f"{row['number']:.0f}",
                *(say_gauged(row[key], us=us) for key in ("least_mm", "median_mm", "most_mm")),
                say_area(row["soaked_cm2"], us=us) if row["soaked_cm2"] > 0.0 else "none",
            ]
            for row in casts
        ],
        "pockets": [
            f"{say_volume(pocket['slip_ml'], us=us)}, {say_length(pocket['deep_mm'], us=us)} deep"
            for pocket in cast_map.get("pockets") or ()
        ],
        "notes": [
            in_system(f"{one['says']} {one['remedy']}".strip(), us=us)
            for one in cast_map.get("findings") or ()
            if one["id"] not in _SAID_ABOVE
        ],
    }
