"""Dry by the scale: a log of weighings fitted, and the day foretold with an interval.

The curve is the one of physics.drying: water leaves steadily until a critical share is left, then in
proportion to what is left. Its three unknowns, the dry mass, the critical share and the pace, are tried on a
grid; each combination counts by how well it meets the weighings. The interval widens for the room of the days
to come.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.physics.plaster import dry_from_wet_kg, free_water_of_dry_fraction
from claybed.physics.porosity import pore_full_water_fraction
from claybed.physics.slurry import dry_density_kg_per_m3
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.reckoned import Reckoned
from claybed.records.weighing import Forecast, Ready, Weighing
from claybed.ware.drying import STATES, mass_at
from claybed.ware.reckoning import reckon, taken

DAY_S: Final = 86400.0
_DRY_STEPS, _CRITICAL_STEPS, _PACE_STEPS = 41, 16, 61
_TAIL = 0.05  # of each side of the 90 % interval
_ROOM_STEPS = 9


def is_just_set(first_g: float, planned_wet_g: float) -> bool:
    """Whether a first weighing (g) can be of a piece just set that was planned to weigh so much wet (g).

    Source: materials/bench (just_set_least_fraction).
    """
    return first_g >= shelf.value("bench", "just_set_least_fraction").value * planned_wet_g


def forecast(
    weighings: Sequence[Weighing], *, water_per_100: float, trimmed_wet_g: float | None = None
) -> Forecast:
    """Fit a log and say when the mold is ready.

    `trimmed_wet_g` is the mass just set and trimmed, the first weighing when None; `water_per_100` of the
    mix. A weighing that rises begins the curve anew; one below the target moves the target. Raises InputError
    for an empty log, weighings out of order in time, or masses that plaster of this mix cannot have.
    """
    log = _checked(weighings, water_per_100, trimmed_wet_g)
    wet_g = log[0].mass_g if trimmed_wet_g is None else trimmed_wet_g
    target_g = 1000 * dry_from_wet_kg(wet_g / 1000, water_per_100)
    findings = _asked_about(log, target_g)
    run = _since_last_rise(log)
    free = free_water_of_dry_fraction(water_per_100)
    error = shelf.value("drying", "target_error_fraction").value
    last = log[-1]
    below = min(one.mass_g for one in log) < target_g * (1 + shelf.value("bench", "shelf_dry_fraction").value)
    plateau = _plateau(log)
    dry, weight, pace, critical = _posterior(run, target_g, free, error, below, plateau)
    middle_g, low_g, high_g = _spread(dry, weight)
    inputs: dict[str, float | str] = {
        "trimmed_wet_g": wet_g,
        "consistency_per_100": water_per_100,
        "weighings": float(len(log)),
    }
    dry_figure = Reckoned(
        middle_g,
        Figure(
            "g",
            "wet x 118.618 / (100 + consistency), moved by the weighings; 90 % interval",
            "drying-curve",
            inputs,
            low_g,
            high_g,
        ),
    )
    rates = [
        (before.mass_g - after.mass_g) / (after.at_s - before.at_s) * DAY_S
        for before, after in pairwise(run)
        if after.at_s > before.at_s
    ]
    return Forecast(
        weighings=taken(float(len(log)), "-", "weighings in the log"),
        last_g=taken(last.mass_g, "g", "last weighing"),
        to_go_g=reckon(
            lambda last_g, dry_g, left_fraction: max(last_g - dry_g * (1 + left_fraction), 0.0),
            "g",
            "last weighing - mass when shelf-dry",
            "drying-curve",
            last_g=last.mass_g,
            dry_g=dry_figure,
            left_fraction=shelf.value("bench", "shelf_dry_fraction").value,
        ),
        dry_g=dry_figure,
        water_percent=reckon(
            lambda last_g, dry_g: max(100 * (last_g / dry_g - 1), 0.0),
            "percent",
            "100 (last weighing / dry mass - 1)",
            "drying-curve",
            last_g=last.mass_g,
            dry_g=dry_figure,
        ),
        loss_g_per_day=None if not rates else taken(rates[-1], "g/d", "loss between the last two weighings"),
        plateau=plateau,
        ready=tuple(
            _ready(name, last.mass_g, dry_figure, dry, weight, pace, critical, free) for name in STATES
        ),
        findings=findings,
    )


def check_weighing(weighing: Weighing, water_per_100: float, wet_g: float) -> None:
    """Refuse only what cannot be: no mass, or more water than pores hold, or less than half the target.

    Raises InputError. `wet_g` is the mass just set.
    """
    dry_g = 1000 * dry_from_wet_kg(wet_g / 1000, water_per_100)
    bulk = dry_density_kg_per_m3(water_per_100, plaster_kg_per_m3=2700.0, water_kg_per_m3=998.0)
    most_g = (
        1.1 * dry_g * (1 + pore_full_water_fraction(bulk, gypsum_kg_per_m3=2320.0, water_kg_per_m3=998.0))
    )
    if not 0.5 * dry_g <= weighing.mass_g <= most_g:
        raise InputError(
            f"{weighing.mass_g:.0f} g cannot be this mold, which weighs {dry_g:.0f} g dry and "
            f"{most_g / 1.1:.0f} g soaked.",
            where="--weigh",
            remedy="Look at the unit, and whether all pieces were on the scale.",
        )


def _checked(weighings: Sequence[Weighing], water_per_100: float, wet_g: float | None) -> list[Weighing]:
    if not weighings:
        raise InputError("the log holds no weighing.", where="--log", remedy="Add one: --weigh 2450g.")
    log = sorted(weighings, key=lambda one: one.at_s)
    for one in log:
        check_weighing(one, water_per_100, log[0].mass_g if wet_g is None else wet_g)
    return log


def _asked_about(log: list[Weighing], target_g: float) -> tuple[Finding, ...]:
    """Questions, not refusals: a mold that gained weight, or fell below its target."""
    found = []
    readable_g = _readable_g(log)
    for before, after in pairwise(log):
        gained = after.mass_g - before.mass_g
        if gained > 2 * readable_g and not after.note:
            found.append(
                Finding(
                    id="weighing_rose",
                    severity="look",
                    where="weighing log",
                    says=f"It weighs {gained:.0f} g more than before: rinsed, humid air, another scale?",
                    remedy="Say so with --note rinsed. The forecast begins anew from here.",
                    amount=Amount(gained, "g"),
                )
            )
    least = min(log, key=lambda one: one.mass_g)
    if target_g - least.mass_g > 2 * readable_g and not least.note:
        found.append(
            Finding(
                id="weighing_below_target",
                severity="look",
                where="weighing log",
                says=f"It weighs {target_g - least.mass_g:.0f} g less than when dry: a chip, another "
                "scale, another ratio?",
                remedy="Say so with --note chip. The target is taken from the weighings now.",
                amount=Amount(target_g - least.mass_g, "g"),
            )
        )
    return tuple(found)


def _readable_g(log: list[Weighing]) -> float:
    return max(shelf.value("drying", "scale_fraction").value * log[0].mass_g, 0.5)


def _since_last_rise(log: list[Weighing]) -> list[Weighing]:
    start = 0
    readable_g = _readable_g(log)
    for place in range(1, len(log)):
        if log[place].mass_g - log[place - 1].mass_g > 2 * readable_g:
            start = place
    return log[start:]


def _plateau(log: list[Weighing]) -> bool:
    """Whether the last day or more took less than the plateau's share."""
    share = shelf.value("bench", "plateau_fraction").value
    last = log[-1]
    earlier = [one for one in log if last.at_s - one.at_s >= 0.8 * DAY_S]
    if not earlier:
        return False
    before = earlier[-1]
    days = (last.at_s - before.at_s) / DAY_S
    return abs(before.mass_g - last.mass_g) / last.mass_g / max(days, 1.0) < share


def _posterior(
    run: list[Weighing], target_g: float, free: float, error: float, below: bool, plateau: bool
) -> tuple[Floats, Floats, Floats, Floats]:
    """Dry mass (g), weight, pace (full waters per s) and critical share of each trial, flat arrays."""
    times = np.array([one.at_s - run[0].at_s for one in run])
    masses = np.array([one.mass_g for one in run])
    readable_g = _readable_g(run)
    least_g = float(masses.min())
    centre_g, sigma_g = target_g, error * target_g
    if below or plateau:  # the scale knows better than the recipe
        centre_g, sigma_g = (
            min(target_g, least_g) if not plateau else least_g,
            max(readable_g, 0.005 * target_g),
        )
    dry = centre_g + sigma_g * np.linspace(-3, 3, _DRY_STEPS)
    critical = np.linspace(
        max(shelf.value("drying", "critical_fraction").low, 0.01),
        shelf.value("drying", "critical_fraction").high,
        _CRITICAL_STEPS,
    )
    usual = _usual_pace(run, target_g, free)
    pace = usual * np.geomspace(0.25, 4.0, _PACE_STEPS)
    D, C, P = (axis.ravel() for axis in np.meshgrid(dry, critical, pace, indexing="ij"))
    start = np.clip((masses[0] / D - 1.0) / free, 1e-4, 1.2)
    misfit = ((D - centre_g) / sigma_g) ** 2 + (np.log(P / usual) / np.log(3.0)) ** 2
    # Besides the scale, rooms change from day to day: the more water has gone, the less is known of it.
    for time, mass in zip(times[1:], masses[1:], strict=True):
        left = _left(_clock(start, C) + P * time, C)
        expected = D * (1.0 + free * left)
        room_g = 0.08 * np.abs(masses[0] - expected)
        sigma = np.hypot(readable_g, room_g)
        misfit += ((mass - expected) / sigma) ** 2 + 2 * np.log(sigma)
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    return D, weight / weight.sum(), P, C


def _usual_pace(run: list[Weighing], target_g: float, free: float) -> float:
    """Full waters per second: from the weighings where there are two, else ten days in still air."""
    if len(run) >= 2 and run[-1].at_s > run[0].at_s and run[0].mass_g > run[-1].mass_g:
        gone = (run[0].mass_g - run[-1].mass_g) / (target_g * free)
        return max(gone / (run[-1].at_s - run[0].at_s), 1e-9)
    return 1.0 / (10 * DAY_S)


def _clock(left: Floats, critical: Floats) -> Floats:
    """Time, in full waters at the steady pace, from full to a share left."""
    slow = np.clip(left, 1e-6, None)
    return np.where(left >= critical, 1.0 - left, 1.0 - critical + critical * np.log(critical / slow))


def _left(clock: Floats, critical: Floats) -> Floats:
    """The share left at a time: _clock turned round."""
    steady = 1.0 - clock
    return np.where(steady >= critical, steady, critical * np.exp(-(clock - (1.0 - critical)) / critical))


def _spread(values: Floats, weight: Floats) -> tuple[float, float, float]:
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    pick = [
        values[order][min(int(np.searchsorted(total, share)), len(values) - 1)]
        for share in (0.5, _TAIL, 1 - _TAIL)
    ]
    return float(pick[0]), float(pick[1]), float(pick[2])


def _ready(
    name: str,
    last_g: float,
    dry_figure: Reckoned,
    dry: Floats,
    weight: Floats,
    pace: Floats,
    critical: Floats,
    free: float,
) -> Ready:
    left = shelf.value("bench", f"{name}_fraction").value
    mass = mass_at(name, dry_figure)
    if last_g <= mass.value:
        return Ready(name, mass, True, None)
    now = np.clip((last_g / dry - 1.0) / free, 1e-4, 1.2)
    then = np.full_like(now, left / free)
    hours = np.clip(_clock(then, critical) - _clock(now, critical), 0.0, None) / pace / 3600.0
    change = shelf.value("drying", "room_change_fraction").value
    room = np.exp(change * np.linspace(-2.0, 2.0, _ROOM_STEPS))
    share = np.exp(-0.5 * np.linspace(-2.0, 2.0, _ROOM_STEPS) ** 2)
    middle, low, high = _spread(np.outer(hours, room).ravel(), np.outer(weight, share / share.sum()).ravel())
    figure = Figure(
        "h",
        "time on the fitted curve from the last weighing, over all trials by fit; 90 % interval",
        "drying-curve",
        {"last_g": last_g, "mass_g": mass.value, "room_change_fraction": change},
        low,
        high,
    )
    return Ready(name, mass, False, Reckoned(middle, figure))
