"""Solids read from triangles that other programs cut up: what the lattice folds flat is no fault."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from claybed.geometry.stl import snapped_solid
from claybed.proof.solidity import surface

STEP_MM = 1.0 / 4096.0


def sliver_box() -> trimesh.Trimesh:
    """A box of 20, 10 and 6 mm with a sliver a tenth of a lattice step wide along one of its upper edges."""
    box = trimesh.creation.box((20.0, 10.0, 6.0))
    points, faces = np.asarray(box.vertices), np.asarray(box.faces)
    edge = np.flatnonzero((np.abs(points[:, 1:] - [5.0, 3.0]) < 1e-9).all(axis=1))
    aside = (points[faces][:, :, 1] > 5.0 - 1e-9).all(axis=1)
    (one,) = np.flatnonzero(aside & (np.isin(faces, edge).sum(axis=1) == 2))
    third = int(np.flatnonzero(~np.isin(faces[one], edge))[0])
    top, u, v = (int(corner) for corner in np.roll(faces[one], -third))
    middle = len(points)
    corners = np.vstack([points, [0.0, 5.0 - 0.1 * STEP_MM, 3.0]])
    split = [[top, u, middle], [top, middle, v], [u, v, middle]]
    return trimesh.Trimesh(corners, np.vstack([np.delete(faces, one, axis=0), split]), process=False)


@pytest.mark.parametrize("times", [1, 2])
def test_slivers_finer_than_the_lattice_are_no_holes(times: int) -> None:
    """A box that a program cut up finer than a file can hold is closed and as large as before (trimesh)."""
    cut = sliver_box()
    assert cut.is_watertight and cut.is_winding_consistent
    for _ in range(times):
        cut = cut.subdivide()
    solid, off_mm = snapped_solid(cut.vertices[cut.faces].reshape(-1, 3))
    assert off_mm > 0.0
    assert len(solid.faces) < len(cut.faces)
    assert len(surface(solid).faults) == 0
    assert solid.volume_mm3 == pytest.approx(20.0 * 10.0 * 6.0, rel=1e-6)


def test_a_hole_is_still_a_hole() -> None:
    """A face left out of such a box is found: its three edges join one face each."""
    cut = sliver_box().subdivide()
    area = np.argsort(cut.area_faces)[-1]
    open_faces = np.delete(cut.faces, area, axis=0)
    solid, _ = snapped_solid(cut.vertices[open_faces].reshape(-1, 3))
    assert len(surface(solid).faults) == 3
