"""Casting slip: what a weight says, what a batch takes, and entries that contradict one another."""

from __future__ import annotations

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.bodies import Slip
from claybed.materials.shelf import Constant
from claybed.physics import slip as formulas
from claybed.records.reckoned import Reckoned
from claybed.records.ware import SlipBatch, SlipChange, SlipState
from claybed.units import G_PER_OZ
from claybed.ware.reckoning import Input, asked, reckon, taken

ML_PER_PINT = {"imperial": 568.26125, "us": 473.176473}
# What a pint of water weighs, oz: 20 by definition for the imperial pint of Brongniart's rule.
_IMPERIAL_WATER_OZ = 20.0


def density_from(
    *,
    density_ratio: float | None = None,
    litre_g: float | None = None,
    pint_g: float | None = None,
    pint: str = "imperial",
    sample: tuple[float, float] | None = None,
    recipe: tuple[float, float] | None = None,
    recipe_l: float | None = None,
    solids: Input = 2.6,
) -> Constant:
    """Density of a slip against water, from whichever was told: specific gravity, mass of a litre or a pint,
    a sample (g, ml), a recipe (clay g, water g), or a recipe's mass and its measured volume (l).

    Raises InputError when nothing was told, when the slip cannot be (too light, too heavy), or when two
    entries contradict each other by more than materials/slip contradiction_fraction, naming both.
    """
    told: dict[str, float] = {}
    if density_ratio is not None:
        told["--sg"] = density_ratio
    if litre_g is not None:
        told["--litre-weight"] = litre_g / 1000.0
    if pint_g is not None:
        if pint not in ML_PER_PINT:
            raise InputError(f"there is no {pint} pint.", where="--pint", remedy="Use imperial or us.")
        told["--pint-weight"] = (
            pint_g / G_PER_OZ / _IMPERIAL_WATER_OZ if pint == "imperial" else pint_g / ML_PER_PINT[pint]
        )
    if sample is not None:
        told["--sample"] = sample[0] / sample[1]
    if recipe is not None:
        clay_g, water_g = recipe
        made_l = 1000.0 * formulas.batch_volume_m3(clay_g / 1000, water_g / 1000, _value(solids))
        told["the recipe"] = (clay_g + water_g) / 1000.0 / made_l
        if recipe_l is not None:
            told["its volume"] = (clay_g + water_g) / 1000.0 / recipe_l
    if not told:
        raise InputError(
            "nothing says how heavy the slip is.",
            where="slip",
            remedy="Give --sg, --litre-weight, --pint-weight, or --clay and --water.",
        )
    allowed = shelf.value("slip", "contradiction_fraction").value
    first, density = next(iter(told.items()))
    for other, found in told.items():
        if abs(found - density) > allowed * density:
            raise InputError(
                f"{first} says {density:.3f} and {other} {found:.3f} times as heavy as water.",
                where="slip",
                remedy="One of them is misread, or air is in the slip: weigh a known volume again.",
            )
    _possible(density, _value(solids))
    return asked(density, "-")


def slip_state(density: Input, solids: Input) -> SlipState:
    """What a slip of a density (against water) holds."""
    given = {"density_ratio": density, "solids_ratio": solids}
    solid = "solids (SG - 1) / (SG (solids - 1))"
    return SlipState(
        density_ratio=taken(density, "-", "against water"),
        litre_g=reckon(
            lambda density_ratio: 1000 * density_ratio, "g", "1000 SG", "brongniart", density_ratio=density
        ),
        pint_oz=reckon(
            lambda density_ratio: _IMPERIAL_WATER_OZ * density_ratio,
            "oz",
            "20 SG, imperial pint",
            "brongniart",
            density_ratio=density,
        ),
        water_percent=reckon(
            lambda density_ratio, solids_ratio: (
                100 * (1 - formulas.solids_mass_fraction(density_ratio, solids_ratio))
            ),
            "percent",
            f"100 (1 - {solid})",
            "brongniart",
            **given,
        ),
        solids_percent=reckon(
            lambda density_ratio, solids_ratio: (
                100 * formulas.solids_mass_fraction(density_ratio, solids_ratio)
            ),
            "percent",
            f"100 {solid}",
            "brongniart",
            **given,
        ),
        solids_volume_percent=reckon(
            lambda density_ratio, solids_ratio: (
                100 * formulas.solids_volume_fraction(density_ratio, solids_ratio)
            ),
            "percent",
            "100 (SG - 1) / (solids - 1)",
            "brongniart",
            **given,
        ),
        dry_g_per_l=reckon(
            lambda density_ratio, solids_ratio: formulas.dry_content_kg_per_m3(
                1000 * density_ratio, solids_ratio
            ),
            "g/l",
            "1000 (SG - 1) solids / (solids - 1)",
            "brongniart",
            **given,
        ),
    )


def slip_change(batch_l: float, density: Input, target_ratio: float, solids: Input) -> SlipChange:
    """Water that thins, or dry clay that thickens, `batch_l` of slip to a wanted density against water.

    Raises InputError for a target that no casting slip has.
    """
    _possible(target_ratio, _value(solids))
    wanted = taken(target_ratio, "-", "against water, as wanted")
    if target_ratio <= _value(density):
        water = reckon(
            lambda batch_l, density_ratio, target_ratio: (
                1e6 * formulas.thinning_water_m3(batch_l / 1000, density_ratio, target_ratio)
            ),
            "ml",
            "V (SG - target) / (target - 1)",
            "brongniart",
            batch_l=batch_l,
            density_ratio=density,
            target_ratio=target_ratio,
        )
        return SlipChange(wanted, water, None, _plus(batch_l, water, 1000.0))
    clay = reckon(
        lambda batch_l, density_ratio, target_ratio, solids_ratio: (
            1000 * formulas.thickening_solids_kg(batch_l / 1000, density_ratio, target_ratio, solids_ratio)
        ),
        "g",
        "V (target - SG) / (1 - target / solids)",
        "brongniart",
        batch_l=batch_l,
        density_ratio=density,
        target_ratio=target_ratio,
        solids_ratio=solids,
    )
    return SlipChange(wanted, None, clay, _plus(batch_l, clay, 1000.0 * _value(solids)))


def slip_batch(slip_l: Input, density: Input, solids: Input, dose: Input) -> SlipBatch:
    """Clay, water and deflocculant for a volume of slip; `dose` over dry clay, a fraction."""
    clay = reckon(
        lambda slip_l, density_ratio, solids_ratio: (
            slip_l * formulas.dry_content_kg_per_m3(1000 * density_ratio, solids_ratio)
        ),
        "g",
        "litres x dry clay per litre",
        "brongniart",
        slip_l=slip_l,
        density_ratio=density,
        solids_ratio=solids,
    )
    water = reckon(
        lambda slip_l, density_ratio, clay_g: 1000 * slip_l * density_ratio - clay_g,
        "g",
        "mass of the slip - clay",
        "brongniart",
        slip_l=_value(slip_l),
        density_ratio=_value(density),
        clay_g=clay.value,
    )
    source = dose.source if isinstance(dose, Constant) else "asked"
    return SlipBatch(
        slip_l=taken(slip_l, "l", "volume of slip"),
        clay_g=clay,
        water_g=water,
        deflocculant_g=reckon(
            lambda clay_g, dose_fraction: clay_g * dose_fraction,
            "g",
            "clay x dose",
            source,
            clay_g=clay.value,
            dose_fraction=dose,
        ),
    )


def usual_slip(slip: Slip) -> SlipState:
    """The state of a slip of the shelf or the studio."""
    return slip_state(slip.density, slip.solids)


def _plus(batch_l: float, added: Reckoned, per_l: float) -> Reckoned:
    return reckon(
        lambda batch_l, added: batch_l + added / per_l,
        "l",
        "batch and what is added",
        "brongniart",
        batch_l=batch_l,
        added=added,
    )


def _possible(density: float, solids: float) -> None:
    least, most = (
        shelf.value("slip", "slip_least_ratio").low - 0.35,
        shelf.value("slip", "slip_most_ratio").high + 0.2,
    )
    if not least <= density <= min(most, solids):
        raise InputError(
            f"a slip {density:.3f} times as heavy as water cannot be cast.",
            where="slip",
            remedy="Casting slips are 1.6 to 1.9; check the volume and the tare of the jug.",
        )


def _value(given: Input) -> float:
    return float(given) if isinstance(given, int | float) else given.value
