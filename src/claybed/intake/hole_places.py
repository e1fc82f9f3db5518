"""Where on a vessel its closed holes are, in words that serve without the file, and what is said of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

import numpy as np

from claybed.intake.soup import Points
from claybed.records.finding import Amount, Finding
from claybed.records.measured import WallHole
from claybed.units import say_count, say_opening

FLAT = 0.7  # cosine between up and the way a hole looks, from which it is in floor or top
MIDDLE_PART = 0.1  # of the largest distance from the middle, within which a hole is in the middle
LEVEL_MM = 1.0  # heights closer than this are one row
MOST_TOLD = 6  # rows of holes that one sentence lists
_AXES = ("x", "y", "z")


def placed(
    holes: tuple[WallHole, ...], vertices_mm: Points, middle_mm: Points, up: Points
) -> tuple[WallHole, ...]:
    """Holes with their letters and places, from the foot up and round against the clock seen from above.

    `vertices_mm` (n, 3) of the vessel that stands with the unit vector `up` upward, `middle_mm` (3,) on its
    axis, where it has one; the first hole off the middle is told by the file's axis, the others by how far
    they are round from it.
    """
    foot = float((vertices_mm @ up).min())
    level = vertices_mm - np.outer(vertices_mm @ up, up)
    middle = middle_mm - (middle_mm @ up) * up
    reach = float(np.linalg.norm(level - middle, axis=1).max())
    at = np.array([hole.at_mm for hole in holes])
    height = at @ up - foot
    away = at - np.outer(at @ up, up) - middle
    off = np.linalg.norm(away, axis=1)
    east = away[int(off.argmax())] / max(float(off.max()), 1e-12)
    turn = np.degrees(np.arctan2(away @ np.cross(up, east), away @ east)) % 360.0
    turn = np.where(turn > 359.5, 0.0, turn)
    row = np.round(height / LEVEL_MM).astype(np.int64).tolist()
    order = sorted(range(len(holes)), key=lambda k: (row[k], float(turn[k]), float(off[k])))
    told: list[WallHole] = []
    first: tuple[str, float] | None = None
    for place, k in enumerate(order):
        mark = chr(ord("a") + place) if place < 26 else str(place + 1)
        looks = float(np.array(holes[k].out) @ up)
        where = "in the floor" if looks < -FLAT else "on top" if looks > FLAT else "in the wall"
        if abs(looks) <= FLAT:
            where += f", {height[k]:.0f} mm above the foot"
        turned = ""
        if off[k] <= MIDDLE_PART * reach:
            where += ", in the middle"
        else:
            if abs(looks) > FLAT:
                where += f", {off[k]:.0f} mm off the middle"
            if first is None:
                first = (mark, float(turn[k]))
                axis = int(np.abs(away[k]).argmax())
                turned = f"towards {'+' if away[k][axis] > 0 else '-'}{_AXES[axis]}"
            else:
                turned = f"{round((turn[k] - first[1]) % 360.0) % 360}° round from {first[0]}"
        told.append(replace(holes[k], mark=mark, where=where, turned=turned))
    return tuple(told)


def place_words(hole: WallHole) -> str:
    """Where a hole is, in words."""
    return ", ".join(filter(None, (hole.where, hole.turned)))


def listed(holes: tuple[WallHole, ...]) -> str:
    """The holes with letter, size and place, like ones at one level together, and how many more there are."""

    def kind(hole: WallHole) -> tuple[str, str]:
        return say_opening(hole.width_mm, hole.length_mm), hole.where

    rows = []
    for (size, where), like in groupby(holes, key=kind):
        row = list(like)
        one = len(row) == 1
        named = row[0].mark if one else f"{row[0].mark} to {row[-1].mark}"
        rows.append(f"{named}: {size}, {place_words(row[0]) if one else where}")
    more = f"; and {len(rows) - MOST_TOLD} rows more" if len(rows) > MOST_TOLD else ""
    return "; ".join(rows[:MOST_TOLD]) + more


def holes_findings(holes: tuple[WallHole, ...]) -> tuple[Finding, ...]:
    """What to say of the holes that were closed, or that none were found."""
    if not holes:
        return (
            Finding(
                "no_holes",
                "look",
                "the wall",
                "No hole through the wall was found to close.",
                "Leave --close-holes out. If there is one, its rims are too soft to be told from the wall: "
                "close it in the model, and cut it in the leather-hard ware.",
            ),
        )
    filled_ml = sum(hole.volume_ml for hole in holes)
    return (
        Finding(
            "holes_closed",
            "look",
            "the wall",
            f"{say_count(len(holes), 'hole')} through the wall "
            f"{'is' if len(holes) == 1 else 'are'} closed flush for the mold ({listed(holes)}).",
            "Close the real thing in the same places before the pour, and cut the ware there when it is "
            "leather-hard: how wide stands under ware.",
            Amount(filled_ml, "ml"),
        ),
    )
