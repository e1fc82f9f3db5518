"""A plan folder read back: its figures, with the bounds they were written with."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from claybed.errors import InputError
from claybed.materials.shelf import Constant

_MOST_BYTES: Final = 50_000_000


def read_plan(folder: Path) -> dict[str, Any]:
    """Return the document of a plan folder, or of its plan.json.

    Raises InputError when there is none, or it was written before plans held ware.
    """
    file = folder / "plan.json" if folder.is_dir() else folder
    try:
        if file.stat().st_size > _MOST_BYTES:
            raise InputError("is too large for a plan.", where=str(file), remedy="Give a .claybed folder.")
        document = json.loads(file.read_text("utf-8"))
    except OSError:
        raise InputError(
            "holds no plan.", where=str(folder), remedy="Give a folder that claybed plan wrote."
        ) from None
    except ValueError:
        raise InputError("is not a plan.", where=str(file), remedy="Plan it again with --replace.") from None
    if not isinstance(document, dict) or "pieces" not in document:
        raise InputError("is not a plan.", where=str(file), remedy="Give a folder that claybed plan wrote.")
    if not isinstance(document.get("ware"), dict):
        raise InputError(
            "was planned before plans held ware.", where=str(file), remedy="Plan it again with --replace."
        )
    return document


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
