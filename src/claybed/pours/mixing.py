"""Water and plaster for a space to fill, in bucketfuls that one person can mix."""

from __future__ import annotations

import math

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.physics.slurry import plaster_for_volume_kg, slurry_density_kg_per_m3
from claybed.records.mix import Batch, Mix
from claybed.units import CONSISTENCY_LEAST, CONSISTENCY_MOST, say_share

# A space that is a whole number of buckets but for rounding must not ask for one bucket more.
_ROUNDING = 1e-9
# Allowances are told in whole per cents; a smaller share would be lost in them.
LEAST_SHARE_SAID = 0.003


def densities_kg_per_m3() -> tuple[float, float]:
    """Effective density of plaster grains and density of water, from materials, kg/m³."""
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml").value
    return 1000.0 * grains, 1000.0 * shelf.value("plaster", "water_density_g_per_ml").value


def slurry_g_per_ml(consistency: float) -> float:
    """Density of the slurry at a consistency (water per 100 of plaster, 20 to 200), g/ml.

    Raises InputError outside that range. Source: the density model of physics.slurry.
    """
    _check_consistency(consistency)
    plaster_kg_per_m3, water_kg_per_m3 = densities_kg_per_m3()
    density = slurry_density_kg_per_m3(
        consistency, plaster_kg_per_m3=plaster_kg_per_m3, water_kg_per_m3=water_kg_per_m3
    )
    return density / 1000.0


def waste_for_form(form: str) -> tuple[float, str]:
    """The usual allowance for a form ("hand", "boards" or "case") as a fraction, and why, in a few words.

    Raises InputError for another form. Source: common practice, materials/practice.
    """
    named = {
        "hand": "a form built by hand",
        "boards": "boards of known length",
        "case": "a printed or plaster case",
    }
    if form not in named:
        raise InputError(f"the form “{form}” is not known.", where="form", remedy=f"Use {', '.join(named)}.")
    constant = shelf.value("practice", f"waste_{form}_fraction")
    return constant.value, f"{say_share(constant.value)} for {named[form]}, common practice"


def allowance(form: str, *, more_ml: float, space_ml: float) -> tuple[float, str]:
    """The share to mix beyond a space (ml, above 0) and why: the usual one for the form, and `more_ml`, what
    the space may be larger by because the object in it is not known better.

    Raises InputError for an unknown form.
    """
    usual, reason = waste_for_form(form)
    share = min(more_ml / space_ml, 1.0 - usual)
    if share < LEAST_SHARE_SAID:
        return usual, reason
    reason = f"{reason}, and {say_share(share, 1)} because the object may be smaller than measured"
    return usual + share, reason


def mix_for_space(space_ml: float, *, consistency: float, waste: float, bucket_l: float) -> Mix:
    """Water and plaster for a space, with the batches to make it in and what the common rule would use.

    `space_ml` to fill, above 0; `consistency` water per 100 of plaster by mass, 20 to 200; `waste` fraction
    added, 0 to 1; `bucket_l` the most slurry in one batch, above 0. Batches are equal and none exceeds the
    bucket; their sums are the mix. The common rule takes a gram of water for each millilitre of space and
    plaster at the ratio, with no allowance. Raises InputError for anything out of range. Source:
    physics.slurry.
    """
    _check_consistency(consistency)
    if not (math.isfinite(space_ml) and space_ml > 0.0):
        raise InputError(
            f"there is no space to fill ({space_ml:g} ml).", where="space", remedy="Give a space above 0 ml."
        )
    if not 0.0 <= waste <= 1.0:
        raise InputError(
            f"an allowance of {waste:g} is out of range.", where="waste", remedy="Use 0 to 1; 0.1 is usual."
        )
    if not (math.isfinite(bucket_l) and bucket_l > 0.0):
        raise InputError(
            f"a batch of {bucket_l:g} l cannot be mixed.", where="bucket", remedy="8 l is usual."
        )
    plaster_kg_per_m3, water_kg_per_m3 = densities_kg_per_m3()
    slurry_ml = space_ml * (1.0 + waste)
    plaster_g = 1000.0 * plaster_for_volume_kg(
        slurry_ml * 1e-6,
        consistency,
        plaster_kg_per_m3=plaster_kg_per_m3,
        water_kg_per_m3=water_kg_per_m3,
    )
    water_g = plaster_g * consistency / 100.0
    return Mix(
        space_ml=float(space_ml),
        waste=float(waste),
        slurry_ml=slurry_ml,
        consistency=float(consistency),
        water_g=water_g,
        plaster_g=plaster_g,
        batches=_batches(slurry_ml, water_g, plaster_g, bucket_l),
        common_water_g=float(space_ml),
        common_plaster_g=space_ml * 100.0 / consistency,
    )


def _batches(slurry_ml: float, water_g: float, plaster_g: float, bucket_l: float) -> tuple[Batch, ...]:
    buckets = slurry_ml / (1000.0 * bucket_l)
    if buckets > 1000.0:
        raise InputError(
            f"that is {buckets:.0f} batches of {bucket_l:g} l.",
            where="bucket",
            remedy="Check the units of both.",
        )
    count = max(math.ceil(buckets * (1.0 - _ROUNDING)), 1)
    return tuple(Batch(n, water_g / count, plaster_g / count, slurry_ml / count) for n in range(1, count + 1))


def _check_consistency(consistency: float) -> None:
    if not CONSISTENCY_LEAST <= consistency <= CONSISTENCY_MOST:
        raise InputError(
            f"{consistency:g} parts of water per 100 of plaster is no plaster mix.",
            where="ratio",
            remedy=f"Use {CONSISTENCY_LEAST:g} to {CONSISTENCY_MOST:g}; 1:1.3 is 77.",
        )
