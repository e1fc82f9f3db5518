"""A seam in one plane where that was asked for: the ways it can be had, and what each takes of oil clay."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.errors import CannotError
from claybed.flow.ways import allowance
from claybed.geometry.depth import DepthRaster
from claybed.geometry.lattice import LatticeMesh, to_lattice
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.planing import split_at
from claybed.records.brief import Brief, KeepOut
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption, Vector
from claybed.survey.levelling import levelled
from claybed.survey.limits import fill_limit_ml, shelf_limits
from claybed.units import say_volume

LINES = 512
# A plane that takes less than this may be met by the seam as it is.
ALL_BUT_FLAT_ML = 0.02
ALONG = 1.0 - 1e-9


def flat_ways(obj: MeasuredObject, options: Sequence[MoldOption], brief: Brief) -> list[MoldOption]:
    """The `options` with their seam in one plane, least fill first.

    A single piece has no seam. Two pieces are given what fill a plane takes; where that is next to nothing,
    the seam as it is comes first. Reads `keep_out`, `max_fill_ml`, `axis` and `pieces` of the brief. Raises
    CannotError when more than two pieces are asked for, and when every plane takes more fill than is
    allowed: with what the best takes, and what would pass.
    """
    if (brief.pieces or 0) > 2:
        raise CannotError(
            "the seams of more than two pieces do not lie in one plane.",
            where="--flat-seam",
            remedy="Leave --flat-seam out, or ask for --pieces 2.",
        )
    single = [o for o in options if o.kind == "one_piece"]
    raster = DepthRaster(obj.mesh, LINES)
    limits = shelf_limits()
    planes = []
    for option in options:
        if option.kind == "two_piece":
            try:
                planes.append((levelled(raster, option, limits, _barred(option.pull, brief)), option))
            except ValueError:  # no height is left for a plane: the next way
                continue
    planes.sort(key=lambda pair: pair[0].fill_ml)
    limit_ml = fill_limit_ml(obj.solid_ml, brief.max_fill_ml)
    pairs = [
        way
        for flat, option in planes
        if flat.fill_ml <= limit_ml
        for way in ((option, flat) if flat.plane_fill_ml <= ALL_BUT_FLAT_ML else (flat,))
    ]
    if single or pairs:
        return [*single, *pairs]
    if not planes:
        raise CannotError(
            "no plane across the pull keeps clear of where no seam may run.",
            where=obj.name,
            remedy="Leave --flat-seam or --keep-out out, or choose a plane through it by another --axis.",
        )
    flat, option = planes[0]
    ways = "along the axis asked for" if brief.axis is not None else f"along the best of {len(planes)} axes"
    other = "choose a plane through it by another --axis" if brief.axis is None else "leave --axis out"
    raise CannotError(
        f"a seam in one plane takes {say_volume(flat.fill_ml)} of oil clay {ways}, "
        f"{say_volume(flat.plane_fill_ml)} of it for the plane ({allowance(limit_ml, brief)}).",
        where=obj.name,
        remedy=f"Allow it with --max-fill {flat.fill_ml * 1.05 + 0.1:.1f}ml, {other}, or leave --flat-seam "
        f"out: then it takes {say_volume(option.fill_ml) if option.fill_ml > 0.0 else 'none'}.",
    )


def snapped(mesh: Mesh, rotation: Floats, shift_mm: Floats, plane_mm: float | None) -> LatticeMesh:
    """A mesh on the lattice, as `to_lattice`, its faces divided where they cross a plane of height `plane_mm`
    if one is given.
    """
    if plane_mm is None:
        return to_lattice(mesh, rotation, shift_mm)
    placed = mesh.moved(rotation, shift_mm, frame=mesh.frame)
    return to_lattice(split_at(placed, plane_mm), np.eye(3), np.zeros(3))


def _barred(pull: Vector, brief: Brief) -> list[tuple[float, float]]:
    """Heights along the pull, object frame, at which no seam may run; spots are left to the seam itself."""
    barred = []
    for region in brief.keep_out:
        if not isinstance(region, KeepOut):
            continue
        direction = np.asarray(region.direction) / np.linalg.norm(region.direction)
        along = float(direction @ np.asarray(pull))
        if abs(along) >= ALONG:
            low, high = sorted((along * region.lo_mm, along * region.hi_mm))
            barred.append((low, high))
    return barred
