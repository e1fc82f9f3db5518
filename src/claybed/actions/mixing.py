"""How much water and plaster a space takes, with the working of every figure."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import Any, Final, Literal

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.pours.mixing import allowance, mix_for_space, waste_for_form
from claybed.pours.planning import batch_findings
from claybed.pours.working import mix_entry, mix_figures
from claybed.records.brief import Brief
from claybed.records.figure import Figure

_ML_PER_MM3: Final = 1e-3
Inputs = dict[str, float | str]


@dataclass(frozen=True, slots=True)
class Space:
    """A space to fill with plaster: exactly one of the first three, less the object, by one of the last two
    or none.

    `space_ml` as it is; `box_mm` inside length, width and pour height; `round_mm` inside diameter and pour
    height; `object_ml` the object's volume, with `object_low_ml` and `object_high_ml` when it is uncertain;
    `displaced_g` the water it pushes out, weighed. All above 0.
    """

    space_ml: float | None = None
    box_mm: tuple[float, float, float] | None = None
    round_mm: tuple[float, float] | None = None
    object_ml: float | None = None
    displaced_g: float | None = None
    object_low_ml: float | None = None
    object_high_ml: float | None = None


@dataclass(frozen=True, slots=True)
class _Spread:
    """A figure with its bounds; bounds equal to the value mean that it is taken at its word."""

    value: float
    low: float
    high: float


def mix_document(
    space: Space,
    *,
    consistency: float,
    waste: float | None,
    form: Literal["hand", "boards", "case"],
    bucket_l: float,
) -> dict[str, Any]:
    """Return water, plaster and batches for `space` as a plain document, unrounded.

    `consistency` water per 100 plaster by mass (20 to 200); `waste` fraction added (None: by `form`, from
    materials); `bucket_l` largest batch of slurry in litres. Keys: space_ml, slurry_ml, water_g, plaster_g,
    batches, common_rule, findings, and figures, which holds the working of every number by its JSON pointer.
    Raises InputError when the space is not given exactly once, or the object fills it.
    """
    room, room_figure = _room(space)
    usual, usual_reason = allowance(form, more_ml=room.high - room.value, space_ml=room.value)
    share, reason, source = (
        (usual, usual_reason, "practice") if waste is None else (waste, "as asked", "asked")
    )
    mix, low, high = (
        mix_for_space(room_ml, consistency=consistency, waste=share, bucket_l=bucket_l)
        for room_ml in (room.value, room.low, room.high)
    )
    document = mix_entry(mix)
    figures = mix_figures(mix, low=low, high=high) | {"/space_ml": room_figure}
    slurry = figures["/slurry_ml"]
    figures["/slurry_ml"] = replace(slurry, source=source, inputs=slurry.inputs | {"waste_reason": reason})
    for index, batch in enumerate(mix.batches):
        place: Inputs = {"slurry_ml": mix.slurry_ml, "bucket_l": bucket_l}
        figures[f"/batches/{index}/number"] = Figure(
            "-", f"batch {batch.number} of the fewest equal ones that fit the bucket", "asked", place
        )
    found = batch_findings(mix, where="this mix", what="This mix")
    for index in range(len(found)):
        figures[f"/findings/{index}/amount/value"] = Figure(
            "buckets", "fewest equal batches that fit the bucket", "asked", {"bucket_l": bucket_l}
        )
    return document | {
        "findings": [asdict(finding) for finding in found],
        "figures": {pointer: asdict(figure) for pointer, figure in figures.items()},
    }


def mixing_constants() -> dict[str, Any]:
    """What a device needs to work out a mix by itself, and where it comes from.

    Densities in g/ml, allowances as fractions, the usual batch in litres.
    """
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml")
    water = shelf.value("plaster", "water_density_g_per_ml")
    wastes = []
    for form, says in (("hand", "Built by hand"), ("boards", "Boards"), ("case", "A case")):
        wastes.append({"form": form, "share": waste_for_form(form)[0], "says": says})
    return {
        "grain_g_per_ml": grains.value,
        "water_g_per_ml": water.value,
        "wastes": wastes,
        "bucket_l": Brief().bucket_l,
        "source": f"Densities: docs/sources.md, {grains.source} and {water.source}.",
    }


def _room(space: Space) -> tuple[_Spread, Figure]:
    given = [shape for shape in (space.space_ml, space.box_mm, space.round_mm) if shape is not None]
    if len(given) != 1:
        raise InputError(
            "the space to fill must be given once.",
            where="mix",
            remedy="Use one of --space 10L, --box 200x150x90mm and --round 180mm x 120mm.",
        )
    inputs: Inputs = {}
    source = "geometry"
    if space.space_ml is not None:
        whole_ml, formula, source = space.space_ml, "space as given", "asked"
        inputs["space_ml"] = whole_ml
    elif space.box_mm is not None:
        length_mm, width_mm, height_mm = space.box_mm
        whole_ml = length_mm * width_mm * height_mm * _ML_PER_MM3
        formula = "length × width × height / 1000"
        inputs |= {"length_mm": length_mm, "width_mm": width_mm, "height_mm": height_mm}
    else:
        assert space.round_mm is not None
        diameter_mm, height_mm = space.round_mm
        whole_ml = math.pi / 4 * diameter_mm**2 * height_mm * _ML_PER_MM3
        formula = "π / 4 × diameter² × height / 1000"
        inputs |= {"diameter_mm": diameter_mm, "height_mm": height_mm}
    object_ml = _Spread(0.0, 0.0, 0.0)
    if space.object_ml is not None and space.displaced_g is not None:
        raise InputError(
            "the object is given twice.",
            where="--displaced",
            remedy="Use --object-volume or --displaced, not both.",
        )
    if space.object_ml is not None:
        low_ml = space.object_ml if space.object_low_ml is None else space.object_low_ml
        high_ml = space.object_ml if space.object_high_ml is None else space.object_high_ml
        object_ml = _Spread(space.object_ml, low_ml, high_ml)
        formula += " - object"
        inputs["object_ml"] = space.object_ml
    elif space.displaced_g is not None:
        water = shelf.value("plaster", "water_density_g_per_ml")
        object_ml = _Spread(
            *(space.displaced_g / density for density in (water.value, water.high, water.low))
        )
        formula += " - displaced water / density of water"
        inputs |= {"displaced_g": space.displaced_g, "water_density_g_per_ml": water.value}
        source = water.source
    room = _Spread(whole_ml - object_ml.value, whole_ml - object_ml.high, whole_ml - object_ml.low)
    if not room.low > 0:
        raise InputError(
            f"the object of {object_ml.value:.0f} ml leaves nothing of the {whole_ml:.0f} ml to fill.",
            where="mix",
            remedy="Check both volumes and their units.",
        )
    return room, _figure(room, "ml", formula, source, inputs)


def _figure(spread: _Spread, unit: str, formula: str, source: str, inputs: Inputs) -> Figure:
    exact = spread.low == spread.value == spread.high
    return Figure(
        unit,
        formula,
        source,
        inputs,
        low=None if exact else spread.low,
        high=None if exact else spread.high,
    )
