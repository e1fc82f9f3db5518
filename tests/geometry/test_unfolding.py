"""Slits where a surface lies folded on itself are closed, and nothing else is touched."""

from __future__ import annotations

import itertools

import manifold3d
import numpy as np
import pytest

from claybed.geometry.halfedges import match_sides
from claybed.geometry.lattice import UNITS_PER_MM
from claybed.geometry.mesh import Origin
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.unfolding import without_slits
from tests.pieces import solids


def lattice_solid(points_mm: np.ndarray, faces: np.ndarray) -> LatticeSolid:
    """A solid on the lattice, all of it a parting."""
    points = np.rint(points_mm * UNITS_PER_MM).astype(np.int64)
    return LatticeSolid(points, faces.astype(np.int32), np.full(len(faces), int(Origin.PARTING), np.uint8))


def slit_box(tip_mm: tuple[float, ...], back_mm: tuple[float, ...] | None = None) -> LatticeSolid:
    """A box of 20 mm, one side of which runs in to `tip_mm` and back: a slit of two faces, or of more
    when the way back is parted at `back_mm`.
    """
    box = solids.box(20.0, 20.0, 20.0)
    points, faces = box.vertices_mm, box.faces.astype(np.int64)
    one = faces[0]
    side = match_sides(faces, len(points)).mate[0]
    a, b = int(one[0]), int(one[1])
    assert side >= 0
    tip = len(points)
    every = [*points, np.array(tip_mm)]
    # The first face runs its side a-b by way of the tip; the way back stands between it and its neighbour.
    c = int(one[2])
    new = [(a, tip, c), (tip, b, c)]
    if back_mm is None:
        new += [(a, b, tip)]
    else:
        every.append(np.array(back_mm))
        new += [(a, tip + 1, tip), (tip + 1, b, tip), (a, b, tip + 1)]
    return lattice_solid(np.array(every), np.concatenate([faces[1:], np.array(new)]))


def twice_area(solid: LatticeSolid) -> float:
    """Twice the area of all faces, mm²."""
    corner = (solid.points / np.array(UNITS_PER_MM))[solid.faces]
    return float(
        np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum()
    )


def folded(solid: LatticeSolid) -> int:
    """How many sides have faces on either side that look opposite ways."""
    corner = (solid.points / np.array(UNITS_PER_MM))[solid.faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(across, axis=1)
    normal = across / np.maximum(size, 1e-12)[:, None]
    mate = match_sides(solid.faces, len(solid.points)).mate
    one, other = np.arange(len(mate)) // 3, mate // 3
    flat = (normal[one] * normal[other]).sum(axis=1) < -0.999
    return int((flat & (np.minimum(size[one], size[other]) > 1e-2)).sum())


def test_a_solid_without_slits_stays_as_it_is() -> None:
    """Not so much as its order changes."""
    box = solids.box(20.0, 20.0, 20.0)
    solid = lattice_solid(box.vertices_mm, box.faces)
    assert without_slits(solid) is solid


@pytest.mark.parametrize("back", [False, True])
def test_a_slit_is_closed(back: bool) -> None:
    """A sheet that runs out over a side of a box and back encloses nothing: once it is gone the surface is
    closed, folded nowhere, as large as the box's, and encloses as much.
    """
    box = solids.box(20.0, 20.0, 20.0)
    corner = box.corners_mm[0]
    out = corner[0] + corner[1] - corner[2]  # beyond the side, in the face's own plane
    middle = (corner[0] + corner[1]) / 2.0
    tip = middle + 0.4 * (out - middle)
    slit = slit_box(
        tuple(tip), tuple(middle + 0.2 * (out - middle) + 0.1 * (corner[1] - corner[0])) if back else None
    )
    assert folded(slit) > 0
    mended = without_slits(slit)
    assert folded(mended) == 0
    sides = match_sides(mended.faces, len(mended.points))
    assert not len(sides.lone) and not len(sides.twice)
    assert mended.volume_mm3 == pytest.approx(8000.0, rel=1e-9)
    assert twice_area(mended) == pytest.approx(2.0 * 2400.0, rel=1e-3)


def test_a_groove_narrower_than_a_slit_is_closed_to_its_end() -> None:
    """A groove three millimetres deep and a few thousandths wide, with walls at its ends and corners almost
    opposite one another: there no side can be turned, and the rest would stay open.
    """
    low, high = np.zeros(3), np.full(3, 10.0)
    block = manifold3d.Manifold.cube(tuple(high))
    blade = [(3, 5, 7), (7, 5, 7), (5, 4.998, 8.5), (5.001, 5.002, 8.4995)]
    blade += [(x, y, 10.5) for x in (2.5, 7.5) for y in (4.999, 5.001)]
    cut = solids.from_manifold(block - manifold3d.Manifold.hull_points(np.array(blade)))
    groove = lattice_solid(cut.vertices_mm, cut.faces)
    open_mm2 = twice_area(groove) / 2.0 - 600.0
    assert open_mm2 > 20.0
    closed = without_slits(groove)
    sides = match_sides(closed.faces, len(closed.points))
    assert not len(sides.lone) and not len(sides.twice)
    assert twice_area(closed) / 2.0 == pytest.approx(600.0, abs=0.05)
    corners = closed.points / np.array(UNITS_PER_MM)
    assert (corners >= low).all() and (corners <= high).all()
    assert closed.volume_mm3 == pytest.approx(1000.0, abs=0.05)


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
@pytest.mark.parametrize("inside", [True, False])
def test_a_slit_is_closed_from_either_side_of_it(order: tuple[int, ...], inside: bool) -> None:
    """A blade that runs out beside a face, 0.0053 mm off its plane seen from one side and 0.0025 mm from the
    other: the solid with it and the one with its groove both lose it, in whatever order their faces come.
    """
    a, b, c = (-15.9824, 37.042, 116.1519), (-15.9775, 37.0439, 111.9429), (-16.5137, 38.4453, 114.0474)
    tip = (-16.5137, 38.4453, 111.9409)
    out = np.cross(np.subtract(a, b), np.subtract(c, b))
    apex = np.mean([a, b, c], axis=0) + (-10.0 if inside else 10.0) * out / np.linalg.norm(out)
    blade = np.array([(0, 3, 1), (1, 3, 2), (0, 2, 3)])[list(order)]
    faces = np.concatenate([blade, [(0, 1, 4), (1, 2, 4), (2, 0, 4)]])
    solid = lattice_solid(np.array([a, b, c, tip, apex]), faces if inside else faces[:, ::-1])
    assert solid.six_volumes > 0
    closed = without_slits(solid)
    assert len(closed.faces) == 4
    assert len(closed.points) == 4
    assert closed.six_volumes > 0
