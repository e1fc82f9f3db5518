"""What the seam of a side piece costs between two faces of the object, and which faces the piece may have."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.barred import Barred, chord_mm
from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.level_lines import bends
from claybed.geometry.mesh import Floats, Mesh
from claybed.mold.side_level import practice

Flags = NDArray[np.bool_]
Pairs = NDArray[np.int64]
# The two ends of an upright face may be rounded by half a step each, once in the object's frame and once in
# that of the pull.
ROUNDED_MM = 2.0 / XY_PER_MM


def seam_prices(
    band: Mesh, mate: NDArray[np.int32], unit: Floats, barred: Barred, level_mm: float
) -> tuple[Pairs, Floats]:
    """Faces that meet (k, 2), and what a seam between them costs (k, 2) mm: with the first one the side
    piece's, and with the second.

    `band` a surface seen along a pull, `mate` (3 m,) its sides, `unit` (m, 3) its normals. Deeper under
    `level_mm` it costs more; in `barred` places, and where plaster on either side would end too sharp, many
    times its length. Source: materials/practice.
    """
    one = np.flatnonzero((mate >= 0) & (np.arange(len(mate)) < mate))
    face, column = np.divmod(one, 3)
    ends = np.stack([band.faces[face, column], band.faces[face, (column + 1) % 3]], axis=1).astype(np.int64)
    p, q = (np.ascontiguousarray(band.vertices_mm[ends[:, k]]) for k in (0, 1))
    length = np.linalg.norm(q - p, axis=1)
    pairs = np.stack([face, mate[one] // 3], axis=1).astype(np.int64)
    turn = bends(band.vertices_mm, band.faces, mate, practice("seam_crease_least_deg"))[one]
    share = np.ones(len(one))
    share[turn > 0] -= practice("side_seam_edge_saves_ratio")
    share[turn < 0] += practice("side_seam_corner_costs_ratio")
    lean = np.abs(unit[:, 2])[pairs].min(axis=1)
    deep = np.maximum(0.0, level_mm - (p[:, 2] + q[:, 2]) / 2.0) / practice("side_level_depth_mm")
    balls, layers = barred.balls.copy(), barred.layers.copy()
    berth_mm = practice("side_seam_berth_mm")
    balls[:, 3] += berth_mm
    layers[:, 3:] += np.array([-berth_mm, berth_mm])
    forbidden = practice("side_seam_forbidden_ratio")
    cost = length * (share + lean + deep)
    if barred:
        cost += forbidden * np.array([chord_mm(a, b, balls, layers) for a, b in zip(p, q, strict=True)])
    return pairs, cost[:, None] + forbidden * length[:, None] * _ends_sharp(unit[pairs], q - p, turn > 0)


def uphill(band: Mesh, middle: Floats) -> Pairs:
    """Pairs (j, 2) of faces about one corner, the second so far over the first that the interface would have
    to rise too steeply between them for it to be left out.
    """
    m = len(band.faces)
    corner = band.faces.reshape(-1).astype(np.int64)
    own = np.repeat(np.arange(m), 3)
    order = np.argsort(corner, kind="stable")
    corner, own = corner[order], own[order]
    start = np.searchsorted(corner, np.arange(len(band.vertices_mm) + 1))
    found = []
    for step in range(1, int(np.diff(start).max(initial=0))):
        here = np.arange(len(own) - step)
        same = corner[here] == corner[here + step]
        found.append(np.stack([own[here[same]], own[here[same] + step]], axis=1))
    both = np.concatenate(found) if found else np.zeros((0, 2), np.int64)
    both = np.concatenate([both, both[:, ::-1]])
    rise = middle[both[:, 1]] - middle[both[:, 0]]
    steep = rise[:, 2] >= practice("collar_steepest_ratio") * np.hypot(rise[:, 0], rise[:, 1])
    kept = both[steep & (both[:, 0] != both[:, 1])]
    code = np.unique(kept[:, 0] * m + kept[:, 1])
    return np.stack([code // m, code % m], axis=1)


def interface_normal(along: Floats) -> Floats:
    """Upward unit normals (k, 3) of an interface that leaves seam edges (k, 3) level across them, and climbs
    along them as they do, though no more steeply than a parting surface may.
    """
    flat = np.hypot(along[:, 0], along[:, 1])
    steep = practice("collar_steepest_ratio")
    slope = np.clip(along[:, 2] / np.maximum(flat, 1e-9), -steep, steep)
    slope[flat < 1e-9] = 0.0
    normal = np.column_stack(
        [-slope[:, None] * along[:, :2] / np.maximum(flat, 1e-9)[:, None], np.ones(len(flat))]
    )
    found: Floats = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    return found


def sharpest_deg(normal: Floats, side: Floats, main: Floats) -> Floats:
    """Angle (k,) of the sharper plaster, degrees, where an interface with upward unit normals (k, 3) leaves
    an object between a face of the side piece and one of the main pieces, both with unit normals (k, 3).

    What the side piece has over the interface opens by the half turn less the angle between interface and
    face; what the main pieces have under it by that angle itself.
    """
    over, under = (
        np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", normal, face), -1.0, 1.0)))
        for face in (side, main)
    )
    sharpest: Floats = np.minimum(180.0 - over, under)
    return sharpest


def _ends_sharp(unit: Floats, along: Floats, edge: Flags) -> Flags:
    """Whether plaster ends too sharp at seams between two faces, `unit` (k, 2, 3) their normals: (k, 2), with
    the first the side piece's and with the second. What follows an `edge` (k,) of the object is told from the
    face that each has there; elsewhere a seam runs over either.
    """
    least_deg = practice("edge_angle_flag_deg")
    normal = interface_normal(along)
    one, two = (sharpest_deg(normal, unit[:, k], unit[:, 1 - k]) < least_deg for k in (0, 1))
    either = one | two
    sharp: Flags = np.column_stack([np.where(edge, one, either), np.where(edge, two, either)])
    return sharp


def leaves(corner: Floats, unit: Floats) -> Flags:
    """Which faces, corners (m, 3, 3) mm and unit normals (m, 3), leave along z as the main seam takes a face
    to: none that looks down, but for those upright to within the lattice, which hang over by less than it
    rounds.
    """
    rise_mm = np.ptp(corner[:, :, 2], axis=1)
    flat = np.hypot(unit[:, 0], unit[:, 1])
    over_mm = rise_mm * np.maximum(-unit[:, 2], 0.0) / np.maximum(flat, 1e-9)
    free: Flags = (unit[:, 2] >= 0.0) | ((over_mm <= ROUNDED_MM) & (flat > 0.5))
    return free
