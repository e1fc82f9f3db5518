"""A cast map kept with its plan: figures, one picture and a page of the bench sheet; plan.json stays."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from claybed.actions.plan_file import read_plan
from claybed.jobs.folder import add_files
from claybed.sheets import bench_sheet

KEPT: Final = "cast-map.json"
PICTURE: Final = "pictures/cast-map.png"
SHEET: Final = "sheets/bench-sheet.pdf"


def keep_map(plan: Path, mapped: Path, document: Mapping[str, Any]) -> dict[str, Any]:
    """Put the map in the folder `mapped`, whose document is given, into the folder of its plan.

    Writes KEPT, the document with the plan's fingerprint and the files of the plan folder, PICTURE, the last
    cast, and SHEET anew, with a page of the wall, on the paper and in the units it had; an earlier map there
    is replaced. Returns what KEPT holds. Raises InputError when the plan folder cannot be written to.
    """
    picture = (mapped / document["files"][f"cast_{len(document['casts'])}"]).read_bytes()
    kept = {**document, "plan_sha256": _fingerprint(plan), "files": {"figures": KEPT, "picture": PICTURE}}
    text = json.dumps(kept, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    sheet = _sheet_with(plan, document, picture)
    add_files(plan, {PICTURE: picture, KEPT: text.encode(), SHEET: sheet})
    return kept


def _sheet_with(plan: Path, document: Mapping[str, Any], picture: bytes) -> bytes:
    """The bench sheet of a plan with a page of its wall."""
    us = (plan / SHEET).is_file() and bench_sheet.in_us_units((plan / SHEET).read_bytes())
    drawn = {
        path.stem: path.read_bytes()
        for path in sorted((plan / "pictures").glob("*.png"))
        if bench_sheet.is_picture(path.stem)
    }
    return bench_sheet.render(
        read_plan(plan),
        drawn | {"cast-map": picture},
        paper="us-letter" if us else "a4",
        us_units=us,
        cast_map=document,
    )


def kept_map(plan: Path) -> dict[str, Any] | None:
    """Return the map kept with a plan; None when there is none, or it was made of another plan.json."""
    try:
        kept: dict[str, Any] = json.loads((plan / KEPT).read_text("utf-8"))
        mine = kept.get("plan_sha256") == _fingerprint(plan) and bool(kept["casts"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
    return kept if mine else None


def _fingerprint(plan: Path) -> str:
    return hashlib.sha256((plan / "plan.json").read_bytes()).hexdigest()
