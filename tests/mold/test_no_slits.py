"""Cuts of a side piece that run along one another leave no slit: no film that is in none of the solids."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.searching import make_mold
from claybed.geometry.carving import INTO_MM, Solid, Workbench, reaching_in
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.mold.crumbs import handed_out, is_flake
from claybed.proof.adjoining import adjoining, adjoining_limit_mm
from claybed.proof.leaving import CUT_LATERAL_MM, leaving
from claybed.proof.likeness import model_true
from claybed.proof.solidity import solidity
from claybed.records.assembly import Assembly
from claybed.records.surveyed import MoldOption
from tests.mold.molds import BARE, along
from tests.pieces import solids
from tests.survey.objects import measured

# A vase whose shoulder bulges round a trough, upside down and aslant: what the side piece may not take lies
# right beside what it takes.
SHOULDERED = [
    (0, 0),
    (35, 0),
    (40, 60),
    (42, 80),
    (36, 86),
    (30, 80),
    (24, 86),
    (22, 120),
    (28, 140),
    (0, 140),
]
Vector = tuple[float, float, float]
MAIN = (0.0172163, -0.9603112, -0.2783988)
SIDE = (0.7105218, -0.1841512, 0.6791517)


def test_every_surface_of_a_mold_with_a_side_piece_lies_on_another() -> None:
    """Piece by piece and with the model: no spot lies further from its neighbours than a film of rounding."""
    vase = solids.revolved(np.array(SHOULDERED, np.float64), sides=96)
    assert apart(vase, MAIN, SIDE) == []


@pytest.mark.parametrize(("steps", "around"), [(180, 16), (120, 10)])
def test_shadows_of_many_sheets_leave_no_slit(steps: int, around: int) -> None:
    """A knotted tube: its overhangs, as a side piece sees them, are sheets full of cracks and corners that
    meet in a point. What lies under them is spared once, and nothing of it twice; of coarse facets it has a
    blade of one main piece in the other, which the cut takes off.
    """
    pull, side = (-0.2235780, 0.0954614, 0.97), (-0.6266231, 0.6275052, -0.4621479)
    assert apart(solids.trefoil_tube(along=steps, sides=around), pull, side) == []


@pytest.mark.parametrize("seed", [7, 9, 16, 17])
def test_a_side_piece_leaves_at_any_slant(seed: int) -> None:
    """Pulls drawn at random, of many those at which the piece of the vase was held once: by crumbs that lay
    under a main piece, and by walls of the vase that lean over it by some hundredths of a millimetre.
    """
    draw = np.random.default_rng(seed)
    turned, _ = np.linalg.qr(draw.normal(size=(3, 3)))
    lean = np.radians(draw.uniform(-30.0, 30.0)) if seed % 2 else 0.0
    pull, side = turned[2], np.cos(lean) * turned[0] + np.sin(lean) * turned[2]
    vase = solids.revolved(np.array(SHOULDERED, np.float64), sides=96)
    assembly = cut(vase, tuple(pull.tolist()), tuple(side.tolist()))
    assert [piece.id for piece in assembly.pieces] == ["A", "B", "C"]
    assert not [c for c in leaving(whole(assembly), assembly, lateral_mm=CUT_LATERAL_MM) if not c.ok]
    assert not failing(assembly, vase)


def apart(obj: Mesh, pull: Vector, side: Vector) -> list[tuple[str, float]]:
    """What does not hold of a mold with one side piece, of surfaces that lie on surfaces and of solids."""
    return failing(cut(obj, pull, side), obj)


def cut(obj: Mesh, pull: Vector, side: Vector) -> Assembly:
    """A mold with one side piece."""
    option = MoldOption("several", pull, 0.7, 3.0, "as asked", sides=(side,))
    found = replace(along(pull), options=(option,))
    brief = replace(BARE, axis=pull, pieces=3)
    return make_mold(measured(obj), found, brief, progress=lambda step, part: None).assembly


def whole(assembly: Assembly) -> dict[str, LatticeSolid]:
    """All solids of a mold."""
    return {**{piece.id: piece.solid for piece in assembly.pieces}, "model": assembly.model}


def failing(assembly: Assembly, obj: Mesh) -> list[tuple[str, float]]:
    """What does not hold of surfaces that lie on surfaces and of solids."""
    every = whole(assembly)
    assert len(every) == 4
    checks = [
        *adjoining(every, assembly, limit_mm=adjoining_limit_mm(assembly)),
        *solidity(every, assembly),
        model_true(assembly, measured(obj).mesh),
    ]
    return [(check.id, check.measured) for check in checks if not check.ok]


def test_what_is_grown_by_a_hair_joins_what_it_lay_beside() -> None:
    """Two boxes a micrometre apart are two bodies; one grown by two micrometres each way, they are one."""
    bench = Workbench()
    one = bench.marked(Solid.cube((10.0, 10.0, 10.0)), Origin.PARTING)
    other = bench.marked(Solid.cube((5.0, 5.0, 5.0)).translate((10.001, 2.0, 2.0)), Origin.FILL)
    assert len((one + other).decompose()) == 2
    joined = one + reaching_in(other)
    assert len(joined.decompose()) == 1
    assert joined.bounding_box()[3] == pytest.approx(15.001 + INTO_MM, abs=1e-9)
    assert reaching_in(Solid()).is_empty()
    film = Solid.cube((4.0, 4.0, 0.001)).translate((40.0, 0.0, 0.0))
    hollow = Solid.cube((6.0, 6.0, 6.0)) - Solid.cube((2.0, 2.0, 2.0)).translate((2.0, 2.0, 2.0))
    both = reaching_in(hollow + film)
    assert both.volume() == pytest.approx(216.0 - 8.0, abs=0.6)
    alone = reaching_in(Solid.cube((1.0, 1.0, 1.0)) + film)
    assert alone.bounding_box() == pytest.approx((-INTO_MM, -INTO_MM, -INTO_MM, 44.0, 4.0, 1.0 + INTO_MM))


def test_parts_of_a_solid_keep_their_surfaces() -> None:
    """A box with a hollow, a lump, a film: each is as it was, the hollow stays, a film is told with them."""
    bench = Workbench()
    box = Solid.cube((10.0, 10.0, 10.0)) - Solid.cube((2.0, 2.0, 2.0)).translate((4.0, 4.0, 4.0))
    lump = Solid.cube((1.0, 1.0, 1.0)).translate((20.0, 0.0, 0.0))
    film = Solid.cube((1.0, 1.0, 0.005)).translate((30.0, 0.0, 0.0))
    every = bench.side_by_side([bench.marked(one, Origin.PARTING) for one in (lump, film, box)])
    found = bench.parts(every)
    assert [part.solid.volume() for part in found] == pytest.approx([992.0, 1.0, 0.005])
    assert [part.volume_mm3 for part in found] == pytest.approx([1000.0, 1.0, 0.005])
    assert found[2].thickness_mm == pytest.approx(0.01 / 2.02)


def test_a_solid_gets_one_origin_as_it_is() -> None:
    """What was cut of many solids is one from then on, with all its faces, and so are its cuts."""
    bench = Workbench()
    one = bench.marked(Solid.cube((10.0, 10.0, 10.0)), Origin.OBJECT)
    other = bench.marked(Solid.cube((5.0, 5.0, 5.0)).translate((8.0, 2.0, 2.0)), Origin.PARTING)
    named = bench.as_it_is(one + other, Origin.FILL)
    assert named.num_tri() == (one + other).num_tri()
    assert len(named.to_mesh64().run_original_id) == 1
    drill = bench.marked(Solid.cube((2.0, 2.0, 40.0)).translate((3.0, 3.0, -10.0)), Origin.KEY)
    points, faces, origin = bench.faces_of(named - drill)
    assert set(origin.tolist()) == {int(Origin.FILL), int(Origin.KEY)}
    corner = points[faces[origin == int(Origin.KEY)]]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    assert np.linalg.norm(across, axis=1).sum() / 2.0 == pytest.approx(4 * 2.0 * 10.0)


def test_a_blade_that_comes_loose_fills_the_groove_it_stood_in() -> None:
    """Let go, it would leave a groove of three millimetres; a flake beside another solid goes to that one."""
    bench = Workbench()
    blade = Solid.cube((4.0, 3.0, 0.004)).translate((3.0, 7.0, 5.0))
    flake = Solid.cube((2.0, 2.0, 0.003)).translate((23.0, 3.0, 10.0))
    shard = Solid.cylinder(2.0, 0.06, 0.0, 4).translate((40.0, 0.0, 0.0))
    one, other = (
        Solid.cube((10.0, 10.0, 10.0)) - blade,
        Solid.cube((10.0, 10.0, 10.0)).translate((20.0, 0.0, 0.0)),
    )
    laid = {name: bench.marked(solid, Origin.PARTING) for name, solid in (("A", one), ("B", other))}
    crumbs = [bench.marked(solid, Origin.PARTING) for solid in (blade, flake)]
    assert [is_flake(solid) for solid in (*crumbs, shard)] == [True, True, False]
    given = handed_out(bench, crumbs, laid)
    assert [len(given["A"]), len(given["B"])] == [1, 1]
    filled = laid["A"] + given["A"][0]
    assert filled.volume() == pytest.approx(1000.0, rel=1e-12)
    assert filled.surface_area() == pytest.approx(600.0, rel=1e-12)
    assert given["B"][0].volume() == pytest.approx(0.012, rel=1e-9)
    speck = bench.marked(Solid.cube((0.01, 0.01, 0.003)).translate((0.0, 0.0, 10.0)), Origin.PARTING)
    assert handed_out(bench, [speck], laid) == {"A": [], "B": []}
