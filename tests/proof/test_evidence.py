"""A sound mold passes every check; each way of spoiling it fails the checks about it, and no other."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from small_mold import Assembly, double_cone, ellipsoid, mold_of, with_piece

from claybed.geometry.lattice import UNITS_PER_MM, Lattice
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import holds, read_corners, stl_bytes
from claybed.proof.evidence import prove, prove_files
from claybed.proof.plaster import liftable, wall
from claybed.proof.seam_edges import seam_angle
from claybed.proof.solidity import surface
from claybed.records.brief import Brief
from claybed.records.finding import Check

WET_KG = {"A": 3.0, "B": 4.0}


def checks_of(
    mold: Assembly,
    obj: Mesh | None = None,
    brief: Brief | None = None,
    wet_kg: Mapping[str, float] | None = None,
) -> dict[str, Check]:
    """All checks of a mold by id."""
    told: list[float] = []
    checks = prove(
        mold,
        double_cone() if obj is None else obj,
        brief or Brief(),
        wet_kg or WET_KG,
        progress=lambda phase, done: told.append(done),
    )
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len({c.id for c in checks}) == len(checks)
    return {c.id: c for c in checks}


def failing(checks: Mapping[str, Check]) -> set[str]:
    """Ids of the checks that do not hold; each must say so by its own numbers and name a remedy."""
    for check in checks.values():
        good = check.measured <= check.limit if check.sense == "most" else check.measured >= check.limit
        assert check.ok == good, check
        assert bool(check.remedy) != check.ok, check
        assert check.where
        assert check.how
    return {name for name, check in checks.items() if not check.ok}


def file_bytes(mold: Assembly) -> dict[str, bytes]:
    """What is written for each piece and the model."""
    return {p.id: stl_bytes(p.solid) for p in mold.pieces} | {"model": stl_bytes(mold.model)}


def piece_of(mold: Assembly, letter: str) -> LatticeSolid:
    """The solid of one piece."""
    return next(p.solid for p in mold.pieces if p.id == letter)


def moved_corner(solid: LatticeSolid, at: Lattice, by: tuple[int, int, int]) -> LatticeSolid:
    """The solid with its corner at a lattice point moved by whole steps."""
    points = solid.points.copy()
    hit = (points == at).all(axis=1)
    assert hit.sum() == 1
    points[hit] += np.array(by)
    return replace(solid, points=points)


def apex(mold: Assembly) -> Lattice:
    """The highest corner of the model."""
    highest: Lattice = mold.model.points[int(np.argmax(mold.model.points[:, 2]))]
    return highest


def test_a_sound_mold_passes(mold: Assembly) -> None:
    """Every check holds, in the order a person reads them."""
    checks = checks_of(mold)
    assert failing(checks) == set()
    assert list(checks) == [
        *(f"{what}_{name}" for name in ("A", "B", "model") for what in ("solid_closed", "one_body")),
        "volumes_fill_block", "adjoins_A", "adjoins_B", "adjoins_model",
        "release_A", "release_B", "model_leaves_last", "pieces_overlap",
        "keys_close_one_way", "wall", "tongue", "seam_angle", "liftable", "model_true",
    ]  # fmt: skip
    assert checks["wall"].measured == pytest.approx(20.0, abs=0.001)
    assert checks["liftable"].measured == 4.0
    # The cone rises 20 mm over the inradius of its 24 sides, 30 mm x cos(7.5 deg).
    slope_deg = np.degrees(np.arctan2(20.0, 30.0 * np.cos(np.pi / 24)))
    assert checks["seam_angle"].measured == pytest.approx(180.0 - slope_deg, abs=0.1)


def test_a_smooth_mold_passes() -> None:
    """An ellipsoid of two thousand faces passes as well, in a round block."""
    obj = ellipsoid(2000)
    keys = ((-70.0, 0.0), (70.0, 5.0), (10.0, 62.0))
    checks = checks_of(mold_of(obj, keys_mm=keys, round_sides=48), obj)
    assert failing(checks) == set()


def hooked(mold: Assembly, over: int) -> Assembly:
    """The mold with a film of plaster `over` lattice steps wide that reaches under a face of the model.

    One face of the model and of piece A is cut in three at a point that lies just across its edge, on its
    own plane: the face beside the edge then folds under. Nothing is added or lost.
    """
    model = mold.model
    corners = model.points[model.faces]
    which = int(
        np.argmax(
            ((corners == apex(mold)).any(axis=(1, 2))) & (corners[:, :, 2].max(axis=1) == apex(mold)[2])
        )
    )
    p, q, r = np.roll(corners[which], -int(np.argmax(corners[which][:, 2])), axis=0)
    along = (q - p)[:2] / np.linalg.norm((q - p)[:2])
    across = np.array([along[1], -along[0]])
    middle = np.rint((p[:2] + q[:2]) / 2.0 + over * across).astype(np.int64)
    u, v, w = (q - p).astype(float), (r - p).astype(float), (middle - p[:2]).astype(float)
    area = u[0] * v[1] - u[1] * v[0]
    s, t = (w[0] * v[1] - w[1] * v[0]) / area, (u[0] * w[1] - u[1] * w[0]) / area
    point = np.array([*middle, int(np.ceil(p[2] + s * u[2] + t * v[2]))])
    hooked_model = cut_in_three(model, (p, q, r), point)
    return replace(
        with_piece(mold, "A", cut_in_three(piece_of(mold, "A"), (p, r, q), point)), model=hooked_model
    )


def cut_in_three(
    solid: LatticeSolid, corners: tuple[Lattice, Lattice, Lattice], point: Lattice
) -> LatticeSolid:
    """A solid whose face with these corners, in this order, is replaced by three that meet in a point."""
    number = [int(np.flatnonzero((solid.points == c).all(axis=1))[0]) for c in corners]
    turns = [np.roll(number, -k) for k in range(3)]
    which = [k for k, f in enumerate(solid.faces) if any(np.array_equal(f, t) for t in turns)]
    assert len(which) == 1
    new = len(solid.points)
    three = np.array([[number[k], number[(k + 1) % 3], new] for k in range(3)], np.int32)
    kept = np.arange(len(solid.faces)) != which[0]
    return LatticeSolid(
        np.concatenate([solid.points, point[None]]),
        np.concatenate([solid.faces[kept], three]),
        np.concatenate([solid.origin[kept], np.repeat(solid.origin[which[0]], 3)]),
    )


def test_a_film_locks(mold: Assembly) -> None:
    """A hook of plaster a hundredth of a millimetre wide fails the release of its piece, and nothing else."""
    checks = checks_of(hooked(mold, 10))
    assert failing(checks) == {"release_A"}
    assert 0.002 < checks["release_A"].measured < 0.012
    assert checks["release_A"].at_mm is not None
    assert checks["release_A"].at_mm[2] > 40.0
    files = {c.id: c for c in prove_files(file_bytes(hooked(mold, 10)), mold)}
    assert failing(files) == {"file_release_A"}


def test_a_point_inside_a_face_does_not_lock(mold: Assembly) -> None:
    """The same cut with its point on the face's own side leaves freely, so that it is the fold that locks."""
    assert failing(checks_of(hooked(mold, -200))) == set()


def with_pull(mold: Assembly, letter: str, pull: tuple[float, float, float]) -> Assembly:
    """The mold with one piece's pull exchanged."""
    return replace(mold, pieces=tuple(replace(p, pull=pull) if p.id == letter else p for p in mold.pieces))


def swapped(mold: Assembly) -> Assembly:
    """The mold with the solids of its two pieces exchanged."""
    return with_piece(with_piece(mold, "A", piece_of(mold, "B")), "B", piece_of(mold, "A"))


def without_face(mold: Assembly) -> Assembly:
    """The mold with one face of the cavity missing in piece A."""
    solid = piece_of(mold, "A")
    kept = np.arange(len(solid.faces)) != int(np.flatnonzero(solid.origin == Origin.OBJECT)[0])
    return with_piece(mold, "A", replace(solid, faces=solid.faces[kept], origin=solid.origin[kept]))


def with_crumb(mold: Assembly) -> Assembly:
    """The mold with piece B in two parts: a thimble of plaster cut out of it stands apart in its hole."""
    solid = piece_of(mold, "B")
    corners = np.array([[0, 0, 0], [3, 0, 0], [0, 3, 0], [0, 0, 3]]) * 1024 + np.array([30000, 30000, 8192])
    tetra = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    n = len(solid.points)
    points = np.concatenate([solid.points, corners, corners])
    faces = np.concatenate([solid.faces, tetra + n, tetra[:, ::-1] + n + 4]).astype(np.int32)
    origin = np.concatenate([solid.origin, np.full(8, int(Origin.OUTSIDE), np.uint8)])
    return with_piece(mold, "B", LatticeSolid(points, faces, origin))


MUTANTS: list[tuple[str, Callable[[Assembly], Assembly], set[str]]] = [
    ("pull of A flipped", lambda m: with_pull(m, "A", (0.0, 0.0, -1.0)), {"release_A"}),
    ("pieces swapped", swapped, {"release_A", "release_B", "model_leaves_last"}),
    ("face removed", without_face, {"solid_closed_A", "volumes_fill_block", "adjoins_model"}),
    ("crumb", with_crumb, {"one_body_B", "adjoins_B"}),
    (
        "corner of A moved off the model",
        lambda m: with_piece(m, "A", moved_corner(piece_of(m, "A"), apex(m), (0, 0, 400))),
        {"volumes_fill_block", "adjoins_A", "adjoins_model"},
    ),
    (
        "corner of A moved into the model",
        lambda m: with_piece(m, "A", moved_corner(piece_of(m, "A"), apex(m), (0, 0, -400))),
        {"volumes_fill_block", "adjoins_A", "adjoins_model", "release_A", "pieces_overlap"},
    ),
    (
        "one lattice step lost",
        lambda m: with_piece(m, "A", moved_corner(piece_of(m, "A"), apex(m), (0, 0, 1))),
        {"volumes_fill_block"},
    ),
    (
        "model and A changed alike",
        lambda m: replace(
            with_piece(m, "A", moved_corner(piece_of(m, "A"), apex(m), (0, 0, -400))),
            model=moved_corner(m.model, apex(m), (0, 0, -400)),
        ),
        {"model_true"},
    ),
    ("object placed elsewhere", lambda m: replace(m, shift_mm=m.shift_mm + 0.02), {"model_true"}),
    ("more wall asked for", lambda m: replace(m, wall_mm=20.02), {"wall"}),
    ("taller block told", lambda m: replace(m, height=m.height + 1), {"volumes_fill_block"}),
]


@pytest.mark.parametrize(("change", "wanted"), [m[1:] for m in MUTANTS], ids=[m[0] for m in MUTANTS])
def test_what_is_spoilt_fails_its_own_check(
    mold: Assembly, change: Callable[[Assembly], Assembly], wanted: set[str]
) -> None:
    """A spoilt mold fails exactly the checks that are about what was spoilt."""
    assert failing(checks_of(change(mold))) == wanted


def test_keys_that_close_two_ways() -> None:
    """Keys at the corners of a rectangle close two ways; no keys fail too, unless none were asked for."""
    square = mold_of(double_cone(), keys_mm=((-45, -42), (45, -42), (-45, 42), (45, 42)))
    assert failing(checks_of(square)) == {"keys_close_one_way"}
    bare = mold_of(double_cone(), keys_mm=())
    assert failing(checks_of(bare)) == {"keys_close_one_way"}
    checks = checks_of(bare, brief=Brief(keys=False))
    assert failing(checks) == set()
    assert "keys_close_one_way" not in checks


def test_a_heavy_piece_is_named(mold: Assembly) -> None:
    """The heaviest piece is held against what may be lifted; a weight that is missing is refused."""
    checks = checks_of(mold, wet_kg={"A": 3.0, "B": 21.1})
    assert failing(checks) == {"liftable"}
    assert checks["liftable"].where == "piece B"
    with pytest.raises(ValueError, match="piece B"):
        checks_of(mold, wet_kg={"A": 3.0})
    with pytest.raises(ValueError, match="no piece"):
        liftable({}, 16.0)


def test_a_slot_makes_a_slender_tongue() -> None:
    """A slot 2 mm wide and 15 mm deep in a box makes a tongue of plaster, reported with its width."""
    solid = manifold3d.Manifold.cube([60.0, 40.0, 40.0], True) - manifold3d.Manifold.cube(
        [2.0, 20.0, 15.0], True
    ).translate([10.0, 0.0, 12.5])
    got = solid.to_mesh64()
    obj = Mesh.make(np.asarray(got.vert_properties)[:, :3], np.asarray(got.tri_verts), frame="object")
    keys = ((-40.0, -31.0), (40.0, -31.0), (-40.0, 31.0), (26.0, 31.0))
    checks = checks_of(mold_of(obj, keys_mm=keys), obj)
    assert failing(checks) == {"tongue"}
    assert checks["tongue"].measured == pytest.approx(2.0, abs=0.3)
    at = checks["tongue"].at_mm
    assert at is not None
    assert at[0] == pytest.approx(10.0, abs=1.1)
    assert abs(at[1]) < 10.1
    assert checks["seam_angle"].measured == pytest.approx(90.0, abs=0.01)


def wedge(angle_deg: float) -> LatticeSolid:
    """A wedge of plaster along y: cavity above, parting face below, the angle between them at x = 0."""
    rise = 20.0 * np.tan(np.radians(angle_deg))
    corners = [(x, y, z) for y in (0.0, 30.0) for x, z in ((0.0, 0.0), (20.0, 0.0), (20.0, rise))]
    faces = [(0, 1, 2), (3, 5, 4), (0, 3, 4), (0, 4, 1), (1, 4, 5), (1, 5, 2), (0, 2, 5), (0, 5, 3)]
    origin = [Origin.OUTSIDE] * 2 + [Origin.PARTING] * 2 + [Origin.OUTSIDE] * 2 + [Origin.OBJECT] * 2
    points = np.rint(np.array(corners) * UNITS_PER_MM).astype(np.int64)
    return LatticeSolid(points, np.array(faces, np.int32), np.array(origin, np.uint8))


@pytest.mark.parametrize(("angle_deg", "ok"), [(30.0, False), (44.0, False), (46.0, True), (80.0, True)])
def test_the_angle_of_plaster_at_the_seam(mold: Assembly, angle_deg: float, ok: bool) -> None:
    """The angle is that inside the plaster, and an edge sharper than the shelf allows fails at its place."""
    check = seam_angle(with_piece(mold, "A", wedge(angle_deg)))
    assert check is not None
    assert check.measured == pytest.approx(angle_deg, abs=0.01)
    assert check.ok == ok
    assert check.at_mm == pytest.approx((0.0, 15.0, 0.0))
    assert ("30 mm of the seam" in check.where) != ok


def test_the_open_face_of_a_single_piece_is_no_thin_wall() -> None:
    """A mold open on its board side needs no wall there; one not told to be open is broken through."""
    mold = mold_of(double_cone())
    board = int(mold.model.points[:, 2].min())
    lowered = replace(mold.model, points=mold.model.points - np.array([0, 0, board]))
    through = replace(mold, model=lowered)
    assert not wall(through).ok
    assert wall(through).measured == 0.0
    opened = replace(through, gate=replace(mold.gate, kind="face", out=(0.0, 0.0, -1.0)))
    assert wall(opened).measured == pytest.approx(20.0, abs=0.001)


def test_the_gate_is_no_thin_wall(mold: Assembly) -> None:
    """What belongs to the gate may come near the outside; the same faces as the object's own may not."""
    raised = replace(mold, model=moved_corner(mold.model, apex(mold), (0, 0, 5 * 4096)))
    assert wall(raised).measured == pytest.approx(15.0)
    assert "top" in wall(raised).where
    near = (raised.model.points[raised.model.faces][:, :, 2] > 45 * 4096).any(axis=1)
    gate = replace(
        raised.model, origin=np.where(near, int(Origin.GATE), raised.model.origin).astype(np.uint8)
    )
    assert wall(replace(raised, model=gate)).measured == pytest.approx(20.0)


def test_edges_of_four_faces_are_faults() -> None:
    """Two boxes that touch along an edge are closed by count, yet that edge is a fault."""
    corners = np.array([[x, y, z] for z in (0, 1) for y in (0, 1, 2) for x in (0, 1, 2)]) * 1024
    number = {tuple(c): k for k, c in enumerate((corners // 1024).tolist())}
    base = [[0, 2, 1], [1, 2, 3], [4, 5, 6], [5, 7, 6], [0, 1, 4], [1, 5, 4], [2, 6, 3], [3, 6, 7], [0, 4, 2],
            [2, 4, 6], [1, 3, 5], [3, 7, 5]]  # fmt: skip
    faces = []
    for dx, dy in ((0, 0), (1, 1)):
        cell = [number[(x + dx, y + dy, z)] for z in (0, 1) for y in (0, 1) for x in (0, 1)]
        faces += [[cell[k] for k in f] for f in base]
    read = surface(LatticeSolid(corners, np.array(faces, np.int32), np.zeros(24, np.uint8)))
    assert len(read.faults) == 1
    assert read.faults[0].tolist() == [number[(1, 1, 0)], number[(1, 1, 1)]]


def test_files_are_judged_by_what_they_hold(mold: Assembly) -> None:
    """Files read back pass; one cut short, missing, exchanged or rewritten by another program is noticed."""
    good = file_bytes(mold)
    assert failing({c.id: c for c in prove_files(good, mold)}) == set()
    cut = {c.id: c for c in prove_files(good | {"A": good["A"][:-7]}, mold)}
    assert failing(cut) == {"file_whole_A"}
    missing = {c.id: c for c in prove_files({k: v for k, v in good.items() if k != "model"}, mold)}
    assert failing(missing) == {"file_whole_model"}
    exchanged = {c.id: c for c in prove_files(good | {"A": good["B"], "B": good["A"]}, mold)}
    assert failing(exchanged) == {"file_release_A", "file_release_B", "file_model_leaves_last"}
    rewritten = bytearray(good["model"])
    x = np.frombuffer(good["model"], "<f4", 1, 96)[0]
    rewritten[96:100] = np.float32(x + 0.0002).tobytes()
    assert failing({c.id: c for c in prove_files(good | {"model": bytes(rewritten)}, mold)}) == {
        "file_on_lattice_model"
    }


def test_files_as_proved_are_told_so_and_no_others(mold: Assembly) -> None:
    """What was proved holds for files of the same triangles; one bit off, and they are proved anew."""
    good = file_bytes(mold)
    proved = tuple(checks_of(mold).values())
    anew, known = prove_files(good, mold), prove_files(good, mold, proved)
    plain = [(c.id, c.ok, c.measured, c.limit, c.unit, c.where) for c in anew]
    assert sorted((c.id, c.ok, c.measured, c.limit, c.unit, c.where) for c in known) == sorted(plain)
    assert sum("to the last bit" in c.how for c in known) == len(known) - 2 * len(good)
    moved = bytearray(good["A"])
    x = np.frombuffer(good["A"], "<f4", 1, 96)[0]
    moved[96:100] = np.float32(x + 0.5).tobytes()
    exchanged = good | {"A": good["B"], "B": good["A"]}
    for other in (good | {"A": bytes(moved)}, good | {"A": good["A"][:-7]}, exchanged):
        assert prove_files(other, mold, proved) == prove_files(other, mold)
    assert prove_files(good, mold, proved[1:]) == anew


def test_a_solid_with_one_point_twice_is_not_what_its_file_holds(mold: Assembly) -> None:
    """Read back, the two points are one, and more may hang together than was proved."""
    solid = piece_of(mold, "A")
    points = np.concatenate([solid.points, solid.points[solid.faces[0, :1]]])
    faces = solid.faces.copy()
    faces[0, 0] = len(points) - 1
    twice = replace(solid, points=points, faces=faces)
    assert holds(read_corners(stl_bytes(solid)), solid)
    assert not holds(read_corners(stl_bytes(twice)), twice)
