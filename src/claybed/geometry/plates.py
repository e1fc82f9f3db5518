"""Thin plates of plaster: where two faces of a solid that look away from each other lie close together.

Lines in several directions are cut into what runs inside the solid. Where both ends of a stretch look apart,
its length tells how thick the solid is there; a plate is thin over a place wider than it is thick. Ridges as
low as they are wide, and edges where faces meet, are none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.mesh import Floats, Mesh

Flags = NDArray[np.bool_]

LINES = 256
# Faces that lean towards each other by more than this meet in an edge.
APART_COSINE = float(np.cos(np.radians(8.0)))
# Of a plate seen more aslant than this another direction sees more.
FACING_COSINE = 0.5
STEPS = 12


@dataclass(frozen=True, slots=True)
class Plate:
    """The thinnest plate of a solid: `thick_mm` thick over a place at least `wide_mm` across, at `at_mm`.

    `thick_mm` is what was looked for and `at_mm` None when there is none.
    """

    thick_mm: float
    wide_mm: float
    at_mm: tuple[float, float, float] | None


def thinnest_plate(
    mesh: Mesh, ends: Flags, axes: Sequence[Sequence[float]], most_mm: float, *, slender_ratio: float
) -> Plate:
    """The thinnest plate of a closed mesh that is thinner than `most_mm` and at least `slender_ratio` times
    as wide, on lines along each of `axes`.

    At least one of its two faces is one of `ends` (m,). Thickness is exact on its lines; a plate narrower
    than three of them may be overlooked.
    """
    raster = DepthRaster(mesh, LINES)
    corner = mesh.corners_mm
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    found = Plate(most_mm, 0.0, None)
    for axis in axes:
        columns = raster.columns(np.array(axis, dtype=np.float64))
        plate = _along(columns, normal, ends, most_mm, slender_ratio)
        if plate.at_mm is not None and plate.thick_mm < found.thick_mm:
            found = plate
    return found


def _along(columns: Columns, normal: Floats, ends: Flags, most_mm: float, slender_ratio: float) -> Plate:
    grid, none = columns.grid, Plate(most_mm, 0.0, None)
    along = grid.rotation[2]
    line = np.repeat(np.arange(len(columns.start) - 1), np.diff(columns.start))
    enter = np.flatnonzero(
        (columns.side[:-1] & 1 == 0) & (columns.side[1:] & 1 == 1) & (line[:-1] == line[1:])
    )
    faces = [columns.side[enter + k] >> 1 for k in (0, 1)]
    first, last = (normal[rows] for rows in faces)
    facing = np.minimum(-first @ along, last @ along)
    thick = (columns.z_mm[enter + 1] - columns.z_mm[enter]) * facing
    looks = np.einsum("ij,ij->i", first, last) < -APART_COSINE
    use = (
        looks
        & (ends[faces[0]] | ends[faces[1]])
        & (facing > FACING_COSINE)
        & (thick < most_mm)
        & (thick > 0.0)
    )
    if not use.any():
        return none
    image = np.full(grid.rows * grid.columns, np.inf)
    np.minimum.at(image, line[enter[use]], thick[use])
    plan = image.reshape(grid.rows, grid.columns)
    for step in range(1, STEPS + 1):
        level_mm = most_mm * step / STEPS
        inside = np.asarray(distance_transform_edt(np.pad(plan <= level_mm, 1)))[1:-1, 1:-1]
        wide_mm = 2.0 * float(inside.max()) * grid.spacing_mm
        if wide_mm >= max(slender_ratio * level_mm, 3.0 * grid.spacing_mm):
            pixel = int(np.argmax(inside))
            mine = enter[use][line[enter[use]] == pixel]
            low = mine[np.argmin(thick[use][line[enter[use]] == pixel])]
            middle = (columns.z_mm[low] + columns.z_mm[low + 1]) / 2.0
            x, y, z = (float(v) for v in grid.object_mm(np.array([pixel]), np.array([middle]))[0])
            return Plate(float(plan.flat[pixel]), wide_mm, (x, y, z))
    return none
