"""A mold whose gate does not reach the outside has no way in."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Origin
from claybed.geometry.slab import LatticeSolid
from claybed.proof.gates import gate_open
from claybed.records.assembly import Assembly, Gate

BORE_MM = 20.0


def with_stack(mold: Assembly, radius_mm: float, top_mm: float) -> Assembly:
    """The mold with an upright bar of 24 sides as its model, up to a height, and a gate that it leads to."""
    turn = np.arange(24) * 2.0 * np.pi / 24
    ring = np.rint(radius_mm * XY_PER_MM * np.stack([np.cos(turn), np.sin(turn)], axis=1)).astype(np.int64)
    low, high = round(30.0 * Z_PER_MM), round(top_mm * Z_PER_MM)
    points = np.concatenate([np.column_stack([ring, np.full(24, z)]) for z in (low, high)])
    faces = [[24, 24 + k, 25 + k] for k in range(1, 23)] + [[0, 1 + k, k] for k in range(1, 23)]
    for k in range(24):
        n = (k + 1) % 24
        faces += [[k, n, 24 + n], [k, 24 + n, 24 + k]]
    bar = LatticeSolid(points, np.array(faces, np.int32), np.full(len(faces), int(Origin.GATE), np.uint8))
    gate = Gate("bore", BORE_MM, math.nan, 0.0, (0.0, 0.0, 60.0), (0.0, 0.0, 1.0))
    return replace(mold, model=bar, gate=gate)


@pytest.mark.parametrize(
    ("radius_mm", "short_mm", "ok"), [(10.0, 0.0, True), (10.0, 0.5, False), (9.0, 0.0, False)]
)
def test_it_is_as_wide_outside_as_its_bore(
    mold: Assembly, radius_mm: float, short_mm: float, ok: bool
) -> None:
    """One that ends half a millimetre below the top is shut, and a narrower one is told with its width: of a
    circle as large as a polygon of 24 sides.
    """
    top_mm = mold.height / Z_PER_MM
    (check,) = gate_open(with_stack(mold, radius_mm, top_mm - short_mm))
    assert check.ok == ok
    as_circle_mm = 2.0 * radius_mm * math.sqrt(24.0 * math.sin(math.pi / 12.0) / (2.0 * math.pi))
    assert check.measured == pytest.approx(0.0 if short_mm else as_circle_mm, abs=0.01)
    assert check.at_mm == (0.0, 0.0, 60.0)


def test_what_has_no_gate_is_not_asked(mold: Assembly) -> None:
    """A mold for pressing has none."""
    assert gate_open(mold) == []
