"""Ware on real plans: sizes as asked, figures for every number, and commands that read it back."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from claybed.actions.casting import CastWish, cast_document
from claybed.actions.drying import DryWish, dry_document
from claybed.actions.plan_folders import figure_of, read_ware_plan
from claybed.actions.pressing import PressWish, press_document
from claybed.actions.shrinking import ShrinkAsk, shrink_document
from claybed.actions.slip_weighing import SlipAsk, slip_document
from claybed.errors import CannotError, InputError
from claybed.flow.ledger import numbers_at
from claybed.records.brief import Brief
from claybed.records.plan_schema import PLAN_SCHEMA, plan_schema
from tests.actions.planned import Planned, make_plan, write_stl
from tests.pieces import solids


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    """A tumbler sized to hold 350 ml in stoneware."""
    folder = tmp_path_factory.mktemp("held")
    file = write_stl(solids.tumbler(), folder / "tumbler.stl")
    return make_plan(file, folder / "out", Brief(clay="stoneware", fired_capacity_ml=350.0))


def frustum_ml(scale: float, wall_mm: float) -> float:
    """Room inside a wall of the tumbler (30 to 40 mm over 100 mm, open above), in closed form."""
    slant = wall_mm / (100 / math.hypot(100, 10))
    low = 30 * scale + 0.1 * wall_mm - slant
    high = 40 * scale - slant
    return math.pi * (100 * scale - wall_mm) / 3 * (low**2 + low * high + high**2) / 1000


def test_the_capacity_comes_out_as_asked(held: Planned) -> None:
    """The scaled model holds 350 ml fired, by the grid and by the closed form of its own frustum."""
    fired = held.document["ware"]["fired"]
    assert fired["scaled"] is True
    assert fired["capacity_ml"] == pytest.approx(350.0, rel=0.005)
    scale = held.document["object"]["extent_mm"][2] / 100
    assert frustum_ml(scale, 4.0) * 0.88**3 == pytest.approx(350.0, rel=0.01)


def test_every_number_of_ware_has_its_working(held: Planned) -> None:
    """Each number under /ware has a figure, and ware keeps to its schema."""
    document = json.loads((held.folder / "plan.json").read_text("utf-8"))
    jsonschema.validate(document["ware"], plan_schema()["properties"]["ware"])
    figures = {at for at in document["figures"] if at.startswith("/ware")}
    assert figures == set(numbers_at(document["ware"], "/ware"))
    assert len(figures) > 60


def test_measures_are_those_of_the_solids(held: Planned) -> None:
    """Cavity and plaster of the tumbler in closed form."""
    measures = held.document["ware"]["measures"]
    scale = held.document["object"]["extent_mm"][2] / 100
    slant = math.hypot(100, 10)
    cavity = math.pi * (30**2 + (30 + 40) * slant) * scale**2 / 100
    assert measures["cavity_cm2"] == pytest.approx(cavity, rel=0.003)
    assert measures["plaster_ml"] == pytest.approx(sum(p["volume_ml"] for p in held.document["pieces"]))
    assert measures["seam_mm"] == 0.0
    assert 0.5 * measures["plaster_ml"] < measures["near_plaster_ml"] < measures["plaster_ml"]
    assert measures["open_cm2"] > measures["outside_cm2"]


def test_each_piece_dries_from_its_own_faces(planned: Planned) -> None:
    """What the pieces have adds up to the mold's; apart it dries sooner by as much as more is open."""
    ware = planned.document["ware"]
    measures = ware["measures"]
    assert [row["id"] for row in measures["pieces"]] == [row["id"] for row in planned.document["pieces"]]
    for key in ("outside_cm2", "open_cm2", "plaster_ml"):
        assert sum(row[key] for row in measures["pieces"]) == pytest.approx(measures[key], rel=1e-9)
    closed, apart = (ware[key]["states"][-1]["hours"] for key in ("drying", "drying_open"))
    assert apart / closed == pytest.approx(measures["outside_cm2"] / measures["open_cm2"], rel=1e-9)
    for row in measures["pieces"]:
        for opened, key in ((False, "outside_cm2"), (True, "open_cm2")):
            dried = dry_document(DryWish(plan=planned.folder, piece=row["id"], opened=opened))
            assert dried["area_cm2"] == pytest.approx(row[key], rel=1e-9)


def test_commands_read_the_plan(held: Planned) -> None:
    """Cast, press, dry, shrink and slip take the plan's figures, and what is typed instead of them."""
    ware: dict[str, Any] = held.document["ware"]
    cast = cast_document(CastWish(plan=held.folder, k_mm2_per_min=2.0))
    assert cast["minutes"] == pytest.approx(8.0)
    assert cast["casts_before_drying"] == pytest.approx(ware["cast"]["casts_before_drying"])
    assert cast["casts_per_week"] > 0
    assert cast["per_cast"]["clay_ml"] == pytest.approx(ware["measures"]["cavity_cm2"] * 0.4)
    assert cast["grip"] == ware["grip"]
    assert {at for at in cast["figures"] if at.startswith("/grip")} == set(numbers_at(cast["grip"], "/grip"))
    press = press_document(PressWish(plan=held.folder))
    assert press["slab_mm"] == 6.0
    assert "coil_mm" not in press
    dry = dry_document(DryWish(plan=held.folder))
    assert dry["wet_g"] == pytest.approx(1000 * held.document["pieces"][0]["wet_kg"])
    apart = dry_document(DryWish(plan=held.folder, opened=True))
    assert apart["states"][-1]["hours"] < dry["states"][-1]["hours"]
    shrunk = shrink_document(ShrinkAsk(plan=held.folder, body="porcelain"))
    assert shrunk["becomes"]["z"]["fired_mm"] < ware["fired"]["z_mm"]
    litres = slip_document(SlipAsk(plan=held.folder, casts=10))["batch"]["slip_l"]
    used = cast["per_cast"]["slip_ml"]
    assert litres == pytest.approx((ware["measures"]["cavity_ml"] + used * 11) * 1.1 / 1000)
    with pytest.raises(InputError, match="no piece Q"):
        dry_document(DryWish(plan=held.folder, piece="Q"))


def test_the_ware_page_says_what_the_plan_says(held: Planned) -> None:
    """A page of the sheet carries the cast, its later casts, the states, the fired size and the grip."""
    pdfplumber = pytest.importorskip("pdfplumber")
    with pdfplumber.open(held.folder / "sheets" / "bench-sheet.pdf") as sheet:
        pages = [" ".join((page.extract_text() or "").split()) for page in sheet.pages]
    text = next(page for page in pages if "A test pour first" in page)
    ware = held.document["ware"]
    assert "Fired in stoneware (12 % shrinkage)" in text
    assert f"holds {ware['fired']['capacity_ml']:.0f} ml" in text
    assert f"Slip to fill {ware['measures']['cavity_ml']:.0f} ml" in text
    assert "ready for slip" in text
    assert "Shrinks onto the plaster nowhere" in text
    assert ware["grip"]["held_mm"] == 0.0
    for row in ware["cast"]["rows"]:
        assert f"{row['number']:.0f} {row['minutes']:.0f} min {row['water_percent']:.0f} %" in text
    assert "safe" not in text.casefold()


def test_weighings_of_a_plan_lie_beside_it(held: Planned) -> None:
    """A plan's log is a file beside the folder, so that planning anew does not lose it."""
    dry_document(DryWish(plan=held.folder, weigh_g=1000 * held.document["pieces"][0]["wet_kg"], at_s=0.0))
    log = held.folder.parent / "out-mold.weighings.jsonl"
    assert len(log.read_text().splitlines()) == 1
    found = dry_document(DryWish(plan=held.folder))
    assert found["log"]["weighings"] == 1.0


def test_a_pressed_piece_holds_what_was_asked_behind_its_slab(tmp_path: Path) -> None:
    """A capacity is reached behind the wall that the plan measures with: the slab, not a cast wall."""
    file = write_stl(solids.tumbler(), tmp_path / "t.stl")
    brief = Brief(clay="stoneware", fired_capacity_ml=350.0, use="press")
    document = make_plan(file, tmp_path / "pressed", brief).document
    fired, slab_mm = document["ware"]["fired"], document["ware"]["press"]["slab_mm"]
    assert slab_mm != Brief().ware_wall_mm
    assert fired["scaled"] is True
    assert fired["capacity_ml"] == pytest.approx(350.0, rel=0.005)
    scale = document["object"]["extent_mm"][2] / 100
    assert frustum_ml(scale, slab_mm) * 0.88**3 == pytest.approx(350.0, rel=0.01)


def test_a_height_and_a_found_object(tmp_path: Path) -> None:
    """A fired height scales the model by 1/(1 - S); a measured object keeps its size and says so."""
    file = write_stl(solids.tumbler(), tmp_path / "t.stl")
    tall = make_plan(file, tmp_path / "tall", Brief(clay="stoneware", fired_height_mm=120.0)).document
    assert tall["object"]["extent_mm"][2] == pytest.approx(120 / 0.88, rel=1e-6)
    assert "measured" not in tall["object"]["unit"]["says"]
    jsonschema.validate(tall, plan_schema())
    assert tall["ware"]["fired"]["height_mm"] == pytest.approx(120.0, rel=1e-6)
    found = make_plan(
        file,
        tmp_path / "found",
        Brief(clay="stoneware", fired_height_mm=120.0, height_mm=100.0, use="press"),
    ).document
    assert found["ware"]["fired"]["height_mm"] == pytest.approx(88.0, rel=1e-6)
    assert found["ware"]["fired"]["scaled"] is False
    assert "fired_size_missed" in [one["id"] for one in found["ware"]["findings"]]
    assert found["ware"]["cast"] is None
    assert found["ware"]["press"]["slab_mm"] == 6.0


@pytest.mark.parametrize(
    ("brief", "kind", "says"),
    [
        (Brief(fired_height_mm=120.0), InputError, "needs the clay"),
        (Brief(clay="stonewear", fired_height_mm=120.0), InputError, "stoneware"),
        (Brief(clay="stoneware", fired_height_mm=1.0, fired_capacity_ml=1.0), InputError, "together"),
        (Brief(clay="stoneware", fired_capacity_ml=1e9), CannotError, "no size of this shape"),
    ],
)
def test_wishes_that_cannot_be(brief: Brief, kind: type[Exception], says: str, tmp_path: Path) -> None:
    """No clay, an unknown one, two wishes, or a capacity beyond every size."""
    file = write_stl(solids.tumbler(), tmp_path / "t.stl")
    with pytest.raises(kind, match=says):
        make_plan(file, tmp_path / "out", brief)


def test_folders_that_are_no_plan(tmp_path: Path) -> None:
    """Nothing, nonsense, a list, and a plan from before ware: each refused with what to do."""
    with pytest.raises(InputError, match="is not a folder"):
        read_ware_plan(tmp_path / "none")
    for text, says in (
        ("{", "cannot be read as a plan"),
        ("[]", "is not a plan"),
        ('{"pieces": []}', "is not a plan of the kind"),
        (json.dumps({"schema": PLAN_SCHEMA, "pieces": []}), "before plans held"),
    ):
        (tmp_path / "plan.json").write_text(text)
        with pytest.raises(InputError, match=says):
            read_ware_plan(tmp_path)
    with pytest.raises(InputError, match="holds no /ware/cast/minutes"):
        figure_of({"ware": {}}, "/ware/cast/minutes")
