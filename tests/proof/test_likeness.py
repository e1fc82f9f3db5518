"""Whether the model still is the object: what strays between corners, and what the model lacks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small_mold import Assembly, double_cone, ellipsoid, mold_of

from claybed.geometry.lattice import UNITS_PER_MM
from claybed.geometry.mesh import Mesh
from claybed.proof.likeness import model_true


def test_a_model_off_a_surface_that_crosses_itself_asks_for_a_plain_one(mold: Assembly) -> None:
    """Planning the same file again would give the same: where its surface crosses itself, that is to mend."""
    plain = double_cone()
    twin = np.concatenate([plain.vertices_mm, plain.vertices_mm + np.array([7.0, 3.0, 1.0])])
    crossed = Mesh.make(
        twin, np.concatenate([plain.faces, plain.faces + len(plain.vertices_mm)]), frame=plain.frame
    )
    off = replace(mold, shift_mm=mold.shift_mm + 0.02)
    assert "Plan again" in model_true(off, plain).remedy
    told = model_true(off, crossed)
    assert not told.ok
    assert "crosses itself" in told.remedy


def flipped(mold: Assembly) -> tuple[Assembly, float]:
    """The mold with two faces of the model cut along their other diagonal, and how far the two diagonals lie
    apart, mm: those of the quad that bends most.
    """
    points, faces = mold.model.points, mold.model.faces
    owner = {(f[k], f[(k + 1) % 3]): (i, k) for i, f in enumerate(faces.tolist()) for k in range(3)}
    best = (0.0, 0, 0, 0, 0)
    for (u, v), (i, k) in owner.items():
        j, m = owner[v, u]
        a, b, c, d = (points[n] / UNITS_PER_MM for n in (u, v, faces[i, (k + 2) % 3], faces[j, (m + 2) % 3]))
        normal = np.cross(b - a, d - c)
        apart = abs(float((c - a) @ normal)) / max(float(np.linalg.norm(normal)), 1e-9)
        # Only where the diagonals cross as seen along the normal they share.
        s = float(np.cross(c - a, d - c) @ normal) / max(float(normal @ normal), 1e-9)
        t = float(np.cross(c - a, b - a) @ normal) / max(float(normal @ normal), 1e-9)
        if 0.2 < s < 0.8 and 0.2 < t < 0.8 and apart > best[0]:
            best = (apart, i, j, int(faces[i, (k + 2) % 3]), int(faces[j, (m + 2) % 3]))
            ends = (u, v)
    apart, i, j, third, fourth = best
    changed = faces.copy()
    changed[i], changed[j] = (third, ends[0], fourth), (fourth, ends[1], third)
    return replace(mold, model=replace(mold.model, faces=changed)), apart


def test_a_model_with_every_corner_on_the_object_may_stray_between_them() -> None:
    """Two faces of an ellipsoid cut along the other diagonal: no corner is off, and at least half of how far
    the two diagonals lie apart is told, at the place.

    Source: distance of two lines in space, by their common normal.
    """
    obj = ellipsoid(800)
    keys = ((-70.0, 0.0), (70.0, 5.0), (10.0, 62.0))
    mold = mold_of(obj, keys_mm=keys, round_sides=48)
    assert model_true(mold, obj).measured < 0.001
    spoilt, apart_mm = flipped(mold)
    check = model_true(spoilt, obj)
    assert apart_mm > 0.02
    assert not check.ok
    assert 0.5 * apart_mm <= check.measured <= 1.001 * apart_mm
    assert "the model strays from the object" in check.where


@pytest.mark.parametrize("out", [True, False])
def test_what_stands_out_of_the_model_is_not_in_it(mold: Assembly, out: bool) -> None:
    """A thorn of 2 mm on a face of the object, which the model lacks, is told with its height; the same thorn
    into the object is under its skin, and does no harm.
    """
    plain = double_cone()
    a, b, c = plain.vertices_mm[plain.faces[0]]
    middle, normal = (a + b + c) / 3.0, np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal)
    foot = [middle + 0.1 * (p - middle) for p in (a, b, c)]
    tip = middle + (2.0 if out else -2.0) * normal
    n = len(plain.vertices_mm)
    turn = 1 if out else -1
    thorn = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])[:, ::turn] + n
    thorned = Mesh.make(
        np.concatenate([plain.vertices_mm, foot, [tip]]),
        np.concatenate([plain.faces, thorn]),
        frame=plain.frame,
    )
    check = model_true(mold, thorned)
    assert check.ok != out
    if out:
        assert check.measured == pytest.approx(2.0, abs=0.002)
        assert "the object stands out of the model" in check.where
