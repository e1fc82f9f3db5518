"""Fill is told from object and gate on a finished model."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.closest import nearest_within
from claybed.geometry.labelling import freed_of_fill, mark_fill
from claybed.geometry.lattice import UNITS_PER_MM, lattice_mesh, lattice_mm, to_lattice
from claybed.geometry.mesh import Origin
from claybed.geometry.sheets import envelope
from claybed.geometry.slab import LatticeSolid, solid_between
from tests.mold.molds import UP, sheets_of
from tests.pieces import solids


def test_walls_of_clay_are_fill_and_walls_of_the_object_are_not() -> None:
    """A drilled cube: the plug's sides are fill, the cube's own and the upright hole's are not."""
    cube = solids.cube_with_blind_holes(("+x", "+z"), side_mm=60.0, hole_mm=8.0, deep_mm=15.0)
    lat, footprint, found = sheets_of(cube, UP)
    model = mark_fill(solid_between(found.bottom, found.top, wall_origin=0), lat, footprint)
    p = model.points[model.faces] / np.array([1024.0, 1024.0, 4096.0])
    middle = p.mean(axis=1)
    away = np.hypot(middle[:, 0], middle[:, 1])
    upright = np.ptp(p[:, :, 2], axis=1) > 0
    hole = upright & (away < 8.05)
    assert hole.any()
    assert not (model.origin[hole] == int(Origin.FILL)).any()
    fill = model.origin == int(Origin.FILL)
    assert fill.any()
    # Seen along z the mouth of the cross hole is a stretch of one side, as long as the hole is wide.
    corner = p[fill]
    assert (np.abs(corner[:, :, 1]) == 30.0).all()
    assert np.abs(corner[:, :, 0]).max() == 8.0
    assert len(np.unique(np.sign(corner[:, :, 1]))) == 1


def test_a_solid_without_gaps_has_no_fill() -> None:
    """A cylinder's own wall is object all round."""
    lat, footprint, found = sheets_of(solids.cylinder(22.0, 50.0, sides=48))
    model = mark_fill(solid_between(found.bottom, found.top, wall_origin=0), lat, footprint)
    assert set(model.origin.tolist()) == {int(Origin.OBJECT)}


def test_what_the_block_cuts_off_is_gate() -> None:
    """A bar that runs out of the block ends in a face on the block's side, and that face is gate."""
    _, footprint, _ = sheets_of(solids.box(20.0, 20.0, 20.0))
    bar = solids.box(20.0, 90.0, 20.0)
    lat = to_lattice(bar, np.eye(3), np.zeros(3))
    found = envelope(lat, footprint)
    model = mark_fill(solid_between(found.bottom, found.top, wall_origin=0), lat, footprint)
    p = model.points[model.faces]
    ends = (p[:, :, 1] == footprint[2, 1]).all(axis=1) | (p[:, :, 1] == footprint[0, 1]).all(axis=1)
    assert ends.any()
    assert set(model.origin[ends].tolist()) == {int(Origin.GATE)}
    assert not (model.origin[~ends] == int(Origin.GATE)).any()


def test_only_fill_that_lies_on_the_object_is_freed() -> None:
    """A drilled cube all of whose skin was named fill is the object again, where nothing else was named; the
    plug in its hole stays fill.
    """
    cube = solids.cube_with_blind_holes(("+x", "+z"), side_mm=60.0, hole_mm=8.0, deep_mm=15.0)
    lat, footprint, found = sheets_of(cube, UP)
    named = np.full(len(lat.faces), int(Origin.FILL), np.uint8)
    named[:7] = int(Origin.GATE)
    skin = freed_of_fill(LatticeSolid(lat.points, lat.faces, named), lat, 0.1)
    assert (skin.origin[7:] == lat.origin[7:]).all()
    assert (skin.origin[:7] == int(Origin.GATE)).all()
    plugged = mark_fill(solid_between(found.bottom, found.top, wall_origin=0), lat, footprint)
    left = freed_of_fill(plugged, lat, 0.1)
    corner = lattice_mm(left.points)[left.faces]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1) / 2.0
    # Slivers along the plug's rim lie as near to the object as its own skin.
    plug_mm2, left_mm2 = (area[one.origin == int(Origin.FILL)].sum() for one in (plugged, left))
    assert 0.99 * plug_mm2 < left_mm2 <= plug_mm2


@pytest.mark.parametrize(("deep_mm", "freed"), [(0.05, True), (0.3, False)])
def test_fill_over_a_groove_is_freed_only_where_the_groove_is_a_hair(deep_mm: float, freed: bool) -> None:
    """A face with its corners, its middle and those of its sides on the object, and a groove of it under one
    of its tips: no such spot tells how deep that is.

    Closed form: the middle of a groove a millimetre wide is deep * cos(atan(2 deep)) away from its sides.
    """
    rows = np.array([[-1.0, 0.0], [5.5, 0.0], [6.0, -deep_mm], [6.5, 0.0], [9.0, 0.0]])
    ground = np.array([[x, y, z] for y in (-1.0, 9.0) for x, z in rows])
    faces = [[k + a, k + b, k + c] for k in range(4) for a, b, c in ((0, 1, 6), (0, 6, 5))]
    source = lattice_mesh(
        np.rint(ground * UNITS_PER_MM).astype(np.int64),
        np.array(faces, np.int32),
        np.full(len(faces), int(Origin.MEND), np.uint8),
    )
    tip = np.rint(np.array([[0, 0, 0], [8, 0, 0], [0, 8, 0]]) * UNITS_PER_MM).astype(np.int64)
    fill = LatticeSolid(tip, np.array([[0, 1, 2]], np.int32), np.array([int(Origin.FILL)], np.uint8))
    away_mm = nearest_within(np.array([[6.0, 1.0, 0.0]]), lattice_mm(source.points)[source.faces], 1.0)[1][0]
    assert away_mm == pytest.approx(deep_mm * np.cos(np.arctan(2.0 * deep_mm)), abs=1e-3)
    assert (away_mm < 0.1) == freed
    left = freed_of_fill(fill, source, 0.1)
    assert left.origin.tolist() == [int(Origin.MEND) if freed else int(Origin.FILL)]


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("whole", [False, True])
def test_a_wall_is_asked_between_its_corners(narrow: bool, whole: bool) -> None:
    """A wall with its corners and all its middles on the object, which leaves a gap at a quarter of one side:
    it is fill, upright or two lattice steps from being so; where the object has no gap, it is object.
    """
    top_mm = 2.8 if not whole else 2.2
    corners = np.array(
        [
            [0, 0, 0],
            [2, 0, 0],
            [2, 0, 2.2],
            [0, 0, 2.2],
            [0, 0, top_mm],
            [2, 0, top_mm],
            [2, 0, 10],
            [0, 0, 10],
        ]
    )
    faces = np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]], np.int32)
    source = lattice_mesh(
        np.rint(corners * UNITS_PER_MM).astype(np.int64), faces, np.full(4, int(Origin.MEND), np.uint8)
    )
    wall = np.rint(np.array([[0, 0, 0], [0, 0, 10], [2, 0, 6]]) * UNITS_PER_MM).astype(np.int64)
    wall[1, 1] += 2 * narrow
    footprint = 10240 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    model = LatticeSolid(wall, np.array([[0, 1, 2]], np.int32), np.zeros(1, np.uint8))
    marked = mark_fill(model, source, footprint)
    assert marked.origin.tolist() == [int(Origin.MEND) if whole else int(Origin.FILL)]
