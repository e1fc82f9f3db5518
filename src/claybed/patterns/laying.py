"""A part of a lining laid flat, with what is known of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from claybed.geometry.flattening import Faces, defects_sr, flattened, spread_out, stretches
from claybed.geometry.mesh import Floats

# Rounds in which a scan's ups and downs cancel before curvature is counted.
EVEN_ROUNDS = 12

Surface = tuple[Floats, Faces]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A part and the part laid flat.

    Corners in mm, (n, 3) in the mold and (n, 2) flat; `copies` alike; `darts` cut into it; its curvature, and
    the logarithm of the greatest stretch over the least.
    """

    points_mm: Floats
    faces: Faces
    laid_mm: Floats
    copies: int
    darts: int
    curvature_sr: float
    spread_ratio: float


def curvature_sr(points_mm: Floats, faces: Faces) -> float:
    """Curvature of a surface without regard to sign, steradians, a scan's ups and downs cancelled."""
    defect = defects_sr(points_mm, faces)
    return float(np.abs(spread_out(defect, faces, EVEN_ROUNDS)).sum())


def lay(part: Surface, copies: int = 1, darts: int = 0) -> Laid:
    """Lay a part flat; raises ValueError when it is no disk."""
    points, faces = part
    laid = flattened(points, faces)
    stretch = stretches(points, faces, laid)
    area = face_areas(part)
    # The tips of slivers are not clay: one in two hundred of the area is left out at either end.
    spread = math.log(_share(stretch[:, 0], area, 0.995) / _share(stretch[:, 1], area, 0.005))
    return Laid(points, faces, laid, copies, darts, curvature_sr(points, faces), max(spread, 0.0))


def _share(values: Floats, area: Floats, share: float) -> float:
    order = np.argsort(values)
    along = np.cumsum(area[order]) / area.sum()
    return float(values[order][np.searchsorted(along, share)])


def face_areas(part: Surface) -> Floats:
    """Area of each face (m,) mm²."""
    c = part[0][part[1]]
    found: Floats = np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1) / 2.0
    return found
