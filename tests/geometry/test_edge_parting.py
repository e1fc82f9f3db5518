"""Solids that touch themselves along an edge are opened by a hair."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.carving import snapped
from claybed.geometry.edge_parting import edges_parted
from claybed.geometry.mesh import Origin
from claybed.geometry.slab import LatticeSolid, odd_faced_edges
from tests.pieces import solids


def kissing_boxes() -> LatticeSolid:
    """Two boxes of 10 mm joined by a third under them, which touch each other along an upright edge."""
    box = solids.box(10.0, 10.0, 10.0)
    low = box.vertices_mm.min(axis=0)
    parts = []
    for shift in ((0.0, 0.0, 0.0), (10.0, 10.0, 0.0)):
        parts.append((box.vertices_mm - low + np.array(shift), box.faces))
    points = np.concatenate([p for p, _ in parts])
    faces = np.concatenate([f + k * len(box.vertices_mm) for k, (_, f) in enumerate(parts)])
    return snapped(points, faces, np.zeros(len(faces), np.uint8))


def test_a_shared_edge_is_parted_and_the_volume_kept() -> None:
    """No edge is left with more than two faces, none loses its mate, and the volume changes by less than a
    lattice step over the faces moved.
    """
    solid = kissing_boxes()
    assert len(odd_faced_edges(solid)[1]) == 1
    opened = edges_parted(solid)
    lone, crowded = odd_faced_edges(opened)
    assert (lone, len(crowded)) == (0, 0)
    assert abs(opened.volume_mm3 - 2000.0) < 10.0 * 10.0 * 2.0 / 1024.0
    assert len(opened.faces) == len(solid.faces) + 2


def test_a_clean_solid_is_left_alone() -> None:
    """A box comes back as it was."""
    box = solids.box(10.0, 10.0, 10.0)
    solid = snapped(box.vertices_mm, box.faces, box.origin)
    assert edges_parted(solid) is solid


def test_surfaces_that_pass_by_a_hair_do_not_grow_together() -> None:
    """Corners that round to one lattice point stay two where no edge joins them."""
    box = solids.box(10.0, 10.0, 10.0)
    low = box.vertices_mm - box.vertices_mm.min(axis=0)
    points = np.concatenate([low, low + np.array([10.0001, 10.0001, 0.0])])
    faces = np.concatenate([box.faces, box.faces + len(low)])
    origin = np.zeros(len(faces), np.uint8)
    grown = snapped(points, faces, origin)
    apart = snapped(points, faces, origin, heal=True)
    assert len(odd_faced_edges(grown)[1]) == 1
    assert odd_faced_edges(apart)[0] == 0
    assert len(odd_faced_edges(apart)[1]) == 0
    assert len(apart.points) == len(grown.points) + 2


def test_a_face_without_area_is_told_as_its_neighbour() -> None:
    """A face that joins one long side to two short ones takes the origin of the face on its long side."""
    box = solids.box(10.0, 10.0, 10.0)
    u, v, w = box.faces[0].tolist()
    m = len(box.vertices_mm)
    points = np.concatenate([box.vertices_mm, (box.vertices_mm[u] + box.vertices_mm[v])[None] / 2.0])
    faces = np.concatenate([box.faces[1:], [[u, m, w], [m, v, w], [u, v, m]]])
    origin = np.full(len(faces), int(Origin.PARTING), np.uint8)
    origin[-1] = int(Origin.OBJECT)
    solid = snapped(points, faces, origin)
    assert len(solid.faces) == len(box.faces) + 2
    assert odd_faced_edges(solid)[0] == 0
    assert set(solid.origin.tolist()) == {int(Origin.PARTING)}


@pytest.mark.parametrize(
    "extra", [((0, 1, 2), (0, 2, 1)), ((0, 2, 1), (0, 1, 2)), ((0, 1, 2), (0, 2, 1)) * 2]
)
def test_a_fold_on_a_face_takes_no_more_than_itself(extra: tuple[tuple[int, ...], ...]) -> None:
    """Faces that fold flat on the corners of a face of a box go; the face stays, and the box is closed."""
    box = solids.box(10.0, 10.0, 10.0)
    fold = box.faces[:1][:, list(map(list, extra))].reshape(-1, 3)
    faces = np.concatenate([fold, box.faces])
    solid = snapped(box.vertices_mm, faces, np.zeros(len(faces), np.uint8))
    assert len(solid.faces) == len(box.faces)
    assert odd_faced_edges(solid)[0] == 0
    assert solid.volume_mm3 == pytest.approx(1000.0)
