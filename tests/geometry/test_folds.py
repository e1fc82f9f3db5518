"""Space that a surface encloses twice or inside out, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.folds import folded
from claybed.geometry.mesh import Mesh
from tests.pieces import solids


def beside(one: Mesh, other: Mesh, shift_mm: tuple[float, float, float]) -> Mesh:
    """Two surfaces as one mesh, the second shifted; they are not united."""
    return Mesh.make(
        np.concatenate([one.vertices_mm, other.vertices_mm + np.array(shift_mm)]),
        np.concatenate([one.faces, other.faces + len(one.vertices_mm)]),
        frame=one.frame,
    )


@pytest.mark.parametrize("mesh", [solids.box(60.0, 40.0, 30.0), solids.torus(20.0, 6.0, around=64, sides=32)])
def test_a_plain_surface_encloses_nothing_twice(mesh: Mesh) -> None:
    """A box and a ring wind once round all that they hold."""
    assert folded(mesh)[0] == 0.0


def test_two_boxes_through_one_another_share_their_overlap() -> None:
    """Boxes of 60 x 40 x 30 mm, shifted by 45, 25 and 20 mm, enclose 15 x 15 x 10 mm twice, there."""
    box = solids.box(60.0, 40.0, 30.0)
    volume_mm3, at_mm = folded(beside(box, box, (45.0, 25.0, 20.0)))
    assert volume_mm3 == pytest.approx(2250.0, rel=0.05)
    centre = box.vertices_mm.mean(axis=0) + np.array([22.5, 12.5, 10.0])
    assert (np.abs(at_mm - centre) <= [7.6, 7.6, 5.1]).all()


def test_what_is_inside_out_counts() -> None:
    """A box turned inside out beside a larger one counts with all of its volume."""
    small = solids.box(20.0, 20.0, 20.0)
    turned = Mesh.make(small.vertices_mm, small.faces[:, ::-1].copy(), frame=small.frame)
    assert folded(beside(solids.box(60.0, 40.0, 30.0), turned, (60.0, 0.0, 0.0)))[0] == pytest.approx(
        8000.0, rel=0.05
    )
