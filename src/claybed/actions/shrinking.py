"""Sizes of model and fired piece, shrinkage bars and the boil test, with the working of every figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from claybed.actions.plan_folders import figure_of, read_ware_plan
from claybed.errors import InputError
from claybed.flow.ware_document import document_of
from claybed.materials.bodies import body as body_named
from claybed.materials.shelf import Constant
from claybed.records.ware import Shrinkage
from claybed.ware.reckoning import asked
from claybed.ware.sizing import boil_test, read_bars, shrinkage_of, sizes_of

Length = tuple[float, float | None, float | None, float]


@dataclass(frozen=True, slots=True)
class ShrinkAsk:
    """What is known and wanted; shares as fractions, lengths mm, volumes ml, masses g.

    Shrinkage from `body`, from total, drying and firing, or `bars` (plastic, dry, bisque, fired). `studio`
    is the text of the studio's own file. `plan` takes the object of a plan folder.
    """

    body: str | None = None
    studio: str = ""
    total_fraction: float | None = None
    drying_fraction: float | None = None
    firing_fraction: float | None = None
    growth_fraction: float = 0.0
    castings: int = 1
    bars: Sequence[Length] = ()
    read_to_mm: float = 0.5
    fired_mm: float | None = None
    model_mm: float | None = None
    fired_wall_mm: float | None = None
    wet_wall_mm: float | None = None
    fired_capacity_ml: float | None = None
    wet_capacity_ml: float | None = None
    dry_g: float | None = None
    soaked_g: float | None = None
    suspended_g: float | None = None
    plan: Path | None = None


def shrink_document(ask: ShrinkAsk) -> dict[str, Any]:
    """Return shrinkage, the sizes asked for, bars and boil test as one plain document, unrounded.

    Raises InputError for entries that contradict each other, or when nothing was asked.
    """
    bar = read_bars(ask.bars, read_to_mm=ask.read_to_mm) if ask.bars else None
    boiled = None
    if ask.dry_g is not None and ask.soaked_g is not None:
        boiled = boil_test(ask.dry_g, ask.soaked_g, ask.suspended_g)
    elif ask.dry_g is not None or ask.soaked_g is not None or ask.suspended_g is not None:
        raise InputError(
            "a boil test needs the dry and the soaked mass.",
            where="--boiled",
            remedy="Give --dry-mass and --soaked, and --suspended for the porosity.",
        )
    shrunk = _shrinkage(
        ask,
        None
        if bar is None
        else _as_total(bar.total_percent.low, bar.total_percent.value, bar.total_percent.high),
    )
    if shrunk is None and bar is None and boiled is None:
        raise InputError(
            "nothing says how the clay shrinks.",
            where="shrink",
            remedy="Give --body NAME, --total 12%, or the lengths of a bar.",
        )
    sizes = None
    if shrunk is not None:
        sizes = sizes_of(
            shrunk,
            fired_mm=ask.fired_mm,
            model_mm=ask.model_mm,
            fired_wall_mm=ask.fired_wall_mm,
            wet_wall_mm=ask.wet_wall_mm,
            fired_capacity_ml=ask.fired_capacity_ml,
            wet_capacity_ml=ask.wet_capacity_ml,
        )
    # A bar's own figures say more than those derived from its total.
    document = document_of(None if bar is not None else shrunk, sizes, bar, boiled)
    if ask.plan is not None and shrunk is not None:
        document |= _of_plan(ask.plan, shrunk, document)
    return document


def _shrinkage(ask: ShrinkAsk, from_bar: Constant | None) -> Shrinkage | None:
    told = (ask.body, ask.total_fraction, ask.drying_fraction, ask.firing_fraction)
    if from_bar is None and all(one is None for one in told):
        return None
    if from_bar is not None and any(one is not None for one in told):
        raise InputError(
            "the bar says how the clay shrinks, and so does another option.",
            where="shrink",
            remedy="Leave --body, --total, --drying and --firing out, or the bar.",
        )

    def share(amount: float | None) -> Constant | None:
        return None if amount is None else asked(amount, "-")

    return shrinkage_of(
        body=None if ask.body is None else body_named(ask.body, ask.studio),
        total=from_bar or share(ask.total_fraction),
        drying=share(ask.drying_fraction),
        firing=share(ask.firing_fraction),
        growth_fraction=ask.growth_fraction,
        castings=ask.castings,
    )


def _as_total(low_percent: float, percent: float, high_percent: float) -> Constant:
    return Constant(percent / 100, "-", low_percent / 100, high_percent / 100, "measured", "read", "")


def _of_plan(folder: Path, shrunk: Shrinkage, document: dict[str, Any]) -> dict[str, Any]:
    """What the object of a plan becomes, under "becomes"."""
    plan = read_ware_plan(folder)
    extents = [float(side) for side in plan["object"]["extent_mm"]]
    rows = [sizes_of(shrunk, model_mm=side) for side in extents]
    capacity = None
    if isinstance(plan["ware"]["measures"].get("capacity_ml"), int | float):
        capacity = sizes_of(shrunk, wet_capacity_ml=figure_of(plan, "/ware/measures/capacity_ml").value)
    made = document_of(x=rows[0], y=rows[1], z=rows[2], holds=capacity)
    figures = document["figures"] | {f"/becomes{at}": one for at, one in made.pop("figures").items()}
    made.pop("findings")
    return {"becomes": made, "figures": figures}
