"""The pours as a document, and the working behind every figure in it."""

from __future__ import annotations

from typing import Any

from claybed.materials import shelf
from claybed.physics.plaster import dry_from_wet_kg
from claybed.physics.slurry import plaster_for_volume_kg, slurry_density_kg_per_m3
from claybed.records.figure import Figure
from claybed.records.mix import Mix
from claybed.records.pour import Pour

_PLASTER = "plaster_g = slurry_ml / (consistency / 100 / water density + 1 / plaster density)"
_WATER = "water_g = plaster_g x consistency / 100"


def mix_entry(mix: Mix) -> dict[str, Any]:
    """A mix as plain JSON values: ml and g, unrounded."""
    return {
        "space_ml": mix.space_ml,
        "slurry_ml": mix.slurry_ml,
        "water_g": mix.water_g,
        "plaster_g": mix.plaster_g,
        "batches": [
            {
                "number": batch.number,
                "water_g": batch.water_g,
                "plaster_g": batch.plaster_g,
                "slurry_ml": batch.slurry_ml,
            }
            for batch in mix.batches
        ],
        "common_rule": {"water_g": mix.common_water_g, "plaster_g": mix.common_plaster_g},
    }


def pour_entry(pour: Pour) -> dict[str, Any]:
    """A pour as plain JSON values: ml, g, mm and °C, unrounded; the piece's weights stand with the piece."""
    return {
        "piece": pour.piece,
        "order": pour.order,
        **mix_entry(pour.mix),
        "consistency": pour.mix.consistency,
        "waste": pour.waste,
        "waste_reason": pour.waste_reason,
        "fill_line_mm": pour.fill_line_from_board_mm,
        "fill_line": {
            "from_board_mm": pour.fill_line_from_board_mm,
            "from_rim_mm": pour.fill_line_from_rim_mm,
        },
        "grams_per_mm": {"water": pour.water_g_per_mm, "plaster": pour.plaster_g_per_mm},
        "peak_celsius": pour.peak_celsius,
    }


def mix_figures(
    mix: Mix, *, low: Mix | None = None, high: Mix | None = None, at: str = ""
) -> dict[str, Figure]:
    """The working of every figure of `mix_entry`, by JSON pointer below `at`.

    `low` and `high` are the mixes at the ends of the volume's interval, the mix itself when the volume is
    exact. The bounds take in how well the densities of plaster and water are known. Source:
    materials/plaster.
    """
    low, high = low or mix, high or mix
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml")
    water = shelf.value("plaster", "water_density_g_per_ml")
    inputs: dict[str, float | str] = {
        "slurry_ml": mix.slurry_ml,
        "consistency_per_100": mix.consistency,
        "hemihydrate_density_g_per_ml": grains.value,
        "water_density_g_per_ml": water.value,
    }
    least_g = _plaster_g(low, grains.low, water.low)
    most_g = _plaster_g(high, grains.high, water.high)
    per_water = mix.consistency / 100.0
    count = float(len(mix.batches))
    figures = {
        "/space_ml": Figure(
            "ml", "inside of the form less what stands in it", "geometry", {}, *_pair(low, high, 1)
        ),
        "/slurry_ml": Figure(
            "ml",
            "slurry_ml = space_ml x (1 + waste)",
            "derived",
            {"space_ml": mix.space_ml, "waste": mix.waste},
            *_pair(low, high, 1.0 + mix.waste),
        ),
        "/plaster_g": Figure("g", _PLASTER, grains.source, inputs, least_g, most_g),
        "/water_g": Figure(
            "g",
            f"{_WATER}; {_PLASTER}",
            grains.source,
            inputs,
            least_g * per_water,
            most_g * per_water,
        ),
        "/common_rule/water_g": Figure(
            "g", "one gram of water for each ml of space", "practice", {"space_ml": mix.space_ml}
        ),
        "/common_rule/plaster_g": Figure(
            "g",
            "common water x 100 / consistency",
            "practice",
            {"space_ml": mix.space_ml, "consistency_per_100": mix.consistency},
        ),
    }
    for index in range(len(mix.batches)):
        for key, whole in (
            ("water_g", mix.water_g),
            ("plaster_g", mix.plaster_g),
            ("slurry_ml", mix.slurry_ml),
        ):
            ends = (figures[f"/{key}"].low, figures[f"/{key}"].high)
            figures[f"/batches/{index}/{key}"] = Figure(
                key.rpartition("_")[2],
                f"{key} / batches",
                "derived",
                {key: whole, "batches": count},
                *(None if end is None else end / count for end in ends),
            )
    return {at + pointer: figure for pointer, figure in figures.items()}


def pour_figures(pour: Pour, *, at: str = "") -> dict[str, Figure]:
    """The working of every figure of `pour_entry`, by JSON pointer below `at` (such as "/pours/0")."""
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml")
    heat = shelf.value("plaster", "hydration_heat_kJ_per_kg")
    line = Figure("mm", "height of the pour above the board", "geometry")
    rise_K = pour.peak_celsius - pour.slurry_celsius
    per_mm: dict[str, float | str] = {
        "footprint_mm2": pour.footprint_mm2,
        "consistency_per_100": pour.mix.consistency,
        "hemihydrate_density_g_per_ml": grains.value,
    }
    figures = {
        "/consistency": Figure("per 100", "water by mass for 100 of plaster", "asked"),
        "/waste": Figure("-", pour.waste_reason, "asked" if "as asked" in pour.waste_reason else "practice"),
        "/fill_line_mm": line,
        "/fill_line/from_board_mm": line,
        "/fill_line/from_rim_mm": Figure("mm", "height of the boards less the fill line", "geometry"),
        "/grams_per_mm/water": Figure("g/mm", f"one mm of the inside plan; {_WATER}", grains.source, per_mm),
        "/grams_per_mm/plaster": Figure(
            "g/mm", f"one mm of the inside plan; {_PLASTER}", grains.source, per_mm
        ),
        "/peak_celsius": Figure(
            "°C",
            "slurry of that water and plaster of 20 °C + heat of 100 plaster / (gypsum and free water "
            "warmed), "
            "no heat lost",
            heat.source,
            {
                "mix_water_celsius": pour.mix_water_celsius,
                "slurry_celsius": pour.slurry_celsius,
                "hydration_heat_kJ_per_kg": heat.value,
                "consistency_per_100": pour.mix.consistency,
            },
            pour.slurry_celsius + rise_K * heat.low / heat.value,
            pour.slurry_celsius + rise_K * heat.high / heat.value,
        ),
    }
    worked = mix_figures(pour.mix, low=pour.mix_low, high=pour.mix_high)
    return {at + pointer: figure for pointer, figure in (worked | figures).items()}


def weight_figures(pour: Pour, *, at: str = "") -> dict[str, Figure]:
    """The working of a piece's `/wet_kg` and `/dry_kg`, by JSON pointer below `at` (such as "/pieces/0")."""
    consistency = pour.mix.consistency
    dry_share = dry_from_wet_kg(1.0, consistency)
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml")
    water = shelf.value("plaster", "water_density_g_per_ml")
    least, usual, most = (
        slurry_density_kg_per_m3(
            consistency, plaster_kg_per_m3=1000.0 * grain, water_kg_per_m3=1000.0 * fluid
        )
        for grain, fluid in ((grains.low, water.low), (grains.value, water.value), (grains.high, water.high))
    )
    low_kg, high_kg = pour.wet_low_kg * least / usual, pour.wet_high_kg * most / usual
    return {
        f"{at}/wet_kg": Figure(
            "kg",
            "volume of the piece x density of the slurry",
            grains.source,
            {"volume_ml": pour.volume_ml, "consistency_per_100": consistency},
            low_kg,
            high_kg,
        ),
        f"{at}/dry_kg": Figure(
            "kg",
            "wet_kg x 118.618 / (100 + consistency)",
            "iupac-2021",
            {"wet_kg": pour.wet_kg, "consistency_per_100": consistency},
            low_kg * dry_share,
            high_kg * dry_share,
        ),
    }


def _plaster_g(mix: Mix, grains_g_per_ml: float, water_g_per_ml: float) -> float:
    return 1000.0 * plaster_for_volume_kg(
        mix.slurry_ml * 1e-6,
        mix.consistency,
        plaster_kg_per_m3=1000.0 * grains_g_per_ml,
        water_kg_per_m3=1000.0 * water_g_per_ml,
    )


def _pair(low: Mix, high: Mix, factor: float) -> tuple[float | None, float | None]:
    if low.space_ml == high.space_ml:
        return None, None
    return low.space_ml * factor, high.space_ml * factor
