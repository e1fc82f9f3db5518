"""Small drawings that the server makes: the drying curve of a piece as a line."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from markupsafe import Markup

_WIDE: Final = 160
_TALL: Final = 48
_EDGE: Final = 4


def drying_line(weighings: list[dict[str, Any]], target_g: float | None) -> Markup:
    """The weighings of a piece over time as a line in an SVG, with its dry target dashed.

    `weighings` two or more, earliest first, each with `at` and `mass_g`. The description says the same in
    words.
    """
    times = [datetime.fromisoformat(one["at"].replace("Z", "+00:00")).timestamp() for one in weighings]
    masses = [float(one["mass_g"]) for one in weighings]
    low = min([*masses, *([target_g] if target_g else [])])
    high = max(masses)
    spread, span = max(high - low, 1e-9), max(times[-1] - times[0], 1e-9)

    def place(time_s: float, mass_g: float) -> tuple[float, float]:
        x = _EDGE + (time_s - times[0]) / span * (_WIDE - 2 * _EDGE)
        return x, _EDGE + (high - mass_g) / spread * (_TALL - 2 * _EDGE)

    points = [place(time, mass) for time, mass in zip(times, masses, strict=True)]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dots = "".join(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6"/>' for x, y in points)
    dashed = ""
    if target_g:
        y = place(times[0], target_g)[1]
        dashed = f'<line class="target" x1="0" x2="{_WIDE}" y1="{y:.1f}" y2="{y:.1f}"/>'
    days = span / 86400.0
    words = f"{len(masses)} weighings over {days:.1f} days, from {masses[0]:.0f} g to {masses[-1]:.0f} g"
    if target_g:
        words += f"; dry at {target_g:.0f} g"
    return Markup(
        '<svg class="drying" viewBox="0 0 {} {}" role="img" aria-label="{}">{}<polyline points="{}"/>{}</svg>'
    ).format(_WIDE, _TALL, words, Markup(dashed), path, Markup(dots))
