"""Our files read by programs that are not ours: VTK, trimesh and manifold3d."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import stl_bytes
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from tests.mold.molds import BARE, UP, mold
from tests.pieces import solids

vtk = pytest.importorskip("vtk", reason="VTK is not installed; it comes with the test extra")

WITH_ALL = Brief(max_fill_ml=1e6)
MOLDS = {
    "ball": lambda: mold(solids.sphere(30.0, subdivisions=3), UP, replace(WITH_ALL, shape="boxed")),
    "ring_on_edge": lambda: mold(solids.torus(40.0, 10.0, around=64, sides=24), (0.0, 1.0, 0.0), BARE),
    "tumbler": lambda: mold(solids.tumbler(), (0.0, 0.0, -1.0), WITH_ALL, one_piece=True),
}


@pytest.fixture(scope="module", params=sorted(MOLDS))
def made(request: pytest.FixtureRequest) -> Assembly:
    """Three molds, one after the other."""
    return MOLDS[request.param]().assembly


def solids_of(assembly: Assembly) -> dict[str, LatticeSolid]:
    """Model and pieces by name."""
    return {"model": assembly.model, **{p.id: p.solid for p in assembly.pieces}}


def area_mm2(solid: LatticeSolid) -> float:
    """Surface area of our own arrays."""
    c = (solid.points / np.array([1024.0, 1024.0, 4096.0]))[solid.faces]
    return float(np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1).sum() / 2.0)


def test_vtk_reads_the_same_volumes_and_areas(made: Assembly, tmp_path: Path) -> None:
    """Each file read by VTK: as many triangles, the same volume and area, no open or crowded edge."""
    total = 0.0
    for name, solid in solids_of(made).items():
        file = tmp_path / f"{name}.stl"
        file.write_bytes(stl_bytes(solid))
        reader = vtk.vtkSTLReader()
        reader.SetFileName(str(file))
        reader.Update()
        assert reader.GetOutput().GetNumberOfCells() == len(solid.faces)
        properties = vtk.vtkMassProperties()
        properties.SetInputConnection(reader.GetOutputPort())
        assert properties.GetVolume() == pytest.approx(solid.volume_mm3, rel=1e-6)
        assert properties.GetSurfaceArea() == pytest.approx(area_mm2(solid), rel=1e-6)
        total += properties.GetVolume()
        edges = vtk.vtkFeatureEdges()
        edges.SetInputConnection(reader.GetOutputPort())
        edges.BoundaryEdgesOn()
        edges.NonManifoldEdgesOn()
        edges.FeatureEdgesOff()
        edges.ManifoldEdgesOff()
        edges.Update()
        assert edges.GetOutput().GetNumberOfCells() == 0
    x, y = made.footprint.astype(float).T / 1024.0
    block = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2.0) * made.height / 4096.0
    assert total == pytest.approx(block, rel=1e-6)


def test_trimesh_finds_every_file_watertight(made: Assembly) -> None:
    """Closed, wound one way, and of our volume."""
    for solid in solids_of(made).values():
        read = trimesh.load(io.BytesIO(stl_bytes(solid)), file_type="stl")
        assert read.is_watertight
        assert read.is_winding_consistent
        assert read.volume == pytest.approx(solid.volume_mm3, rel=1e-9)


def test_manifold3d_takes_every_file_as_a_solid(made: Assembly) -> None:
    """No error, no triangle lost on the way, and the volume is ours."""
    for solid in solids_of(made).values():
        read = trimesh.load(io.BytesIO(stl_bytes(solid)), file_type="stl")
        taken = manifold3d.Manifold(
            manifold3d.Mesh(np.asarray(read.vertices, np.float32), np.asarray(read.faces, np.uint32))
        )
        assert taken.status() == manifold3d.Error.NoError
        assert taken.volume() == pytest.approx(solid.volume_mm3, rel=1e-6)


def test_a_file_with_a_triangle_missing_is_noticed_by_all(made: Assembly, tmp_path: Path) -> None:
    """The same three judges do find fault where there is one."""
    solid = made.model
    broken = LatticeSolid(solid.points, solid.faces[1:], solid.origin[1:])
    read = trimesh.load(io.BytesIO(stl_bytes(broken)), file_type="stl")
    assert not read.is_watertight
    taken = manifold3d.Manifold(
        manifold3d.Mesh(np.asarray(read.vertices, np.float32), np.asarray(read.faces, np.uint32))
    )
    assert taken.status() != manifold3d.Error.NoError
    file = tmp_path / "broken.stl"
    file.write_bytes(stl_bytes(broken))
    reader = vtk.vtkSTLReader()
    reader.SetFileName(str(file))
    edges = vtk.vtkFeatureEdges()
    edges.SetInputConnection(reader.GetOutputPort())
    edges.BoundaryEdgesOn()
    edges.FeatureEdgesOff()
    edges.ManifoldEdgesOff()
    edges.NonManifoldEdgesOff()
    edges.Update()
    assert edges.GetOutput().GetNumberOfCells() == 3
