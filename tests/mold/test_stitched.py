"""Pieces laid together face by face are what booleans of the same snapped input give."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.carving import Workbench, polygon, prism
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.mesh import Mesh
from tests.mold.molds import mold
from tests.pieces import solids

PARTS = {
    "lumpy": (solids.lumpy_sphere(3000), (0.2, 0.1, 0.97)),
    "torus": (solids.torus(40.0, 10.0, around=96, sides=32), (0.0, 0.0, 1.0)),
    "overhung": (solids.torus(40.0, 10.0, around=96, sides=32), (1.0, 0.2, 0.0)),
}


@pytest.mark.parametrize("name", sorted(PARTS))
def test_stitched_and_boolean_pieces_agree(name: str) -> None:
    """The block less the model, split in two, has the volumes of the stitched pieces to 1e-9.

    Compared with manifold3d, which splits by a solid that reaches beyond the block above the parting surface
    and the object's lower side: all that is neither the lower piece nor under it.
    """
    thing: Mesh
    thing, pull = PARTS[name]
    length = float(np.linalg.norm(pull))
    x, y, z = (float(v) / length for v in pull)
    assembly = mold(thing, (x, y, z)).assembly
    bench = Workbench()
    model, upper, lower = (
        bench.lay(lattice_mm(one.points), one.faces, one.origin)
        for one in (assembly.model, *(piece.solid for piece in assembly.pieces[:2]))
    )
    outline = polygon(assembly.footprint / XY_PER_MM)
    high_mm = float(assembly.height) / Z_PER_MM
    block = prism(outline, 0.0, high_mm)
    beyond = prism(outline.offset(2.0), -2.0, high_mm + 2.0) - lower
    above, below = (block - model).split(beyond)
    assert above.volume() == pytest.approx(upper.volume(), rel=1e-9)
    assert below.volume() == pytest.approx(assembly.pieces[1].solid.volume_mm3, rel=1e-9)
    assert upper.volume() == pytest.approx(assembly.pieces[0].solid.volume_mm3, rel=1e-9)
    assert (upper ^ lower).volume() <= 1e-9 * block.volume()
    assert (upper ^ model).volume() <= 1e-9 * block.volume()
