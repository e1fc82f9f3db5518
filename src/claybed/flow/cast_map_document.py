"""The document of a cast map: every number with its working, and what a person should know."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from claybed.flow.cast_figures import WORDS, Figures
from claybed.flow.cast_map import CastMap
from claybed.flow.ledger import Part, finished, new_document
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.records.finding import Amount, Finding
from claybed.records.soaked import Cast, PlasterGrid
from claybed.soaking.reading import Spread, corner_areas, spread_over
from claybed.units import MM_PER_IN, say_area, say_gauged, say_length, say_volume
from claybed.ware.advice import water_finding

SCHEMA = "claybed-cast-map-1"
WORTH = (
    "Worth reading for the second cast to the sixth and for thin tongues of plaster. A first cast in a dry, "
    "thick mold is the same nearly everywhere, and the test pour tells it as well."
)
_SIMULATED = "simulated on the plan's own plaster: cake and wetted plaster resist in a row"


def map_document(done: CastMap, name: str, files: Mapping[str, str], *, us: bool = False) -> dict[str, Any]:
    """The map as plain values, unrounded, with the working of every number; `us` is for its sentences."""
    part = new_document()
    part.say(schema=SCHEMA, name=name, says=WORTH, files=dict(files))
    _write_figures(part.part("asked"), done.figures)
    if done.figures.rest_min > 0.0 and done.figures.casts > 1:
        _write_rest(part.part("rest"), done)
    grid = part.part("grid")
    grid.number("cell_mm", done.grid.cell_mm, "mm", "side of a cell of plaster", "asked")
    grid.number("cells", len(done.grid.cells), "-", "cells that are at least half plaster", "geometry")
    grid.number(
        "left_out_ml", done.grid.left_out_mm3 / 1000.0, "ml", "plaster thinner than a cell", "geometry"
    )
    spreads = _spreads(done.grid, done.wall_mm, done.ware)
    given = {
        "rate_mm2_per_min": done.figures.rate_mm2_per_min,
        "minutes_min": done.figures.minutes_min,
    }
    for number, (cast, spread) in enumerate(zip(done.casts, spreads, strict=True), 1):
        row = part.row("casts")
        row.number("number", number, "-", "which cast since the mold was as dry as asked", "asked")
        _write_cast(row, cast, spread, given)
    part.say(reached_outside=done.reached_outside, thicker=[])
    if done.thicker is not None:
        for number, (cast, wall) in enumerate(zip(*done.thicker, strict=True), 1):
            row = part.row("thicker")
            row.number("number", number, "-", "which cast, with thicker plaster", "asked")
            wide = spread_over(done.grid, wall, corner_areas(done.grid), done.ware)
            _write_cast(row, cast, wide, given)
    part.number(
        "stays_ml", done.stays_ml, "ml", "slip with no way down to the opening, mold turned over", "geometry"
    )
    part.say(pockets=[])
    for pocket in done.pockets:
        row = part.row("pockets")
        row.number("slip_ml", pocket.slip_ml, "ml", "slip that stays here", "geometry")
        row.number("deep_mm", pocket.deep_mm, "mm", "how deep it stands", "geometry")
        row.number("at_mm", pocket.at_mm, "mm", "its middle, in the block's frame", "geometry")
    part.say(findings=[])
    for finding in noticed(done, spreads, us=us):
        row = part.row("findings")
        row.say(
            id=finding.id, severity=finding.severity, where=finding.where, says=finding.says,
            remedy=finding.remedy,
        )  # fmt: skip
        if finding.amount is not None:
            row.part("amount").number(
                "value", finding.amount.value, finding.amount.unit, finding.says, "geometry"
            )
            row.entry["amount"]["unit"] = finding.amount.unit
        if finding.at_mm is not None:
            row.number("at_mm", finding.at_mm, "mm", "place in the block's frame", "geometry")
    return finished(part)


def _spreads(grid: PlasterGrid, walls: tuple[Floats, ...], ware: np.ndarray) -> list[Spread]:
    area = corner_areas(grid)
    return [spread_over(grid, wall, area, ware) for wall in walls]


def _write_figures(part: Part, figures: Figures) -> None:
    for key in WORDS:
        worked = figures.workings[key]
        part.number(
            key, getattr(figures, key), worked.unit, worked.formula, worked.source, worked.inputs,
            low=worked.low, high=worked.high,
        )  # fmt: skip


def _write_rest(part: Part, done: CastMap) -> None:
    """The air that the mold rests in between casts, and what is open to it."""
    figures = done.figures
    stands = "with the pieces apart" if figures.opened else "closed and strapped, on slats"
    part.say(stands=stands, air=figures.room.moving)
    part.number(
        "open_cm2",
        done.open_cm2,
        "cm2",
        f"sides of cells that meet air, {stands}, by how they slant",
        "geometry",
    )
    rate = figures.face_rate
    part.number(
        "rate_g_per_m2_h", rate.value, rate.figure.unit, rate.figure.formula, rate.figure.source,
        rate.figure.inputs, low=rate.figure.low, high=rate.figure.high,
    )  # fmt: skip
    part.number(
        "critical_share", figures.critical_share, "-",
        "share of the fillable pores at which a face begins to dry more slowly", "drying-curve",
    )  # fmt: skip


def _write_cast(row: Part, cast: Cast, spread: Spread, given: Mapping[str, float]) -> None:
    for key, value, formula in (
        ("least_mm", spread.least_mm, "thinnest wall of the ware"),
        ("thin_mm", spread.thin_mm, "1 % of the ware's surface has less"),
        ("median_mm", spread.median_mm, "half of the ware's surface has less"),
        ("thick_mm", spread.thick_mm, "99 % of the ware's surface has less"),
        ("most_mm", spread.most_mm, "thickest wall of the ware"),
    ):
        row.number(key, value, "mm", f"{formula}; {_SIMULATED}", "casting-law", given)
    row.number("least_at_mm", spread.least_at_mm, "mm", "where it is thinnest, block's frame", "geometry")
    row.number("most_at_mm", spread.most_at_mm, "mm", "where it is thickest, block's frame", "geometry")
    for key, value, unit, formula in (
        ("soaked_cm2", cast.soaked_cm2, "cm2", "wall behind which less than half the suction is left"),
        ("given_ml", cast.given_ml, "ml", "water into the plaster while slip stood"),
        ("released_ml", cast.released_ml, "ml", "water into the plaster after draining"),
        ("taken_ml", cast.taken_ml, "ml", "water the plaster holds more"),
        ("dried_ml", cast.dried_ml, "ml", "water that left the plaster in the rest before this cast"),
        ("cake_ml", cast.cake_ml, "ml", "clay left in the mold, gate included"),
    ):
        row.number(key, value, unit, formula, "mass-balance")


def noticed(done: CastMap, spreads: list[Spread], *, us: bool = False) -> list[Finding]:
    """What a person should know about a map, said in US units if `us`."""
    water = done.figures.workings["moisture_fraction"]
    found = [
        Finding("cast_map_worth", "note", "the cast map", WORTH),
        *water_finding(100.0 * done.figures.moisture_fraction, water),
    ]
    first, last = spreads[0], spreads[-1]
    told_ratio = shelf.value("practice", "wall_uneven_told_ratio").value
    if first.thick_mm > told_ratio * first.thin_mm:
        found.append(
            Finding(
                "wall_uneven",
                "look",
                "the first cast",
                f"The first cast has {say_gauged(first.thin_mm, us=us)} where it is thin and "
                f"{say_gauged(first.thick_mm, us=us)} where it is thick.",
                "Round sharp ribs and grooves of the model to twice the wall, or cast a little longer.",
                Amount(first.thick_mm / first.thin_mm, "ratio"),
                first.least_at_mm,
            )
        )
    soaked = [k for k, cast in enumerate(done.casts, 1) if cast.soaked_cm2 > 0.5]
    if soaked:
        cast = done.casts[soaked[0] - 1]
        found.append(
            Finding(
                "plaster_soaked",
                "look",
                "plaster behind the cavity",
                f"From cast {soaked[0]} on, plaster behind {say_area(cast.soaked_cm2, us=us)} has lost "
                "half its suction: the wall stays thin and soft there and tears when it is lifted.",
                "Dry the mold before that cast, or give thin tongues of plaster more width.",
                Amount(cast.soaked_cm2, "cm2"),
            )
        )
    if len(done.casts) > 1 and last.median_mm < 0.95 * first.median_mm:
        share = (first.median_mm / last.median_mm) ** 2
        found.append(
            Finding(
                "casts_slow",
                "note",
                "later casts",
                f"Cast {len(done.casts)} in the same time has {say_gauged(last.median_mm, us=us)} where the "
                f"first has {say_gauged(first.median_mm, us=us)}: give it about {share:.1f} times as long.",
                "",
                Amount(share, "ratio"),
            )
        )
    if done.thicker_mm > 0.0:
        found.append(_thicker_finding(done, last, us))
    if done.stays_ml > 0.0:
        place = done.pockets[0]
        found.append(
            Finding(
                "slip_stays",
                "look",
                "the drained mold",
                f"{say_volume(done.stays_ml, us=us)} of slip find no way out when the mold is turned over.",
                "Turn the mold slowly while it drains so that the hollow empties; else it cracks there.",
                Amount(done.stays_ml, "ml"),
                place.at_mm,
            )
        )
    return found


def _thicker_finding(done: CastMap, last: Spread, us: bool) -> Finding:
    number = len(done.casts)
    if done.thicker is None:
        says = "A thicker block would buy nothing: by the last cast no water has come to its outside."
        return Finding("thicker_plaster", "note", "the block", says)
    wide = spread_over(done.grid, done.thicker[1][-1], corner_areas(done.grid), done.ware)
    gain_mm, thin_mm = wide.median_mm - last.median_mm, wide.thin_mm - last.thin_mm
    says = (
        f"Another {say_length(done.thicker_mm, us=us)} of plaster outside would make cast {number} thicker "
        f"by {_gain(gain_mm, us)} at the median and by {_gain(thin_mm, us)} in thin places."
    )
    return Finding("thicker_plaster", "note", "the block", says, "", Amount(gain_mm, "mm"))


def _gain(mm: float, us: bool) -> str:
    return f"{mm / MM_PER_IN:.3f} in" if us else f"{mm:.2f} mm"
