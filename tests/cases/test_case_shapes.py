"""Cases of small molds: plaster leaves, pieces close, parts fit and come apart; against other libraries."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import trimesh

from claybed.cases.bearing import hold_down_g
from claybed.cases.bedding import EDGE_MM, lay_on_bed
from claybed.cases.flanges import FLANGE_OUT_MM
from claybed.cases.generations import build_cement_case, build_master
from claybed.cases.proving import case_checks, cement_checks, closing_checks, part_checks
from claybed.cases.standing import in_block, undercut_mm
from claybed.cases.vessel import build_case, in_case
from claybed.errors import CannotError
from claybed.geometry.forming import box, closed, on_lattice, unturned
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import lock_toward
from claybed.geometry.stl import stl_bytes
from claybed.records.assembly import Assembly
from claybed.records.cases import Case, Poured, Shape
from tests.cases.stood import stand
from tests.proof.small_mold import double_cone, ellipsoid, mold_of

vtk = pytest.importorskip("vtk", reason="VTK is not installed; it comes with the test extra")

PRINTER_MM = (220.0, 220.0, 250.0)
SMALL_MM = (96.0, 110.0, 120.0)
UP = (0.0, 0.0, 1.0)


def shape(printer_mm: tuple[float, float, float] = PRINTER_MM, *, grips: bool = False) -> Shape:
    """Usual sizes of a case."""
    return Shape(3.2, 6.0, printer_mm, 0.25, grips, 1.2, 0.15)


def poured(mold: Assembly, letter: str, *, draft_deg: float = 2.0, clearance_mm: float = 0.25) -> Poured:
    """A piece of a mold as its case pours it."""
    piece = next(p for p in mold.pieces if p.id == letter)
    return stand(letter, piece.solid, piece.pull, mold.keys, draft_deg=draft_deg, clearance_mm=clearance_mm)


@pytest.fixture(scope="module")
def boxed() -> Assembly:
    """A boxed mold of a double cone, four keys on A."""
    return mold_of(double_cone())


@pytest.fixture(scope="module")
def case(boxed: Assembly) -> Case:
    """The case of A, in one part."""
    return build_case(poured(boxed, "A"), shape())


@pytest.fixture(scope="module")
def split(boxed: Assembly) -> Case:
    """The case of A for a printer that it is too large for, with hand-holds."""
    return build_case(poured(boxed, "A"), shape(SMALL_MM, grips=True))


def failed(checks: list) -> list[str]:  # type: ignore[type-arg]
    """Names of the checks that do not hold."""
    return [check.id for check in checks if not check.ok]


def test_draft_adds_what_a_leaning_wall_adds(boxed: Assembly) -> None:
    """Sides that lean by s over the height h add s h² (a + b) + 4/3 s² h³ to a box a by b (closed form)."""
    piece = boxed.pieces[0].solid
    leaned = poured(boxed, "A", clearance_mm=0.0)
    a, b = (float(v) for v in np.ptp(leaned.low_outline_mm, axis=0))
    h, s = leaned.top_mm - leaned.low_mm, math.tan(math.radians(2.0))
    more = s * h**2 * (a + b) + 4.0 / 3.0 * s**2 * h**3
    assert leaned.solid.volume_mm3 - piece.volume_mm3 == pytest.approx(more, rel=1e-3)
    assert leaned.least_draft_deg == pytest.approx(2.0, abs=0.01)
    assert leaned.leaning_share == pytest.approx(1.0)


def test_bumps_lose_the_clearance_and_nothing_else(boxed: Assembly) -> None:
    """The flat top of each bump comes 0.25 mm lower; B, which has the sockets, stays as it is."""
    full, less = poured(boxed, "A", clearance_mm=0.0), poured(boxed, "A")
    assert less.keys == 4
    moved = lattice_mm(less.solid.points)[:, 2] - lattice_mm(full.solid.points)[:, 2]
    deepest = np.isclose(lattice_mm(full.solid.points)[:, 2], 0.0)
    # The case's frame begins at the lowest corner, which is a bump.
    level = (
        lattice_mm(less.solid.points)[~deepest, 2].max() - lattice_mm(full.solid.points)[~deepest, 2].max()
    )
    lost = moved[deepest] - level
    assert deepest.sum() >= 4 and lost.min() >= 0.25 - 1e-3 and lost.max() < 0.5
    assert poured(boxed, "B").keys == 0
    assert poured(boxed, "B").solid.volume_mm3 == poured(boxed, "B", clearance_mm=0.0).solid.volume_mm3


@pytest.mark.parametrize("round_sides", [0, 48])
def test_pieces_from_their_cases_close(round_sides: int) -> None:
    """Poured apart, each in its case, the pieces still close: exact, in a boxed and in a round block."""
    keys = ((-36.0, -30.0), (36.0, -30.0), (-34.0, 32.0), (30.0, 34.0))
    mold = mold_of(double_cone(), keys_mm=keys, round_sides=round_sides)
    both = [poured(mold, "A"), poured(mold, "B")]
    assert failed(closing_checks(both, {"A": UP, "B": (0.0, 0.0, -1.0)})) == []


def test_a_bump_too_large_does_not_close(boxed: Assembly) -> None:
    """The check of closing can fail: a piece that reaches 0.2 mm too far is in the other's way."""
    one, two = poured(boxed, "A"), poured(boxed, "B")
    points = one.solid.points.copy()
    points[points[:, 2] < 0.3 * Z_PER_MM, 2] -= round(0.5 * Z_PER_MM)
    swollen = replace(one, solid=LatticeSolid(points, one.solid.faces, one.solid.origin))
    assert failed(closing_checks([swollen, two], {"A": UP, "B": (0.0, 0.0, -1.0)})) == ["case_pieces_close_A"]


@pytest.mark.parametrize("letter", ["A", "B"])
def test_a_case_holds_its_checks(boxed: Assembly, letter: str) -> None:
    """Closed, one body, on the bed, free of undercuts, and the piece leaves."""
    assert failed(case_checks(build_case(poured(boxed, letter), shape()))) == []


def test_a_film_of_plastic_over_the_plaster_is_noticed(case: Case) -> None:
    """The check of release can fail: a piece that was moved 0.05 mm into the wall does not leave."""
    aside = case.poured.solid.points + np.array([52, 0, 0])
    lie = replace(case.poured, solid=replace(case.poured.solid, points=aside))
    (fault,) = [c for c in case_checks(replace(case, poured=lie)) if c.id == "case_release_A"]
    assert not fault.ok and fault.where == "piece A against all parts of its case"


def test_a_piece_the_wrong_way_up_is_refused(boxed: Assembly) -> None:
    """A piece stood on its back has no flat back above, and its cavity would hold it: no case."""
    piece = boxed.pieces[0]
    with pytest.raises(CannotError, match="look up"):
        stand("A", piece.solid, (0.0, 0.0, -1.0), boxed.keys, draft_deg=2.0, clearance_mm=0.2)


@pytest.mark.parametrize("side_mm", [20.0, 400.0])
@pytest.mark.parametrize("out_mm", [0.02, 0.5])
def test_an_undercut_is_as_wide_as_the_ledge_under_it(side_mm: float, out_mm: float) -> None:
    """A rib all round, half way up, shows its top alike on a small block and a large one; without it nothing
    shows.

    Source: geometry; the largest circle in a square frame lies in its corner, r (1 + √2) = √2 w.
    """
    across_mm = 2.0 * math.sqrt(2.0) / (1.0 + math.sqrt(2.0)) * out_mm
    block = box((0.0, 0.0, 0.0), (side_mm, side_mm, 30.0))
    rib = box((-out_mm, -out_mm, 10.0), (side_mm + out_mm, side_mm + out_mm, 15.0))
    for solid, wide_mm in ((block, 0.0), (block + rib, across_mm)):
        lattice = on_lattice(solid)
        found = undercut_mm(lattice_mm(lattice.points), lattice.faces, (0.0, 0.0, 1.0))
        # A step of the lattice is 1/1024 mm.
        assert found == pytest.approx(wide_mm, rel=0.01, abs=1e-3 if wide_mm else 0.0)


def test_an_undercut_wider_than_rounding_is_noticed(case: Case) -> None:
    """The check can fail: a piece sheared by 3°, more than its outside leans, shows a wall along the pull."""
    points = case.poured.solid.points.copy()
    aside = points[:, 2] * math.tan(math.radians(3.0)) * XY_PER_MM / Z_PER_MM
    points[:, 0] -= np.rint(aside).astype(np.int64)
    lie = replace(case.poured, solid=replace(case.poured.solid, points=points))
    assert "case_no_undercut_A" in failed(case_checks(replace(case, poured=lie)))


def test_walls_are_as_thick_as_asked(case: Case) -> None:
    """From the plaster outwards, the wall measures 3.2 mm square to itself, read by another library."""
    mesh = trimesh.load(BytesIO(stl_bytes(case.whole)), file_type="stl")
    middle = case.shape.floor_mm + (case.poured.low_mm + case.poured.top_mm) / 2.0
    half = float(np.abs(case.poured.low_outline_mm[:, 0]).max())
    starts = np.array([[half * 0.9, y, middle] for y in (-20.0, 0.0, 20.0)])
    hits, rays, _ = mesh.ray.intersects_location(starts, np.tile([1.0, 0.0, 0.0], (3, 1)))
    for ray in range(3):
        x = np.sort(hits[rays == ray][:, 0])
        assert x[1] - x[0] == pytest.approx(3.2 / math.cos(math.radians(2.0)), abs=0.01)


@pytest.mark.parametrize("draft_deg", [0.5, 10.0])
def test_any_draft_that_can_be_asked_makes_a_case(boxed: Assembly, draft_deg: float) -> None:
    """At the least and the most lean, bumps under the rim stay covered and every check holds."""
    leaned = poured(boxed, "A", draft_deg=draft_deg)
    assert leaned.least_draft_deg == pytest.approx(draft_deg, abs=0.05)
    assert failed(case_checks(build_case(leaned, shape()))) == []


def test_the_rim_is_the_fill_line(case: Case) -> None:
    """Plaster up to the rim is the piece: the highest plastic and the piece's back are one level."""
    top = in_case(case.poured, case.shape.floor_mm).points[:, 2].max()
    assert case.whole.points[:, 2].max() == top
    assert case.whole.points[:, 2].min() == 0


def test_parts_are_clean_solids_elsewhere(split: Case, tmp_path: Path) -> None:
    """Each part is closed, wound alike and of our volume for trimesh, and without free edges for VTK."""
    assert len(split.parts) == 4
    for part in split.parts:
        data = stl_bytes(part.solid)
        mesh = trimesh.load(BytesIO(data), file_type="stl")
        assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1
        assert mesh.volume == pytest.approx(part.solid.volume_mm3, rel=1e-9)
        file = tmp_path / f"{part.id}.stl"
        file.write_bytes(data)
        reader = vtk.vtkSTLReader()
        reader.SetFileName(str(file))
        edges = vtk.vtkFeatureEdges()
        edges.SetInputConnection(reader.GetOutputPort())
        edges.BoundaryEdgesOn()
        edges.NonManifoldEdgesOn()
        edges.FeatureEdgesOff()
        edges.ManifoldEdgesOff()
        edges.Update()
        assert edges.GetOutput().GetNumberOfCells() == 0
        mass = vtk.vtkMassProperties()
        mass.SetInputConnection(reader.GetOutputPort())
        assert mass.GetVolume() == pytest.approx(part.solid.volume_mm3, rel=1e-6)


def test_a_split_case_holds_its_checks(split: Case) -> None:
    """Cut in four, every part fits the bed with its flanges, and the piece leaves them all."""
    assert failed(case_checks(split)) == []
    assert split.bolts == 8
    narrow = replace(split.shape, printer_mm=(60.0, 80.0, 120.0))
    assert failed(part_checks(split.parts, narrow.printer_mm, "A")) == ["case_fits_printer_A"]


def test_a_heavy_case_has_hand_holds(boxed: Assembly) -> None:
    """Asked for, there is one at each end, with a slot for four fingers, and it fits the bed; parts too short
    for two fingers go without.
    """
    held = build_case(poured(boxed, "A"), shape((96.0, 150.0, 120.0), grips=True))
    assert len(held.parts) == 2 and held.grips == 2
    assert failed(case_checks(held)) == []
    mesh = trimesh.load(BytesIO(stl_bytes(held.whole)), file_type="stl")
    # A slot goes right through: each makes the body one hole richer than the bolt holes alone do.
    bare = build_case(poured(boxed, "A"), shape((96.0, 150.0, 120.0)))
    plain = trimesh.load(BytesIO(stl_bytes(bare.whole)), file_type="stl")
    assert (plain.euler_number - mesh.euler_number) / 2 == 2
    assert build_case(poured(boxed, "A"), shape(SMALL_MM, grips=True)).grips == 0


def test_parts_join_and_come_apart(split: Case) -> None:
    """No part is in another's way where it stands, and neighbours across x part along x, tongues and all."""
    for one, two in itertools.combinations(split.parts, 2):
        apart = lattice_mm(two.solid.points).mean(axis=0) - lattice_mm(one.solid.points).mean(axis=0)
        if abs(apart[0]) > 20.0 > abs(apart[1]):
            pull = (-math.copysign(1.0, apart[0]), 0.0, 0.0)
            assert lock_toward(one.solid, [two.solid], pull, slack_mm=0.01).pairs == 0


def test_cutting_loses_only_the_room_of_grooves(split: Case) -> None:
    """Parts together weigh the case and its tongues, less the grooves, which are larger by the clearance."""
    parts = sum(part.solid.volume_mm3 for part in split.parts)
    lost = split.whole.volume_mm3 - parts
    # A groove of 4.5 to 1.7 mm and 2.75 deep round a tongue of 4 to 1.2 and 2.5 deep: 2 to 3 mm² of section.
    length = sum(np.ptp(split.poured.low_outline_mm, axis=0))
    assert 0.0 < lost < 3.0 * length


@pytest.mark.parametrize(
    ("span", "tall", "printer"),
    [
        ((200.0, 260.0), 140.0, PRINTER_MM),
        ((200.0, 180.0), 90.0, PRINTER_MM),
        ((500.0, 300.0), 90.0, PRINTER_MM),
        ((150.0, 330.0), 90.0, (180.0, 180.0, 180.0)),
    ],
)
def test_cuts_are_the_fewest_that_fit(
    span: tuple[float, float], tall: float, printer: tuple[float, float, float]
) -> None:
    """Every part fits with its flanges, and no smaller number of parts would (all tried)."""
    found = lay_on_bed(span, printer, flange_mm=FLANGE_OUT_MM)
    assert found is not None
    nx, ny = len(found.cuts_x_mm) + 1, len(found.cuts_y_mm) + 1
    room = sorted(v - 2.0 * EDGE_MM for v in printer[:2])

    def fits(x: int, y: int) -> bool:
        # Flanges of the cuts across the other axis stand out at both ends of a part that is not cut itself.
        more_x = (0.0 if y == 1 else (2.0 if x == 1 else 1.0) * FLANGE_OUT_MM) + (3.0 if x > 1 else 0.0)
        more_y = (0.0 if x == 1 else (2.0 if y == 1 else 1.0) * FLANGE_OUT_MM) + (3.0 if y > 1 else 0.0)
        part = sorted((span[0] / x + more_x, span[1] / y + more_y))
        return part[0] <= room[0] and part[1] <= room[1]

    assert fits(nx, ny)
    assert not any(fits(x, y) for x in range(1, 7) for y in range(1, 7) if x * y < nx * ny)


def test_pockets_leave_a_wall_and_stand_on_the_bed(tmp_path: Path) -> None:
    """Under a tall floor pockets save plastic; nowhere do they come nearer to the plaster than the wall."""
    mold = mold_of(ellipsoid(2000, (80.0, 80.0, 70.0)), keys_mm=())
    # All solid: the more infill, the more a pocket saves.
    dense = replace(shape((400.0, 400.0, 400.0)), infill_fraction=0.6)
    case = build_case(poured(mold, "A"), dense)
    assert case.cells >= 4
    assert failed(case_checks(case)) == []
    whole = trimesh.load(BytesIO(stl_bytes(case.whole)), file_type="stl")
    inside = whole.triangles_center
    roofs = inside[(inside[:, 2] > 1.0) & (np.abs(inside[:, :2]).max(axis=1) < 70.0)]
    reader = vtk.vtkSTLReader()
    (tmp_path / "plaster.stl").write_bytes(stl_bytes(in_case(case.poured, 6.0)))
    reader.SetFileName(str(tmp_path / "plaster.stl"))
    reader.Update()
    plaster = vtk.vtkImplicitPolyDataDistance()
    plaster.SetInput(reader.GetOutput())
    far = np.array([abs(plaster.EvaluateFunction(p)) for p in roofs.tolist()])
    below = far[far > 1e-3]
    assert len(below) and below.min() >= dense.wall_mm - 0.01


def test_what_holds_in_a_cement_case_is_named_with_its_place(boxed: Assembly) -> None:
    """A stud on the outside, its top 20 mm under the back, holds the piece there, whatever the draft."""
    one = poured(boxed, "A")
    out_mm = float(one.top_outline_mm[:, 0].max())
    low = (out_mm - 6.0, -4.0, one.top_mm - 25.0)
    stud = box(low, (out_mm + 3.0, 4.0, one.top_mm - 20.0))
    studded = on_lattice(closed(lattice_mm(one.solid.points), one.solid.faces) + stud)
    (fault,) = [
        check for check in cement_checks(build_cement_case(replace(one, solid=studded), 40.0)) if not check.ok
    ]
    assert fault.id == "cement_case_release_A" and fault.measured > 1.0
    assert fault.where == "piece A against its case, 20 mm under its back"
    assert "--draft" not in fault.remedy


def test_a_printed_piece_and_its_cement_case(boxed: Assembly) -> None:
    """The piece on its back, cut and pegged, and a case a wall away from it, from which it leaves."""
    one = poured(boxed, "A")
    master = build_master(one, (70.0, 110.0, 120.0), 0.2)
    assert len(master.parts) == 2 and master.dowels == 2
    assert failed(part_checks(master.parts, (70.0, 110.0, 120.0), "A")) == []
    pegs = 2 * math.pi * 3.1**2 * 24.0
    assert sum(p.solid.volume_mm3 for p in master.parts) == pytest.approx(
        one.solid.volume_mm3 - pegs, abs=40.0
    )
    cement = build_cement_case(one, 40.0)
    assert failed(cement_checks(cement)) == []
    x, y, tall = cement.form_mm
    wide, deep = np.ptp(one.top_outline_mm, axis=0)
    assert (x, y, tall) == pytest.approx((wide + 80.0, deep + 80.0, one.top_mm + 40.0))
    assert cement.solid.volume_mm3 + one.solid.volume_mm3 == pytest.approx(x * y * tall, rel=2e-5)


def test_pieces_go_back_into_the_block(boxed: Assembly) -> None:
    """Out of its case and turned back, a piece has the corners of the plan's but those of back and bumps."""
    piece = boxed.pieces[1].solid
    back = in_block(poured(boxed, "B"))
    seen = {tuple(p) for p in back.points.tolist()}
    planned = [tuple(p) for p in piece.points.tolist() if p[2] > 0]
    assert len(planned) > 100
    assert set(planned) <= seen


def test_a_turned_edge_is_put_back(case: Case) -> None:
    """Two faces whose common edge was turned over get it back; the rest of the solid stays as it is."""
    solid = in_case(case.poured, 6.0)
    faces = solid.faces.copy()
    one = faces[0].tolist()
    for k in range(1, len(faces)):
        other = faces[k].tolist()
        shared = set(one) & set(other)
        if len(shared) == 2:
            (p,) = set(one) - shared
            (q,) = set(other) - shared
            at = one.index(p)
            a, b = one[(at + 1) % 3], one[(at + 2) % 3]
            faces[0], faces[k] = [p, a, q], [p, q, b]
            break
    turned = LatticeSolid(solid.points, faces, solid.origin)
    mended = unturned(turned, solid)

    def loose(s: LatticeSolid) -> set[frozenset[int]]:
        return {frozenset(face) for face in s.faces.tolist()}

    assert loose(turned) != loose(solid)
    assert loose(mended) == loose(solid)
    assert mended.six_volumes == solid.six_volumes


def test_a_case_that_slurry_creeps_under_lifts_by_pressure_on_its_foot() -> None:
    """Up with the whole height of liquid on the foot, as another library measures it; down with the plaster,
    whose leaning outside stands on the walls, and the plastic.

    Source: hydrostatics; Pascal's law, by hand for a box of 100 x 80 x 50 mm that leans 2 degrees out.
    """
    piece = on_lattice(box((0.0, 0.0, 0.0), (100.0, 80.0, 50.0)))
    case = build_case(stand("A", piece, UP, [], draft_deg=2.0, clearance_mm=0.2), shape())
    whole = trimesh.load(BytesIO(stl_bytes(case.whole)), file_type="stl")
    low = whole.vertices[whole.vertices[:, 2] < 0.01]
    foot_mm2 = float(np.ptp(low[:, 0]) * np.ptp(low[:, 1]))
    lean = math.tan(math.radians(2.0))
    # Integral of (100 + 2 t h) (80 + 2 t h) over the height.
    plaster_mm3 = 100.0 * 80.0 * 50.0 + lean * 180.0 * 50.0**2 + 4.0 / 3.0 * lean**2 * 50.0**3
    up_g = 1.55e-3 * (foot_mm2 * 56.0 - plaster_mm3)
    held_g, taken_ml = hold_down_g(case, 100.0, 1550.0)
    assert held_g == pytest.approx(up_g - 100.0, rel=1e-3)
    assert taken_ml == pytest.approx(up_g / 1.55, rel=1e-3)
    assert hold_down_g(case, 1e4, 1550.0)[0] == 0.0
