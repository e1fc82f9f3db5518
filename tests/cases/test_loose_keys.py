"""Sockets that look sideways: filled in the case, made by loose keys, back in the piece."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.cases.loose_keys import PILOT_MM, filled, plugs_of, print_plugs, with_sockets
from claybed.cases.proving import case_checks, closing_checks
from claybed.cases.standing import in_block
from claybed.cases.vessel import build_case
from claybed.errors import CannotError
from claybed.geometry.forming import box, on_lattice
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import Poured, Shape
from tests.cases.stood import stand

KEY = BlockKey((60.0, 0.0, 20.0), 20.0, 8.0, "C", "A")
PULLS = {"A": (0.0, 0.0, 1.0), "C": (1.0, 0.0, 0.0)}
CONE_MM3 = math.pi * 8.0 / 3.0 * (10.0**2 + 10.0 * 6.0 + 6.0**2)


def cone(more_mm: float = 0.0) -> manifold3d.Manifold:
    """The key: a frustum that points to -x from the plane x = 60."""
    upright = manifold3d.Manifold.cylinder(8.0 + more_mm, 10.0, 6.0, 64)
    return upright.rotate((0.0, -90.0, 0.0)).translate((60.0, 0.0, 20.0))


@pytest.fixture(scope="module")
def solids() -> dict[str, LatticeSolid]:
    """A block of two: C leaves along x with a bump that stands in A, which leaves along z."""
    main = box((0.0, -30.0, 0.0), (60.0, 30.0, 40.0)) - cone()
    side = box((60.0, -30.0, 0.0), (85.0, 30.0, 40.0)) + cone()
    return {"A": on_lattice(main), "C": on_lattice(side)}


def standing(solids: dict[str, LatticeSolid], letter: str, scale: float = 1.0) -> Poured:
    """A piece of that block as its case pours it."""
    others = {name: solid for name, solid in solids.items() if name != letter}
    return stand(
        letter, solids[letter], PULLS[letter], [KEY], draft_deg=2.0, clearance_mm=0.25, others=others,
        pulls=PULLS, scale=scale,
    )  # fmt: skip


def test_without_plugs_the_case_would_hold_the_piece(solids: dict[str, LatticeSolid]) -> None:
    """A socket in the side looks up with half its wall: unless it is filled there can be no case."""
    with pytest.raises(CannotError, match="look up"):
        stand("A", solids["A"], PULLS["A"], [KEY], draft_deg=2.0, clearance_mm=0.25)


def test_a_socket_is_filled_and_comes_back(solids: dict[str, LatticeSolid]) -> None:
    """The case makes the piece without its socket; drawing the plug takes a frustum away again."""
    poured = standing(solids, "A")
    assert len(poured.plugs) == 1
    taken = poured.solid.volume_mm3 - with_sockets(poured).volume_mm3
    assert taken == pytest.approx(CONE_MM3, rel=0.005)
    shape = Shape(3.2, 6.0, (200.0, 200.0, 200.0), 0.25, False, 1.2, 0.15)
    case = build_case(poured, shape)
    assert [check.id for check in case_checks(case) if not check.ok] == []
    assert case.bolts == 0


def test_a_fill_a_hair_too_small_leaves_no_film(solids: dict[str, LatticeSolid]) -> None:
    """A plug that rounding made 0.005 mm slimmer than its socket still closes it: all of the cone's volume is
    filled, and no face in it looks up.
    """
    points, faces = lattice_mm(solids["A"].points), solids["A"].faces
    (plug,) = plugs_of("A", points, [KEY], np.eye(3), PULLS)
    beside = plug.points_mm - plug.at_mm
    beside[:, 1:] *= 1.0 - 5e-4
    slim = replace(plug, points_mm=plug.at_mm + beside)
    corners, triples = filled(points, faces, [slim])
    normal = np.cross(
        corners[triples[:, 1]] - corners[triples[:, 0]], corners[triples[:, 2]] - corners[triples[:, 0]]
    )
    inside = corners[triples][:, :, 2].max(axis=1) < 39.0
    assert normal[inside, 2].max() < 1e-6
    volume = float((corners[triples[:, 0]] * normal).sum() / 6.0)
    assert volume == pytest.approx(60.0 * 60.0 * 40.0, abs=5.0)


def test_the_side_that_another_piece_meets_stays_upright(solids: dict[str, LatticeSolid]) -> None:
    """Only the block's own outside leans: the face at x = 60 stays where the plan has it."""
    back = in_block(standing(solids, "A"))
    assert back.points[:, 0].max() == 60 * 1024
    assert back.points[:, 0].min() < 0 and back.points[:, 1].max() > 30 * 1024


def test_pieces_with_a_loose_key_close(solids: dict[str, LatticeSolid]) -> None:
    """Out of their cases C leaves A along x, its bump smaller than the socket; a longer one does not."""
    both = [standing(solids, "C"), standing(solids, "A")]
    assert both[0].keys == 1
    assert [check.ok for check in closing_checks(both, PULLS)] == [True]
    longer = on_lattice(box((60.0, -30.0, 0.0), (85.0, 30.0, 40.0)) + cone(1.0))
    full = stand(
        "C", longer, PULLS["C"], [], draft_deg=2.0, clearance_mm=0.0, others={"A": solids["A"]}, pulls=PULLS
    )
    assert [check.ok for check in closing_checks([full, both[1]], PULLS)] == [False]


@pytest.mark.parametrize("scale", [1.0 / 1.0005, 1.0 / 1.0025, 0.9963])
def test_no_film_is_left_in_a_socket(solids: dict[str, LatticeSolid], scale: float) -> None:
    """Made smaller for what cement grows, corners are rounded: the socket's mouth is open all the same."""
    both = [standing(solids, "C", scale), standing(solids, "A", scale)]
    assert [check.ok for check in closing_checks(both, PULLS)] == [True]


def test_a_plug_prints_on_its_base(solids: dict[str, LatticeSolid]) -> None:
    """A frustum 8 mm tall with a blind hole for the screw, flat face down."""
    (part,) = print_plugs(standing(solids, "A"))
    assert part.solid.points[:, 2].min() == 0
    assert part.size_mm == pytest.approx((20.0, 20.0, 8.0), abs=0.05)
    hole = math.pi * (PILOT_MM / 2.0) ** 2 * (8.0 - 1.2)
    assert part.solid.volume_mm3 == pytest.approx(CONE_MM3 - hole, rel=0.01)
    assert np.ptp(part.solid.points[:, 2]) == pytest.approx(8 * 4096, abs=2)
