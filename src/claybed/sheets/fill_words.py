"""What is filled with oil clay before the bed is built, in the words of the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.sheets.bench_words import in_plane
from claybed.sheets.fill_marks import FillMark, fill_marks
from claybed.units import say_gauged, say_length
from claybed.wording import LOCK_CLASSES, clay_words, fill_finish, ruler

# What counts as thin as paper.
PAPER_MM = 0.2
# Heights that differ less than this are told as one.
ALIKE_MM = 3.0


def fill_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the places of the fill table are filled and scraped before the bed is built."""
    marks = fill_marks((plan.get("pose") or {}).get("fill") or [])
    if not marks:
        return ["There is no undercut to fill with oil clay."]
    thick = [mark for mark in marks if not mark.film]
    films = [mark for mark in marks if mark.film]
    says = [
        "Then fill it, as it lies now, where plaster would lock: the ringed places, whose table stands under "
        "the pictures of “The object as it lies”."
    ]
    if thick:
        clear = "" if in_plane(plan) else ", until nothing overhangs seen straight from above or below"
        says.append(f"{_numbers(thick)}: oil clay, {fill_finish(in_plane(plan))}{clear}.")
    if films:
        deepest = max(mark.depth_mm for mark in films)
        says.append(
            f"{_numbers(films)}: with a fingertip smear in a film of oil clay, {thin_words(deepest, us)}, so "
            "that no notch is left to feel; scrape off what stands out."
        )
    return says


def fill_rows(plan: Mapping[str, Any], us: bool) -> list[list[str]]:
    """The table of places: number, from the chart's left edge, from its front edge, up, clay, depth, what to
    do.
    """
    spots = (plan.get("pose") or {}).get("fill") or []
    outer = plan["mold"]["outer_mm"]
    return [_row(mark, spots, outer, us) for mark in fill_marks(spots)]


def _row(
    mark: FillMark, spots: Sequence[Mapping[str, Any]], outer_mm: Sequence[float], us: bool
) -> list[str]:
    deep_mm = outer_mm[1] if len(outer_mm) == 3 else outer_mm[0]
    x, y = mark.at_mm
    low, high = ruler(mark.low_mm, us), ruler(mark.high_mm, us)
    up = high if mark.high_mm - mark.low_mm < ALIKE_MM else f"{low.rsplit(' ', 1)[0]} to {high}"
    first = spots[mark.spots[0]]
    clay = "a film" if mark.film else clay_words(first["clay_g"], us=us)
    several = f", {len(mark.spots)} spots" if len(mark.spots) > 1 else ""
    act = (
        f"smear in{several}"
        if mark.film
        else LOCK_CLASSES.get(str(first["lock_class"]), str(first["lock_class"]))
    )
    depth = thin_words(mark.depth_mm, us, bare=True) if mark.film else say_length(mark.depth_mm, us=us)
    return [
        str(mark.number),
        ruler(x + outer_mm[0] / 2.0, us),
        ruler(y + deep_mm / 2.0, us),
        up,
        clay,
        depth,
        act,
    ]


def _numbers(marks: Sequence[FillMark]) -> str:
    told = [str(mark.number) for mark in marks]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def thin_words(thickest_mm: float, us: bool, *, bare: bool = False) -> str:
    """How thick a film is laid: as paper, or up to the depth of the deepest of its spots; `bare` without the
    words round the figure.
    """
    if thickest_mm < PAPER_MM:
        return "as paper" if bare else "thin as paper"
    most = say_gauged(thickest_mm, us=us)
    return most if bare else f"nowhere over {most}"
