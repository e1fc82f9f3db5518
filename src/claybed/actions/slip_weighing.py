"""Slip from its weight, changed to another, or made anew, with the working of every figure."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from claybed.actions.plan_folders import figure_of, read_ware_plan
from claybed.errors import InputError
from claybed.flow.ware_document import document_of
from claybed.materials.bodies import slip as slip_named
from claybed.materials.shelf import Constant
from claybed.records.finding import Finding
from claybed.ware.casting import CastAsk, plan_cast
from claybed.ware.reckoning import Input, asked, middle
from claybed.ware.slipping import density_from, slip_batch, slip_change, slip_state


@dataclass(frozen=True, slots=True)
class SlipAsk:
    """What was told of a slip and what is wanted: masses g, volumes l or ml, densities against water.

    `clay_g`, `water_g` a recipe, `made_l` its measured volume; `batch_l` slip at hand, to be brought to
    `target_ratio`; `make_l` slip to be made, or `casts` good casts of a plan folder; `dose_fraction` of
    deflocculant over dry clay, or `dose_g` as weighed.
    """

    density_ratio: float | None = None
    litre_g: float | None = None
    pint_g: float | None = None
    pint: str = "imperial"
    sample: tuple[float, float] | None = None
    clay_g: float | None = None
    water_g: float | None = None
    made_l: float | None = None
    batch_l: float | None = None
    target_ratio: float | None = None
    make_l: float | None = None
    casts: int | None = None
    dose_fraction: float | None = None
    dose_g: float | None = None
    solids_ratio: float | None = None
    slip: str | None = None
    studio: str = ""
    plan: Path | None = None


def slip_document(ask: SlipAsk) -> dict[str, Any]:
    """Return the slip, and the change or the batch that was asked for, as one plain document, unrounded.

    Raises InputError for entries that contradict each other, a recipe with one half missing, or a target that
    no slip has.
    """
    usual = slip_named(ask.slip, ask.studio)
    solids: Input = usual.solids.value if ask.solids_ratio is None else ask.solids_ratio
    if (ask.clay_g is None) != (ask.water_g is None):
        raise InputError("a recipe needs clay and water.", where="slip", remedy="Give --clay and --water.")
    recipe = None if ask.clay_g is None or ask.water_g is None else (ask.clay_g, ask.water_g)
    told = (ask.density_ratio, ask.litre_g, ask.pint_g, ask.sample, recipe)
    if any(one is not None for one in told):
        density: Input = density_from(
            density_ratio=ask.density_ratio, litre_g=ask.litre_g, pint_g=ask.pint_g, pint=ask.pint,
            sample=ask.sample, recipe=recipe, recipe_l=ask.made_l, solids=solids,
        )  # fmt: skip
    elif ask.target_ratio is not None and ask.batch_l is None:
        density = asked(ask.target_ratio, "-")
    elif ask.slip is not None or ask.make_l is not None or ask.casts is not None:
        density = usual.density.value
    else:
        density = density_from()
    change = None
    if ask.batch_l is not None:
        if ask.target_ratio is None:
            raise InputError("a batch at hand needs a target.", where="--batch", remedy="Give --target 1.75.")
        change = slip_change(ask.batch_l, density, ask.target_ratio, solids)
    dose = _dose(ask, usual.deflocculant)
    batch = None
    litres = _litres(ask)
    if litres is not None:
        batch = slip_batch(litres, density, solids, dose)
    elif recipe is not None:
        clay_g, water_g = recipe
        volume = (clay_g + water_g) / 1000 / (density.value if isinstance(density, Constant) else 1.0)
        batch = slip_batch(volume, density, solids, dose)
    return document_of(
        slip_state(density, solids),
        change=change,
        batch=batch,
        findings=_findings(ask, density, change is not None),
    )


def _litres(ask: SlipAsk) -> Input | None:
    if ask.make_l is not None:
        return ask.make_l
    if ask.casts is None:
        return None
    if ask.plan is None:
        raise InputError("casts of what?", where="--casts", remedy="Name a plan folder, or give --make 10L.")
    plan = read_ware_plan(ask.plan)
    cast = plan_cast(
        CastAsk(
            slip=slip_named(ask.slip, ask.studio),
            wall_mm=figure_of(plan, "/ware/cast/wall_mm").value,
            area_cm2=figure_of(plan, "/ware/measures/cavity_cm2"),
            cavity_ml=figure_of(plan, "/ware/measures/cavity_ml"),
            good_casts=ask.casts,
        )
    )
    assert cast.per_cast is not None and cast.per_cast.prepare_ml is not None
    return cast.per_cast.prepare_ml.value / 1000


def _dose(ask: SlipAsk, usual: Constant) -> Input:
    if ask.dose_fraction is not None:
        return ask.dose_fraction
    if ask.dose_g is not None and ask.clay_g is not None:
        return ask.dose_g / ask.clay_g
    if ask.dose_g is not None:
        raise InputError(
            "a dose in grams needs the clay.", where="--deflocculant", remedy="Give --clay 20kg too."
        )
    return usual


def _findings(ask: SlipAsk, density: Input, changing: bool) -> tuple[Finding, ...]:
    found = []
    value = middle(density)
    if not 1.65 <= value <= 1.85:
        thin = value < 1.65
        trouble = "thin: it casts slowly and shrinks more" if thin else "thick: it drains badly and gels"
        found.append(
            Finding(
                id="slip_thin" if thin else "slip_thick",
                severity="look",
                where="slip",
                says=f"At {value:.2f} times the weight of water this slip is {trouble}.",
                remedy="Studios cast at 1.75 to 1.80; low-fire talc slips at 1.65 to 1.70.",
            )
        )
    if changing or ask.make_l is not None or ask.clay_g is not None:
        found.append(
            Finding(
                id="deflocculant_last",
                severity="note",
                where="slip",
                says="Deflocculant comes last, by drops: if one thickens a litre, there is too much.",
                remedy="Start with four fifths of the maker's dose, rest the slip a day, and weigh it again.",
            )
        )
        found.append(
            Finding(
                id="dry_clay_dust",
                severity="look",
                where="slip",
                says="Dry clay is dust that harms lungs, and a running mixer takes hold of sleeves.",
                remedy="Wear a dust mask that fits, put clay into water, stop the mixer first, wipe up wet.",
            )
        )
    return tuple(found)
