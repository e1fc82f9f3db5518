"""Whether a side piece goes in the place of another, on plates whose keys are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.geometry.lattice import UNITS_PER_MM, pull_rotation
from claybed.geometry.mesh import Origin
from claybed.geometry.slab import LatticeSolid
from claybed.proof.closings import close_one_way
from claybed.proof.misplacing import none_goes_elsewhere
from claybed.proof.seam_edges import side_seam_angle
from claybed.proof.solidity import rounding_mm3
from claybed.proof.thinness import plates
from claybed.records.assembly import Assembly, BlockKey, Piece
from claybed.records.finding import Check

Plan = Sequence[tuple[float, float]]
SCALENE: Plan = ((-20.0, -12.0), (18.0, -10.0), (4.0, 14.0))
LEVEL_MM, TOP_MM = 40.0, 60.0
BUMP_MM = (4.0, 5.0)  # radius, depth


def side(
    letter: str, pull: tuple[float, float, float], keys: Plan, level_mm: float = LEVEL_MM
) -> tuple[Piece, list[BlockKey]]:
    """A plate 80 mm wide and 60 tall across a pull, with a bump for each key (in plan along the pull)."""
    plate = manifold3d.Manifold.cube([80.0, 60.0, TOP_MM - level_mm]).translate([-40.0, -30.0, level_mm])
    radius_mm, depth_mm = BUMP_MM
    for x, y in keys:
        bump = manifold3d.Manifold.cylinder(depth_mm + 1.0, radius_mm, radius_mm, 24)
        plate += bump.translate([x, y, level_mm - depth_mm])
    mesh = plate.to_mesh()
    points = np.array(mesh.vert_properties)[:, :3].astype(np.float64)
    faces = np.array(mesh.tri_verts, np.int32)
    corner = points[faces]
    down = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])[:, 2] < -1e-9
    joint = down | (corner[:, :, 2].min(axis=1) < level_mm - 0.5)
    rotation = pull_rotation(pull)
    solid = LatticeSolid(
        np.rint(points @ rotation * UNITS_PER_MM).astype(np.int64),
        faces,
        np.where(joint, int(Origin.PARTING), int(Origin.OUTSIDE)).astype(np.uint8),
    )
    told = []
    for x, y in keys:
        ax, ay, az = (float(v) for v in np.array([x, y, level_mm]) @ rotation)
        told.append(BlockKey((ax, ay, az), 2.0 * radius_mm, depth_mm, letter, "A"))
    return Piece(letter, 3, pull, solid, 1), told


def verdict(mold: Assembly, one: Plan, two: Plan, *, level_mm: float = LEVEL_MM) -> Check:
    """The check of a mold whose side pieces C and D have these keys, D down to another level."""
    c, keys_c = side("C", (1.0, 0.0, 0.0), one)
    d, keys_d = side("D", (-1.0, 0.0, 0.0), two, level_mm)
    mains = tuple(replace(p, opens=3 + k) for k, p in enumerate(mold.pieces))
    (check,) = none_goes_elsewhere(replace(mold, pieces=(*mains, c, d), keys=(*mold.keys, *keys_c, *keys_d)))
    good = check.measured >= check.limit
    assert check.ok == good
    assert bool(check.remedy) != check.ok
    return check


def turned(keys: Plan, deg: float) -> Plan:
    """Keys turned about the middle of the plan."""
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return [(float(c * x - s * y), float(s * x + c * y)) for x, y in keys]


def test_twins_are_caught(mold: Assembly) -> None:
    """Two side pieces alike go in each other's places, and the check names both."""
    check = verdict(mold, SCALENE, SCALENE)
    assert not check.ok
    assert check.measured == pytest.approx(0.0, abs=0.01)
    assert "piece C" in check.where
    assert "piece D" in check.where
    assert check.at_mm is not None


def test_twins_turned_half_round_are_caught(mold: Assembly) -> None:
    """So do two whose keys are alike but for a half turn, which the plate takes as well."""
    check = verdict(mold, SCALENE, turned(SCALENE, 180.0))
    assert not check.ok
    assert "180 degrees" in check.where


def test_one_key_elsewhere_holds_them_off(mold: Assembly) -> None:
    """A key moved by its own diameter stands on the level instead: it misses by most of a key's depth."""
    moved = (*SCALENE[:2], (SCALENE[2][0] - 9.0, SCALENE[2][1]))
    check = verdict(mold, SCALENE, moved)
    assert check.ok
    assert check.measured > 0.7 * BUMP_MM[1]


def test_a_mirrored_pattern_does_not_fit(mold: Assembly) -> None:
    """Keys of three unlike distances and their mirror image are two patterns: no hand mirrors a piece."""
    assert verdict(mold, SCALENE, [(-x, y) for x, y in SCALENE]).ok


def test_another_depth_holds_them_off(mold: Assembly) -> None:
    """The same keys 6 mm deeper miss by those 6 mm."""
    check = verdict(mold, SCALENE, SCALENE, level_mm=LEVEL_MM - 6.0)
    assert check.ok
    assert check.measured == pytest.approx(6.0, abs=0.01)


def test_twins_without_keys_are_told_what_holds_when_typed(mold: Assembly) -> None:
    """No key can be moved where there is none: keys have to be asked for again."""
    c, _ = side("C", (1.0, 0.0, 0.0), ())
    d, _ = side("D", (-1.0, 0.0, 0.0), ())
    mains = tuple(replace(p, opens=3 + k) for k, p in enumerate(mold.pieces))
    (check,) = none_goes_elsewhere(replace(mold, pieces=(*mains, c, d), keys=()))
    assert not check.ok
    assert check.remedy.startswith("Leave --no-keys out")


def test_a_side_piece_without_keys_is_given_a_wall(mold: Assembly) -> None:
    """Where others have keys, it is proposed half as much wall again, up to whole steps of 5 mm."""
    c, keys_c = side("C", (1.0, 0.0, 0.0), SCALENE)
    d, _ = side("D", (-1.0, 0.0, 0.0), ())
    mains = tuple(replace(p, opens=3 + k) for k, p in enumerate(mold.pieces))
    more = replace(mold, pieces=(*mains, c, d), keys=(*mold.keys, *keys_c), wall_mm=41.0)
    check = next(c for c in close_one_way(more, keys_asked=True) if c.id == "keys_close_one_way_D")
    assert (check.ok, check.measured) == (False, 0.0)
    assert "--wall 65mm:" in check.remedy


@pytest.mark.parametrize("scalene", [True, False])
def test_a_lone_main_piece_is_tried_turned_in_its_own_place(mold: Assembly, scalene: bool) -> None:
    """No other main piece has keys for it: with keys that half a turn carries onto themselves it goes in
    turned, and the check says so; with keys of three unlike distances it does not.
    """
    even: Plan = ((-20.0, -12.0), (20.0, 12.0))
    main, keys_a = side("A", (0.0, 0.0, 1.0), SCALENE if scalene else even)
    beside, keys_c = side("C", (1.0, 0.0, 0.0), SCALENE, LEVEL_MM - 12.0)
    pieces = (replace(main, opens=2), beside)
    (check,) = none_goes_elsewhere(replace(mold, pieces=pieces, keys=(*keys_a, *keys_c)))
    assert check.ok == scalene
    if not scalene:
        assert check.measured < 0.01
        assert "piece A in its own place, turned by 180 degrees" in check.where


def test_two_pieces_have_no_place_to_take(mold: Assembly) -> None:
    """A mold without side pieces is not asked."""
    assert none_goes_elsewhere(mold) == []


def test_a_piece_that_meets_nothing_takes_no_place(mold: Assembly) -> None:
    """A side piece without a joint, as an edited folder may hold, is not asked; the releases tell of it."""
    piece, _ = side("C", (1.0, 0.0, 0.0), ())
    bare = replace(piece.solid, origin=np.full(len(piece.solid.faces), int(Origin.OUTSIDE), np.uint8))
    mains = tuple(replace(p, opens=2 + k) for k, p in enumerate(mold.pieces))
    assert none_goes_elsewhere(replace(mold, pieces=(*mains, replace(piece, solid=bare)))) == []


@pytest.mark.parametrize(("thick_mm", "ok"), [(20.0, True), (4.0, False)])
def test_a_thin_side_piece_is_named(mold: Assembly, thick_mm: float, ok: bool) -> None:
    """A side piece that is a plate of 4 mm fails the check of plates, one of 20 mm does not."""
    piece, keys = side("C", (1.0, 0.0, 0.0), (), TOP_MM - thick_mm)
    mains = tuple(replace(p, opens=2 + k) for k, p in enumerate(mold.pieces))
    made = replace(mold, pieces=(*mains, piece), keys=(*mold.keys, *keys))
    (check,) = plates({p.id: p.solid for p in made.pieces}, made)
    assert check.ok == ok == (check.measured >= check.limit)
    assert bool(check.remedy) != ok
    if not ok:
        assert check.measured == pytest.approx(4.0, abs=0.01)
        assert "piece C" in check.where
    assert plates({p.id: p.solid for p in mold.pieces}, mold) == []


@pytest.mark.parametrize("angle_deg", [20.0, 60.0])
def test_plaster_that_ends_sharp_beside_a_side_piece(mold: Assembly, angle_deg: float) -> None:
    """An upright interface that meets the cavity at 20 degrees fails the check, which tells the length of it;
    at 60 it holds.
    """
    rise = 60.0 * np.tan(np.radians(angle_deg))
    wedge = manifold3d.CrossSection([[[0.0, 0.0], [rise, 60.0], [0.0, 60.0]]]).extrude(50.0)
    mesh = wedge.to_mesh()
    points = np.array(mesh.vert_properties)[:, :3].astype(np.float64)
    faces = np.array(mesh.tri_verts, np.int32)
    corner = points[faces]
    upright = np.abs(corner[:, :, 0]).max(axis=1) < 1e-6
    slanted = np.abs(corner[:, :, 0] * 60.0 - corner[:, :, 1] * rise).max(axis=1) < 1e-2
    origin = np.where(
        upright, int(Origin.PARTING), np.where(slanted, int(Origin.OBJECT), int(Origin.OUTSIDE))
    )
    solid = LatticeSolid(np.rint(points * UNITS_PER_MM).astype(np.int64), faces, origin.astype(np.uint8))
    side_piece, _ = side("C", (-1.0, 0.0, 0.0), ())
    check = side_seam_angle(replace(mold, pieces=(*mold.pieces, replace(side_piece, solid=solid))))
    assert check is not None
    assert check.measured == pytest.approx(angle_deg, abs=0.01)
    assert check.where.startswith("piece C")
    assert check.ok == (angle_deg > 45.0)
    assert ("50 mm of the seams" in check.where) != check.ok
    assert side_seam_angle(mold) is None


def test_only_slanted_joints_are_rounded(mold: Assembly) -> None:
    """A joint of 80 by 60 mm across a slanted pull may be off by a step's half diagonal over its area; one
    along an axis, and a mold without side pieces, by nothing.

    Source: geometry of the lattice, 1/1024 mm in x and y.
    """
    slanted, _ = side("C", (0.6, 0.8, 0.0), ())
    level, _ = side("C", (0.0, -1.0, 0.0), ())
    room_mm3 = rounding_mm3(replace(mold, pieces=(*mold.pieces, slanted)))
    assert room_mm3 == pytest.approx(np.sqrt(2.0) / 2048.0 * 80.0 * 60.0, rel=1e-4)
    assert rounding_mm3(replace(mold, pieces=(*mold.pieces, level))) == rounding_mm3(mold) == 0.0
