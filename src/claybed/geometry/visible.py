"""Which parts of the edges of cut faces are seen along the pull: the plan lines that faces are cut along.

An edge goes out of sight only where it passes under an edge at which a surface ends. Lines out of sight are
left out before noding: they would cut the faces above them, and round their neighbours' edges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.overlap import CLEARLY_BELOW_UNITS, Flags, PlanFaces


class Contours:
    """The edges at which a surface ends and the faces that they run over.

    `faces` the triangles in question; `mate` (3 m,) their sides' mates; `edges` (k,) the sides that are
    contours, `segments` (k, 4) and `heights` (k, 2) their ends; `face` and `segment` (p,) which runs over
    which.
    """

    def __init__(
        self,
        faces: PlanFaces,
        mate: NDArray[np.int32],
        edges: NDArray[np.int64],
        segments: Lattice,
        heights: Lattice,
        face: NDArray[np.int64],
        segment: NDArray[np.int64],
    ) -> None:
        self._faces = faces
        self._mate = mate
        side, at, over, over_at = _crossings(
            faces.plan, faces.heights, mate, segments, heights, face, segment, CLEARLY_BELOW_UNITS
        )
        # Faces with a side in common find each crossing of it twice.
        order = np.lexsort((over, at, side))
        side, at, over, over_at = side[order], at[order], edges[over[order]], over_at[order]
        new = np.r_[True, (np.diff(side) != 0) | (np.diff(at) != 0) | (np.diff(over) != 0)][: len(side)]
        self._under = _Nodes(side[new], at[new], self._points(side[new], at[new]))
        self._over = _Nodes(over[new], over_at[new], self._under.xy)

    def lines(self, cut: Flags) -> Lattice:
        """Plan lines (k, 4): the parts in sight of the edges of the faces that are `cut` (m,), rounded.

        Where one edge in sight passes under another, both get a corner at that place.
        """
        sides = (3 * np.flatnonzero(cut)[:, None] + np.arange(3)).reshape(-1)
        mate = self._mate
        sides = np.unique(np.where((mate[sides] >= 0) & (mate[sides] < sides), mate[sides], sides))
        under = self._under.of(np.isin(self._under.side, sides))
        ends = [
            _Nodes(sides, np.full(len(sides), t), self._points(sides, np.full(len(sides), t)))
            for t in (0.0, 1.0)
        ]
        nodes, first, last, seen = self._parts([under, *ends])
        in_sight = np.zeros(len(nodes.side), bool)
        in_sight[first[seen]] = in_sight[last[seen]] = True
        kept = nodes.of(in_sight)
        met = np.isin(_key(self._under), _key(kept)) & np.isin(self._over.side, sides)
        nodes, first, last, seen = self._parts([under, self._over.of(met), *ends])
        lines = np.concatenate([nodes.xy[first[seen]], nodes.xy[last[seen]]], axis=1)
        moved: Lattice = lines[(lines[:, :2] != lines[:, 2:]).any(axis=1)]
        return moved

    def _points(self, side: NDArray[np.int64], at: Floats) -> Lattice:
        """Plan points (k, 2) on sides, rounded to the lattice."""
        face, corner = np.divmod(side, 3)
        points = self._faces.plan.reshape(-1, 3, 2)
        a, b = points[face, corner], points[face, (corner + 1) % 3]
        rounded: Lattice = np.rint(a + at[:, None] * (b - a)).astype(np.int64)
        return rounded

    def _parts(self, given: list[_Nodes]) -> tuple[_Nodes, NDArray[np.int64], NDArray[np.int64], Flags]:
        """All nodes in order along their sides, the first and last of each part between two, and whether it
        is in sight.
        """
        side, at = (np.concatenate([getattr(g, name) for g in given]) for name in ("side", "at"))
        order = np.lexsort((at, side))
        nodes = _Nodes(side[order], at[order], np.concatenate([g.xy for g in given])[order])
        first = np.flatnonzero((nodes.side[1:] == nodes.side[:-1]) & (nodes.at[1:] > nodes.at[:-1]))
        side, middle = nodes.side[first], (nodes.at[first] + nodes.at[first + 1]) / 2.0
        face, corner = np.divmod(side, 3)
        following = (corner + 1) % 3
        points, z = self._faces.plan.reshape(-1, 3, 2), self._faces.heights
        a, b, za, zb = points[face, corner], points[face, following], z[face, corner], z[face, following]
        beside = np.where(self._mate[side] >= 0, self._mate[side] // 3, -1)
        hidden = self._faces.hidden_at(
            a + middle[:, None] * (b - a), za + middle * (zb - za), np.stack([face, beside], axis=1)
        )
        return nodes, first, first + 1, ~hidden


@dataclass(frozen=True, slots=True, eq=False)
class _Nodes:
    """Places on sides: `side` (n,), `at` (n,) from 0 to 1 along it, `xy` (n, 2) rounded to the lattice."""

    side: NDArray[np.int64]
    at: Floats
    xy: Lattice

    def of(self, which: Flags) -> _Nodes:
        """Some of the nodes."""
        return _Nodes(self.side[which], self.at[which], self.xy[which])


def _key(nodes: _Nodes) -> NDArray[np.complex128]:
    """Side and place of nodes in one value each."""
    key: NDArray[np.complex128] = nodes.side + 1j * nodes.at
    return key


@njit(cache=True, nogil=True)
def _crossings(
    tri: Lattice,
    z: Lattice,
    mate: NDArray[np.int32],
    segment: Lattice,
    ends: Lattice,
    pair_face: Lattice,
    pair_segment: Lattice,
    room: float,
) -> tuple[Lattice, Floats, Lattice, Floats]:
    # Where sides of faces pass under contour edges: side and contour, and how far along each.
    most = 3 * pair_face.shape[0]
    side, at = np.empty(most, np.int64), np.empty(most)
    over, over_at = np.empty(most, np.int64), np.empty(most)
    count = 0
    for i in range(pair_face.shape[0]):
        q = pair_segment[i]
        ax, ay, bx, by = segment[q, 0], segment[q, 1], segment[q, 2], segment[q, 3]
        for k in range(3):
            # Two faces with a side in common find the same place on it.
            h = 3 * pair_face[i] + k
            if 0 <= mate[h] < h:
                h = mate[h]
            f, c = h // 3, h % 3
            j = (c + 1) % 3
            px, py, qx, qy = tri[f, 2 * c], tri[f, 2 * c + 1], tri[f, 2 * j], tri[f, 2 * j + 1]
            one = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
            two = (bx - ax) * (qy - ay) - (by - ay) * (qx - ax)
            if not ((one > 0 and two < 0) or (one < 0 and two > 0)):
                continue
            left = (qx - px) * (ay - py) - (qy - py) * (ax - px)
            right = (qx - px) * (by - py) - (qy - py) * (bx - px)
            if (left > 0 and right > 0) or (left < 0 and right < 0) or left == right:
                continue
            t, s = one / (one - two), left / (left - right)
            if ends[q, 0] + s * (ends[q, 1] - ends[q, 0]) < z[f, c] + t * (z[f, j] - z[f, c]) - room:
                continue
            side[count], at[count] = h, t
            over[count], over_at[count] = q, s
            count += 1
    return side[:count], at[:count], over[:count], over_at[:count]
