"""How far a shrinking skin is kept from drawing away: by the plaster that it closes round.

What shrinks evenly towards a point draws away from every face that the point lies behind. Where no point lies
behind all of them, some faces are held, and least so for the point that lies least far before any.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from claybed.geometry.mesh import Floats

FIRST = 400
MORE = 200
MOST_ROUNDS = 40
CLOSE_MM = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Hold:
    """The point to which a skin shrinks best, and how far it lies before each face (n,) mm; below zero,
    behind it.
    """

    centre_mm: Floats
    before_mm: Floats

    @property
    def deepest_mm(self) -> float:
        """How far the point lies before the face that holds most; not above zero when none holds."""
        return float(self.before_mm.max())


def least_hold(points_mm: Floats, normals: Floats) -> Hold:
    """Where a skin with unit `normals` (n, 3), out of the clay, at `points_mm` (n, 3) is held least.

    The largest of (centre - point) . normal is made as small as there is, as a linear program over the
    faces that matter, more being added until all hold. Raises ValueError without faces.
    """
    if not len(points_mm):
        raise ValueError("a skin needs faces")
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    reach = np.einsum("ij,ij->i", points_mm, normals)
    kept = np.zeros(len(points_mm), bool)
    kept[np.linspace(0, len(points_mm) - 1, min(FIRST, len(points_mm))).astype(int)] = True
    centre = (low + high) / 2.0
    for _ in range(MOST_ROUNDS):
        rows = np.flatnonzero(kept)
        solved = linprog(
            [0.0, 0.0, 0.0, 1.0],
            A_ub=np.column_stack([normals[rows], -np.ones(len(rows))]),
            b_ub=reach[rows],
            bounds=[*zip(low.tolist(), high.tolist(), strict=True), (None, None)],
            method="highs",
        )
        if solved.x is None:
            break
        centre = np.asarray(solved.x[:3], dtype=np.float64)
        before = normals @ centre - reach
        worst = np.argsort(-before)[:MORE]
        missed = worst[before[worst] > float(solved.x[3]) + CLOSE_MM]
        if not len(missed):
            break
        kept[missed] = True
    return Hold(centre, normals @ centre - reach)
