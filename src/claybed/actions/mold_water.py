"""The water that is still in a plan's mold, by the weighings logged beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from claybed.actions.plan_folders import figure_of, read_ware_plan
from claybed.actions.weighing_log import log_beside, read_log
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.records.weighing import Weighing
from claybed.ware.reckoning import Input, middle, reckon
from claybed.ware.weighing import forecast, is_just_set


def weighed_water(plan: Path) -> Reckoned | None:
    """Water by the last weighings of a plan's mold, per cent of its dry mass; None when none was logged.

    The whole mold's log counts, or the pieces' logs when one of those is newer; pieces that were never
    weighed are taken to be as damp as the others. Raises InputError for a folder that is no plan, or a log
    that cannot be read.
    """
    document = read_ware_plan(plan)
    letters = [str(piece["id"]) for piece in document["pieces"]]
    whole = _weighed(document, plan, None, letters)
    pieces = [one for letter in letters if (one := _weighed(document, plan, letter, [letter])) is not None]
    if whole is not None and all(one.at_s <= whole.at_s for one in pieces):
        pieces = [whole]
    if not pieces:
        return None
    last = max(pieces, key=lambda one: one.at_s)
    count = len(pieces)
    percent = reckon(
        lambda last_g, **dry: max(100.0 * (last_g / sum(dry.values()) - 1.0), 0.0),
        "percent",
        "100 (last weighing / dry mass - 1)" if count == 1 else "100 (last weighings / dry masses - 1)",
        "measured",
        last_g=sum(one.mass_g for one in pieces),
        **{f"dry_{one.name}_g": one.dry_g for one in pieces},
    )
    moment = datetime.fromtimestamp(last.at_s).astimezone()
    told: dict[str, float | str] = {"weighed_at": f"{moment:%Y-%m-%d %H:%M}", "log": last.log.name}
    return replace(percent, figure=replace(percent.figure, inputs={**percent.figure.inputs, **told}))


def as_fraction(water: Reckoned) -> Figure:
    """The working of a water content in per cent, for the same as a fraction."""
    figure = water.figure
    low, high = (None if bound is None else bound / 100.0 for bound in (figure.low, figure.high))
    formula = figure.formula.removeprefix("100 (").removesuffix(")")
    return replace(figure, unit="-", formula=formula, low=low, high=high)


class _Weighed:
    """One log: its last weighing and the dry mass that all of it points to."""

    def __init__(self, name: str, log: Path, last: Weighing, dry_g: Input) -> None:
        self.name, self.log, self.dry_g = name, log, dry_g
        self.at_s, self.mass_g = last.at_s, last.mass_g


def _weighed(
    document: dict[str, Any], plan: Path, letter: str | None, letters: Sequence[str]
) -> _Weighed | None:
    log = log_beside(plan, letter)
    found = sorted(read_log(log), key=lambda one: one.at_s)
    if not found:
        return None
    places = {str(piece["id"]): place for place, piece in enumerate(document["pieces"])}
    planned_g = 1000.0 * sum(figure_of(document, f"/pieces/{places[name]}/wet_kg").value for name in letters)
    told = forecast(
        found,
        water_per_100=float(document["made"]["brief"]["consistency"]),
        trimmed_wet_g=trimmed_wet_g(found, planned_g),
    )
    return _Weighed(letter or "mold", log, found[-1], told.dry_g)


def trimmed_wet_g(log: Sequence[Weighing], planned_g: Input) -> float:
    """Mass just set and trimmed: the first weighing, or what was planned when that came too late."""
    first_g = min(log, key=lambda one: one.at_s).mass_g
    return first_g if is_just_set(first_g, middle(planned_g)) else middle(planned_g)
