"""Test pours: the casting rate of this slip in this plaster."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scipy.special import stdtrit

from claybed.errors import InputError
from claybed.physics import casting
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.records.ware import TestPour
from claybed.ware.reckoning import taken

_PER_MM2_MIN = 1.0 / 6e7  # m²/s in a mm²/min


def fit_pours(pours: Sequence[tuple[float, float]]) -> TestPour:
    """k (mm²/min) from test pours, each (wall mm, minutes): one gives k; several a fit through nought.

    With several the bounds are the 95 % interval of the fit, and an exponent is fitted to the logarithms.
    Raises InputError for pours that are not positive, or walls that shrink as time goes on.
    """
    if not pours:
        raise InputError(
            "no test pour was given.", where="--test", remedy="Give --test-wall and --test-minutes."
        )
    # The law holds in any units that belong together: mm and minutes give mm² a minute.
    each = [casting.casting_rate_m2_per_s(wall, minutes) for wall, minutes in pours]
    inputs: dict[str, float | str] = {}
    for place, (wall, minutes) in enumerate(pours, 1):
        inputs |= {f"wall_{place}_mm": wall, f"pour_{place}_minutes": minutes}
    if len(pours) == 1:
        figure = Figure(
            "mm2/min", "wall^2 / time", "casting-law", {"wall_mm": pours[0][0], "minutes": pours[0][1]}
        )
        return TestPour(taken(1.0, "-", "test pours"), Reckoned(each[0], figure), None)
    ordered = sorted(pours, key=lambda pour: pour[1])
    if ordered[-1][0] <= ordered[0][0] and ordered[-1][1] > ordered[0][1]:
        raise InputError(
            "a wall that does not grow with time contradicts itself.",
            where="--test",
            remedy="Look at walls and minutes again, or leave the odd pour out.",
        )
    squares = [wall**2 for wall, _ in pours]
    times = [minutes for _, minutes in pours]
    # Errors of a wall read with a ruler grow with its square as the wall does: weigh each pour by 1 / t.
    k = sum(squares) / sum(times)
    spread = math.sqrt(
        sum((one - k) ** 2 * t for one, t in zip(each, times, strict=True)) / (len(each) - 1) / sum(times)
    )
    half = float(stdtrit(len(each) - 1, 0.975)) * spread
    fit = Figure(
        "mm2/min",
        "sum of wall^2 / sum of times; 95 % interval by Student's t",
        "casting-law",
        inputs,
        max(k - half, 0.0),
        k + half,
    )
    exponent = None
    if len(set(times)) > 1:
        x, y = [math.log(t) for t in times], [math.log(wall) for wall, _ in pours]
        mx, my = sum(x) / len(x), sum(y) / len(y)
        slope = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)
        exponent = Reckoned(slope, Figure("-", "slope of ln wall against ln time", "casting-law", inputs))
    return TestPour(taken(float(len(pours)), "-", "test pours"), Reckoned(k, fit), exponent)
