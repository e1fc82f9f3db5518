"""A proved plan folder damaged in its files: for each way that a mold can be wrong, the check of it fails.

The ways are those that any mold of several pieces must stand up to: solids that are none, shared space, space
that is nobody's, plaster that holds the model, a cast that stays, a pull the wrong way, keys and gate that
are gone, a wall that is broken into.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from claybed.actions import proving
from claybed.records.brief import Brief
from tests.actions.planned import make_plan, write_stl
from tests.pieces import solids

Mold = dict[str, trimesh.Trimesh]
Document = dict[str, Any]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a cup's plan in two pieces."""
    folder = tmp_path_factory.mktemp("damaged")
    make_plan(write_stl(solids.cup_with_handle(), folder / "cup.stl"), folder / "out", Brief())
    return folder / "out"


def ball(radius_mm: float, at: np.ndarray) -> trimesh.Trimesh:
    """A ball."""
    made = trimesh.creation.icosphere(subdivisions=2, radius=radius_mm)
    return made.apply_translation(at)


def joined(one: trimesh.Trimesh, other: trimesh.Trimesh) -> trimesh.Trimesh:
    """Two solids in one."""
    return trimesh.boolean.union([one, other], engine="manifold")


def less(one: trimesh.Trimesh, other: trimesh.Trimesh) -> trimesh.Trimesh:
    """One solid without another."""
    return trimesh.boolean.difference([one, other], engine="manifold")


def corner(mold: Mold, document: Document) -> np.ndarray:
    """A place on the flat joint by a corner of the block, off keys and model."""
    low, _ = mold["A"].bounds
    return np.array([low[0] + 3.0, low[1] + 3.0, document["mold"]["level_mm"]])


def inside(mold: Mold, document: Document, name: str) -> np.ndarray:
    """A place within the plaster of a piece by a corner of the block, well off joint and outside."""
    joint = corner(mold, document)
    ends = mold[name].bounds[:, 2]
    outer = ends[np.argmax(np.abs(ends - joint[2]))]
    return np.array([joint[0] + 9.0, joint[1] + 9.0, (joint[2] + outer) / 2.0])


def hole(mold: Mold, document: Document) -> str:
    """One face is gone."""
    keep = np.ones(len(mold["A"].faces), bool)
    keep[len(keep) // 2] = False
    mold["A"].update_faces(keep)
    return "solid_closed_A"


def crumb(mold: Mold, document: Document) -> str:
    """A crumb of plaster lies loose in the cavity."""
    mold["A"] = trimesh.util.concatenate([mold["A"], ball(1.0, mold["model"].center_mass)])
    return "one_body_A"


def shared(mold: Mold, document: Document) -> str:
    """A wart on the joint of one piece takes room that the other has."""
    mold["A"] = joined(mold["A"], ball(2.0, corner(mold, document)))
    return "adjoins_A"


def void(mold: Mold, document: Document) -> str:
    """A bubble within the plaster is nobody's, and too small for volumes to tell."""
    mold["A"] = less(mold["A"], ball(2.0, inside(mold, document, "A")))
    return "adjoins_A"


def held(mold: Mold, document: Document) -> str:
    """A peg of plaster reaches through the model from side to side."""
    low, high = mold["model"].bounds
    peg = trimesh.creation.box((high[0] - low[0] + 20.0, 4.0, 4.0))
    mold["A"] = joined(mold["A"], peg.apply_translation(mold["model"].center_mass))
    return "release_A"


def stays(mold: Mold, document: Document) -> str:
    """The cast has a knob within the plaster of the last piece."""
    mold["model"] = trimesh.util.concatenate([mold["model"], ball(3.0, inside(mold, document, "B"))])
    return "model_leaves_last"


def wrong_way(mold: Mold, document: Document) -> str:
    """A pull points into the mold."""
    row = next(row for row in document["pieces"] if row["id"] == "A")
    row["pull"] = [-v for v in row["pull"]]
    return "release_A"


def no_bumps(mold: Mold, document: Document) -> str:
    """The keys of one piece are taken off."""
    key = document["mold"]["keys"][0]
    name, at = key["bump_on"], np.array(key["at_mm"])
    pull = np.array(next(row["pull"] for row in document["pieces"] if row["id"] == name))
    cut = trimesh.creation.box((1.2 * key["diameter_mm"], 1.2 * key["diameter_mm"], 2.0 * key["depth_mm"]))
    mold[name] = less(mold[name], cut.apply_translation(at - (key["depth_mm"] + 0.01) * pull))
    return "keys_stand"


def plugged(mold: Mold, document: Document) -> str:
    """The gate ends within the plaster."""
    gate = document["mold"]["gate"]
    out = np.array(gate["out"], float)
    turn = np.array([document["mold"]["object_to_block"][f"row_{k}"] for k in "xyz"], float)
    end = np.array(gate["at_mm"]) + 100.0 * (turn @ out)
    size = 200.0 - 2.0 * 8.0
    mold["model"] = less(mold["model"], trimesh.creation.box((size,) * 3).apply_translation(end))
    return "gate_open"


def broken_into(mold: Mold, document: Document) -> str:
    """A pocket from outside ends two millimetres before the cavity."""
    level_mm = document["mold"]["level_mm"]
    ends, points = mold["A"].bounds[:, 2], mold["model"].vertices
    outer = ends[np.argmax(np.abs(ends - level_mm))]
    spot = points[np.argmin(np.abs(points[:, 2] - outer))]
    deep = abs(outer - spot[2]) - 2.0
    pocket = trimesh.creation.box((6.0, 6.0, 2.0 * deep)).apply_translation([*spot[:2], outer])
    mold["A"] = less(mold["A"], pocket)
    return "adjoins_A"


DAMAGES = [
    hole, crumb, shared, void, held, stays, wrong_way, no_bumps, plugged, broken_into,
]  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGES, ids=[damage.__name__ for damage in DAMAGES])
def test_each_damage_fails_its_check_at_a_place(
    sound: Path, tmp_path: Path, damage: Callable[[Mold, Document], str]
) -> None:
    """The check that is about the damage fails, says where and what to do, and the folder is not ready."""
    folder = Path(shutil.copytree(sound, tmp_path / "out"))
    document = json.loads((folder / "plan.json").read_text("utf-8"))
    mold = {name: trimesh.load(folder / "pieces" / f"{name}.stl") for name in ("A", "B", "model")}
    expected = damage(mold, document)
    for name, solid in mold.items():
        (folder / "pieces" / f"{name}.stl").write_bytes(trimesh.exchange.stl.export_stl(solid))
    (folder / "plan.json").write_text(json.dumps(document), "utf-8")
    found = proving.run({"path": folder}, lambda step, part: None)
    told = {check["id"]: check for check in found["checks"]}
    wrong = sorted(name for name, check in told.items() if not check["ok"])
    assert expected in wrong, wrong
    assert told[expected]["where"]
    assert told[expected]["remedy"]
    assert not found["ready"]
