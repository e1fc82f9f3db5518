"""Holes that were closed for the mold, cut in leather-hard ware: how wide, and how much clay comes out."""

from __future__ import annotations

from claybed.materials.shelf import Constant
from claybed.records.measured import WallHole
from claybed.records.reckoned import Reckoned
from claybed.records.ware import HoleCut, Shrinkage
from claybed.ware.reckoning import Input, asked, reckon, taken
from claybed.ware.sizing import sizes_of


def plan_holes(
    holes: tuple[WallHole, ...], shrunk: Shrinkage | None, wall: Constant, *, scaled: bool
) -> tuple[HoleCut, ...]:
    """What to cut in wet ware with a wall (mm), so that each hole fires to the size it is drawn at.

    `scaled` says that the model was enlarged for its fired size, and its holes with it; they then fire to the
    size that was drawn before. Without a shrinkage the drawn size is told, as it is cut in clay that does not
    shrink.
    """
    return tuple(_cut(hole, shrunk, wall, scaled) for hole in holes)


def _cut(hole: WallHole, shrunk: Shrinkage | None, wall: Constant, scaled: bool) -> HoleCut:
    width, fired_width = _sides(hole.width_mm, shrunk, scaled)
    length, fired_length = _sides(hole.length_mm, shrunk, scaled)
    return HoleCut(
        mark=hole.mark,
        where=hole.where,
        turned=hole.turned,
        width_mm=width,
        length_mm=length,
        fired_width_mm=fired_width,
        fired_length_mm=fired_length,
        clay_ml=reckon(
            lambda area_mm2, drawn_mm, cut_mm, wall_mm: (
                area_mm2 * (cut_mm / drawn_mm) ** 2 * wall_mm / 1000.0
            ),
            "ml",
            "area as drawn x (cut / drawn)^2 x wall / 1000",
            "geometry",
            area_mm2=hole.area_mm2,
            drawn_mm=hole.width_mm,
            cut_mm=width,
            wall_mm=wall,
        ),
    )


def _sides(drawn_mm: float, shrunk: Shrinkage | None, scaled: bool) -> tuple[Reckoned, Reckoned | None]:
    """A width to cut and what it fires to, mm."""
    drawn: Input = asked(drawn_mm, "mm")
    if shrunk is None:
        return taken(drawn, "mm", "as drawn, no clay named"), None
    fired = taken(drawn, "mm", "as drawn")
    if scaled:
        before = sizes_of(shrunk, model_mm=drawn_mm).fired_mm
        assert before is not None
        fired = before
    cut = reckon(
        lambda fired_mm, total_percent: fired_mm / (1.0 - total_percent / 100.0),
        "mm",
        "fired / (1 - total shrinkage)",
        "astm-c326",
        fired_mm=fired.value,
        total_percent=shrunk.total_percent,
    )
    return cut, fired
