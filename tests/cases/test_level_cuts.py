"""Cases taller than the printer: cut level, on a ridge, pegs under what stands free."""

from __future__ import annotations

import math
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import trimesh

from claybed.cases.bearing import Wall, joints_of
from claybed.cases.bedding import cut_levels
from claybed.cases.crowns import PEG_MM, _flakes_above, peg_holes
from claybed.cases.generations import build_master
from claybed.cases.proving import case_checks, joint_checks, part_checks, wall_check
from claybed.cases.vessel import build_case, on_bed
from claybed.errors import CannotError
from claybed.geometry.forming import bounds_mm, box
from claybed.geometry.lattice import Z_PER_MM, lattice_mm
from claybed.geometry.slanting import lock_toward
from claybed.geometry.stl import stl_bytes
from claybed.records.assembly import Assembly
from claybed.records.cases import Case, Poured, Shape
from tests.cases.stood import stand
from tests.proof.small_mold import double_cone, ellipsoid, mold_of

UP = (0.0, 0.0, 1.0)


def shape(printer_mm: tuple[float, float, float]) -> Shape:
    """Usual sizes of a case."""
    return Shape(3.2, 6.0, printer_mm, 0.25, False, 1.2, 0.15)


def poured(mold: Assembly, letter: str) -> Poured:
    """A piece of a mold as its case pours it."""
    piece = next(p for p in mold.pieces if p.id == letter)
    return stand(letter, piece.solid, piece.pull, mold.keys, draft_deg=2.0, clearance_mm=0.25)


def failed(checks: list) -> list[str]:  # type: ignore[type-arg]
    """Names of the checks that do not hold."""
    return [check.id for check in checks if not check.ok]


@pytest.fixture(scope="module")
def stacked() -> Case:
    """The case of a steep form for a printer that its upper wall and the crown of its model overtop."""
    mold = mold_of(ellipsoid(600, (40.0, 40.0, 50.0)), keys_mm=())
    return build_case(poured(mold, "A"), shape((96.0, 110.0, 50.0)))


def test_a_tall_case_is_cut_by_height(stacked: Case) -> None:
    """Every part fits the printer with what stands on it, prints flat, and together they are the case."""
    assert failed(case_checks(stacked)) == []
    assert len(stacked.levels_mm) >= 1 and all(part.size_mm[2] <= 50.0 for part in stacked.parts)
    beds = {part.bed_mm for part in stacked.parts}
    assert beds == {0.0, *stacked.levels_mm}
    for part in stacked.parts:
        laid = on_bed(part)
        assert laid.points[:, 2].min() == 0 and laid.volume_mm3 == pytest.approx(part.solid.volume_mm3)
        assert part.solid.points[:, 2].min() == round(part.bed_mm * Z_PER_MM)
        # A bed face of some square centimetres, so that it stays down while it is printed.
        mesh = trimesh.load(BytesIO(stl_bytes(laid)), file_type="stl")
        assert mesh.area_faces[mesh.triangles[:, :, 2].max(axis=1) == 0.0].sum() > 100.0
    lost = replace(stacked, parts=stacked.parts[:-1])
    assert "case_parts_whole_A" in failed(case_checks(lost))


def test_what_stands_free_has_pegs(stacked: Case) -> None:
    """The model's crown is a part without wall, on pegs whose holes meet above and below the cut."""
    assert len(stacked.crowns) == 1 and stacked.pegs == 2
    crown = next(part for part in stacked.parts if part.id in stacked.crowns)
    outline = stacked.poured.top_outline_mm
    assert np.ptp(lattice_mm(crown.solid.points)[:, :2], axis=0).max() < 0.9 * np.ptp(outline, axis=0).min()
    above = trimesh.load(BytesIO(stl_bytes(crown.solid)), file_type="stl")
    # Two blind holes in its underside leave one ring around each in a section close above the cut.
    section = above.section(plane_origin=[0.0, 0.0, crown.bed_mm + 1.0], plane_normal=UP)
    assert section is not None and len(section.entities) == 3


def test_bolts_of_a_level_flange_go_right_through(stacked: Case) -> None:
    """A level section of each flange is its outside, its inside, a ring around each bolt and the crown; under
    the lower one is a flat seat wider than a washer.
    """
    whole = trimesh.load(BytesIO(stl_bytes(stacked.whole)), file_type="stl")
    (level,), (bolts,) = stacked.levels_mm, stacked.level_bolts
    for height in (level + 4.0, level - 4.0):
        section = whole.section(plane_origin=[0.0, 0.0, height], plane_normal=UP)
        assert section is not None and len(section.entities) == 2 + bolts + len(stacked.crowns)
    seats = whole.section(plane_origin=[0.0, 0.0, level - 5.5], plane_normal=UP)
    around = [float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum()) for ring in seats.discrete]
    small = [length for length in around if length < 50.0]
    assert len(small) == bolts and min(small) > math.pi * 9.0


def test_joints_that_open_are_told(stacked: Case) -> None:
    """Bolts pulled harder than a print bears and flanges that bow apart too far do not pass."""
    joints = joints_of(stacked, 1550.0, 2.6e9, 3.0)
    assert [joint.level_mm for joint in joints if joint.level_mm is not None] == list(stacked.levels_mm)
    assert failed(joint_checks(stacked, joints, 477.0, 0.2)) == []
    assert failed(joint_checks(stacked, joints, 0.01, 0.2)) == ["case_bolts_hold_A"]
    assert failed(joint_checks(stacked, joints, 477.0, 1e-4)) == ["case_joints_tight_A"]
    assert joint_checks(stacked, [], 477.0, 0.2) == []


def test_a_wall_that_bows_too_far_is_told(stacked: Case) -> None:
    """The bow of the wall is checked against what is let pass, with the head and the wall in words."""
    wall = Wall(80.0, 1.2, 0.6, "p h⁴ / (30 E I)")
    held, told = wall_check(stacked, wall, 1.0), wall_check(stacked, wall, 0.5)
    assert held.ok and not told.ok and told.measured == 0.6
    assert "3.2 mm" in told.where and "80 mm" in told.how and "--wall" in told.remedy


def test_flakes_are_counted_above_a_level() -> None:
    """Of two caps that rise from the same side, each is a flake where a level leaves little of it."""
    x, y = np.meshgrid(np.arange(-60.0, 60.0), np.arange(-30.0, 30.0))
    rises = np.maximum(42.0 - np.hypot(x + 30.0, y) / 3.0, 60.0 - np.hypot(x - 30.0, y))
    assert [_flakes_above(rises, 1.0, 5.0)(level) for level in (61.0, 55.0, 40.0, 25.0)] == [0, 1, 1, 0]
    assert _flakes_above(rises, 1.0, 15.0)(25.0) == 1


def test_upper_walls_lift_off_and_cannot_slide(stacked: Case) -> None:
    """Parts above a level cut come off upwards from all below; sideways the ridge holds them."""
    level = stacked.levels_mm[-1]
    below = [part.solid for part in stacked.parts if part.bed_mm < level]
    upper = [part for part in stacked.parts if part.bed_mm == level and part.id not in stacked.crowns]
    for part in upper:
        assert lock_toward(part.solid, below, UP, slack_mm=0.01).pairs == 0
        away = math.copysign(1.0, float(lattice_mm(part.solid.points)[:, 0].mean()))
        assert lock_toward(part.solid, below, (away, 0.0, 0.0), slack_mm=0.01).pairs > 0


@pytest.mark.parametrize(
    ("tall", "printer", "levels"),
    [(90.0, 100.0, ()), (120.0, 100.0, (90.0,)), (180.0, 100.0, (98.0,)), (260.0, 100.0, (98.0, 196.0))],
)
def test_level_cuts_are_few_and_high(tall: float, printer: float, levels: tuple[float, ...]) -> None:
    """As few as the printer allows (a part of 100 with 2 mm of ridge is 98), each as high as it may."""
    asked = {"least_mm": 20.0, "upper_mm": 30.0, "tongue_mm": 2.0}
    assert cut_levels(tall, printer, **asked, flakes=lambda level: 0) == levels


def test_level_cuts_keep_clear_of_flakes() -> None:
    """A cut goes lower where one higher up would leave flakes, and is refused where none is high enough."""
    asked = {"least_mm": 20.0, "upper_mm": 30.0, "tongue_mm": 2.0}
    assert cut_levels(120.0, 100.0, **asked, flakes=lambda level: int(level > 66.25)) == (66.0,)
    assert cut_levels(120.0, 25.0, **asked, flakes=lambda level: 0) is None


def test_a_printed_piece_is_cut_by_height_too() -> None:
    """Cut level as it lies on its back, its parts fit and weigh what the piece does, less the peg holes."""
    one = poured(mold_of(double_cone()), "A")
    master = build_master(one, (140.0, 140.0, 38.0), 0.2)
    assert failed(part_checks(master.parts, (140.0, 140.0, 38.0), "A")) == []
    assert len({part.bed_mm for part in master.parts}) == 2 and master.dowels >= 2
    parts_mm3 = sum(part.solid.volume_mm3 for part in master.parts)
    most_mm3 = master.dowels * math.pi * 3.2**2 * 25.0
    assert 0.0 < one.solid.volume_mm3 - parts_mm3 < most_mm3


def test_a_case_too_tall_is_refused() -> None:
    """A printer that ends below the lowest wall has no place for a level cut, and is refused with sizes."""
    with pytest.raises(CannotError, match="no cut makes it fit"):
        build_case(poured(mold_of(double_cone()), "A"), shape((220.0, 220.0, 20.0)))


@pytest.mark.parametrize(("long_mm", "count"), [(40.0, 2), (20.0, 2), (12.0, 1)])
def test_a_small_crown_stands_on_two_pegs_where_they_fit(long_mm: float, count: int) -> None:
    """A crown of 20 x 10 mm has two pegs of 6 mm with plastic between them, so that it does not turn; on
    12 mm there is room for one.
    """
    upper, lower = box((0.0, 0.0, 0.0), (long_mm, 10.0, 30.0)), box((0.0, 0.0, -30.0), (long_mm, 10.0, 0.0))
    holes = peg_holes(upper, [lower], 0.0, 0.2)
    assert len(holes) == count
    middles = np.array([bounds_mm(hole).mean(axis=0)[:2] for hole in holes])
    assert (middles.min(axis=0) >= PEG_MM / 2.0 + 1.0).all()
    assert (middles.max(axis=0) <= np.array([long_mm, 10.0]) - PEG_MM / 2.0 - 1.0).all()
    if count == 2:
        assert float(np.linalg.norm(middles[0] - middles[1])) >= PEG_MM + 2.0
