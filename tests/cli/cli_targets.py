"""Stand-ins for planning and surveying, run in the child process by the command-line tests."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from claybed.errors import CannotError

Progress = Callable[[str, float], None]


def survey_part() -> dict[str, Any]:
    """Return the parts that a plan and a survey share, for a jug that needs a little fill."""
    fill = {"castable": False, "fill_ml": 12.4, "fill_g": 18.6, "undercut_area_cm2": 9.5}
    axis = {"axis": [1.0, 0.0, 0.0], **fill}
    candidate = {**axis, "why": "flat_patch", "deepest_mm": 6.1}
    repair = {"step": "weld", "count": 3, "amount": 0.01, "unit": "mm", "says": "Three points joined."}
    gaps = {"formula": "sum of gaps", "inputs": {}, "source": "geometry"}
    place = {"volume_ml": 12.4, "depth_mm": 6.1, "lock_class": "fill", "at_mm": [0.0, 30.0, 80.0]}
    return {
        "object": {
            "name": "jug",
            "volume_ml": 742.25,
            "area_cm2": 510.0,
            "extent_mm": [96.0, 120.4, 180.0],
            "repairs": [repair],
            "unit": {"says": "Read in millimetres, as asked."},
        },
        "survey": {**axis, "fill_places": [place], "candidates": [candidate]},
        "findings": [
            {
                "id": "fill_under_handle",
                "severity": "look",
                "where": "under the handle",
                "amount": {"value": 12.4, "unit": "ml"},
                "says": "Oil clay closes the gap under the handle.",
                "remedy": "Smooth it flush with the handle.",
            }
        ],
        "figures": {"/survey/fill_ml": {"low": 11.0, "high": 14.0, "unit": "ml", **gaps}},
    }


def plan_document(*, ready: bool) -> dict[str, Any]:
    """Return a plan in two pieces, ready to pour or held up by a piece that is too heavy."""
    document = survey_part()
    pour = {
        "space_ml": 2100.0,
        "slurry_ml": 2310.0,
        "water_g": 1557.14,
        "plaster_g": 2024.29,
        "batches": [{"number": 1, "water_g": 1557.14, "plaster_g": 2024.29, "slurry_ml": 2310.0}],
        "fill_line_mm": 62.5,
        "fill_line": {"from_board_mm": 62.5, "from_rim_mm": 12.0},
        "common_rule": {"water_g": 2100.0, "plaster_g": 2730.0},
    }
    piece = {"volume_ml": 2100.0, "wet_kg": 3.256, "dry_kg": 2.183}
    lift = {
        "id": "piece_lift",
        "severity": "stop",
        "where": "piece B",
        "amount": {"value": 31.0, "unit": "kg"},
        "says": "Piece B is 31 kg wet.",
        "remedy": "Split it, or plan two people.",
    }
    checks = [
        {"id": "volumes_add_up", "ok": True, "measured": 0.0, "limit": 1e-9, "unit": "-", "where": ""},
        {
            "id": "wall_least", "ok": ready, "measured": 31.0 if ready else 24.5, "limit": 30.0, "unit": "mm",
            "where": "the shoulder", "sense": "least", "remedy": "Widen the block.",
        },
    ]  # fmt: skip
    return document | {
        "schema": "claybed-plan-1",
        "ready": ready,
        "mold": {
            "shape": "boxed",
            "outer_mm": [176.0, 200.4, 250.0],
            "wall_mm": 31.0,
            "seam_length_mm": 640.0,
        },
        "model": {"file": "pieces/model.stl", "volume_ml": 790.0},
        "pieces": [
            {"id": "A", "order": 1, "pull": [1.0, 0.0, 0.0], "file": "pieces/a.stl", **piece},
            {"id": "B", "order": 2, "pull": [-1.0, 0.0, 0.0], "file": "pieces/b.stl", **piece},
        ],
        "pours": [{"piece": "A", **pour}, {"piece": "B", **pour}],
        "checks": checks,
        "findings": document["findings"] + ([] if ready else [lift]),
    }


def ready(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Write one file and return a plan that is ready."""
    progress("reading", 1.0)
    (payload["out"] / "plan.json").write_text("{}")
    (payload["out"] / "sheets").mkdir()
    (payload["out"] / "sheets" / "bench.pdf").write_text("paper")
    return plan_document(ready=True)


def not_ready(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Write one file and return a plan that must not be poured."""
    (payload["out"] / "plan.json").write_text("{}")
    return plan_document(ready=False)


def wall_wanted(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Return a plan that must not be poured, with a remedy that names an option."""
    document = not_ready(payload, progress)
    document["checks"][1]["remedy"] = "Ask for --wall 36mm."
    return document


def refuse(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Write half a plan, then find that it cannot be done."""
    (payload["out"] / "plan.json").write_text("{}")
    raise CannotError("needs three pieces.", where=payload["path"].name, remedy="Give another axis.")


def refuse_fill(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Find that it takes too much oil clay."""
    raise CannotError("takes 44 ml in gaps 8.6 mm deep.", where="jug", remedy="Use --max-fill 46.5ml.")


def surveyed(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Return a survey."""
    return survey_part()


def surveyed_open(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Return a survey of a dish that leaves one open block, or else two pieces."""
    document = survey_part()
    one = {"kind": "one_piece", "says": "Leaves a single block through its open face."}
    document["survey"] |= {
        "castable": True,
        "fill_ml": 0.0,
        "options": [one, {"kind": "two", "says": "Two."}],
    }
    return document


def survey_refused(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Return a survey whose plan would be refused, with the remedy that stands in the file."""
    return survey_part() | {"refused": {"says": "needs more.", "remedy": payload["path"].read_text()}}


def echo(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Return what was asked, as part of a plan."""
    asked = {"brief": repr(payload["brief"]), "units": payload["units"], "final": str(payload["final"])}
    return plan_document(ready=True) | {"asked": asked}


def slow(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Tell of two phases, each long enough to be seen where progress is shown at once."""
    for phase in ("reading", "surveying"):
        for step in range(4):
            progress(phase, step / 4)
            time.sleep(0.1)
    return plan_document(ready=True)


def linger(payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Write half a plan, say so, then wait for longer than any test."""
    (payload["out"] / "plan.json").write_text("{}")
    (payload["path"].parent / "begun").write_text("yes")
    time.sleep(3600)
    return plan_document(ready=True)
