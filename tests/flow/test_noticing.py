"""What a person is told: when, where, how much, and what to do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from claybed.flow import document
from claybed.flow.course import Course
from claybed.flow.document import plan_document
from claybed.flow.molding import Molded
from claybed.flow.noticing import lock_findings, object_place, plan_findings
from claybed.flow.passed_over import too_much_in_two
from claybed.geometry.slab import LatticeSolid
from claybed.pours.floating import judge_float
from claybed.records.assembly import Assembly, Gate
from claybed.records.bench import Bench, Release
from claybed.records.brief import Brief
from claybed.records.figure import Figure, Worked
from claybed.records.finding import Check, Finding
from claybed.records.gated import GatePlan
from claybed.records.measured import MouthReading
from claybed.records.poured import Poured
from claybed.records.surveyed import AxisScore, FillPlace, MoldOption, Survey
from claybed.records.timetable import Timetable
from claybed.records.tried import Tried
from tests.pieces import solids
from tests.survey.objects import measured

OBJ = measured(solids.box(50.0, 40.0, 30.0), name="brick")
SCORE = AxisScore((0.0, 0.0, 1.0), 0.0, 0.0, 0.0, 0, 0.0, True, 10.0, "asked")
OPTION = MoldOption("two_piece", SCORE.axis, 0.0, 0.0, "Leaves.")
BORE = GatePlan("bore", (0.0, 1.0, 0.0), 20.0, False, "a bore")
GATE = Gate("bore", 20.0, 7.07, 20.0, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
SOLID = LatticeSolid(np.eye(4, 3, dtype=np.int64) * 1024, np.zeros((0, 3), np.int32), np.zeros(0, np.uint8))


def surveyed(*places: FillPlace, tilt_deg: float = 10.0) -> Survey:
    """A survey with the patches given."""
    total_ml = sum(place.volume_ml for place in places)
    score = replace(SCORE, fill_ml=total_ml, fill_g=1.5 * total_ml, tilt_deg=tilt_deg)
    return Survey((OPTION,), score, places, (), (score,), bool(places), 0.2)


SIDES = ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
NO_WARE: Any = None  # findings of a plan do not look at its ware
ZERO = Worked(0.0, Figure("-", "none", "derived"))
BENCH = Bench((), None, Release((), (), ()), (), (), "", ())
TIMES = Timetable((), ZERO, ZERO, ZERO, "")


def course(
    found: Survey,
    *,
    gate: Gate = GATE,
    stance: str = "lies flat",
    wall_mm: float = 25.0,
    poured: Poured | None = None,
) -> Course:
    """A course as far as findings look at it."""
    assembly = Assembly(
        shape="boxed", outer_mm=(100.0, 90.0, 80.0), footprint=np.zeros((4, 2), np.int64), height=80 * 4096,
        wall_mm=wall_mm, wall_reason="usual", model=SOLID, pieces=(), contacts=(), keys=(), gate=gate,
        seam_loops=(), seam_length_mm=0.0, seam_flat=True, off_plane_mm=0.0, level_mm=40.0,
        to_block=np.eye(3), shift_mm=np.zeros(3), stance=stance, square_mm=8.0, hidden_faces=0,
    )  # fmt: skip
    molded = Molded(OPTION, assembly, BORE, 0.0, found)
    return Course(OBJ, found, molded, poured or Poured((), None, ()), (), BENCH, TIMES, NO_WARE, {})


def told(found: Course, brief: Brief | None = None) -> dict[str, Finding]:
    """The findings of a plan by their code."""
    return {finding.id: finding for finding in plan_findings(found, brief or Brief())}


def test_a_good_plan_says_nothing() -> None:
    """Nothing locked, a wide gate, a mold that lies still: no finding at all."""
    assert told(course(surveyed())) == {}


def test_locks_are_told_by_what_to_do() -> None:
    """Fill and scrape are one finding each, with sum and deepest place; the rest is silent."""
    places = (
        FillPlace(2.4, 3.0, "fill", (-24.0, 0.0, 14.0)),
        FillPlace(1.0, 4.0, "fill", (24.0, 19.0, -14.0)),
        FillPlace(0.5, 0.3, "scrape", (0.0, 0.0, 0.0)),
        FillPlace(9.0, 0.05, "ignore", (0.0, 0.0, 0.0)),
    )
    fill, scrape = lock_findings(OBJ, surveyed(*places), Brief())
    assert (fill.id, fill.severity, scrape.id, scrape.severity) == (
        "fill_with_oil_clay",
        "look",
        "scrape_undercut",
        "note",
    )
    assert fill.amount is not None
    assert fill.amount.value == pytest.approx(3.4)
    assert fill.says == "3.4 ml (5.1 g) of oil clay closes 2 gaps, up to 4.0 mm deep."
    assert fill.at_mm == places[1].at_mm
    assert fill.where == "near the foot, towards +x +y"
    assert scrape.amount is not None
    assert scrape.amount.value == 0.3
    assert lock_findings(OBJ, surveyed(places[3]), Brief()) == ()


def test_a_speck_that_is_deep_is_told_by_what_it_holds() -> None:
    """A smear is told as deep as it can be seen; where there are specks alone, by their volume."""
    film, speck = (
        FillPlace(0.2, 0.4, "scrape", (0.0, 0.0, 0.0)),
        FillPlace(0.02, 3.5, "scrape", (9.0, 0.0, 0.0)),
    )
    (told_of,) = lock_findings(OBJ, surveyed(film, speck), Brief())
    assert told_of.says == "It locks up to 0.4 mm deep in 2 places."
    assert told_of.at_mm == film.at_mm
    (alone,) = lock_findings(OBJ, surveyed(speck), Brief())
    assert alone.says == "It locks in one place, a speck of under 0.1 ml."


def test_why_two_pieces_were_not_enough_is_told() -> None:
    """Fill within the usual, in a gap deeper than the usual: the limit is named, and how to have two."""
    two = MoldOption("two_piece", SCORE.axis, 0.8, 5.1, "Leaves.")
    three = replace(OPTION, kind="several", sides=((1.0, 0.0, 0.0),))
    found = replace(surveyed(), options=(three, two))
    (why,) = too_much_in_two(OBJ, found, Brief(), three)
    assert why.says == (
        "Two pieces would leave 0.8 ml of oil clay to fill, in gaps up to 5.1 mm deep: at most 1.0 ml and "
        "5.0 mm are taken unasked. So this mold has three."
    )
    assert why.remedy == "For two ask for --pieces 2 --max-fill 0.9ml."
    assert too_much_in_two(OBJ, found, Brief(pieces=3), three) == ()
    assert too_much_in_two(OBJ, found, Brief(), two) == ()
    shallow = replace(found, options=(three, replace(two, deepest_mm=2.0)))
    assert too_much_in_two(OBJ, shallow, Brief(), three) == ()


@pytest.mark.parametrize(
    ("at_mm", "up", "words"),
    [
        ((0.0, 0.0, 15.0), (0.0, 0.0, 1.0), "near the top"),
        ((0.0, 0.0, 15.0), (0.0, 0.0, -2.0), "near the foot"),
        ((20.0, 0.0, 0.0), (0.0, 0.0, 1.0), "in the middle of its height, towards +x"),
        ((20.0, 0.0, -10.0), (1.0, 0.0, 0.0), "near the top, towards -z"),
    ],
)
def test_places_are_said_by_what_is_up(
    at_mm: tuple[float, float, float], up: tuple[float, float, float], words: str
) -> None:
    """Height is along what is up when the object stands, sides along the file's axes."""
    assert object_place(OBJ.mesh, at_mm, up) == words


def test_a_pose_that_matters_is_told() -> None:
    """A tilt within the tolerance asked for is told; a free one, and one that locks anyway, are not."""
    assert "pose_level" in told(course(surveyed(tilt_deg=0.5)))
    assert "pose_level" not in told(course(surveyed(tilt_deg=0.5)), Brief(pose_tolerance_deg=0.5))
    assert "pose_level" not in told(course(surveyed(tilt_deg=0.0)))
    assert "pose_level" not in told(course(surveyed(tilt_deg=10.0)), Brief(pose_tolerance_deg=45.0))


def test_a_gate_that_closes_is_told() -> None:
    """A gate closes when the wall reaches its limit; a face has none; no gate is told for slip alone."""
    assert "gate_closes" not in told(course(surveyed()), Brief(ware_wall_mm=7.0))
    assert "gate_closes" in told(course(surveyed()), Brief(ware_wall_mm=7.5))
    face = replace(GATE, kind="face", bore_mm=float("nan"), closes_at_wall_mm=float("inf"))
    assert told(course(surveyed(), gate=face), Brief(ware_wall_mm=50.0)) == {}
    none = replace(GATE, kind="none", closes_at_wall_mm=float("nan"))
    assert set(told(course(surveyed(), gate=none))) == {"gate_none"}
    assert told(course(surveyed(), gate=none), Brief(use="press")) == {}


def test_wall_stance_and_floating_are_told() -> None:
    """A wall grown for keys, a mold that rolls and an object that floats in slurry are each told once."""
    floating = judge_float(OBJ.solid_ml, 30.0, 77.0)
    sinking = judge_float(OBJ.solid_ml, 200.0, 77.0)
    found = course(surveyed(), stance="rolls: cradle", wall_mm=40.0, poured=Poured((), floating, ()))
    assert set(told(found)) == {"wall_for_keys", "stance_rolls", "object_floats"}
    assert told(found)["object_floats"].severity == "look"
    assert "wall_for_keys" not in told(found, Brief(wall_mm=40.0))
    assert "object_floats" not in told(course(surveyed(), poured=Poured((), sinking, ())))


def test_a_way_that_was_cut_and_left_is_told() -> None:
    """Where another way than the survey's first was taken, what did not hold of that one is told with the
    axis to type; of the way taken itself, cut anew, nothing is.
    """
    tongue = Check("tongue", False, 2.065, 3.0, "mm", "least", "piece B", "by hand")
    first = replace(OPTION, pull=(0.6, 0.8, 0.0))
    found = course(surveyed())
    weak = (Tried(first, False, 0.0, tongue), Tried(OPTION, False, 0.0, tongue))
    left = replace(found, molded=replace(found.molded, tried=(*weak, Tried(OPTION, True, 0.0))))
    (told_of,) = told(left).values()
    assert (
        told_of.id == "way_passed_over"
        and "0.6,0.8,0" in told_of.says
        and "--axis 0.6,0.8,0" in told_of.remedy
    )
    assert "2.06 mm, at least 3 mm" in told_of.says and "more" not in told_of.says
    again = (Tried(OPTION, False, 0.0, tongue), Tried(OPTION, True, 0.0))
    assert told(replace(found, molded=replace(found.molded, tried=again))) == {}
    # Where none holds the first is taken.
    assert told(replace(found, molded=replace(found.molded, tried=weak))) == {}


def test_fewer_pieces_that_were_cut_and_left_are_told() -> None:
    """Three pieces that left more than reckoned, and four whose plaster is weak, each with its own why."""
    tongue = Check("tongue", False, 2.065, 3.0, "mm", "least", "piece B", "by hand")
    three, four, five = (
        replace(OPTION, kind="several", sides=SIDES[:k], fill_ml=ml)
        for k, ml in ((1, 0.7), (2, 0.0), (3, 0.0))
    )
    tried = (
        Tried(three, False, 6.8, why="6.8 ml would have to be filled"),
        Tried(four, False, 0.0, tongue),
        Tried(five, False, 0.0),
    )
    found = course(surveyed())
    said = told(replace(found, molded=replace(found.molded, option=five, tried=tried)))
    assert said["fewer_were_cut"].says == (
        "Three pieces were reckoned to leave 0.7 ml to fill. They were cut and left: 6.8 ml would have to be "
        "filled. So this mold has five."
    )
    assert said["way_passed_over"].says.startswith("A way in four pieces, along ")


def test_a_vessel_that_was_not_weighed_floats_for_sure_where_its_wall_is_thin() -> None:
    """60 ml closed push 93 g of slurry aside at 1.55 g/ml: a wall of 24 ml weighs 65 g even without a pore
    (2.7 g/ml) and floats; one of 36 ml might sink, and one without a wall was drawn as a sheet.
    """

    def vessel(inside_ml: float) -> Course:
        mouth = MouthReading((), (0.0, 0.0, 1.0), 15.0, inside_ml, inside_ml)
        return replace(course(surveyed()), obj=replace(OBJ, mouth=mouth))

    found = told(vessel(36.0))["object_floats"]
    assert found.severity == "look" and found.amount is not None
    assert found.amount.value == pytest.approx(60.0 * 1.5504 - 24.0 * 2.7, abs=0.1)
    assert "93 g" in found.says and "--mass" in found.remedy
    assert "object_floats" not in told(vessel(24.0)) | told(vessel(59.5))


@pytest.mark.parametrize(
    ("ok", "severity", "ready"),
    [(True, "look", True), (False, "note", False), (True, "stop", False)],
)
def test_ready_needs_every_check_and_no_stop(
    ok: bool, severity: str, ready: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One failed check of a file, or one finding that says stop, and the plan is not ready."""
    # This mold has no pieces that could be posed.
    monkeypatch.setattr(document, "pose_of", lambda *asked: None)
    monkeypatch.setattr(document, "climb_findings", lambda *asked: ())
    monkeypatch.setattr(document, "write_pose", lambda part, pose: None)
    monkeypatch.setattr(document, "write_ware", lambda part, ware: None)
    finding = Finding("odd", severity, "the mix", "It is odd.")  # type: ignore[arg-type]
    check = Check("file_whole_A", ok, 0.0, 0.0, "faults", "most", "piece A", "read back")
    found = course(surveyed(), poured=Poured((), None, (finding,)))
    assert plan_document(found, Brief(), (check,))["ready"] == ready
