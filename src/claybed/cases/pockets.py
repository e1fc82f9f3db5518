"""Pockets in the underside of a case: less plastic where a floor would be thick, no support to print."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from scipy import ndimage

from claybed.cases.bedding import Bedded
from claybed.cases.sizes import size_mm
from claybed.geometry.carving import Solid
from claybed.geometry.depth import DepthRaster
from claybed.geometry.forming import grown, hull
from claybed.geometry.mesh import Floats
from claybed.records.cases import CASE_FRAME, Poured, Shape

CELL_MM = size_mm("pocket")
RIB_MM = size_mm("pocket_rib")
LEAST_TALL_MM = size_mm("pocket_least_tall")
CUT_CLEAR_MM = size_mm("pocket_from_cut")
LINES = 320


def pockets(poured: Poured, shape: Shape, bedded: Bedded) -> list[Solid]:
    """Square pockets with roofs at 45 degrees, a wall of plastic away from the plaster and each other.

    Each is as tall as the plaster over it allows, at every line of a raster; those that would be lower than
    3 mm at the side are left out.
    """
    at, room, step = _room(poured, shape)
    clear = shapely.Polygon(grown(poured.low_outline_mm, -RIB_MM - 1.0))
    made = []
    y_edges = _edges(poured.low_outline_mm[:, 1], bedded.cuts_y_mm)
    for x0, x1 in _edges(poured.low_outline_mm[:, 0], bedded.cuts_x_mm):
        strip = (at[:, 0] >= x0) & (at[:, 0] <= x1)
        for y0, y1 in y_edges:
            if not clear.contains(shapely.box(x0, y0, x1, y1)):
                continue
            over = strip & (at[:, 1] >= y0) & (at[:, 1] <= y1)
            x, y = at[over].T
            roof = np.minimum(np.minimum(x - x0, x1 - x), np.minimum(y - y0, y1 - y))
            # A line stands for the square around it: the roof may rise, and the floor fall, by that much.
            tall = float((room[over] - roof).min(initial=np.inf)) - step
            if LEAST_TALL_MM <= tall < np.inf and _saves(x1 - x0, y1 - y0, tall, shape):
                made.append(_pocket(x0, x1, y0, y1, tall))
    return made


def _room(poured: Poured, shape: Shape) -> tuple[Floats, Floats, float]:
    """Lines (n, 2) mm over the plan, how high over the underside a pocket may reach there (n,) so that a wall
    of plastic is left to all plaster, and how far apart the lines are.
    """
    mesh = poured.solid.mesh(CASE_FRAME)
    columns = DepthRaster(mesh, resolution=LINES).columns(np.array([0.0, 0.0, 1.0]))
    grid = columns.grid
    step = float(grid.spacing_mm)
    bottom = columns.bottom_mm
    known = np.isfinite(bottom)
    floor = np.where(known, bottom + shape.floor_mm, np.inf)
    reach = int(np.ceil(shape.wall_mm / step)) + 1
    rows, cols = np.mgrid[-reach : reach + 1, -reach : reach + 1] * step
    far2 = rows**2 + cols**2
    ball = np.sqrt(np.maximum(shape.wall_mm**2 - far2, 0.0))
    room = ndimage.grey_erosion(
        floor, footprint=far2 <= shape.wall_mm**2, structure=ball, mode="constant", cval=np.inf
    )
    pixel = np.flatnonzero(known.ravel())
    return grid.object_mm(pixel, np.zeros(len(pixel)))[:, :2], room.ravel()[pixel], step


def _saves(wide: float, deep: float, tall: float, shape: Shape) -> bool:
    """Whether a pocket takes more infill away than its own skin of solid lines adds."""
    half = min(wide, deep) / 2.0
    volume = wide * deep * tall + half * (wide * deep - half * max(wide, deep) + half * half / 3.0)
    area = 2.0 * (wide + deep) * tall + math.sqrt(2.0) * wide * deep
    return volume * shape.infill_fraction > area * shape.skin_mm * (1.0 - shape.infill_fraction)


def _edges(values: Floats, cuts: tuple[float, ...]) -> list[tuple[float, float]]:
    """Sides of pockets along an axis: even between cuts, ribs between them."""
    stops = [float(values.min()), *cuts, float(values.max())]
    made = []
    for begin, end in pairwise(stops):
        low = begin + (CUT_CLEAR_MM if begin in cuts else RIB_MM + 1.5)
        high = end - (CUT_CLEAR_MM if end in cuts else RIB_MM + 1.5)
        count = int((high - low + RIB_MM) // (CELL_MM + RIB_MM))
        if count < 1:
            continue
        side = (high - low + RIB_MM) / count - RIB_MM
        made += [(low + k * (side + RIB_MM), low + k * (side + RIB_MM) + side) for k in range(count)]
    return made


def _pocket(x0: float, x1: float, y0: float, y1: float, tall: float) -> Solid:
    """A pocket from under the case up to `tall` at its sides, then a roof at 45 degrees."""
    half = min(x1 - x0, y1 - y0) / 2.0
    corners = [(x, y, z) for x in (x0, x1) for y in (y0, y1) for z in (-1.0, tall)]
    ridge = [(x, y, tall + half) for x in {x0 + half, x1 - half} for y in {y0 + half, y1 - half}]
    return hull(np.array(corners + ridge))
