"""What the tests plan: a file from a generated solid, and the folder its plan is written to."""

from __future__ import annotations

import fcntl
import pickle
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from claybed.actions import planning
from claybed.flow.ledger import numbers_at
from claybed.geometry.mesh import Mesh
from claybed.records.brief import Brief

_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


@dataclass(frozen=True)
class Planned:
    """A plan as returned, its folder, and the steps it went through."""

    document: dict[str, Any]
    folder: Path
    steps: list[tuple[str, float]]


def write_stl(mesh: Mesh, path: Path) -> Path:
    """Write a mesh as binary STL."""
    rows = np.zeros(len(mesh.faces), _ROW)
    rows["corners"] = mesh.corners_mm
    path.write_bytes(b" " * 80 + np.uint32(len(rows)).tobytes() + rows.tobytes())
    return path


def make_plan(file: Path, folder: Path, brief: Brief, *, units: str = "metric") -> Planned:
    """Plan the object of a file into a new folder."""
    folder.mkdir()
    steps: list[tuple[str, float]] = []
    payload = {"path": file, "out": folder, "final": folder, "brief": brief, "units": units}
    document = planning.run(payload, lambda step, part: steps.append((step, part)))
    return Planned(document, folder, steps)


def without_working(document: dict[str, Any]) -> set[str]:
    """Pointers of numbers without a figure, and of figures without a number."""
    bare = {key: value for key, value in document.items() if key != "figures"}
    return set(numbers_at(bare)) ^ set(document["figures"])


def checks_on_page(kind: str, *whens: str) -> set[str]:
    """The checks that docs/checks.md promises a kind of mold, "two pieces", "more" or "open, hump", with
    those that hang on something, such as "gate" or "slip".
    """
    page = (Path(__file__).resolve().parents[2] / "docs" / "checks.md").read_text("utf-8")
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in page.splitlines() if "|" in line]
    (head,) = (row for row in rows if kind in row)
    column = head.index(kind)
    return {row[0].strip("`") for row in rows if len(row) > column and row[column] in ("x", *whens)}


def checks_made(document: dict[str, Any]) -> set[str]:
    """The checks of a plan's solids, without what names the solid."""
    ids = {check["id"] for check in document["checks"] if not check["id"].startswith("file_")}
    return {re.sub(r"_([A-Z]|model)$", "", one) for one in ids}


def planned_once(shared: Path, name: str, own: Path, make: Callable[[Path], Planned]) -> Planned:
    """The plan of that name: made by whichever process asks first, copied into `own` for each.

    A copy, since a test may write beside a plan what the next must not find.
    """
    shared.mkdir(exist_ok=True)
    kept, document = shared / name, shared / f"{name}.pickle"
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not document.exists():
            kept.mkdir()
            document.write_bytes(pickle.dumps(make(kept)))
    made: Planned = pickle.loads(document.read_bytes())
    shutil.copytree(kept, own, dirs_exist_ok=True)
    return replace(made, folder=own / made.folder.relative_to(kept))
