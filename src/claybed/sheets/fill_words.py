"""What is filled with oil clay before the bed is built, in the words of the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.sheets.bench_words import in_plane, place_words
from claybed.units import MM_PER_IN
from claybed.wording import clay_words, fill_finish, on_rule, ruler

# What counts as thin as paper.
PAPER_MM = 0.2
# Spots that take no more than a film of clay are told up to so many.
MOST_FILMS = 8


def fill_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """What is filled and scraped before the bed: each place with grams, height and side."""
    spots = (plan.get("pose") or {}).get("fill") or []
    outer = plan["mold"]["outer_mm"]
    says: list[str] = []
    places: list[str] = []
    films: list[str] = []
    thickest_mm = 0.0
    for spot in spots:
        where = f"{place_words(spot['at_mm'], outer)}, {ruler(spot['height_mm'], us)} up"
        if spot["number"] and spot["lock_class"] != "ignore":
            clay = clay_words(spot["clay_g"], us=us)
            places.append(f"{spot['number']}: {clay}, {where}, {on_rule(spot['depth_mm'], us=us)} deep")
        elif spot["lock_class"] != "ignore":
            films.append(_on_chart(spot, outer, us))
            thickest_mm = max(thickest_mm, float(spot["depth_mm"]))
    if places or films:
        says.append(
            "Then fill it where plaster would lock; the pictures under “Oil clay on the model” show the "
            "places hatched; sides and heights are told as it lies now."
        )
    if places:
        finish = fill_finish(in_plane(plan))
        clear = "" if in_plane(plan) else ", until nothing overhangs seen straight from above or below"
        says.append(f"Oil clay, {finish}{clear}: {'; '.join(places)}.")
    if films:
        told = "; ".join(films[:MOST_FILMS])
        more = "" if len(films) <= MOST_FILMS else f"; and {len(films) - MOST_FILMS} more in the pictures"
        says.append(
            f"A film of oil clay, {thin_words(thickest_mm, us)}, over the hatched spots, told from the "
            f"chart's left edge, from its front edge, and up from the board: {told}{more}."
        )
    if not spots:
        says.append("There is no undercut to fill with oil clay.")
    return says


def thin_words(thickest_mm: float, us: bool) -> str:
    """How thick a film is laid: as paper, or up to the depth of the deepest of its spots."""
    if thickest_mm < PAPER_MM:
        return "thin as paper"
    return (
        f"smeared in, nowhere over {thickest_mm / MM_PER_IN:.2f} in"
        if us
        else (f"smeared in, nowhere over {thickest_mm:.1f} mm")
    )


def _on_chart(spot: Mapping[str, Any], outer_mm: Sequence[float], us: bool) -> str:
    """Where a spot lies: from the chart's left edge, from its front edge, and up."""
    deep_mm = outer_mm[1] if len(outer_mm) == 3 else outer_mm[0]
    x, y = spot["at_mm"]
    told = [x + outer_mm[0] / 2.0, y + deep_mm / 2.0, spot["height_mm"]]
    return ", ".join([*(ruler(mm, us).rsplit(" ", 1)[0] for mm in told[:2]), ruler(told[2], us)])
