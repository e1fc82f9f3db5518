"""Files from outside, found through CLAYBED_DATA: each comes in closed or ends in a clear sentence."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

import manifold3d
import numpy as np
import pytest
from intake_shapes import read

from claybed.errors import InputError
from claybed.geometry.mesh import Origin
from claybed.records.measured import MeasuredObject

HAS_STEP = importlib.util.find_spec("cascadio") is not None

# File, what is asked, least and most volume in ml as stated with the files, steps that must appear.
FILES = [
    ("meshes/npm_bunny.obj", {"unit": "cm"}, (194.28, 194.29), set()),
    ("meshes/npm_teapot.obj", {"unit": "cm"}, (3000.0, 3300.0), {"fill_hole", "unite"}),
    ("meshes/sh3d_yogurtBottle.obj", {"unit": "cm"}, (586.6, 616.9), {"unite"}),
    ("meshes/sh3d_plasticCup.obj", {"unit": "cm"}, (11.0, 15.0), {"fill_hole", "orient"}),
    ("meshes/sh3d_rock2.obj", {"unit": "mm"}, (63.62, 63.64), set()),
    ("meshes/sh3d_scopia_vase2.obj", {"unit": "cm"}, (1.578, 1.580), set()),
    ("meshes/sh3d_scopia_creamer.obj", {"unit": "cm"}, (76.96, 76.98), set()),
    ("meshes/ph_tea_set_01_cup_small_01.ply", {"unit": "m"}, (96.5, 97.5), set()),
    ("meshes/ph_tea_set_01_sugar_cup_01.ply", {"unit": "m"}, (86.5, 87.5), set()),
    ("meshes/ph_tea_set_01_saucer_circular_03.ply", {"unit": "m"}, (50.5, 51.5), set()),
    ("meshes/ph_tea_set_01_teapot_01_lid.ply", {"unit": "m"}, (135.5, 136.5), set()),
    ("meshes/ggg_plasticVase.ply", {"unit": "mm"}, (4800.0, 5000.0), {"fill_hole", "orient"}),
    ("meshes/od_skull_low_resolution.obj", {"unit": "cm"}, (562.5, 562.6), set()),
    ("meshes/od_hand_closed.obj", {"height_mm": 180.0, "up": (0.0, 1.0, 0.0)}, (200.0, 215.0), set()),
    ("cad/bottle_lip_solid.stl", {}, (575.2, 575.3), set()),
    ("cad/mug_handle.stl", {}, (109.55, 109.57), set()),
    ("cad/oval_dish.stl", {}, (121.44, 121.46), set()),
]  # fmt: skip

# File, up that must be found, overflow in ml between, whether the rim is level.
VESSELS = [
    ("meshes/ph_tea_set_01_cup_small_01.ply", {"unit": "m"}, (0.0, 1.0, 0.0), (260.0, 270.0), True),
    ("meshes/ph_tea_set_01_sugar_cup_01.ply", {"unit": "m"}, (0.0, 1.0, 0.0), (225.0, 240.0), True),
    ("meshes/sh3d_plasticCup.obj", {"unit": "cm"}, (0.0, 1.0, 0.0), (285.0, 300.0), True),
    ("meshes/sh3d_scopia_creamer.obj", {"unit": "cm"}, (0.0, 1.0, 0.0), (305.0, 325.0), False),
    ("cad/mug_handle.stl", {}, (0.0, 0.0, 1.0), (335.0, 345.0), True),
]


def _path(name: str) -> Path:
    folder = os.environ.get("CLAYBED_DATA", "")
    path = Path(folder) / name
    if not folder or not path.is_file():
        pytest.skip(f"{name}: CLAYBED_DATA does not hold it")
    return path


def _assert_solid(found: MeasuredObject) -> None:
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(np.array(found.mesh.vertices_mm), np.array(found.mesh.faces).astype(np.uint64))
    )
    assert solid.status() == manifold3d.Error.NoError
    assert solid.volume() / 1000 == pytest.approx(found.solid_ml, rel=1e-6)


@pytest.mark.parametrize(("name", "asked", "ml", "steps"), FILES, ids=[f[0] for f in FILES])
def test_comes_in_as_a_solid(
    name: str, asked: dict[str, object], ml: tuple[float, float], steps: set[str]
) -> None:
    """A file from outside must come in closed, with the volume and the mends known for it."""
    found = read(_path(name), **asked)
    _assert_solid(found)
    assert ml[0] <= found.solid_ml <= ml[1]
    assert steps <= {r.step for r in found.repairs}
    if not steps:
        assert found.repairs == ()


@pytest.mark.parametrize(("name", "asked", "up", "ml", "level"), VESSELS, ids=[v[0] for v in VESSELS])
def test_vessel_is_closed(
    name: str, asked: dict[str, object], up: tuple[float, float, float], ml: tuple[float, float], level: bool
) -> None:
    """A vessel from outside must be closed at its rim, whichever way up, its outside untouched."""
    path = _path(name)
    open_one = read(path, **asked)
    found = read(path, mouth=True, **asked)
    _assert_solid(found)
    assert found.mouth is not None
    assert found.mouth.up == up
    assert ml[0] <= found.mouth.overflow_ml <= ml[1]
    assert found.solid_ml == pytest.approx(open_one.solid_ml + found.mouth.closed_ml, rel=1e-9)
    heights = np.array(found.mouth.rim_mm) @ np.array(up)
    assert (np.ptp(heights) < 0.05) == level
    before = {tuple(p) for p in open_one.mesh.vertices_mm.tolist()}
    kept = np.unique(found.mesh.faces[found.mesh.origin != Origin.MOUTH])
    assert all(tuple(p) in before for p in found.mesh.vertices_mm[kept].tolist())


@pytest.mark.skipif(not HAS_STEP, reason="the STEP library is not installed")
@pytest.mark.parametrize(
    ("name", "ml"),
    [
        ("cad/bottle_lip_solid.step", 576.319),
        ("cad/mug_handle.step", 109.56),
        ("cad/oval_dish.step", 121.512),
    ],
)
def test_step_has_the_volume_of_its_program(name: str, ml: float) -> None:
    """A STEP solid must have the volume its own program states, or be refused with the way out."""
    try:
        found = read(_path(name), unit=None)
    except InputError as refusal:
        assert "Export the object as STL" in str(refusal)
        return
    _assert_solid(found)
    assert found.solid_ml == pytest.approx(ml, rel=2e-3)
