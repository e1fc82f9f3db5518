"""Height sheets: they tile what the object covers, they never cross, and they hold the least fill."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from claybed.geometry import sheets
from claybed.geometry.arranging import arranged, triangulate_cells
from claybed.geometry.clearance import crossing_pairs
from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.outside import tile_outside
from claybed.geometry.overlap import PlanFaces, facing
from claybed.geometry.sheet import Sheet, rim_edges, unmated
from claybed.geometry.sheets import Envelope
from claybed.geometry.slab import odd_faced_edges, solid_between
from tests.mold.molds import UP, Vector, sheet_fill_mm3, sheets_of
from tests.pieces import solids
from tests.pieces.edges import used_twice

CONVEX = ("ball", "box", "cylinder", "frustum")
CASES: dict[str, tuple[Mesh, Vector]] = {
    "ball": (solids.sphere(30.0, subdivisions=2), (0.3, 0.5, 0.8)),
    "box": (solids.box(40.0, 30.0, 25.0), UP),
    "cylinder": (solids.cylinder(22.0, 50.0, sides=48), UP),
    "frustum": (solids.frustum(40.0, 25.0, 60.0, sides=64), UP),
    "ring": (solids.torus(40.0, 10.0, around=64, sides=24), UP),
    "ring_on_edge": (solids.torus(40.0, 10.0, around=64, sides=24), (0.0, 1.0, 0.0)),
    "ring_askew": (solids.torus(40.0, 10.0, around=64, sides=24), (0.6, 0.3, 0.74)),
    "drilled": (solids.cube_with_blind_holes(), UP),
    # The rims of its recesses lie under its edge: outlines of top and bottom differ there by rounding.
    "drum": (solids.drum(), UP),
    "cup": (solids.cup_with_handle(), (0.0, 1.0, 0.0)),
    "knot": (solids.trefoil_tube(along=90, sides=10), UP),
    "lumpy": (solids.lumpy_sphere(1500), (0.2, -0.4, 0.9)),
}


@pytest.fixture(scope="module", params=sorted(CASES))
def cut(request: pytest.FixtureRequest) -> tuple[str, Lattice, Envelope]:
    """One object's footprint and sheets after the other."""
    solid, pull = CASES[request.param]
    _, footprint, found = sheets_of(solid, pull)
    return request.param, footprint, found


def test_sheets_and_parting_tile_the_footprint(cut: tuple[str, Lattice, Envelope]) -> None:
    """With what lies outside, each sheet covers the footprint once: areas positive, mated, sum exact."""
    _, footprint, found = cut
    rim = rim_edges(found.top)
    edges = np.concatenate([found.top.plan[rim[:, 0]], found.top.plan[rim[:, 1]]], axis=1)
    tiles = tile_outside(edges, footprint, 6 * 1024).triangles
    side = footprint[2] - footprint[0]
    for sheet in (found.top, found.bottom):
        corners = np.concatenate([sheet.plan[sheet.faces], tiles])
        plan, number = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
        faces = number.reshape(-1, 3)
        area = twice_plan_area(plan, faces)
        assert area.min() > 0
        assert int(area.sum()) == 2 * int(side[0]) * int(side[1])
        assert len(used_twice(faces, len(plan))) == 0
        alone = unmated(faces, len(plan))
        ends = plan[np.stack([alone // len(plan), alone % len(plan)], axis=1)]
        framed = [
            (ends[:, :, k] == v).all(axis=1) for k in (0, 1) for v in (footprint[0, k], footprint[2, k])
        ]
        assert np.logical_or.reduce(framed).all()


def test_the_top_is_nowhere_below_the_bottom(cut: tuple[str, Lattice, Envelope]) -> None:
    """No cell of the top sheet runs below one of the bottom sheet, and both have one outline."""
    _, _, found = cut
    top, bottom = found.top, found.bottom
    pairs = crossing_pairs(
        np.ascontiguousarray(top.plan[top.faces].reshape(-1, 6)),
        top.heights,
        np.ascontiguousarray(bottom.plan[bottom.faces].reshape(-1, 6)),
        bottom.heights,
    )
    assert len(pairs) == 0
    assert np.array_equal(rim_edges(top), rim_edges(bottom))


def test_what_hides_nothing_is_taken_as_it_is(cut: tuple[str, Lattice, Envelope]) -> None:
    """Convex solids are not cut at all; the others are."""
    name, _, found = cut
    if name in (*CONVEX, "ring"):
        assert (found.hidden_faces, found.cut_faces) == (0, 0)
    else:
        assert found.hidden_faces > 0
        # What hides others whole, as the top of a drilled cube, is not cut either.
        assert (found.cut_faces > 0) == (name != "drilled")


def test_the_sheets_are_the_highest_and_the_lowest_surface(cut: tuple[str, Lattice, Envelope]) -> None:
    """Over random plan points the sheets' heights are the object's own extremes, to rounding."""
    name, footprint, found = cut
    solid, pull = CASES[name]
    lat, _, _ = sheets_of(solid, pull)
    at = np.random.default_rng(1).integers(3 * footprint[0], 3 * footprint[2], (3000, 2))
    for sheet, up in ((found.top, True), (found.bottom, False)):
        own, own_z = facing(lat, up=up)[1].extreme_at(at, highest=up)
        made, made_z = _over(sheet.plan[sheet.faces], sheet.heights, at, highest=up)
        assert np.mean((own >= 0) != (made >= 0)) < 0.002
        both = (own >= 0) & (made >= 0)
        off = np.abs(own_z - made_z)[both]
        assert np.mean(off > 0.02 * 4096) < 0.01


def _over(corners: Lattice, z: Lattice, at: Lattice, *, highest: bool) -> tuple[np.ndarray, np.ndarray]:
    return PlanFaces(corners.reshape(-1, 6), z).extreme_at(at, highest=highest)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("name", ["box", "cylinder"])
def test_straight_solids_turned_at_random_need_no_fill(name: str, seed: int) -> None:
    """Along their own axis the solid between the sheets is the snapped object to the last unit."""
    turn = Rotation.random(random_state=seed).as_matrix()
    turned = CASES[name][0].moved(turn, np.array([9.0, -4.0, 2.0]), frame="object")
    assert sheet_fill_mm3(turned, turn[:, 2]) == 0.0


def test_a_ring_on_edge_needs_the_fill_of_the_closed_form() -> None:
    """Pulled in its own plane a torus needs pi (2 r R² - pi R r² + 4/3 r³) of fill, within 0.2 %."""
    R, r = 40.0, 10.0
    want = math.pi * (2.0 * r * R**2 - math.pi * R * r**2 + 4.0 / 3.0 * r**3)
    got = sheet_fill_mm3(solids.torus(R, r, around=160, sides=48), (0.0, 1.0, 0.0))
    assert got == pytest.approx(want, rel=0.002)


def test_a_drilled_cube_needs_its_two_cross_holes_filled() -> None:
    """Pulled along one hole, the two others are fill: two round plugs, their polygons' area times depth."""
    sides, hole, deep = 96, 8.0, 15.0
    polygon = 0.5 * sides * hole**2 * math.sin(2.0 * math.pi / sides)
    got = sheet_fill_mm3(solids.cube_with_blind_holes(hole_mm=hole, deep_mm=deep))
    assert got == pytest.approx(2.0 * polygon * deep, rel=2e-4)


def test_rods_lock_the_space_between_them() -> None:
    """Pulled along the line through two of three rods, what stands between those two is fill."""
    rods = solids.three_rods(10.0, 50.0, 40.0)
    gap = 2.0 * 50.0 * math.cos(math.radians(30.0))
    disc = math.pi * 10.0**2
    assert sheet_fill_mm3(rods, (1.0, 0.0, 0.0)) == pytest.approx((20.0 * gap - disc) * 40.0, rel=0.002)
    assert sheet_fill_mm3(rods) == 0.0


@pytest.mark.parametrize("name", ["ring_on_edge", "knot", "lumpy", "drilled"])
def test_filling_once_is_enough(name: str) -> None:
    """The model with its fill, taken for an object, needs no more than the rounding of its seam."""
    solid, pull = CASES[name]
    _, _, found = sheets_of(solid, pull)
    model = solid_between(found.bottom, found.top, wall_origin=int(Origin.OBJECT))
    assert odd_faced_edges(model)[0] == 0
    again = sheet_fill_mm3(model.mesh("object"))
    assert abs(again) < 1e-4 * solid.area_mm2
    assert model.volume_mm3 + 1e-6 > solid.volume_mm3 - 1e-3 * solid.area_mm2


def test_balls_that_run_through_one_another_are_covered_like_their_union() -> None:
    """Faces that cross have no edge where they do; the sheets close all the same, and hold what the union
    of both balls holds, to what facets miss along the crossing.
    """
    one = solids.sphere(20.0, subdivisions=3)
    turn = Rotation.from_euler("x", 10.0, degrees=True).as_matrix()
    two = one.moved(turn, np.array([13.0, 5.0, 7.0]), frame="object")
    points = np.concatenate([one.vertices_mm, two.vertices_mm])
    faces = np.concatenate([one.faces, two.faces + len(one.vertices_mm)])
    united = solids.from_manifold(solids.to_manifold(one) + solids.to_manifold(two))
    held = []
    for solid in (Mesh.make(points, faces, frame="object"), united):
        _, _, found = sheets_of(solid, UP)
        held.append(solid_between(found.bottom, found.top, wall_origin=int(Origin.OBJECT)).volume_mm3)
    assert held[0] == pytest.approx(held[1], rel=1e-4)


def test_both_ways_along_a_pull_need_the_same_fill() -> None:
    """Looking from the other side changes nothing beyond snapping."""
    for name in ("ring_askew", "lumpy", "drilled"):
        solid, pull = CASES[name]
        there, back = sheet_fill_mm3(solid, pull), sheet_fill_mm3(solid, tuple(-c for c in pull))
        assert there == pytest.approx(back, abs=2e-4 * solid.area_mm2)


def test_lines_that_cross_become_cells() -> None:
    """Two triangles that overlap become cells of their union; one far away is a cell of its own."""
    given = [[0, 0], [1000, 0], [0, 1000]], [[0, 0], [1000, 0], [1000, 1000]]
    far = [[9000, 9000], [9800, 9000], [9000, 9800]]
    lines = [[*t[k], *t[(k + 1) % 3]] for t in (*given, far) for k in range(3)]
    cells = arranged(np.array(lines, dtype=np.int64))
    area = twice_plan_area(cells.reshape(-1, 2), np.arange(3 * len(cells)).reshape(-1, 3))
    away = cells.min(axis=(1, 2)) >= 9000
    assert area.min() > 0
    assert area[~away].sum() == 2 * (500_000 + 500_000 - 250_000)
    assert area[away].sum() == 640_000
    assert triangulate_cells(np.array([], dtype=object)).shape == (0, 3, 2)


def test_heights_at_one_point_settle_within_their_spread_only() -> None:
    """Corners a few units apart become one, the higher of a top sheet; a ladder of them is not drawn to its
    end: none moves further than the spread.
    """
    plan = np.array([[0, 0], [100, 0], [100, 100], [0, 100], [-100, 0], [0, -100]], dtype=np.int64)
    faces = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5], [0, 5, 1]], dtype=np.int32)
    heights = np.full((5, 3), 7)
    heights[:, 0] = [30, 0, 20, 10, 200]
    ladder = Sheet(plan, faces, heights, np.zeros(5, np.uint8))
    for highest, settled in ((True, [30, 10, 30, 10, 200]), (False, [20, 0, 20, 0, 200])):
        found = sheets._settle(ladder, highest=highest).heights
        assert found[:, 0].tolist() == settled
        assert (found[:, 1:] == 7).all()
        assert np.abs(found - heights).max() <= sheets.SAME_HEIGHT_UNITS
