"""Three rods whose whole surface three pulls reach, while the space between them is locked: pieces cut for
those three pulls are no mold, and the proof says so.
"""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from small_mold import double_cone, mold_of

from claybed.geometry.lattice import to_lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import nearest_whole_pull
from claybed.proof.leaving import CUT_LATERAL_MM, leaving
from claybed.records.assembly import Assembly, Piece
from claybed.records.finding import Check
from tests.pieces import solids

SPREAD_MM, ROD_MM, TALL_MM = 50.0, 10.0, 40.0
PULLS = [nearest_whole_pull((np.cos(a), np.sin(a), 0.0)) for a in np.radians([90.0, 210.0, 330.0])]
UP = (0.0, 0.0, 1.0)
FAR_MM = 300.0
# Of a spread of 1 and rods of 0.2, as worked out for the project by samples in the plane.
LOCKED_SHARE = 0.138


def solid_of(body: manifold3d.Manifold) -> LatticeSolid:
    """A body on the lattice, lifted to stand on z = 0."""
    lat = to_lattice(solids.from_manifold(body), np.eye(3), np.array([0.0, 0.0, TALL_MM / 2.0]))
    return LatticeSolid(lat.points, lat.faces, lat.origin)


def rods() -> manifold3d.Manifold:
    """The rods, as tall as the block."""
    return solids.to_manifold(solids.three_rods(ROD_MM, SPREAD_MM, TALL_MM))


def shadow(pull: tuple[float, float, float]) -> manifold3d.Manifold:
    """The rods and all that lies behind them when seen along a pull."""
    back = -FAR_MM * np.array(pull)
    swept = [manifold3d.Manifold.hull(rod + rod.translate(back.tolist())) for rod in rods().decompose()]
    return manifold3d.Manifold.batch_boolean(swept, manifold3d.OpType.Add)


def cut() -> tuple[list[manifold3d.Manifold], manifold3d.Manifold]:
    """What leaves along each of the three pulls and was not taken before, and what none of them frees."""
    left = manifold3d.Manifold.cube([160.0, 160.0, TALL_MM], True) - rods()
    taken = []
    for pull in PULLS:
        free = left - shadow(pull)
        taken.append(free)
        left = left - free
    return taken, left


def checked(pieces: list[tuple[manifold3d.Manifold, tuple[float, float, float]]]) -> list[Check]:
    """The proof that pieces leave, in this order, past the rods and one another."""
    made = tuple(Piece("ABCD"[k], k + 1, pull, solid_of(body)) for k, (body, pull) in enumerate(pieces))
    mold: Assembly = replace(mold_of(double_cone()), pieces=made, model=solid_of(rods()))
    all_solids = {piece.id: piece.solid for piece in made} | {"model": mold.model}
    return leaving(all_solids, mold, lateral_mm=CUT_LATERAL_MM)


def facing(normals: Floats) -> Floats:
    """How well the best of the three pulls sees faces with these normals (n, 3)."""
    best: Floats = (normals @ np.array(PULLS).T).max(axis=1)
    return best


def test_pieces_for_every_face_of_three_rods_do_not_leave() -> None:
    """Every face of the rods looks along one of the three pulls. Yet a place between them is locked, as large
    as samples in the plane had it; given to the last of the three pieces, it holds that piece.
    """
    mesh = solids.from_manifold(rods())
    sides = mesh.corners_mm
    normal = np.cross(sides[:, 1] - sides[:, 0], sides[:, 2] - sides[:, 0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    assert facing(normal[np.abs(normal[:, 2]) < 0.5]).min() > 0.45
    taken, locked = cut()
    middle_mm3 = locked.volume()
    assert middle_mm3 == pytest.approx(LOCKED_SHARE * SPREAD_MM**2 * TALL_MM, rel=0.05)
    (*first, last), pulls = taken, PULLS
    checks = checked(list(zip([*first, last + locked], pulls, strict=True)))
    assert [check.id for check in checks] == ["release_A", "release_B", "release_C", "model_leaves_last"]
    assert [check.ok for check in checks][:3] == [True, True, False]
    assert checks[2].measured > 1.0 and checks[2].at_mm is not None


def test_a_fourth_piece_drawn_upright_frees_them() -> None:
    """What is locked along the three pulls stands free upwards, and with a piece of its own all leaves."""
    taken, locked = cut()
    order = [(locked, UP), *zip(taken, PULLS, strict=True)]
    assert all(check.ok for check in checked(order)), [c.where for c in checked(order) if not c.ok]
