"""A plan's document carries the bench with the working of every number, and `why` can explain each."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from claybed.actions.explaining import _origin, dotted, explained
from claybed.errors import InputError
from claybed.flow.document import plan_document
from claybed.flow.ledger import numbers_at
from claybed.flow.store import NoStore
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.plan_schema import plan_schema
from claybed.records.studio import BoardSet
from tests.flow.test_course import plan
from tests.pieces import solids

BOARDS = (BoardSet("long", 600.0, 260.0, 18.0, 4),)


@pytest.fixture(scope="module", params=["ball", "round_ball", "tumbler"])
def document(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Three plans: in boards that are owned, in a band, and in one piece."""
    solid, brief = {
        "ball": (
            solids.sphere(50.0, subdivisions=3),
            Brief(wall_mm=35.0, mass_g=400.0, shape="boxed", boards=BOARDS),
        ),
        "round_ball": (solids.sphere(30.0, subdivisions=3), Brief(shape="round")),
        "tumbler": (solids.tumbler(), Brief(use="press", porous=True, hollow_ml=100.0, mass_g=90.0)),
    }[request.param]
    found = plan(solid, brief, NoStore())  # type: ignore[arg-type]
    return plan_document(found, brief, ())


def test_every_number_has_its_working(document: dict[str, Any]) -> None:
    """Numbers and figures are one to one, and the whole can be written as JSON."""
    figures = document["figures"]
    bare = {key: value for key, value in document.items() if key != "figures"}
    assert set(numbers_at(bare)) == set(figures)
    json.dumps(document, allow_nan=False)
    for pointer, figure in figures.items():
        assert figure["formula"] and figure["source"], pointer


def test_the_schema_knows_the_bench(document: dict[str, Any]) -> None:
    """The document is valid, and a bench that lost a key is not."""
    validator = Draft202012Validator(plan_schema())
    assert [error.message for error in validator.iter_errors(document)] == []
    for place, key in (
        ("form", "coil_mm"),
        ("mixing", "buckets"),
        ("after", "scratch"),
        ("hold", "sealed_down_g"),
    ):
        broken = json.loads(json.dumps(document))
        del broken["pours"][0][place][key]
        assert not validator.is_valid(broken)


def test_the_rim_is_that_of_the_boards(document: dict[str, Any]) -> None:
    """The fill line below the rim is that of the boards which stand there, in form and flat key alike."""
    for pour in document["pours"]:
        form = pour["form"]
        rims = [board["height_mm"] for board in form["boards"]]
        rims += [form["band"]["height_mm"]] if form["band"] else []
        assert pour["fill_line"]["from_rim_mm"] == form["fill_from_rim_mm"]
        assert form["fill_from_rim_mm"] == pytest.approx(min(rims) - pour["fill_line_mm"])


def test_each_pour_has_its_own_form(document: dict[str, Any]) -> None:
    """The second pour stands on the first piece, is as high as the block, and needs higher boards for it."""
    if len(document["pours"]) == 1:
        assert document["pours"][0]["form"]["bed_level_mm"] == 0.0
        assert document["bed"] is None
        return
    first, second = (pour["form"] for pour in document["pours"])
    height_mm = document["mold"]["outer_mm"][-1]
    assert second["fill_from_board_mm"] == pytest.approx(height_mm)
    assert first["fill_from_board_mm"] < second["fill_from_board_mm"]
    assert first["depth_mm"] + second["depth_mm"] == pytest.approx(height_mm)
    assert first["bed_level_mm"] == pytest.approx(document["mold"]["bed_mm"])


def test_the_bed_of_a_ball_by_hand() -> None:
    """A ball of 100 mm: clay to its middle less half of it, less half the gate, keys pressed in."""
    brief = Brief(wall_mm=35.0, mass_g=400.0, shape="boxed", boards=BOARDS)
    document = plan_document(plan(solids.sphere(50.0, subdivisions=4), brief, NoStore()), brief, ())  # type: ignore[arg-type]
    bed = document["bed"]
    assert bed["height_mm"] == pytest.approx(58.0, abs=0.05)
    half_ball_ml = 2.0 / 3.0 * math.pi * 50.0**3 / 1000.0
    gate_ml = document["mold"]["gate"]["spare_ml"] / 2.0
    key = document["mold"]["keys"][0]
    radius, depth = key["diameter_mm"] / 2.0, key["depth_mm"]
    cap_ml = math.pi * depth / 6.0 * (3.0 * radius**2 + depth**2) / 1000.0
    by_hand_ml = 170.0**2 * 58.0 / 1000.0 - half_ball_ml - gate_ml - len(bed["keys"]) * cap_ml
    assert bed["clay_ml"] == pytest.approx(by_hand_ml, rel=3e-3)
    assert bed["clay_g"] == pytest.approx(1.9 * bed["clay_ml"])
    # What stands above the ball: its plan up to the line, less the half ball; the gate adds a little.
    over_g = 1.5504 * (math.pi * 50.0**2 * 85.0 / 1000.0 - half_ball_ml)
    assert over_g < document["pours"][0]["hold"]["sealed_down_g"] < 1.2 * over_g


def test_why_explains_every_figure(document: dict[str, Any]) -> None:
    """Every figure can be asked for by its name, and the names of all figures differ."""
    names = [dotted(document, pointer) for pointer in document["figures"]]
    assert len(set(names)) == len(names)
    for name, pointer in zip(names, document["figures"], strict=True):
        found = explained(document, name)
        assert found["pointer"] == pointer
        assert found["source"]["text"]
        assert len(found["inputs"]) == len(document["figures"][pointer]["inputs"])


def test_why_tells_where_inputs_come_from(document: dict[str, Any]) -> None:
    """The plaster of a pour: slurry is a figure, ratio a wish, densities are constants with a source."""
    found = explained(document, "pours.a.PLASTER_G")
    origin = {one["name"]: one["from"] for one in found["inputs"]}
    assert origin["slurry_ml"] == {"kind": "figure", "says": "pours.A.slurry_ml", "source": None}
    assert origin["consistency_per_100"]["kind"] == "wish"
    assert origin["hemihydrate_density_g_per_ml"]["source"]["key"] == "usg-table"
    assert found["source"]["text"].startswith("USG")
    assert found["common_rule"]["value"] == document["pours"][0]["common_rule"]["plaster_g"]
    assert explained(document, "mold.wall_mm")["common_rule"] is None


def test_why_tells_what_was_chosen_from_practice() -> None:
    """A value that nobody is behind says so, with its spread and what it is for; a share carries no unit."""
    says = _origin({}, "/x", "held_stretch_fraction", 0.01, {})["says"]
    assert says.startswith("chosen for this program, no source, 0.005 to 0.02. How far stiffening clay")
    usual = _origin({}, "/x", "bed_pad_mm", shelf.value("practice", "bed_pad_mm").value, {})["says"]
    assert usual.startswith("common practice, no source")
    assert " mm" in usual


def test_why_takes_pointers_endings_and_groups(document: dict[str, Any]) -> None:
    """A pointer, an ending that only one figure has, and a group of figures are understood."""
    by_pointer = explained(document, "/pours/0/water_g")
    assert by_pointer == explained(document, "pours.A.water_g")
    assert explained(document, "ready_d")["name"] == "timetable.ready_d"
    group = explained(document, "pours.A.form")["names"]
    assert "pours.A.form.coil_mm" in group and all(name.startswith("pours.A.form.") for name in group)
    assert len(explained(document, "")["names"]) == len(document["figures"])


def test_an_unknown_figure_names_those_near(document: dict[str, Any]) -> None:
    """A slip of the pen is answered with the figure that was meant."""
    for typed, meant in (("pours.A.plaster", "pours.A.plaster_g"), ("pours.A.form.coil", "coil_mm")):
        with pytest.raises(InputError) as refused:
            explained(document, typed)
        assert meant in refused.value.remedy


def test_a_broken_figure_is_refused(document: dict[str, Any]) -> None:
    """Figures that are missing or not whole are an error of the file, not of this program."""
    with pytest.raises(InputError, match="no figures"):
        explained({**document, "figures": None}, "mold.wall_mm")
    broken = {**document, "figures": {"/mold/wall_mm": {"unit": "mm"}}}
    with pytest.raises(InputError, match="not whole"):
        explained(broken, "mold.wall_mm")


def test_the_code_follows_the_plan() -> None:
    """Another wall is another plan, with another code to scratch in."""
    solid = solids.sphere(30.0, subdivisions=2)
    first = plan(solid, Brief(), NoStore())  # type: ignore[arg-type]
    again = plan(solid, Brief(), NoStore())  # type: ignore[arg-type]
    other = plan(solid, replace(Brief(), wall_mm=31.0), NoStore())  # type: ignore[arg-type]
    assert first.bench.code == again.bench.code != other.bench.code
