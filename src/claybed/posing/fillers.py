"""Where fillers keep the places of side pieces while the first piece is poured, as the bed meets them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import XY_PER_MM, lattice_mm, pull_rotation
from claybed.geometry.levels import flat_level_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.records.assembly import Assembly, Piece

# What lies on a filler lies nearer to it than this; lattice steps are far smaller.
ON_MM = 0.05
# Of a piece that runs under the object as well, what stands this far over the bed's level is its filler.
OVER_LEVEL_MM = 1.0
# Of a longer stretch of seam a part may lie on a filler.
STEP_MM = 1.0


def side_pieces(assembly: Assembly) -> tuple[Piece, ...]:
    """The pieces that are poured on the closed others, their pulls across."""
    return tuple(piece for piece in assembly.pieces if abs(piece.pull[2]) < 1.0)


def on_fillers(points_mm: Floats, assembly: Assembly) -> NDArray[np.bool_]:
    """Which points (n, 3) mm of the block's frame lie on the face of a filler, its plug and keys included."""
    corners = [_face_of(piece, assembly) for piece in side_pieces(assembly)]
    corners = [found for found in corners if len(found)]
    if not corners or not len(points_mm):
        return np.zeros(len(points_mm), bool)
    nearest, _ = nearest_within(points_mm, np.concatenate(corners), ON_MM)
    on: NDArray[np.bool_] = nearest >= 0
    return on


def bed_loops(assembly: Assembly) -> tuple[Floats, ...]:
    """The seam that the bed comes up to: what of a mold's seam lines (n, 3) mm no filler covers, open where
    one does. All seam lines where there are no side pieces.
    """
    return _runs(assembly, kept=False) if side_pieces(assembly) else assembly.seam_loops


def filler_loops(assembly: Assembly) -> tuple[Floats, ...]:
    """The lines (n, 3) mm on the object where fillers meet it; none where there are no side pieces."""
    return _runs(assembly, kept=True) if side_pieces(assembly) else ()


def face_level_mm(piece: Piece, assembly: Assembly) -> float | None:
    """How far along its pull from the block's origin the face of a side piece's filler stands, mm; None for a
    piece without one.
    """
    corners = _face_of(piece, assembly)
    return flat_level_mm(corners @ pull_rotation(piece.pull).T) if len(corners) else None


def plan_line(piece: Piece, assembly: Assembly, height_mm: float) -> Floats | None:
    """The line (2, 2) mm in plan, across the block, in which a filler's face stands at a height of the block;
    None where it passes beside the block.
    """
    level_mm = face_level_mm(piece, assembly)
    way = np.array(piece.pull[:2])
    length = float(np.linalg.norm(way))
    if level_mm is None or length < 1e-6:
        return None
    away_mm = (level_mm - piece.pull[2] * height_mm) / length
    way = way / length
    reach = float(np.abs(assembly.footprint).max()) / XY_PER_MM * 4.0
    across = np.array([-way[1], way[0]]) * reach
    line = LineString([way * away_mm - across, way * away_mm + across])
    cut = line.intersection(Polygon(assembly.footprint / XY_PER_MM))
    return None if cut.is_empty or cut.geom_type != "LineString" else np.array(cut.coords)


def _runs(assembly: Assembly, *, kept: bool) -> tuple[Floats, ...]:
    """The stretches of the seam lines that lie on fillers, or (not `kept`) those that do not, joined where
    one begins at another's end.
    """
    found: list[Floats] = []
    for loop in assembly.seam_loops:
        dense = _fine(loop)
        middles = (dense[1:] + dense[:-1]) / 2.0
        wanted = on_fillers(middles, assembly)
        if not kept:
            # What runs between two side pieces is neither the first piece's nor the bed's.
            wanted = ~wanted & _on_first(middles, assembly)
        if wanted.all():
            found.append(loop)
            continue
        if np.array_equal(dense[0], dense[-1]):
            first = int(np.argmin(wanted))
            dense = np.concatenate([dense[first:-1], dense[: first + 1]])
            wanted = np.roll(wanted, -first)
        edges = np.flatnonzero(np.diff(np.r_[False, wanted, False].astype(np.int8)))
        found += [dense[a : b + 1] for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return tuple(_joined(found))


def _on_first(points_mm: Floats, assembly: Assembly) -> NDArray[np.bool_]:
    """Which points (n, 3) mm lie on the face that the first piece turns to the bed and the other pieces."""
    first = assembly.pieces[0].solid
    joint = np.isin(first.origin, [int(Origin.PARTING), int(Origin.KEY)])
    if not joint.any():
        return np.ones(len(points_mm), bool)
    nearest, _ = nearest_within(points_mm, lattice_mm(first.points)[first.faces[joint]], ON_MM)
    on: NDArray[np.bool_] = nearest >= 0
    return on


def _joined(lines: Sequence[Floats]) -> list[Floats]:
    """Lines with those that begin where another ends made one."""
    left = list(lines)
    done: list[Floats] = []
    while left:
        line = left.pop(0)
        while not np.array_equal(line[0], line[-1]):
            after = next((k for k, one in enumerate(left) if _meet(line[-1], one[0])), None)
            before = next((k for k, one in enumerate(left) if _meet(one[-1], line[0])), None)
            if after is not None:
                line = np.concatenate([line, left.pop(after)[1:]])
            elif before is not None:
                line = np.concatenate([left.pop(before), line[1:]])
            else:
                break
        done.append(line)
    return done


def _meet(one: Floats, other: Floats) -> bool:
    return float(np.linalg.norm(one - other)) < ON_MM


def _fine(loop: Floats) -> Floats:
    """A polyline with corners added, so that no step is longer than STEP_MM."""
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(loop, axis=0), axis=1))]
    count = max(2, int(np.ceil(along[-1] / STEP_MM)) + 1)
    stops = np.union1d(along, np.linspace(0.0, along[-1], count))
    return np.stack([np.interp(stops, along, loop[:, k]) for k in range(3)], axis=1)


def _face_of(piece: Piece, assembly: Assembly) -> Floats:
    """Corners (k, 3, 3) mm of the face that a filler turns to the main pieces."""
    solid = piece.solid
    joint = np.isin(solid.origin, [int(Origin.PARTING), int(Origin.KEY)])
    corners: Floats = lattice_mm(solid.points)[solid.faces[joint]]
    if piece.id == assembly.base:
        corners = corners[corners[:, :, 2].min(axis=1) > assembly.level_mm - ON_MM]
        corners = corners[corners[:, :, 2].max(axis=1) > assembly.level_mm + OVER_LEVEL_MM]
    return corners
