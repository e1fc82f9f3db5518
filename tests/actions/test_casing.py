"""Cases of real plan folders: files, figures with their working, the sheet, refusals."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import trimesh
from pypdf import PdfReader

from claybed.actions import casing, explaining
from claybed.errors import InputError
from claybed.flow.case_noticing import of_plan
from claybed.flow.ledger import numbers_at
from claybed.materials import shelf
from claybed.records.case_ask import CaseAsk
from claybed.sheets.case_sheet import sheet_values
from claybed.units import say_mass
from tests.actions.planned import Planned

BED = (120.0, 120.0, 64.0)


def made_of(planned: Planned, out: Path, ask: CaseAsk, units: str = "metric") -> dict[str, Any]:
    """The cases of a plan in a folder."""
    payload = {"plan": planned.folder, "out": out, "ask": ask, "units": units}
    return casing.run(payload, lambda step, part: None)


@pytest.fixture(scope="module")
def made(planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """Printed cases for a small printer."""
    out = tmp_path_factory.mktemp("cases")
    return made_of(planned, out, CaseAsk(printer_mm=BED, plastic="petg")), out


@pytest.fixture(scope="module")
def blocks(planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """Printed pieces of one piece and its case of cement."""
    out = tmp_path_factory.mktemp("blocks")
    letter = str(planned.document["pieces"][0]["id"])
    return made_of(planned, out, CaseAsk(generations=2, piece=letter, plastic="asa", slots="all"), "us"), out


def text_of(out: Path) -> str:
    """The words of a sheet, spaces evened."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(out / "cases.pdf").pages).split())


def test_every_piece_has_its_case(made: tuple[dict[str, Any], Path], planned: Planned) -> None:
    """Each piece of the plan has parts that are closed solids on disk and fit the bed, all checks holding."""
    document, out = made
    assert document["ready"] and all(check["ok"] for check in document["checks"])
    assert [case["piece"] for case in document["cases"]] == [p["id"] for p in planned.document["pieces"]]
    for case in document["cases"]:
        for part in case["parts"]:
            mesh = trimesh.load(BytesIO((out / part["file"]).read_bytes()), file_type="stl")
            assert mesh.is_watertight and mesh.body_count == 1
            assert mesh.volume == pytest.approx(1e3 * part["solid_ml"], rel=1e-6)
            assert max(mesh.extents[:2]) <= max(BED) - 4.0
            assert mesh.bounds[0][2] == 0.0 and mesh.bounds[1][2] <= BED[2]
            assert (out / part["file"]).with_suffix(".3mf").exists()


def test_a_low_printer_gets_level_cuts(made: tuple[dict[str, Any], Path]) -> None:
    """Cases taller than the printer are cut level; every joint tells liquid, bolts, pull and gap."""
    document, out = made
    tall = [case for case in document["cases"] if case["outer_mm"][2] > BED[2]]
    assert tall
    for case in tall:
        assert case["levels_mm"] and {p["stands_mm"] for p in case["parts"]} >= {0.0, *case["levels_mm"]}
        level = next(joint for joint in case["joints"] if joint["level"])
        assert level["head_mm"] == pytest.approx(case["fill_line_mm"] - level["level_mm"])
        assert case["bolt_newtons"] == max(joint["pull_newtons"] for joint in case["joints"])
        assert 0.0 < case["bolt_newtons"] < case["bolt_bears_newtons"]
        assert {f"case_bolts_hold_{case['piece']}", f"case_joints_tight_{case['piece']}"} <= {
            check["id"] for check in document["checks"]
        }
    text = text_of(out)
    for word in ("set the upper wall on its ridge", "stands", "mm up", "Joints open by"):
        assert word in text


def test_weights_follow_the_leaning_piece(made: tuple[dict[str, Any], Path], planned: Planned) -> None:
    """A leaning piece takes more than the plan's, with 5 % over, at the plan's own ratio."""
    for case, row in zip(made[0]["cases"], planned.document["pieces"], strict=True):
        pour = case["pour"]
        assert row["volume_ml"] < pour["space_ml"] < 1.15 * row["volume_ml"]
        assert pour["slurry_ml"] == pytest.approx(1.05 * pour["space_ml"])
        ratio = planned.document["made"]["brief"]["consistency"]
        assert 100.0 * pour["water_g"] / pour["plaster_g"] == pytest.approx(ratio)


def test_heat_is_that_of_the_plan(made: tuple[dict[str, Any], Path], planned: Planned) -> None:
    """The plan and the cases work the same heat out by two ways, in plaster thick enough to keep it."""
    for case, pour in zip(made[0]["cases"], planned.document["pours"], strict=True):
        if case["fill_line_mm"] > 60.0:
            assert case["peak_celsius"] == pytest.approx(pour["peak_celsius"], abs=0.05)


def test_every_number_has_its_working(
    made: tuple[dict[str, Any], Path], blocks: tuple[dict[str, Any], Path]
) -> None:
    """Each number has formula and source, and the file holds what was returned."""
    for document, out in (made, blocks):
        assert json.loads((out / "cases.json").read_text("utf-8")) == document
        bare = dict(document)
        figures = bare.pop("figures")
        assert set(numbers_at(bare)) == set(figures)


def test_a_figure_of_a_case_can_be_asked_for(made: tuple[dict[str, Any], Path]) -> None:
    """`claybed why` reads the cases as it reads a plan, by the piece's letter and the part's name."""
    document, out = made
    letter = document["cases"][0]["piece"]
    found = explaining.run({"path": out, "name": f"cases.{letter}.plastic_g"}, lambda step, part: None)
    assert found["value"] == document["cases"][0]["plastic_g"] and "density" in found["formula"]
    part = document["cases"][0]["parts"][0]
    found = explaining.run(
        {"path": out, "name": f"cases.{letter}.parts.{part['id']}.hours_h"}, lambda step, part: None
    )
    assert found["value"] == part["hours_h"]


def test_the_sheet_tells_how(made: tuple[dict[str, Any], Path], blocks: tuple[dict[str, Any], Path]) -> None:
    """Parts, bolts, weights and cautions are on the sheet; a printed piece is lain on its back."""
    text = text_of(made[1])
    for case in made[0]["cases"]:
        assert f"Case of piece {case['piece']}" in text
        assert all(part["id"] in text for part in case["parts"])
    for word in ("bolts M4", "strike it off level with the rim", "dust mask", "solvent", "local codes"):
        assert word in text
    assert "safe" not in text.casefold()
    text = text_of(blocks[1])
    for word in ("on its back", "Hard cement", "working molds a day", "Glue the parts", " lb "):
        assert word in text or (word == "Glue the parts" and not blocks[0]["cases"][0]["dowels_count"])
    for case in blocks[0]["cases"]:
        told = [one["where"] for one in blocks[0]["findings"] if one["id"] == "no_room_for_slots"]
        assert bool(case["slots"]) != (f"piece {case['piece']}" in told)
        assert not case["slots"] or ("They form the finger slots" in text and case["slot_wall_mm"] >= 20.0)


def test_a_printed_piece_makes_up_for_cement(blocks: tuple[dict[str, Any], Path]) -> None:
    """The print is smaller by what cement grows, and the working mold comes out at the plan's size."""
    document, out = blocks
    case = document["cases"][0]
    assert case["scale_ratio"] == pytest.approx(1.0 / 1.0005)
    assert [step["what"] for step in document["generations"]] == ["printed piece", "case", "working mold"]
    assert document["generations"][-1]["size_ratio"] == pytest.approx(1.0)
    mesh = trimesh.load(BytesIO((out / case["cement_case"]["file"]).read_bytes()), file_type="stl")
    assert mesh.is_watertight and mesh.volume == pytest.approx(
        1e3 * case["cement_case"]["space_ml"], rel=1e-6
    )


@pytest.mark.parametrize(
    ("ask", "where"),
    [
        (CaseAsk(printer_mm=(20.0, 200.0, 200.0)), "--printer"),
        (CaseAsk(wall_mm=0.4), "--wall"),
        (CaseAsk(draft_deg=45.0), "--draft"),
        (CaseAsk(clearance_mm=4.0), "--clearance"),
        (CaseAsk(generations=4), "--generations"),
        (CaseAsk(slots="some"), "--slots"),
        (CaseAsk(plastic="nylon"), "--plastic"),
        (CaseAsk(piece="Q"), "--piece"),
    ],
)
def test_what_no_one_prints_is_refused(planned: Planned, tmp_path: Path, ask: CaseAsk, where: str) -> None:
    """An ask out of range names its option, and nothing is written."""
    with pytest.raises(InputError) as refused:
        made_of(planned, tmp_path, ask)
    assert refused.value.where == where and refused.value.remedy
    assert list(tmp_path.iterdir()) == []


def test_cases_of_a_plan_that_must_not_be_poured_say_so(planned: Planned) -> None:
    """What fails in the plan stops its cases too, by the check's name; a ready plan stops nothing."""
    plan = planned.document | {"checks": [dict(row) for row in planned.document["checks"]]}
    assert of_plan(plan) == []
    next(row for row in plan["checks"] if row["id"] == "release_A")["ok"] = False
    (stop,) = of_plan(plan | {"ready": False})
    assert stop.severity == "stop" and "Pieces leave along their pulls" in stop.says


def steps_of(document: dict[str, Any], **over: object) -> str:
    """What the sheet says to do with the first case of a document, `over` in place of its own values."""
    first = {**document["cases"][0], **over}
    told = sheet_values({**document, "cases": [first]}, us=False)["cases"][0]
    return " ".join([*told["print_steps"], *told["pour_steps"]])


def test_only_what_was_screwed_is_unscrewed(made: tuple[dict[str, Any], Path]) -> None:
    """A core that is stuck with wax has no screw to take out; what the plaster takes along is drawn later."""
    cores = [{"id": "A-core1", "screwed": False}, {"id": "A-core2", "screwed": True}]
    told = steps_of(made[0], cores=cores, loose_keys_count=0, slots=[])
    assert "stick A-core1 to the wall with wax" in told and "Take out the screws of A-core2." in told
    assert told.casefold().index("turn it over") < told.casefold().index("draw a-core1 and a-core2 out")
    waxed = steps_of(made[0], cores=cores[:1], loose_keys_count=0, slots=[])
    assert "screws of" not in waxed and "Draw A-core1 out" in waxed


def test_two_people_lift_what_is_heavy(made: tuple[dict[str, Any], Path]) -> None:
    """From the weight that practice looks at; a case of a kilogram or two is turned by one."""
    for case in made[0]["cases"]:
        heavy = case["full_kg"] >= shelf.value("practice", "lift_look_kg").value
        assert case["two_people"] == heavy
    light = steps_of(made[0], two_people=False)
    assert "two people" not in light and "two people" in steps_of(made[0], two_people=True)
    heavy = any(case["two_people"] for case in made[0]["cases"])
    assert any("two people" in one for one in made[0]["cautions"]) == heavy


def test_a_block_piece_has_nothing_loose(blocks: tuple[dict[str, Any], Path]) -> None:
    """Sockets and slots come with the working molds: a case that a block piece is poured in has none."""
    key = {**blocks[0]["cases"][0]["parts"][0], "id": "A-key1"}
    parts = [*blocks[0]["cases"][0]["parts"], key]
    told = steps_of(
        blocks[0], kind="printed case", parts=parts, loose_keys_count=1, two_people=False, bolts_count=0,
        grips_count=0,
    )  # fmt: skip
    assert "for the finished case" in told and "Take out the screws" not in told


def test_what_is_said_of_several_cases_is_said_once(made: tuple[dict[str, Any], Path]) -> None:
    """No two findings share their words, and what lifts is one, with every piece and its weight."""
    said = [(one["id"], one["says"]) for one in made[0]["findings"]]
    assert len(set(said)) == len(said)
    lifts = [one["says"] for one in made[0]["findings"] if one["id"] == "case_floats"]
    floating = [case for case in made[0]["cases"] if case["hold_down_g"] > 0.0]
    assert len(lifts) == (1 if floating else 0)
    assert all(f"{case['piece']} with {say_mass(case['hold_down_g'])}" in lifts[0] for case in floating)
