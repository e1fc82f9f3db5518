"""What the tests plan: a file from a generated solid, and the folder its plan is written to."""

from __future__ import annotations

import fcntl
import pickle
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from claybed.actions import planning
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
