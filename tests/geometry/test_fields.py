"""Surface files with values, read back by other programs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
import vtk
from vtk.util.numpy_support import vtk_to_numpy

from claybed.geometry.fields import ply_bytes, vtu_bytes
from tests.pieces import solids

BALL = solids.sphere(10.0, subdivisions=2)
VALUES = {
    "wall_mm_1": BALL.vertices_mm[:, 2] + 20.0,
    "pull_share_1": np.linspace(0, 1, len(BALL.vertices_mm)),
}


def test_ply_is_read_by_two_libraries(tmp_path: Path) -> None:
    """Corners, faces and values come back from trimesh and from VTK."""
    file = tmp_path / "wall.ply"
    file.write_bytes(ply_bytes(BALL, VALUES, comment="a ball\nof 10 mm"))
    mesh = trimesh.load(file, process=False)
    assert mesh.vertices == pytest.approx(BALL.vertices_mm, abs=1e-5)
    assert np.array_equal(mesh.faces, BALL.faces)
    stored = mesh.metadata["_ply_raw"]["vertex"]["data"]
    assert np.ravel(stored["wall_mm_1"]) == pytest.approx(VALUES["wall_mm_1"], abs=1e-5)
    reader = vtk.vtkPLYReader()
    reader.SetFileName(str(file))
    reader.Update()
    assert reader.GetOutput().GetNumberOfCells() == len(BALL.faces)


def test_vtu_is_read_by_vtk(tmp_path: Path) -> None:
    """Corners, triangles and both arrays come back from VTK."""
    file = tmp_path / "wall.vtu"
    file.write_bytes(vtu_bytes(BALL, VALUES))
    reader = vtk.vtkXMLUnstructuredGridReader()
    reader.SetFileName(str(file))
    reader.Update()
    grid = reader.GetOutput()
    assert vtk_to_numpy(grid.GetPoints().GetData()) == pytest.approx(BALL.vertices_mm, abs=1e-12)
    assert grid.GetNumberOfCells() == len(BALL.faces) and grid.GetCellType(0) == vtk.VTK_TRIANGLE
    for name, value in VALUES.items():
        assert vtk_to_numpy(grid.GetPointData().GetArray(name)) == pytest.approx(value, abs=1e-5)


def test_values_must_fit() -> None:
    """A value of another length, or one whose name is not a word, is refused."""
    with pytest.raises(ValueError, match="one value for each"):
        ply_bytes(BALL, {"wall": np.zeros(3)}, comment="")
    with pytest.raises(ValueError, match="not one word"):
        vtu_bytes(BALL, {"wall of it": np.zeros(len(BALL.vertices_mm))})
