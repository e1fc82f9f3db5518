"""Cutting the part of a solid that a cut can touch: the same as cutting all of it, or an error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from claybed.geometry.carving import Solid, Workbench, moved, polygon, prism
from claybed.geometry.halfedges import match_sides
from claybed.geometry.lattice import UNITS_PER_MM, Lattice, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearby import STUB, Shaft, StitchError, body_and_crumbs, near, stitched
from claybed.geometry.slab import LatticeSolid
from tests.pieces import solids

# Cuts of either kind are rounded to the lattice by themselves: a step of 2^-10 mm over what they expose.
ROUNDING_MM = 1.0 / 1024.0
SIDEWAYS = pull_rotation((1.0, 0.0, 0.0))


def on_lattice(mesh: Mesh) -> LatticeSolid:
    """A mesh as a lattice solid; its corners are far enough apart to stay distinct."""
    points: Lattice = np.rint(mesh.vertices_mm * UNITS_PER_MM).astype(np.int64)
    return LatticeSolid(points, mesh.faces, np.array(mesh.origin))


def ring() -> LatticeSolid:
    """A torus of 20 and 6 mm lying in the plane z = 0: a level square to x meets it twice, side by side."""
    return on_lattice(solids.torus(20.0, 6.0, around=96, sides=32))


def tool(level_mm: float, shafts: list[Shaft]) -> Solid:
    """All beyond a level along z of its own frame, and the shafts' prisms."""

    def square(low: tuple[float, float], high: tuple[float, float]) -> Floats:
        return np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])

    made = prism(polygon(square((-100.0, -100.0), (100.0, 100.0))), level_mm, 100.0)
    for shaft in shafts:
        made = made + prism(polygon(square(shaft.low_mm, shaft.high_mm)), shaft.floor_mm, level_mm + 1.0)
    return made


SHAFTS = {
    "level": (13.3, []),
    "shaft": (13.3, [Shaft((-1.7, -3.1), (2.3, 1.9), -22.0)]),
    "two": (22.1, [Shaft((-1.7, 14.1), (2.3, 17.9), -1.3), Shaft((-5.5, -19.0), (-0.9, -12.3), 3.7)]),
}


@pytest.mark.parametrize("case", sorted(SHAFTS))
def test_a_part_cut_and_put_back_is_the_whole_cut(case: str) -> None:
    """Cut alone or with everything, the same solid is left: closed, without stubs, of the same volume."""
    level_mm, shafts = SHAFTS[case]
    solid, bench = ring(), Workbench()
    taken = bench.marked(moved(tool(level_mm, shafts), SIDEWAYS.T), Origin.PARTING)
    part, whole = (
        near(bench, solid, SIDEWAYS, level_mm, shafts, whole=everything) for everything in (False, True)
    )
    assert 0 < int(part.inside.sum()) < 0.8 * len(solid.faces)
    cut, full = (stitched(bench, one, one.solid - taken) for one in (part, whole))
    assert len(match_sides(cut.faces, len(cut.points)).lone) == 0
    assert STUB not in cut.origin
    assert len(np.unique(cut.points, axis=0)) == len(cut.points)
    exposed = full.mesh("").corners_mm[full.origin == int(Origin.PARTING)]
    exposed_mm2 = float(
        np.linalg.norm(np.cross(exposed[:, 1] - exposed[:, 0], exposed[:, 2] - exposed[:, 0]), axis=1).sum()
        / 2.0
    )
    assert solid.volume_mm3 - full.volume_mm3 > 100.0
    assert cut.volume_mm3 == pytest.approx(full.volume_mm3, abs=ROUNDING_MM * exposed_mm2)


def test_a_rim_may_be_ragged_on_upright_walls() -> None:
    """A drilled cube of small triangles: its rim runs to and fro in walls along the pull, and the part that
    is put back still has every corner of it.
    """
    cube = solids.cube_with_blind_holes(("+x", "+y", "+z"), side_mm=40.0, hole_mm=8.0, deep_mm=15.0)
    fine = trimesh.Trimesh(*trimesh.remesh.subdivide_to_size(cube.vertices_mm, cube.faces, max_edge=3.0))
    solid, bench = on_lattice(Mesh.make(fine.vertices, fine.faces, frame="object")), Workbench()
    level_mm, shafts, away = 5.6, [Shaft((-5.0, -5.0), (5.0, 5.0), -2.0)], pull_rotation((-1.0, 0.0, 0.0))
    taken = bench.marked(moved(tool(level_mm, shafts), away.T), Origin.PARTING)
    part, whole = (near(bench, solid, away, level_mm, shafts, whole=all_of_it) for all_of_it in (False, True))
    cut, full = (stitched(bench, one, one.solid - taken) for one in (part, whole))
    assert not part.whole
    assert len(match_sides(cut.faces, len(cut.points)).lone) == 0
    assert cut.volume_mm3 == pytest.approx(full.volume_mm3, rel=1e-6)


def test_what_a_cut_takes_is_whole_as_well() -> None:
    """What is common to the tool and a part is common to the tool and all of it, and free of the stub."""
    solid, bench = ring(), Workbench()
    taken = bench.marked(moved(tool(13.3, []), SIDEWAYS.T), Origin.PARTING)
    part = near(bench, solid, SIDEWAYS, 13.3)
    held = part.solid ^ taken
    full = bench.lay(lattice_mm(solid.points), solid.faces, solid.origin) ^ taken
    assert held.volume() == pytest.approx(full.volume(), rel=1e-12)
    assert STUB not in bench.faces_of(held)[2]


def test_a_cut_beyond_its_part_is_refused() -> None:
    """A tool that goes deeper than was said cuts through the rim, and nothing is put together wrongly."""
    solid, bench = ring(), Workbench()
    part = near(bench, solid, SIDEWAYS, 13.3)
    deep = bench.marked(moved(tool(9.0, []), SIDEWAYS.T), Origin.PARTING)
    with pytest.raises(StitchError, match="rim"):
        stitched(bench, part, part.solid - deep)


def test_a_cut_that_parts_the_rest_is_refused() -> None:
    """Two blocks on one bridge are no longer one body without it, and that is told with the place."""
    one, other = (solids.to_manifold(solids.box(10.0, 10.0, 40.0)).translate([x, 0, 0]) for x in (0.0, 30.0))
    low, high = np.array((one + other).bounding_box()).reshape(2, 3)
    bridge = solids.to_manifold(solids.box(40.0, 10.0, 6.0))
    size = np.array(bridge.bounding_box()).reshape(2, 3)
    bridge = bridge.translate(((low + high) / 2.0 - size.mean(axis=0) + [0.0, 0.0, 17.0]).tolist())
    gate = on_lattice(solids.from_manifold(one + other + bridge))
    bench = Workbench()
    level_mm = float(high[2]) - 7.0
    part = near(bench, gate, np.eye(3), level_mm)
    body, crumbs = body_and_crumbs(bench, part, part.solid - bench.marked(tool(level_mm, []), Origin.PARTING))
    assert crumbs == []
    with pytest.raises(StitchError, match="parted") as told:
        stitched(bench, part, body)
    # The places of what came off are told: one post, ten millimetres wide.
    (corners,) = told.value.loose_mm
    assert np.ptp(corners[:, 0]) == pytest.approx(10.0, abs=1e-3)
    assert Shaft.over(corners).widened(1.0).floor_mm == pytest.approx(float(corners[:, 2].min()) - 1.0)


def test_what_comes_loose_is_told_from_what_holds() -> None:
    """A tool that leaves the tip of a post standing in the air gives the tip as a crumb."""
    post = on_lattice(solids.box(8.0, 8.0, 40.0))
    high_mm = float(post.mesh("").bounds_mm[1, 2])
    bench = Workbench()
    part = near(bench, post, np.eye(3), high_mm - 12.0)
    wide = polygon(50.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]))
    saw = bench.marked(prism(wide, high_mm - 9.0, high_mm - 4.0), Origin.PARTING)
    body, crumbs = body_and_crumbs(bench, part, part.solid - saw)
    assert [crumb.volume() for crumb in crumbs] == pytest.approx([8.0 * 8.0 * 4.0])
    cut = stitched(bench, part, body)
    assert cut.volume_mm3 == pytest.approx(8.0 * 8.0 * 31.0, rel=1e-9)


def test_an_open_surface_has_no_part() -> None:
    """A surface with a face missing is an error before anything is cut."""
    solid = ring()
    bare = replace(solid, faces=solid.faces[1:], origin=solid.origin[1:])
    with pytest.raises(ArithmeticError, match="closed"):
        near(Workbench(), bare, SIDEWAYS, -100.0)


def test_surfaces_side_by_side_stay_as_they_are() -> None:
    """Two blocks that run through one another keep all their faces; nothing and one come back as such."""
    bench = Workbench()
    one = solids.box(10.0, 10.0, 10.0)
    both = [
        bench.lay(one.vertices_mm + shift, one.faces, np.zeros(len(one.faces), np.uint8))
        for shift in (0.0, 4.0)
    ]
    assert bench.side_by_side(both).num_tri() == 24
    assert bench.side_by_side(both).volume() == pytest.approx(2000.0, rel=1e-12)
    assert bench.side_by_side(both[:1]).num_tri() == 12
    assert bench.side_by_side([]).is_empty()
