"""A cast map kept with its plan: figures and one picture beside plan.json, which stays as it is."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from claybed.jobs.folder import add_files

KEPT: Final = "cast-map.json"
PICTURE: Final = "pictures/cast-map.png"


def keep_map(plan: Path, mapped: Path, document: Mapping[str, Any]) -> dict[str, Any]:
    """Put the map in the folder `mapped`, whose document is given, into the folder of its plan.

    Writes KEPT, the document with the plan's fingerprint and the files of the plan folder, and PICTURE, the
    last cast; an earlier map there is replaced. Returns what KEPT holds. Raises InputError when the plan
    folder cannot be written to.
    """
    picture = (mapped / document["files"][f"cast_{len(document['casts'])}"]).read_bytes()
    kept = {**document, "plan_sha256": _fingerprint(plan), "files": {"figures": KEPT, "picture": PICTURE}}
    text = json.dumps(kept, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    add_files(plan, {PICTURE: picture, KEPT: text.encode()})
    return kept


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
