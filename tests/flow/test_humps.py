"""Humps: the inside of an open vessel filled with plaster on a plinth, against closed forms."""

from __future__ import annotations

import json
import math
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from claybed.actions.asking import brief_from
from claybed.actions.casting import CastWish, cast_document
from claybed.actions.proving import run as prove_folder
from claybed.errors import CannotError, InputError
from claybed.flow.course import Surveyed, plan_all_benches, plan_all_pours, run_mold, run_survey
from claybed.flow.document import survey_document
from claybed.flow.store import NoStore
from claybed.geometry.mesh import Mesh
from claybed.geometry.seating import seated
from claybed.geometry.stl import read_stl
from claybed.intake.reading import read_object
from claybed.making.turning import turned
from claybed.patterns.lining import lining_of
from claybed.proof.plinth import plinth
from claybed.proof.reopening import reopened
from claybed.records.brief import Brief
from claybed.records.form import Form, Reading
from claybed.records.plan_schema import plan_schema
from tests.actions.planned import (
    Planned,
    checks_made,
    checks_on_page,
    make_plan,
    without_working,
    write_stl,
)

HUMP = Brief(unit="mm", pieces=1, use="press", hump=True, clay="stoneware")
SIDES = 64
BALL_MM, WALL_MM = 60.0, 6.0


def revolved(profile: list[tuple[float, float]]) -> Mesh:
    """A body turned about z from radius and height; the profile runs from the axis out, up, in and back."""
    turns = 2.0 * np.pi * np.arange(SIDES) / SIDES
    points: list[list[float]] = []
    rings = []
    for r, z in profile:
        count = 1 if r == 0.0 else SIDES
        rings.append([len(points) + k % count for k in range(SIDES)])
        points += [[r * math.cos(t), r * math.sin(t), z] for t in turns[:count]]
    faces = []
    for low, high in zip(rings, [*rings[1:], rings[0]], strict=True):
        for k in range(SIDES):
            a, b, c, d = low[k], low[(k + 1) % SIDES], high[(k + 1) % SIDES], high[k]
            faces += [f for f in ([a, b, c], [a, c, d]) if len(set(f)) == 3]
    return Mesh.make(np.array(points), np.array(faces), frame="object")


def half_ball() -> Mesh:
    """A bowl whose inside is half a ball, its foot at z = 0."""
    top = BALL_MM + WALL_MM
    steps = np.linspace(0.0, np.pi / 2.0, 17)
    outer = [(top * math.sin(t), top - top * math.cos(t)) for t in steps]
    inner = [(BALL_MM * math.sin(t), top - BALL_MM * math.cos(t)) for t in steps[::-1]]
    outer[0], inner[-1] = (0.0, outer[0][1]), (0.0, inner[-1][1])
    return revolved([*outer, *inner])


def facets_share() -> float:
    """By how much a polygon of as many sides is smaller than its circle."""
    return SIDES / (2.0 * np.pi) * math.sin(2.0 * np.pi / SIDES)


def surveyed(mesh: Mesh, folder: Path, brief: Brief = HUMP) -> Surveyed:
    """A solid's survey, through a file as any object comes."""
    file = write_stl(mesh, folder / "vessel.stl")
    return run_survey(
        lambda asked, told: read_object(file, asked, progress=told), brief, "", NoStore(), lambda *_: None
    )


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    """The plan of a hump in half a ball."""
    folder = tmp_path_factory.mktemp("hump")
    return make_plan(write_stl(half_ball(), folder / "bowl.stl"), folder / "bowl.claybed", HUMP)


def test_the_hump_holds_what_the_bowl_does(planned: Planned) -> None:
    """Plaster above the ledge is half a ball, 2/3 pi r³, and below it the plinth's plan times its height."""
    hump = planned.document["mold"]["hump"]
    ball_ml = 2.0 / 3.0 * np.pi * BALL_MM**3 / 1000.0
    assert hump["hollow_ml"] == pytest.approx(ball_ml * facets_share(), rel=4e-3)
    assert planned.document["object"]["volume_ml"] == pytest.approx(hump["hollow_ml"], rel=1e-5)
    (piece,) = planned.document["pieces"]
    assert piece["volume_ml"] == pytest.approx(hump["hollow_ml"] + hump["plinth_ml"], rel=1e-12)
    assert hump["hump_mm"] == pytest.approx(BALL_MM, abs=0.01)
    assert hump["ledge_from_board_mm"] == pytest.approx(BALL_MM + WALL_MM, abs=0.01)
    assert hump["plinth_mm"] >= planned.document["mold"]["wall_mm"]


def test_bed_and_bowl_fill_the_form_up_to_the_rim(planned: Planned) -> None:
    """Sand, clay, and the bowl with what it holds are the form's plan times the height of the rim."""
    hump = planned.document["mold"]["hump"]
    plan_mm2 = planned.document["pours"][0]["form"]["footprint_mm2"]
    bowl_ml = 2.0 / 3.0 * np.pi * (BALL_MM + WALL_MM) ** 3 / 1000.0 * facets_share()
    whole_ml = plan_mm2 * hump["ledge_from_board_mm"] / 1000.0
    assert hump["sand_ml"] + hump["clay_ml"] + bowl_ml == pytest.approx(whole_ml, rel=4e-3)


def test_a_slab_takes_the_clay_between_two_half_balls(planned: Planned) -> None:
    """Its clay is what lies between the hump and a half ball larger by the slab: more than face times "
    "slab."""
    press = planned.document["ware"]["press"]
    inputs = planned.document["figures"]["/ware/press/clay_g"]["inputs"]
    shell_mm3 = 2.0 / 3.0 * np.pi * ((BALL_MM + press["slab_mm"]) ** 3 - BALL_MM**3)
    assert inputs["area_cm2"] * press["slab_mm"] * 100.0 == pytest.approx(shell_mm3, rel=6e-3)


def test_fired_ware_holds_what_shrinkage_leaves(planned: Planned) -> None:
    """What the fired piece holds is the bowl's inside times what is left of a length, cubed."""
    ware = planned.document["ware"]
    left = 1.0 - ware["shrinkage"]["total_percent"] / 100.0
    held_ml = planned.document["object"]["volume_ml"] * left**3
    assert ware["fired"]["capacity_ml"] == pytest.approx(held_ml, rel=1e-3)
    assert ware["fired"]["height_mm"] == pytest.approx(BALL_MM * left, rel=1e-3)


def test_every_check_holds_also_from_the_files(planned: Planned) -> None:
    """The plan is ready, its files prove again, and a plinth cut too small on paper does not."""
    assert planned.document["ready"]
    assert checks_made(planned.document) == checks_on_page("open, hump")
    assert prove_folder({"path": planned.folder}, lambda *_: None)["ready"]
    solids = {
        name: read_stl((planned.folder / f"pieces/{name}.stl").read_bytes())[0] for name in ("A", "model")
    }
    wider = json.loads(json.dumps(planned.document))
    assert plinth(reopened(wider, solids)).ok
    wider["mold"]["wall_mm"] += 3.0
    narrow = plinth(reopened(wider, solids))
    assert not narrow.ok
    assert narrow.measured == pytest.approx(planned.document["mold"]["wall_mm"], abs=0.5)


def test_its_document_is_whole(planned: Planned) -> None:
    """The plan keeps to the schema, and each of its numbers has its working."""
    jsonschema.validate(planned.document, plan_schema())
    assert without_working(planned.document) == set()


def test_draping_is_told_of_and_by_when_it_ends(planned: Planned) -> None:
    """Ware closes round a hump: it is told by when it comes off, and the pour tells of sand and turning."""
    grip = planned.document["ware"]["grip"]
    told = {finding["id"]: finding for finding in planned.document["ware"]["findings"]}
    assert grip["within_minutes"] < planned.document["ware"]["press"]["wait_minutes"]
    assert "hump_holds" in told
    assert "wait_is_a_guess" not in told
    (pour,) = planned.document["pours"]
    assert any("lift the vessel straight up" in text for text in pour["after"]["steps"])
    assert any("sand" in text for text in planned.document["bed"]["steps"])
    assert pour["hold"]["seeping_up_g"] is None


def test_slabs_lie_half_their_thickness_outside_the_hump(planned: Planned) -> None:
    """The middle of a slab on half a ball is half a ball too, up to the ledge and no further."""
    solids = {
        name: read_stl((planned.folder / f"pieces/{name}.stl").read_bytes())[0] for name in ("A", "model")
    }
    ledge_mm = planned.document["mold"]["hump"]["ledge_from_board_mm"]
    ((points, _),) = lining_of(
        [solids["A"].mesh("block")], solids["model"].mesh("block"), 6.0, ledge_mm=ledge_mm
    )
    middle = np.array([0.0, 0.0, ledge_mm])
    assert np.linalg.norm(points - middle, axis=1) == pytest.approx(BALL_MM + 3.0, abs=0.6)
    assert points[:, 2].max() < ledge_mm + 0.1
    assert points[:, 2].min() < 4.5


def test_a_cone_has_the_draft_it_was_drawn_with(tmp_path: Path) -> None:
    """The sides of a cone that widens by 20 mm over 50 lean by 21.8 degrees, all of them in one band."""
    cone = revolved([(0, 0), (45, 0), (66, 56), (60, 56), (40, 6), (0, 6)])
    found = surveyed(cone, tmp_path)
    slant_cm2 = np.pi * (40.0 + 60.0) * math.hypot(20.0, 50.0) / 100.0
    bands = {band.from_deg: band.area_cm2 for band in found.survey.draft}
    assert bands[15.0] == pytest.approx(slant_cm2 + np.pi * 40.0**2 / 100.0, rel=4e-3)
    assert found.survey.chosen.fill_ml == 0.0
    assert not found.survey.exact_gap


def test_an_inside_that_narrows_to_its_mouth_is_refused(tmp_path: Path) -> None:
    """A belly of 60 mm under a mouth of 45 locks by the volume above the widest place, told with place."""
    belly = revolved([(0, 0), (45, 0), (66, 40), (50, 80), (45, 80), (60, 40), (40, 6), (0, 6)])
    found = surveyed(belly, tmp_path)
    # What no line down through the mouth reaches: two frustums less the cylinder of the mouth between.
    upper = np.pi * 40.0 / 3.0 * (60.0**2 + 60.0 * 45.0 + 45.0**2) - np.pi * 45.0**2 * 40.0
    fall_mm = 34.0 * 15.0 / 20.0
    lower = np.pi * fall_mm / 3.0 * (60.0**2 + 60.0 * 45.0 + 45.0**2) - np.pi * 45.0**2 * fall_mm
    assert found.survey.chosen.fill_ml == pytest.approx((upper + lower) / 1000.0, rel=0.01)
    assert found.survey.chosen.deepest_mm == pytest.approx(15.0, abs=0.5)
    refused = survey_document(found, HUMP)["refused"]
    assert "below the rim" in refused["says"]
    assert "--max-fill" in refused["remedy"]


def test_a_solid_without_a_hollow_is_refused_with_two_steps(tmp_path: Path) -> None:
    """A block of stone has nothing to fill: the way round by an open block is told."""
    stone = revolved([(0, 0), (40, 0), (30, 20), (0, 25)])
    with pytest.raises(CannotError, match="no hollow") as refused:
        surveyed(stone, tmp_path)
    assert "--open block" in str(refused.value.remedy)


def test_a_bowl_made_from_readings_leaves_as_a_hump(tmp_path: Path) -> None:
    """A form turned from caliper readings is filled like any vessel; an uneven rim is told by its rise."""
    read = turned(
        Form(
            outside=(Reading(0, 60, 60), Reading(30, 120, 120), Reading(50, 140, 140)),
            inside=(Reading(6, 40, 40), Reading(30, 108, 108), Reading(50, 128, 128)),
        ),
        "bowl",
    )
    found = surveyed(read.mesh, tmp_path)
    assert found.survey.chosen.castable
    assert found.obj.hollow is not None
    assert found.obj.hollow.height_mm == pytest.approx(50.0, abs=0.01)
    low, high = found.obj.mesh.bounds_mm[:, 2]
    assert (low, high) == pytest.approx((6.0, 50.0), abs=0.01)


def test_a_rim_that_dips_is_built_up_to_its_highest_place() -> None:
    """The seat stays closed under a rim that is out of level: strips of clay stand on its low places."""
    cup = revolved([(0, 10), (20, 10), (30, 40), (0, 40)])
    lid = np.isclose(cup.vertices_mm[cup.faces][:, :, 2], 40.0).all(axis=1)
    points = cup.vertices_mm.copy()
    rim = np.isclose(points[:, 2], 40.0) & (np.hypot(points[:, 0], points[:, 1]) > 1.0)
    points[rim, 2] -= np.where(points[rim, 0] > 0.0, 4.0, 0.0)
    filling = Mesh.make(points, cup.faces, frame="standing", origin=np.where(lid, 1, 0))
    square = np.array([[-50.0, -50.0], [50.0, -50.0], [50.0, 50.0], [-50.0, 50.0]])
    found = seated(filling, square, under_mm=10.0)
    assert found.rise_mm == pytest.approx(4.0)
    assert found.ledge_mm == pytest.approx(40.0)
    sides = np.sort(
        np.stack([found.mesh.faces, np.roll(found.mesh.faces, -1, axis=1)], axis=2).reshape(-1, 2)
    )
    assert (np.unique(sides, axis=0, return_counts=True)[1] == 2).all()
    with pytest.raises(ValueError, match="rim"):
        seated(Mesh.make(points, cup.faces, frame="standing"), square, under_mm=10.0)


def test_the_same_bowl_stands_face_down_in_its_block(tmp_path: Path) -> None:
    """A bowl on its rim pushes half a ball of 66 mm of slurry aside, 2/3 pi r³, and is packed with as much
    water clay as its inside holds, half a ball of 60 mm; that is dug out before the bowl is drawn.
    """
    brief = Brief(unit="mm", pieces=1, use="press", mouth=True)
    start = surveyed(half_ball(), tmp_path, brief)
    molded = run_mold(start, brief, "bowl", NoStore(), lambda *_: None)
    poured = plan_all_pours(start.obj, molded.assembly, brief)
    bench = plan_all_benches(start.obj, molded.assembly, poured, 0.0, brief, "face down")
    (pour,) = bench.pours
    hold = pour.hold
    assert hold.packing is not None and hold.displaced_g is not None
    inside_ml = 2.0 / 3.0 * math.pi * BALL_MM**3 / 1000.0 * facets_share()
    assert hold.packing.clay_g.number == pytest.approx(1.9 * inside_ml, rel=0.01)
    top_mm = BALL_MM + WALL_MM
    outside_ml = 2.0 / 3.0 * math.pi * top_mm**3 / 1000.0 * facets_share()
    assert hold.displaced_g.number == pytest.approx(1.5504 * outside_ml, rel=0.01)
    assert any("dig the clay out" in text for text in pour.after.steps)


def test_no_slip_is_cast_on_a_hump(planned: Planned) -> None:
    """There is no cavity: the refusal points to the slabs."""
    with pytest.raises(CannotError, match="draped over") as refused:
        cast_document(CastWish(plan=planned.folder))
    assert "claybed press" in refused.value.remedy


@pytest.mark.parametrize(("typed", "named"), [({"pieces": 2}, "--pieces"), ({"use": "slip"}, "--use")])
def test_what_an_open_mold_cannot_be_is_refused(typed: dict[str, object], named: str) -> None:
    """More pieces or slip contradict an open mold; a mouth is of the outside, and is left out of a hump."""
    with pytest.raises(InputError, match=named):
        brief_from({"open": "hump", **typed})
    asked = brief_from({"open": "hump", "mouth": True})
    assert (asked.hump, asked.mouth, asked.pieces, asked.use) == (True, False, 1, "press")
    block = brief_from({"open": "block", "mouth": True})
    assert (block.hump, block.mouth, block.pieces, block.use) == (False, True, 1, "press")
