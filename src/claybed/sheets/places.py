"""Where fill sits on a model: its connected patches, largest first; and places in words for the bench."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.posing.filling import numbers_of
from claybed.wording import HEIGHT, heights_from_board

_AXIS = re.compile(r",? towards [+\-−][xyz]")
# A place nearer than this to a station is found by its number.
NEAR_MM = 12.0


def without_axes(
    where: str, pose: Mapping[str, Any] | None = None, at_mm: Sequence[float] | None = None
) -> str:
    """A place in words without the axes of a file, which nobody at the bench can see.

    Its height stands in the frame of the closed block. With the `pose` of a plan it is told of the board of
    the first pour, as every other height; without one, or in a place of another pour, of the block's foot.
    `at_mm`, in the block's frame, adds the nearest station of the seam where it is near one.
    """
    said = heights_from_board(_AXIS.sub("", where), pose)
    if not pose or pose.get("on_board"):
        return said
    stations = pose.get("stations") or []
    if at_mm is None or not stations or not HEIGHT.search(where):
        return said
    own = (at_mm[0], at_mm[1], at_mm[2] - pose["board_mm"])
    near = min(stations, key=lambda s: math.dist((*s["at_mm"], s["seam_mm"]), own))
    if math.dist((*near["at_mm"], near["seam_mm"]), own) > NEAR_MM:
        return said
    return f"{said}, at station {near['number']}"


def numbered(fill_places: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The places of a plan's survey that get a number in pictures and list, in the plan's order.

    `fill_places` have `volume_ml` in ml. At most 6, each of 0.01 ml or more; what is smaller is a smear and
    is only counted.
    """
    numbers = numbers_of([float(place["volume_ml"]) for place in fill_places])
    return [place for place, number in zip(fill_places, numbers, strict=True) if number]


def fill_spots_mm(model: Mesh, smallest_share: float = 0.01) -> list[Floats]:
    """A point on each patch of fill faces, in mm, patches by falling area.

    Patches below `smallest_share` (0 to 1) of all filled area are left out: slivers along a seam need no
    number. The point is the middle of the face nearest to the patch's centre, so it lies on the surface.
    """
    which = np.flatnonzero(model.origin == int(Origin.FILL))
    if not len(which):
        return []
    faces = model.faces[which].astype(np.int64)
    count = len(model.vertices_mm)
    rows = np.concatenate([faces[:, 0], faces[:, 1]])
    columns = np.concatenate([faces[:, 1], faces[:, 2]])
    graph = coo_matrix((np.ones(len(rows), np.int8), (rows, columns)), shape=(count, count))
    _, patch_of_vertex = connected_components(graph, directed=False)
    patch = patch_of_vertex[faces[:, 0]]
    corners = model.vertices_mm[faces]
    area = (
        np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2.0
    )
    middle = corners.mean(axis=1)
    names, index = np.unique(patch, return_inverse=True)
    total = np.bincount(index, weights=area, minlength=len(names))
    spots = []
    for k in np.argsort(-total, kind="stable"):
        if total[k] < smallest_share * total.sum():
            continue
        mine = index == k
        centre = np.average(middle[mine], axis=0, weights=np.maximum(area[mine], 1e-12))
        own = middle[mine]
        spots.append(np.asarray(own[np.linalg.norm(own - centre, axis=1).argmin()]))
    return spots
