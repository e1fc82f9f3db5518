"""The plan.json of a folder, read back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from claybed.errors import InputError
from claybed.records.cases import CASES_SCHEMA
from claybed.records.plan_schema import PLAN_SCHEMA

MOST_PLAN_BYTES: Final = 64_000_000


def read_plan(folder: Path) -> dict[str, Any]:
    """The document of a plan folder, or of its plan.json when that is named itself.

    Raises InputError when there is none, or none of a known schema.
    """
    path = folder if folder.name == "plan.json" else folder / "plan.json"
    if not path.parent.is_dir():
        raise InputError(
            "is not a folder.", where=str(path.parent), remedy="Name the folder that claybed plan wrote."
        )
    try:
        if path.stat().st_size > MOST_PLAN_BYTES:
            raise InputError("is too large for a plan.", where=str(path), remedy="Plan it again.")
        document = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError) as reason:
        raise InputError(
            "cannot be read as a plan.", where=str(path), remedy="Name the folder that claybed plan wrote."
        ) from reason
    if not isinstance(document, dict) or document.get("schema") != PLAN_SCHEMA:
        raise InputError(
            f"is not a plan of the kind {PLAN_SCHEMA}.", where=str(path), remedy="Plan it again."
        )
    return document


def read_figures(folder: Path) -> dict[str, Any]:
    """The document with figures of a folder that claybed wrote: a plan, or the cases of one.

    Raises InputError as `read_plan` does.
    """
    path = folder / "cases.json"
    if folder.name == "plan.json" or not path.is_file():
        return read_plan(folder)
    try:
        if path.stat().st_size > MOST_PLAN_BYTES:
            raise InputError("is too large.", where=str(path), remedy="Make the cases again.")
        document = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError) as reason:
        raise InputError("cannot be read.", where=str(path), remedy="Make the cases again.") from reason
    if not isinstance(document, dict) or document.get("schema") != CASES_SCHEMA:
        raise InputError(
            f"is not of the kind {CASES_SCHEMA}.", where=str(path), remedy="Make the cases again."
        )
    return document
