"""3MF packages: exact, reproducible, and read by others."""

from __future__ import annotations

import io
import re
import zipfile

import numpy as np
import trimesh

from claybed.geometry.lattice import lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.threemf import threemf_bytes

TITLE = 'jug <"A"> & lid'


def wedge() -> LatticeSolid:
    """A tetrahedron whose coordinates need every digit of the lattice, some of them negative and tiny."""
    points = np.array([[-1, 3, -1], [409_601, -7, 5], [2, 300_001, 9], [11, -13, 1_638_403]], dtype=np.int64)
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]], dtype=np.int32)
    return LatticeSolid(points, faces, np.zeros(4, np.uint8))


def test_every_coordinate_is_exact() -> None:
    """Decimals in the file are the lattice's coordinates, to the last bit."""
    data = threemf_bytes(wedge(), title=TITLE)
    text = zipfile.ZipFile(io.BytesIO(data)).read("3D/3dmodel.model").decode("utf-8")
    rows = re.findall(r'<vertex x="([^"]+)" y="([^"]+)" z="([^"]+)"/>', text)
    np.testing.assert_array_equal(np.array(rows, dtype=np.float64), lattice_mm(wedge().points))
    assert 'unit="millimeter"' in text


def test_another_library_reads_it() -> None:
    """Read elsewhere it is one closed body of the same volume, and a title with marks does it no harm."""
    mesh = trimesh.load(io.BytesIO(threemf_bytes(wedge(), title=TITLE)), file_type="3mf", force="mesh")
    assert mesh.is_watertight
    np.testing.assert_allclose(mesh.volume, wedge().volume_mm3, rtol=1e-12)


def test_the_same_solid_gives_the_same_bytes() -> None:
    """A package does not depend on when it is made."""
    assert threemf_bytes(wedge(), title=TITLE) == threemf_bytes(wedge(), title=TITLE)
    assert threemf_bytes(wedge(), title=TITLE) != threemf_bytes(wedge(), title="jug")
