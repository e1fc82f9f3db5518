"""What a plan's JSON holds, for programs that read it."""

from __future__ import annotations

from typing import Any

from claybed.records.plan_schema import plan_schema


def plan_schema_document() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a plan as a document of plain values; raises nothing."""
    return plan_schema()
