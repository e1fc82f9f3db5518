"""A cast map of a real plan folder: files that other programs read, figures that add up, refusals."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from claybed.actions import mapping_casts
from claybed.errors import CannotError, InputError
from claybed.flow.ledger import numbers_at
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.records.soaked import MapAsk
from tests.actions.planned import Planned


@pytest.fixture(scope="module")
def mapped(planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """Two casts of a plan on coarse cells."""
    out = tmp_path_factory.mktemp("map")
    before = {path: path.read_bytes() for path in planned.folder.rglob("*") if path.is_file()}
    ask = MapAsk(casts=2, wall_mm=4.0, cell_mm=3.0, release_min=150.0, rest_min=600.0, air="fan", opened=True)
    document = mapping_casts.run({"plan": planned.folder, "out": out, "ask": ask}, lambda step, part: None)
    assert before == {path: path.read_bytes() for path in planned.folder.rglob("*") if path.is_file()}
    return document, out


def test_walls_are_near_what_the_law_says(mapped: tuple[dict[str, Any], Path]) -> None:
    """A first cast for 16 minutes at k 1 is 4 mm within curvature at the median, a second thinner."""
    first, second = mapped[0]["casts"]
    assert first["median_mm"] == pytest.approx(4.0, abs=0.3)
    assert second["median_mm"] < first["median_mm"]
    for cast in (first, second):
        assert cast["least_mm"] <= cast["thin_mm"] <= cast["median_mm"] <= cast["thick_mm"] <= cast["most_mm"]
        assert cast["taken_ml"] == pytest.approx(cast["given_ml"] + cast["released_ml"], rel=1e-6)
        sent_ml = cast["cake_ml"] * mapped[0]["asked"]["water_per_cake_ratio"]
        assert cast["given_ml"] == pytest.approx(sent_ml, rel=1e-6)


def test_a_rest_dries_the_faces_that_the_pieces_have(
    mapped: tuple[dict[str, Any], Path], planned: Planned
) -> None:
    """Apart, the mold dries from the faces that the plan measured, before the second cast alone."""
    rest, casts = mapped[0]["rest"], mapped[0]["casts"]
    measured = json.loads((planned.folder / "plan.json").read_text("utf-8"))["ware"]["measures"]
    assert rest["open_cm2"] == pytest.approx(measured["open_cm2"], rel=0.03)
    most_ml = rest["open_cm2"] / 1e4 * rest["rate_g_per_m2_h"] * 10.0
    assert casts[0]["dried_ml"] == 0.0 < casts[1]["dried_ml"] < min(most_ml, casts[0]["taken_ml"])


def test_times_that_were_typed_are_said_to_be(mapped: tuple[dict[str, Any], Path]) -> None:
    """A release that was typed names the one who typed it, and not the shelf; a time from a rate shows it."""
    figures = mapped[0]["figures"]
    assert figures["/asked/release_min"]["source"] == "asked"
    assert figures["/asked/minutes_min"]["inputs"] == {"wall_mm": 4.0, "rate_mm2_per_min": 1.0}
    assert figures["/asked/slip_ratio"]["source"] == "hansen"


def test_every_number_has_its_working(mapped: tuple[dict[str, Any], Path]) -> None:
    """Each number of the document has a figure with formula and source."""
    document = dict(mapped[0])
    figures = document.pop("figures")
    assert set(numbers_at(document)) == set(figures)
    assert all(figure["formula"] and figure["source"] for figure in figures.values())


def test_files_hold_what_the_document_says(mapped: tuple[dict[str, Any], Path]) -> None:
    """Every file named is there; the PLY's least wall over the ware is that of the document."""
    document, out = mapped
    assert all((out / name).stat().st_size > 0 for name in document["files"].values())
    assert json.loads((out / "cast-map.json").read_text("utf-8")) == document
    surface = trimesh.load(out / "wall.ply", process=False)
    rows = surface.metadata["_ply_raw"]["vertex"]["data"]
    ware = np.ravel(rows["ware"]) > 0.5
    walls = np.ravel(rows["wall_mm_1"])[ware]
    assert np.nanmin(walls) == pytest.approx(document["casts"][0]["least_mm"], rel=1e-5)
    place = np.array(document["casts"][0]["least_at_mm"])
    assert np.linalg.norm(surface.vertices - place, axis=1).min() < 1e-3


def test_says_what_it_is_good_for(mapped: tuple[dict[str, Any], Path]) -> None:
    """The map says itself where its worth is, and what thicker plaster buys."""
    findings = {finding["id"]: finding for finding in mapped[0]["findings"]}
    assert "second cast to the sixth" in findings["cast_map_worth"]["says"]
    assert "thicker_plaster" in findings


def test_more_plaster_helps_a_soaked_mold(planned: Planned, tmp_path: Path) -> None:
    """Once water is through, 10 mm more plaster outside leaves no more of the wall without suction."""
    ask = MapAsk(casts=2, minutes_min=900.0, cell_mm=5.0, moisture_fraction=0.34, release_min=0.0)
    payload = {"plan": planned.folder, "out": tmp_path, "ask": ask}
    document = mapping_casts.run(payload, lambda step, part: None)
    assert document["reached_outside"]
    less, more = document["casts"][-1], document["thicker"][-1]
    assert more["cake_ml"] > 0.99 * less["cake_ml"]
    assert more["soaked_cm2"] <= less["soaked_cm2"] + 1e-6


@pytest.mark.parametrize(
    ("ask", "complaint"),
    [
        (MapAsk(casts=0), "--casts"),
        (MapAsk(minutes_min=-1.0), "--minutes"),
        (MapAsk(rate=Reckoned(0.0, Figure("mm2/min", "told", "asked"))), "--k"),
        (MapAsk(cell_mm=0.1), "--cell"),
        (MapAsk(thicker_mm=500.0), "--thicker"),
        (MapAsk(rest_min=1e9), "--rest"),
        (MapAsk(moisture_fraction=1.5), "--moisture"),
    ],
)
def test_what_cannot_be_cast_is_refused(tmp_path: Path, ask: MapAsk, complaint: str) -> None:
    """An ask out of range is refused with the option to change, before anything is read."""
    with pytest.raises(InputError, match=complaint):
        mapping_casts.run({"plan": tmp_path, "out": tmp_path, "ask": ask}, lambda step, part: None)


def test_soaked_plaster_is_refused(planned: Planned, tmp_path: Path) -> None:
    """Plaster that holds all it can casts nothing: dry it first."""
    with pytest.raises(CannotError, match="Dry the mold"):
        ask = MapAsk(moisture_fraction=0.6)
        mapping_casts.run({"plan": planned.folder, "out": tmp_path, "ask": ask}, lambda step, part: None)


def test_a_folder_without_a_plan_is_refused(tmp_path: Path) -> None:
    """A folder that holds no plan is named."""
    with pytest.raises(InputError, match="plan"):
        mapping_casts.run({"plan": tmp_path, "out": tmp_path, "ask": MapAsk()}, lambda step, part: None)
