"""The survey: the axis it chooses, what locks along it, and the one-piece option."""

from __future__ import annotations

import itertools
import sys

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from claybed.errors import CannotError, InputError
from claybed.flow.passed_over import open_block_findings
from claybed.flow.ways import options_of
from claybed.geometry.depth import DepthRaster
from claybed.geometry.mesh import Mesh
from claybed.records.brief import Brief
from claybed.records.measured import MouthReading
from claybed.records.surveyed import Survey
from claybed.survey import surveying
from claybed.survey.limits import LockLimits, shelf_limits
from claybed.survey.scoring import judge, tilt_allowed
from tests.pieces import solids
from tests.survey.objects import from_data, measured

LIMITS = LockLimits(ignore_mm=0.1, scrape_mm=0.5, clay_g_per_ml=1.5)
TURN = Rotation.from_euler("xyz", [31.0, -47.0, 12.0], degrees=True).as_matrix()


def survey(mesh: Mesh, brief: Brief | None = None, *, mouth: MouthReading | None = None) -> Survey:
    """Survey a mesh with numbers of this test, not the shelf's."""
    obj = measured(mesh, mouth=mouth)
    return surveying.survey(obj, brief or Brief(), progress=lambda phase, part: None, limits=LIMITS)


def off_deg(a: tuple[float, float, float], b: np.ndarray) -> float:
    """Angle between two axes, either way round."""
    return float(np.degrees(np.arccos(min(1.0, abs(float(np.dot(a, b)) / np.linalg.norm(b))))))


def test_cup_with_handle_leaves_across_its_handle() -> None:
    """A solid cup with a ring handle, turned anyhow, leaves across its handle with nothing to fill."""
    mesh = solids.cup_with_handle().moved(TURN, np.zeros(3), frame="object")
    got = survey(mesh, Brief(pieces=2))
    assert off_deg(got.chosen.axis, TURN[:, 1]) < 1.0
    assert got.chosen.castable
    assert got.chosen.fill_ml < 1e-3
    assert [o.kind for o in got.options] == ["two_piece"]
    assert got.chosen.undercut_area_cm2 < 0.05


def drilled_slab(depth_mm: float) -> Mesh:
    """A slab with a blind hole of 4 mm in the middle of each of its four upright sides."""
    slab = solids.to_manifold(solids.box(60.0, 50.0, 24.0))
    bit = solids.to_manifold(solids.cylinder(2.0, 2.0 * depth_mm, sides=96))
    for x, y in ((30.0, 0.0), (-30.0, 0.0)):
        slab = slab - bit.rotate((0, 90, 0)).translate((x, y, 0.0))
    for x, y in ((0.0, 25.0), (0.0, -25.0)):
        slab = slab - bit.rotate((90, 0, 0)).translate((x, y, 0.0))
    return solids.from_manifold(slab)


def test_an_open_block_takes_what_two_pieces_may_take() -> None:
    """Holes in four sides lock along every pull. Shallow ones are filled, and one open block does; the deep
    ones are passed over unasked, and told; asked for, they are told with what it takes: four cylinders.
    """
    shallow = survey(drilled_slab(3.0))
    assert [o.kind for o in shallow.options] == ["one_piece", "two_piece"]
    assert shallow.options[0].fill_ml == pytest.approx(4.0 * np.pi * 2.0**2 * 3.0 / 1000.0, rel=0.1)
    assert shallow.options[1].fill_ml > 0.05
    assert shallow.open_block is None
    deep = survey(drilled_slab(8.0))
    assert "one_piece" not in [o.kind for o in deep.options]
    filled_ml = 4.0 * np.pi * 2.0**2 * 8.0 / 1000.0
    assert deep.open_block is not None
    assert deep.open_block.fill_ml == pytest.approx(filled_ml, rel=0.1)
    obj = measured(drilled_slab(8.0))
    (told,) = open_block_findings(obj, deep, Brief())
    assert "--open block --max-fill 0.5ml" in told.remedy
    assert open_block_findings(obj, shallow, Brief()) == ()
    asked = survey(drilled_slab(8.0), Brief(pieces=1))
    assert asked.options[0].kind == "one_piece"
    with pytest.raises(CannotError, match=r"needs more than one piece, or 0.4 ml of oil clay in gaps up to"):
        options_of(obj, asked, Brief(pieces=1))
    allowed = Brief(pieces=1, max_fill_ml=0.5)
    (taken,) = options_of(obj, survey(drilled_slab(8.0), allowed), allowed)
    assert taken.kind == "one_piece"


def test_of_pulls_that_leave_alike_the_one_in_symmetry_is_taken() -> None:
    """A jug's body with its handle and a lip leaves along y and along pulls of chance a few degrees beside
    it; only along y is the seam flat.
    """
    profile_mm = np.array(
        [[0, 0], [34, 0], [36, 3], [48, 40], [50, 60], [44, 85], [34, 105], [36, 140], [0, 140]]
    )
    jug = solids.to_manifold(solids.revolved(profile_mm.astype(float)))
    ring = solids.to_manifold(solids.torus(24.0, 6.5, around=64, sides=24)).rotate((90, 0, 0))
    jug = jug + ring.translate((-54, 0, 88))
    got = survey(solids.from_manifold(jug), Brief(pieces=2))
    assert off_deg(got.chosen.axis, np.array([0.0, 1.0, 0.0])) < 0.01
    assert len(got.candidates) > 1  # others leave as well, and lost


def test_torus_lies_flat() -> None:
    """A ring leaves along its axis, in two pieces, certified free of any gap."""
    got = survey(solids.torus(40.0, 10.0))
    assert off_deg(got.chosen.axis, np.array([0.0, 0.0, 1.0])) < 0.5
    assert got.chosen.fill_ml == 0.0
    assert got.exact_gap is False
    assert got.options[0].kind == "two_piece"
    assert "nothing locks" in got.options[0].says


def test_knot_needs_fill_and_says_how_much() -> None:
    """A knotted tube has fill along its best axis, in places of class fill, with their volumes and grams."""
    got = survey(solids.trefoil_tube())
    assert not got.chosen.castable
    assert got.exact_gap is True
    assert got.chosen.places == 3
    assert got.chosen.fill_ml == pytest.approx(sum(p.volume_ml for p in got.places))
    assert got.chosen.fill_g == pytest.approx(1.5 * got.chosen.fill_ml)
    assert got.chosen.tilt_deg == 0.0
    assert all(a.volume_ml >= b.volume_ml for a, b in itertools.pairwise(got.places))
    assert "3 places" in got.options[0].says
    assert got.chosen.fill_ml == pytest.approx(min(c.fill_ml for c in got.candidates), rel=0.02)


def test_blind_holes_across_the_pull_are_filled() -> None:
    """Of three holes along x, y and z two lie across any pull along one of them; the fill is those two."""
    mesh = solids.cube_with_blind_holes(hole_mm=8.0, deep_mm=15.0)
    got = survey(mesh, Brief(axis=(0.0, 0.0, 2.0)))
    assert got.chosen.axis == (0.0, 0.0, 1.0)
    assert got.chosen.why == "asked"
    assert got.chosen.fill_ml == pytest.approx(2.0 * np.pi * 0.8**2 * 1.5, rel=0.01)
    assert got.chosen.deepest_mm == pytest.approx(15.0, abs=0.3)
    assert {p.lock_class for p in got.places} == {"fill"}
    assert np.array(sorted(p.at_mm for p in got.places)) == pytest.approx(
        np.array([[0.0, 22.5, 0.0], [22.5, 0.0, 0.0]]), abs=0.5
    )


def test_asked_axis_is_kept_even_when_it_locks() -> None:
    """An asked axis is the pull, sign and all, though another locks nothing."""
    got = survey(solids.torus(40.0, 10.0), Brief(axis=(-1.0, 0.0, 0.0)))
    assert got.chosen.axis == (-1.0, 0.0, 0.0)
    assert got.options[0].pull == (-1.0, 0.0, 0.0)
    assert got.chosen.fill_ml > 10.0


def test_tumbler_leaves_one_block_through_its_top() -> None:
    """A drafted tumbler leaves a single block upwards; asking for two pieces gives two."""
    got = survey(solids.tumbler())
    assert [o.kind for o in got.options] == ["one_piece", "two_piece"]
    assert got.options[0].pull == (0.0, 0.0, 1.0)
    assert got.chosen.axis == (0.0, 0.0, 1.0)
    # 10 mm over 100 mm is 5.7 degrees of draft: 5 degrees of tilt clear, 7 do not
    assert got.chosen.tilt_deg == 7.0
    pair = survey(solids.tumbler(), Brief(pieces=2))
    assert [o.kind for o in pair.options] == ["two_piece"]


def test_tumbler_upside_down_still_leaves_through_its_wide_end() -> None:
    """Turned over, the open face is the wide end below: the pull points down."""
    flip = np.diag([1.0, -1.0, -1.0])
    got = survey(solids.tumbler().moved(flip, np.zeros(3), frame="object"))
    assert got.options[0].kind == "one_piece"
    assert got.options[0].pull == pytest.approx((0.0, 0.0, -1.0))


@pytest.mark.parametrize("name", ["torus", "sphere", "barrel", "rounded"])
def test_no_single_block_without_an_open_face(name: str) -> None:
    """Round solids, a barrel, and a tumbler whose rim is eased by a millimetre have no open face."""
    turn = np.linspace(-0.9, 0.9, 31)
    bulge = np.vstack([[[0.0, -27.0]], np.stack([30.0 * np.cos(turn), 30.0 * turn], 1), [[0.0, 27.0]]])
    eased = [[0, 0], [30, 0], [40, 99], [39, 100], [0, 100]]
    mesh = {
        "torus": lambda: solids.torus(40.0, 10.0),
        "sphere": lambda: solids.sphere(30.0),
        "barrel": lambda: solids.revolved(bulge),
        "rounded": lambda: solids.revolved(np.array(eased, dtype=np.float64)),
    }[name]()
    assert survey(mesh, Brief(pieces=1)).options[0].kind == "two_piece"


def test_open_face_with_a_groove_below_is_no_single_block() -> None:
    """A flat top does not help an object with a groove round its side."""
    outline = [[0, 0], [30, 0], [30, 20], [25, 20], [25, 30], [30, 30], [30, 60], [0, 60]]
    got = survey(solids.revolved(np.array(outline, dtype=np.float64)))
    assert got.options[0].kind == "two_piece"


def test_mouth_prefers_a_level_pull() -> None:
    """A closed vessel that leaves both upright and sideways is pulled sideways: the seam meets the mouth."""
    mesh = solids.tumbler(foot_mm=40.0, rim_mm=40.0, height_mm=60.0)
    ring = 40.0 * np.stack([np.cos(np.arange(24) / 12 * np.pi), np.sin(np.arange(24) / 12 * np.pi)], axis=1)
    rim = tuple((float(x), float(y), 60.0) for x, y in ring)
    mouth = MouthReading(rim, (0.0, 0.0, 1.0), 60.0, 300.0, 300.0)
    got = survey(mesh, Brief(pieces=2), mouth=mouth)
    assert abs(got.chosen.axis[2]) < 0.02
    assert got.chosen.fill_ml == 0.0


def test_a_mouth_tells_which_way_the_foot_is() -> None:
    """A vessel whose mouth was found along y, though nobody said that y is up, gets its third piece at its
    foot, as when it was said.
    """
    ring = 40.0 * np.stack([np.cos(np.arange(24) / 12 * np.pi), np.sin(np.arange(24) / 12 * np.pi)], axis=1)
    rim = tuple((float(x), 60.0, float(z)) for x, z in ring)
    mouth = MouthReading(rim, (0.0, 1.0, 0.0), 60.0, 300.0, 300.0)
    upright = solids.tumbler(foot_mm=30.0, rim_mm=40.0, height_mm=60.0)
    lying = upright.moved(np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]), np.zeros(3), frame="object")
    told = survey(lying, Brief(pieces=3, up=(0.0, 1.0, 0.0)), mouth=mouth).options
    found = survey(lying, Brief(pieces=3), mouth=mouth).options
    assert [option.sides for option in found] == [option.sides for option in told]
    assert any(option.sides == ((0.0, -1.0, 0.0),) for option in found)


def test_draft_bands_cover_the_surface() -> None:
    """The draft bands add up to the object's area, and a straight wall stands in the first."""
    mesh = solids.cylinder(30.0, 80.0)
    got = survey(mesh, Brief(axis=(0.0, 0.0, 1.0)))
    assert sum(b.area_cm2 for b in got.draft) == pytest.approx(mesh.area_mm2 / 100.0)
    assert (got.draft[0].from_deg, got.draft[0].to_deg) == (0.0, 0.0)
    assert got.draft[0].area_cm2 == pytest.approx(2.0 * np.pi * 3.0 * 8.0, rel=2e-3)
    assert [(b.from_deg, b.to_deg) for b in got.draft[1:]] == [(0, 1), (1, 2), (2, 5), (5, 15), (15, 90)]


def test_shallow_lock_is_castable_but_told() -> None:
    """A lip of 0.3 mm is to be scraped: the axis counts as castable and the sentence says so."""
    outline = [[0, 0], [30, 0], [30, 10], [29.7, 10], [29.7, 20], [30, 20], [30, 30], [0, 30]]
    mesh = solids.revolved(np.array(outline), sides=256)
    got = survey(mesh, Brief(axis=(0.0, 0.0, 1.0)))
    assert got.chosen.castable
    assert {p.lock_class for p in got.places} == {"scrape"}
    assert got.chosen.deepest_mm == pytest.approx(0.3, abs=0.03)
    assert "scrape" in got.options[0].says
    assert got.exact_gap is True


@pytest.mark.parametrize("depth_mm", [0.2, 4.0])
def test_a_lock_that_was_measured_is_not_measured_again(depth_mm: float) -> None:
    """The tilt that an axis allows is the same whether its own lock is handed on or looked for anew."""
    groove = np.array(
        [[0, 0], [30, 0], [30, 10], [30 - depth_mm, 10], [30 - depth_mm, 20], [30, 20], [30, 30]]
    )
    mesh = solids.revolved(np.concatenate([groove, [[0.0, 30.0]]]), sides=64)
    raster, limits = DepthRaster(mesh, 128), shelf_limits()
    upright = judge(raster, (0.0, 0.0, 1.0), "asked", limits, windows=16).score
    allowed = [
        tilt_allowed(raster, (0.0, 0.0, 1.0), limits, upright=known) for known in (None, not upright.castable)
    ]
    assert allowed[0] == allowed[1]
    assert (allowed[0] == 0.0) is (depth_mm > limits.scrape_mm)


def test_a_hair_of_space_shut_in_does_not_count_as_deep() -> None:
    """A tile with a void of 0.8 mm3 in its body, as merged shapes leave them, leaves a single block straight
    up, as it does without: the void holds no plaster, though its way out would be 30 mm.
    """
    limits = shelf_limits()
    void = solids.box(2.0, 2.0, 0.2).moved(np.eye(3), np.array([0.0, 0.0, 2.0]), frame="object")
    whole = solids.frustum(40.0, 35.0, 10.0)
    faces = np.concatenate([whole.faces, void.faces[:, ::-1] + len(whole.vertices_mm)])
    mesh = Mesh.make(np.concatenate([whole.vertices_mm, void.vertices_mm]), faces, frame="object")
    raster = DepthRaster(mesh, 512)
    got = judge(raster, (0.0, 0.0, -1.0), "asked", limits, windows=4)
    assert max(place.depth_mm for place in got.places) > 30.0
    assert got.score.castable
    assert got.score.deepest_mm == limits.scrape_mm
    tilts = [
        tilt_allowed(DepthRaster(each, 512), (0.0, 0.0, -1.0), limits, upright=False)
        for each in (mesh, whole)
    ]
    assert tilts[0] == tilts[1] > 0.0


def test_survey_is_the_same_twice_and_tells_its_progress() -> None:
    """Two surveys of one object are equal, and progress climbs from 0 to 1."""
    told: list[float] = []
    obj = measured(solids.crescent())
    first = surveying.survey(obj, Brief(), progress=lambda phase, part: told.append(part), limits=LIMITS)
    second = surveying.survey(obj, Brief(), progress=lambda phase, part: None, limits=LIMITS)
    assert first == second
    assert told == sorted(told)
    assert told[0] == 0.0
    assert told[-1] == 1.0


def test_whole_mesh_is_scored_sparingly(monkeypatch: pytest.MonkeyPatch) -> None:
    """A mesh too heavy to rank on is scored in full at most 120 times."""
    made: list[surveying.Scorer] = []

    class Kept(surveying.Scorer):
        def __init__(self, mesh: Mesh, lines: int) -> None:
            super().__init__(mesh, lines)
            made.append(self)

    monkeypatch.setattr(surveying, "Scorer", Kept)
    got = survey(solids.lumpy_sphere(60_000))
    assert got.chosen.fill_ml < 0.05
    whole = made[0]
    assert 0 < whole.count <= 120


def test_zero_directions_are_refused() -> None:
    """An axis or an up direction without length is bad input, told in one line."""
    for brief in (
        Brief(axis=(0.0, 0.0, 0.0)),
        Brief(up=(0.0, 0.0, 0.0)),
        Brief(axis=(float("nan"), 0.0, 1.0)),
    ):
        with pytest.raises(InputError) as told:
            survey(solids.box(10.0, 10.0, 10.0), brief)
        assert "\n" not in str(told.value)
        assert told.value.remedy


def test_limits_come_from_the_shelf() -> None:
    """The shelf's limits class a depth on either side of each bound."""
    limits = shelf_limits()
    assert 0.0 < limits.ignore_mm < limits.scrape_mm
    assert limits.lock_class(0.5 * limits.ignore_mm, 100.0) == "ignore"
    assert limits.lock_class(0.5 * (limits.ignore_mm + limits.scrape_mm), 100.0) == "scrape"
    assert limits.lock_class(1.01 * limits.scrape_mm, 100.0) == "fill"
    assert limits.lock_class(1.01 * limits.scrape_mm, 0.5 * limits.crumb_mm3) == "scrape"


@pytest.mark.parametrize(
    ("file", "longest_mm", "ceiling_mm3"),
    [
        ("meshes/sh3d_rock2.obj", 150.0, 0.005),
        ("cad/oval_dish.stl", None, 0.005),
        ("meshes/od_hand_closed.obj", 180.0, 0.3),
        ("meshes/ph_tea_set_01_saucer_circular_03.ply", 149.0, 0.5),
        ("meshes/npm_bunny.obj", 155.0, 266.0),
    ],
)
def test_fill_ceilings(
    file: str, longest_mm: float | None, ceiling_mm3: float, capsys: pytest.CaptureFixture[str]
) -> None:
    """Known objects need no more fill along the chosen axis than was found possible."""
    mesh = from_data(file, longest_mm=longest_mm)
    if mesh is None:
        with capsys.disabled():
            sys.stdout.write(f"\nskipped: {file} is not under CLAYBED_DATA\n")
        pytest.skip(f"{file} is not under CLAYBED_DATA")
    got = survey(mesh, Brief(pieces=2))
    assert got.chosen.fill_ml * 1e3 <= ceiling_mm3
