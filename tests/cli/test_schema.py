"""`claybed schema`: a JSON Schema that says what a plan holds, and refuses what is not one."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from cli_targets import plan_document
from jsonschema import Draft202012Validator

from claybed.records.plan_schema import plan_schema

Run = Callable[..., Any]
KEYS = {
    "": "schema ready object survey mold model pieces pours checks findings figures",
    "object": "name volume_ml area_cm2 extent_mm repairs",
    "survey": "axis castable fill_ml fill_g undercut_area_cm2 candidates",
    "mold": "shape outer_mm wall_mm seam_length_mm",
    "model": "file volume_ml",
    "pieces": "id order pull volume_ml wet_kg dry_kg file",
    "pours": "piece space_ml slurry_ml water_g plaster_g batches fill_line_mm fill_line common_rule",
    "checks": "id ok measured limit unit where",
    "findings": "id severity where amount remedy",
}


def test_schema_is_valid_and_printed(run: Run) -> None:
    """What the command prints is the schema, and the schema is one of its draft."""
    outcome = run("schema")
    assert outcome.code == 0
    assert json.loads(outcome.out) == plan_schema()
    Draft202012Validator.check_schema(plan_schema())


@pytest.mark.parametrize("place", KEYS)
def test_schema_requires_every_key(place: str) -> None:
    """Each key that programs may rely on is described and required."""
    schema = plan_schema() if not place else plan_schema()["properties"][place]
    schema = schema.get("items", schema)
    assert set(KEYS[place].split()) <= set(schema["required"])


def leaves(schema: dict[str, Any], name: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every named property of a schema, however deep."""
    for key, inner in schema.get("properties", {}).items():
        yield f"{name}/{key}", inner
        yield from leaves(inner, f"{name}/{key}")
    if isinstance(schema.get("items"), dict):
        yield from leaves(schema["items"], f"{name}/0")


def test_every_key_is_described_with_its_unit() -> None:
    """Each property has a description, and one whose name ends in a unit says that unit."""
    said = {"ml": "ml", "mm": "mm", "g": "in g", "kg": "in kg", "cm2": "cm²"}
    for name, schema in leaves(plan_schema()):
        if schema.get("type") != "object":
            assert schema.get("description"), name
        unit = said.get(name.rpartition("_")[2])
        if unit and schema.get("type") in ("number", "array"):
            inner = schema["description"]
            assert unit in inner or "The same" in inner or unit.removeprefix("in ") in inner.split(), name


@pytest.mark.parametrize("ready", [True, False])
def test_plans_are_accepted(ready: bool) -> None:
    """A whole plan, ready or not, with keys of its own beside, is valid."""
    document = plan_document(ready=ready)
    assert "unit" in document["object"]  # a key that the schema does not name
    assert list(Draft202012Validator(plan_schema()).iter_errors(document)) == []


DAMAGE: list[tuple[str, Callable[[dict[str, Any]], object]]] = [
    ("no checks", lambda plan: plan["checks"].clear()),
    ("a missing weight", lambda plan: plan["pours"][0].pop("water_g")),
    ("a weight in words", lambda plan: plan["pours"][0].update(water_g="674 g")),
    ("a negative volume", lambda plan: plan["object"].update(volume_ml=-1.0)),
    ("a flat pull", lambda plan: plan["pieces"][0].update(pull=[1.0, 0.0])),
    ("an unknown severity", lambda plan: plan["findings"][0].update(severity="bad")),
    ("a figure without source", lambda plan: plan["figures"]["/survey/fill_ml"].pop("source")),
    (
        "a figure of nothing",
        lambda plan: plan["figures"].update({"fill_ml": plan["figures"]["/survey/fill_ml"]}),
    ),
    ("another layout", lambda plan: plan.update(schema="claybed-plan-0")),
    ("ready in words", lambda plan: plan.update(ready="yes")),
]


@pytest.mark.parametrize(("what", "harm"), DAMAGE, ids=[what for what, _ in DAMAGE])
def test_damaged_plans_are_refused(what: str, harm: Callable[[dict[str, Any]], object]) -> None:
    """A plan that lacks something or holds something else is not valid."""
    document = copy.deepcopy(plan_document(ready=True))
    harm(document)
    assert not Draft202012Validator(plan_schema()).is_valid(document)
