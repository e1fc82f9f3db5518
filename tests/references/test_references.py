"""Every check value of the data files against the code, and neither side without the other."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest
from bench_evaluators import BENCH_EVALUATORS
from evaluators import EVALUATORS as OF_PLASTER
from ware_evaluators import WARE_EVALUATORS

HERE = Path(__file__).parent
EVALUATORS = OF_PLASTER | WARE_EVALUATORS | BENCH_EVALUATORS
SOURCES = HERE.parents[1] / "docs" / "sources.md"
ROWS: list[dict[str, Any]] = [
    row for file in sorted(HERE.glob("*.toml")) for row in tomllib.loads(file.read_text("utf-8"))["row"]
]
FIRST_RELEASE = {f"P{n:02d}" for n in (*range(1, 33), 34, *range(36, 49))} | {
    f"C{n:02d}" for n in range(1, 53)
}
FIELDS = {"id", "quantity", "inputs", "value", "unit", "tolerance", "tolerance_kind", "source", "seen"}
NO_EVIDENCE = {"P03", "P10", "P17", "P26", "P40"}


def unmatched(rows: Iterable[Mapping[str, Any]], evaluators: Iterable[str]) -> set[str]:
    """Quantities that only one side knows."""
    return {row["quantity"] for row in rows} ^ set(evaluators)


def misses(row: Mapping[str, Any], computed: float) -> str:
    """Why a computed figure does not meet its row, in words; empty when it does."""
    value, tolerance, kind = row["value"], row["tolerance"], row["tolerance_kind"]
    if kind == "band":
        bad = not value <= computed <= row["high"]
        return f"{computed:.6g} is not between {value} and {row['high']} {row['unit']}" if bad else ""
    if kind == "least":
        return f"{computed:.6g} is below {value} {row['unit']}" if computed < value else ""
    if kind == "most":
        return f"{computed:.6g} is above {value} {row['unit']}" if computed > value else ""
    allowed = {"absolute": tolerance, "percent": abs(value) * tolerance / 100}[kind]
    # a half unit in the last place of binary arithmetic is not a miss
    bad = not abs(computed - value) <= allowed * (1 + 1e-9) + abs(value) * 1e-15
    return f"{computed:.6g} is not {value} ± {allowed:.3g} {row['unit']}" if bad else ""


@pytest.mark.parametrize(
    "row", ROWS, ids=[f"{row['id']}-{row['quantity']}-{i}" for i, row in enumerate(ROWS)]
)
def test_check_value(row: dict[str, Any]) -> None:
    """The code must give the published or worked figure within the tolerance that stands beside it."""
    computed = EVALUATORS[row["quantity"]](**row["inputs"])
    assert not misses(row, computed), f"{row['id']} ({row['source']}): {misses(row, computed)}"


def test_rows_and_evaluators_match() -> None:
    """No check value may go unevaluated, and no evaluator may stand without a value."""
    assert unmatched(ROWS, EVALUATORS) == set()
    assert unmatched([*ROWS, {"quantity": "unheard_of"}], EVALUATORS) == {"unheard_of"}
    assert unmatched([row for row in ROWS if row["quantity"] != "capillary_suction"], EVALUATORS) == {
        "capillary_suction"
    }


def test_first_release_is_complete() -> None:
    """All check values of this release must be there, and the weak ones marked."""
    assert {row["id"] for row in ROWS} >= FIRST_RELEASE
    assert {row["id"] for row in ROWS if row.get("weak")} >= NO_EVIDENCE
    assert all(row.get("weak") for row in ROWS if row["id"] in NO_EVIDENCE)


def test_rows_are_whole_and_sourced() -> None:
    """Each row must carry its fields and a source that docs/sources.md explains."""
    known = set(re.findall(r"^\| `([^`]+)` \|", SOURCES.read_text("utf-8"), re.M))
    for row in ROWS:
        assert {
            "id",
            "quantity",
            "inputs",
            "value",
            "unit",
            "tolerance",
            "tolerance_kind",
            "source",
            "seen",
        } <= set(row)
        assert row["source"] in known, row["id"]
        assert row["seen"] in {"read", "memory", "derived", "practice"}, row["id"]
        assert row["tolerance_kind"] in {"absolute", "percent", "band", "least", "most"}, row["id"]


@pytest.mark.parametrize("factor", [0.5, 1.5])
def test_each_tolerance_can_fail(factor: float) -> None:
    """A figure half as large or half as large again must miss its row, or the row tests nothing."""
    for row in ROWS:
        if row["tolerance_kind"] == "least" and factor > 1:
            continue
        if row["tolerance_kind"] == "most":  # a ceiling is missed from above only
            assert bool(misses(row, row["value"] * factor)) == (factor > 1), row["id"]
            continue
        if row.get("weak") and row["tolerance_kind"] == "band":  # a wide band is missed beyond its ends
            assert misses(row, (row["value"] if factor < 1 else row["high"]) * factor), row["id"]
            continue
        computed = EVALUATORS[row["quantity"]](**row["inputs"])
        if computed:
            assert misses(row, computed * factor), row["id"]
