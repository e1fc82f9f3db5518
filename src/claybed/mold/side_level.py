"""The level on which a side piece parts from the main ones: searched over every height near the object's
end.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from claybed.geometry.barred import Barred
from claybed.geometry.carving import Solid, Workbench, moved, triangles
from claybed.geometry.halfedges import in_use
from claybed.geometry.lattice import LatticeMesh, lattice_mm
from claybed.geometry.level_lines import Lines, heights_of_change, level_lines
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.nearby import near
from claybed.geometry.slab import LatticeSolid
from claybed.materials import shelf

# Depths below the object's end at which the interface usually stands, mm.
USUAL_MM = (0.31, 0.63, 1.07, 1.53, 2.11, 3.07, 4.13, 6.17, 8.23, 12.31)
# Between corners' heights levels are judged this close; shorter than this a seam in a forbidden place is
# rounding at its border.
STEP_MM = 0.5
BARRED_LEAST_MM = 0.5
# A shorter edge of plaster is not told to be sharp.
SHARP_LEAST_MM = 0.2
NOWHERE = Barred()


class Level(NamedTuple):
    """A level found: `level_mm` along the pull; of its seam what it costs (mm of seam), how much runs where
    none may, how long it is, how much of it an outer edge hides and how much leaves plaster too sharp, mm;
    `usual_cost_mm` what the usual level costs, forbidden or not; `highest_mm` the level nearest to the end
    that leaves no fill to the main pieces.
    """

    level_mm: float
    cost_mm: float
    barred_mm: float
    length_mm: float = 0.0
    hidden_mm: float = 0.0
    usual_cost_mm: float = 0.0
    highest_mm: float = 0.0
    sharp_mm: float = 0.0

    @property
    def good(self) -> bool:
        """Whether its seam keeps out of forbidden places and leaves no sharp plaster."""
        return self.barred_mm <= BARRED_LEAST_MM and self.sharp_mm <= SHARP_LEAST_MM


def practice(name: str) -> float:
    """A value of materials/practice, in the unit its name ends in."""
    return shelf.value("practice", name).value


def crest_mm(source: LatticeMesh, rotation: Floats) -> float:
    """How far the object reaches along a pull, its gate left out; `rotation` into the frame where that is
    z.
    """
    own = np.zeros(len(source.points), bool)
    own[source.faces[source.origin != int(Origin.GATE)]] = True
    return float((lattice_mm(source.points[own]) @ rotation[2]).max())


def interface_level_mm(
    bench: Workbench,
    source: LatticeMesh,
    rotation: Floats,
    *,
    barred: Barred,
    model: LatticeSolid | None = None,
    left: Solid | None = None,
    over: bool = False,
    whole: bool = False,
) -> float:
    """Level of the interface, see `find_level`; with `over`, just over the object. Raises ArithmeticError
    when no level crosses the object near its end.
    """
    if over:
        return crest_mm(source, rotation) + practice("side_over_object_mm")
    return find_level(bench, source, rotation, barred=barred, model=model, left=left, whole=whole).level_mm


def find_level(
    bench: Workbench,
    source: LatticeMesh,
    rotation: Floats,
    *,
    barred: Barred,
    model: LatticeSolid | None = None,
    left: Solid | None = None,
    whole: bool = False,
) -> Level:
    """The level near the object's end along the pull where its surface stands upright, its seam is short,
    hides on an edge, keeps out of `barred` (the frame of `source`) and leaves no plaster too sharp.

    `source` in the frame that `rotation` turns from; only what lies within `left` of it counts. `model` is
    the object with what the other pieces would have filled: when it is given, a level nearer to the end than
    usual may be taken where that leaves none of the fill to them. `whole` as in `geometry.nearby.near`.
    Raises ArithmeticError when no level crosses the object near its end.
    """
    end_mm = crest_mm(source, rotation)
    placed = barred.placed(rotation, np.zeros(3))
    filled = None if model is None else _heights_of_fill(model, rotation)
    found = None
    deepest_mm = USUAL_MM[-1]
    low_mm = float((lattice_mm(source.points) @ rotation[2]).min())
    further_mm = max(deepest_mm, practice("side_level_deepest_ratio") * (end_mm - low_mm))
    for depth_mm in (deepest_mm, further_mm):
        if left is None:
            body = _upper(source, rotation, end_mm - depth_mm)
        else:
            part = near(bench, source, rotation, end_mm - depth_mm, whole=whole).solid
            body = triangles(moved(part ^ left, rotation))
        found = best_level(*body, end_mm=end_mm, depth_mm=depth_mm, barred=placed, filled=filled)
        if found is not None and found.good:
            break
    if found is None:
        raise ArithmeticError("no level parts a side piece from the object")
    return found


def _upper(source: LatticeMesh, rotation: Floats, level_mm: float) -> tuple[Floats, np.ndarray]:
    """Corners (n, 3) mm and faces (m, 3), in the frame of a pull, of the faces that reach over a level."""
    points = lattice_mm(source.points) @ rotation.T
    faces = source.faces[points[:, 2][source.faces].max(axis=1) >= level_mm]
    live, local = in_use(faces, len(points))
    return points[live], local


def best_level(
    points_mm: Floats,
    faces: np.ndarray,
    *,
    end_mm: float,
    depth_mm: float,
    barred: Barred,
    filled: Floats | None = None,
) -> Level | None:
    """The best level down to `depth_mm` under the end of a closed surface, corners (n, 3) mm with the pull
    along z and faces (m, 3) outward; None when none crosses it.

    Of the usual depths the one whose seam leans least stands, unless it runs through `barred` or the cost of
    another is lower by more than a clear margin. Where some level leaves no plaster too sharp, those that do
    cost as much as if they were forbidden. A deeper one frees as much of the main pieces; one nearer to the
    end only where no fill lies between, `filled` (k, 2) the lowest and highest of its faces, None when that
    is not known. Where no such level keeps out of `barred`, any may. Source: materials/practice.
    """
    usual = end_mm - np.array([depth for depth in USUAL_MM if depth <= depth_mm])
    more = heights_of_change(points_mm, faces, end_mm - depth_mm, end_mm - USUAL_MM[0], barred, STEP_MM)
    levels = np.concatenate([usual, more])
    lines = level_lines(
        points_mm,
        faces,
        levels,
        barred,
        crease_deg=practice("seam_crease_least_deg"),
        sharp_deg=practice("edge_angle_flag_deg"),
    )
    crossed = lines.length_mm > 0.0
    if not crossed.any():
        return None
    depth = end_mm - levels
    # What the seam's place costs beside its length, as a share of that.
    held = lines.held_mm2 / practice("side_level_held_mm2")
    stands = lines.lean + depth / practice("side_level_depth_mm") + held
    cost = _cost_mm(lines, stands, float(lines.length_mm[crossed].min()))
    if (crossed & (lines.sharp_mm <= SHARP_LEAST_MM)).any():
        cost += practice("side_seam_forbidden_ratio") * lines.sharp_mm
    cost[~crossed] = np.inf
    free = crossed & (lines.barred_mm <= BARRED_LEAST_MM)
    plain = int(np.argmin(np.where(crossed, stands, np.inf)[: len(usual)]))
    highest_mm = levels[plain]
    if filled is not None:
        highest_mm = max(highest_mm, float(filled[filled[:, 1] > highest_mm, 0].min(initial=np.inf)))
    deep = free & (levels <= highest_mm)
    if not free.any():
        best = int(np.lexsort((cost, np.where(crossed, lines.barred_mm, np.inf)))[0])
    else:
        best = int(np.argmin(np.where(deep if deep.any() else free, cost, np.inf)))
        if free[plain] and cost[plain] - cost[best] < practice("side_seam_gain_least_mm"):
            best = plain
    return Level(
        level_mm=float(levels[best]),
        cost_mm=float(cost[best]),
        barred_mm=float(lines.barred_mm[best]),
        length_mm=float(lines.length_mm[best]),
        hidden_mm=float(lines.crease_mm[best]),
        usual_cost_mm=float(cost[plain]),
        highest_mm=float(min(highest_mm, end_mm - USUAL_MM[0])),
        sharp_mm=float(lines.sharp_mm[best]),
    )


def _heights_of_fill(model: LatticeSolid, rotation: Floats) -> Floats:
    """Lowest and highest corner (k, 2) of each face of fill along a pull, mm."""
    corner = lattice_mm(model.points)[model.faces[model.origin == int(Origin.FILL)]] @ rotation[2]
    return np.stack([corner.min(axis=1), corner.max(axis=1)], axis=1)


def _cost_mm(lines: Lines, stands: Floats, shortest_mm: float) -> Floats:
    """Cost of seams (k,), mm of seam: their length, less where an outer edge hides them and more along inner
    corners, and how they stand as a share of the shortest.
    """
    hidden = practice("side_seam_edge_saves_ratio") * lines.crease_mm
    cost: Floats = (
        lines.length_mm
        - hidden
        + practice("side_seam_corner_costs_ratio") * lines.corner_mm
        + stands * shortest_mm
    )
    return cost
