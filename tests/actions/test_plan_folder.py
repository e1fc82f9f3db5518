"""A plan from a file to its folder: what the document says, what the files hold, and that both agree."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from pathlib import Path

import jsonschema
import numpy as np
import pdfplumber
import pytest
import trimesh

from claybed import __version__
from claybed.flow.store import READS
from claybed.records.brief import Brief
from claybed.records.plan_schema import plan_schema
from tests.actions.planned import Planned, make_plan, without_working, write_stl
from tests.pieces import solids

STEPS = ["reading", "mending", "survey", "mold", "pours", "proof", "writing"]


def test_the_document_keeps_to_the_schema(planned: Planned) -> None:
    """A real plan is valid against the published schema, and its figures against theirs."""
    schema = plan_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(planned.document, schema)


def test_every_number_has_its_working(planned: Planned) -> None:
    """Each number of the document has a figure at its pointer, and each figure belongs to a number."""
    figures = planned.document["figures"]
    bare = {key: value for key, value in planned.document.items() if key != "figures"}
    assert without_working(planned.document) == set()
    for pointer, figure in figures.items():
        assert figure["formula"].strip() and figure["source"].strip() and figure["unit"].strip(), pointer
        low, high = figure["low"], figure["high"]
        assert (low is None) == (high is None), pointer
        if low is not None:
            assert low <= value_at(bare, pointer) <= high, pointer


def value_at(document: object, pointer: str) -> float:
    """The value at a JSON pointer."""
    for word in pointer.strip("/").split("/"):
        document = document[int(word)] if isinstance(document, list) else document[word]  # type: ignore[index]
    assert isinstance(document, int | float)
    return float(document)


def test_sources_are_known(planned: Planned) -> None:
    """Every source is a key of docs/sources.md or one of the words for what needs none."""
    text = (Path(__file__).resolve().parents[2] / "docs" / "sources.md").read_text("utf-8")
    words = {"measured", "asked", "geometry", "common practice, no source", "from memory"}
    for pointer, figure in planned.document["figures"].items():
        assert figure["source"] in words or f"`{figure['source']}`" in text, (pointer, figure["source"])


def test_plain_json_and_the_same_on_disk(planned: Planned) -> None:
    """What is returned is plain JSON without infinities, and plan.json holds exactly that."""
    text = json.dumps(planned.document, allow_nan=False)
    assert json.loads((planned.folder / "plan.json").read_text("utf-8")) == json.loads(text)


def test_ready_is_what_checks_and_findings_say(planned: Planned) -> None:
    """These plans are ready: every check holds, those on the files too, and nothing says stop."""
    checks = planned.document["checks"]
    assert planned.document["ready"]
    assert all(check["ok"] for check in checks), [check["id"] for check in checks if not check["ok"]]
    assert {f"file_release_{p['id']}" for p in planned.document["pieces"]} <= {c["id"] for c in checks}
    assert len({check["id"] for check in checks}) == len(checks)
    assert {finding["severity"] for finding in planned.document["findings"]} <= {"note", "look"}
    assert len(planned.document["findings"]) <= 3


def test_files_hold_what_the_document_says(planned: Planned) -> None:
    """STL and 3MF of every piece and the model, read by another library, are closed and as large as said."""
    entries = [*planned.document["pieces"], planned.document["model"]]
    for entry in entries:
        for key in ("file", "file_3mf"):
            mesh = trimesh.load(planned.folder / entry[key], force="mesh")
            assert mesh.is_watertight, entry[key]
            assert mesh.is_winding_consistent, entry[key]
            assert mesh.volume / 1000.0 == pytest.approx(entry["volume_ml"], rel=1e-6), entry[key]
        head = (planned.folder / entry["file"]).read_bytes()[:80]
        assert head.startswith(b"claybed, millimetres: ")


def test_pieces_and_model_make_up_the_block(planned: Planned) -> None:
    """The volumes of pieces and model add up to the block's, and its outside is what the mold entry says."""
    document = planned.document
    outer = document["mold"]["outer_mm"]
    whole_ml = sum(piece["volume_ml"] for piece in document["pieces"]) + document["model"]["volume_ml"]
    if document["mold"]["shape"] == "boxed":
        assert whole_ml == pytest.approx(math.prod(outer) / 1000.0, rel=1e-9)
    else:
        assert whole_ml == pytest.approx(math.pi / 4.0 * outer[0] ** 2 * outer[1] / 1000.0, rel=2e-3)
    meshes = [trimesh.load(planned.folder / piece["file"]) for piece in document["pieces"]]
    size = np.ptp(np.concatenate([mesh.vertices for mesh in meshes]), axis=0)
    sides = outer if len(outer) == 3 else [outer[0], outer[0], outer[1]]
    np.testing.assert_allclose(size, sides, rtol=1e-3)


def test_pours_follow_from_the_pieces(planned: Planned) -> None:
    """Each pour fills its piece, keeps mass, adds up over its buckets and weighs what the piece weighs."""
    document = planned.document
    asked = document["made"]["brief"]
    for piece, pour in zip(document["pieces"], document["pours"], strict=True):
        assert pour["piece"] == piece["id"]
        assert pour["space_ml"] == pytest.approx(piece["volume_ml"])
        assert pour["slurry_ml"] == pytest.approx(pour["space_ml"] * (1.0 + pour["waste"]))
        assert pour["water_g"] == pytest.approx(pour["plaster_g"] * asked["consistency"] / 100.0)
        poured_kg = (pour["water_g"] + pour["plaster_g"]) / 1000.0 / (1.0 + pour["waste"])
        assert piece["wet_kg"] == pytest.approx(poured_kg)
        for key in ("water_g", "plaster_g", "slurry_ml"):
            assert sum(batch[key] for batch in pour["batches"]) == pytest.approx(pour[key])
        assert max(batch["slurry_ml"] for batch in pour["batches"]) <= 1000.0 * asked["bucket_l"] * (1 + 1e-9)
        height_mm = document["mold"]["outer_mm"][-1]
        assert 0.0 < pour["fill_line_mm"] <= height_mm + 8.0


def test_pictures_sheet_and_view_are_written(planned: Planned) -> None:
    """The folder holds every picture, a bench sheet on the right paper, and a view that names the object."""
    names = {
        path.relative_to(planned.folder).as_posix() for path in planned.folder.rglob("*") if path.is_file()
    }
    assert names >= {
        "plan.json", "view.html", "sheets/bench-sheet.pdf",
        "pictures/seam.png", "pictures/exploded.png", "pictures/section.png", "pictures/form-A.png",
    }  # fmt: skip
    on_board, filled = planned.document["pose"]["on_board"], bool(planned.document["survey"]["fill_places"])
    # What lies in a bed is shown from both sides, its fill with it.
    assert {f"pictures/{side}.png" in names for side in ("left", "right")} == {not on_board}
    assert ("pictures/fill.png" in names) == (on_board and filled)
    us = planned.document["object"]["name"] == "tumbler"
    with pdfplumber.open(planned.folder / "sheets" / "bench-sheet.pdf") as pdf:
        assert round(float(pdf.pages[0].width)) == (612 if us else 595)
        text = pdf.pages[0].extract_text()
    assert ("lb" in text) == us
    assert planned.document["object"]["name"] in text
    view = (planned.folder / "view.html").read_text("utf-8")
    assert planned.document["object"]["name"] in view
    assert "http://" not in view.replace("http://www.w3.org", "")


def test_steps_come_in_order(planned: Planned) -> None:
    """Progress names the steps of the work in order, and within a step it never runs backwards."""
    seen = [step for step, _ in planned.steps]
    firsts = [seen.index(step) for step in STEPS]
    assert firsts == sorted(firsts)
    # compiling comes first, on a machine that has not done it yet
    assert set(seen) - {"compiling"} == set(STEPS)
    for (step, before), (next_step, after) in pairwise(planned.steps):
        assert step != next_step or after >= before - 1e-9, (step, before, after)
    assert all(0.0 <= part <= 1.0 for _, part in planned.steps)


def test_the_same_file_gives_the_same_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Planned twice with nothing remembered, a file gives the same document and solids, byte for byte."""
    file = write_stl(solids.sphere(25.0, subdivisions=2), tmp_path / "ball.stl")
    made = []
    for name in ("one", "two"):
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / f"cache {name}"))
        folder = make_plan(file, tmp_path / name, Brief(unit="mm")).folder
        kept = ("plan.json", "pieces/A.stl", "pieces/B.3mf", "pieces/model.stl", "pictures/seam.png")
        made.append([(folder / path).read_bytes() for path in kept])
    assert made[0] == made[1]


def test_it_says_what_it_was_made_from(planned: Planned) -> None:
    """The document carries the version, every wish and the key of every stage."""
    made = planned.document["made"]
    assert made["claybed"] == __version__
    assert made["brief"]["plaster"] == "pottery_plaster"
    assert set(made["stage_keys"]) == set(READS)
