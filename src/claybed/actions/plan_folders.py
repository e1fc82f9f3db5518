"""A plan folder read back: its figures, with the bounds they were written with."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from claybed.actions.plan_file import read_plan
from claybed.errors import CannotError, InputError
from claybed.materials.shelf import Constant


def read_ware_plan(folder: Path) -> dict[str, Any]:
    """Return the document of a plan folder that holds ware.

    Raises InputError as `read_plan` does, or when the plan was written before plans held ware.
    """
    document = read_plan(folder)
    if not isinstance(document.get("ware"), dict):
        raise InputError(
            "was planned before plans held ware.", where=str(folder), remedy="Plan it again with --replace."
        )
    return document


def refuse_hump(document: Mapping[str, Any], folder: Path) -> None:
    """Raise CannotError for the plan of a hump, over which clay is draped: it has no cavity for slip."""
    if document["mold"].get("hump"):
        raise CannotError(
            "a hump has no cavity to fill with slip: clay is draped over it.",
            where=str(folder),
            remedy="Cut slabs for it (claybed press), or plan the outside of the vessel for slip.",
        )


def figure_of(document: Mapping[str, Any], pointer: str) -> Constant:
    """Return a number of a document with the bounds and source of its figure.

    Raises InputError when the document does not hold it.
    """
    value: Any = document
    for step in pointer.strip("/").split("/"):
        try:
            value = value[int(step)] if isinstance(value, list) else value[step]
        except (KeyError, IndexError, ValueError, TypeError):
            value = None
            break
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(
            f"the plan holds no {pointer}.", where="plan.json", remedy="Plan it again with --replace."
        )
    figure = document.get("figures", {}).get(pointer, {})
    low, high = figure.get("low"), figure.get("high")
    return Constant(
        float(value),
        str(figure.get("unit", "")),
        float(value if low is None else low),
        float(value if high is None else high),
        str(figure.get("source", "geometry")),
        "derived",
        "",
    )
