"""What lies under faces is one solid that holds all of them and little more."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest

from claybed.geometry.mesh import Floats
from claybed.geometry.shadows import shadow


def hills(count: int) -> Floats:
    """Triangles (k, 3, 3) of a wavy field of `count` by `count` squares of a millimetre."""
    x, y = np.meshgrid(np.arange(count + 1.0), np.arange(count + 1.0))
    z = 20.0 + 4.0 * np.sin(x / 5.0) + 3.0 * np.cos(y / 7.0)
    points = np.stack([x, y, z], axis=2).reshape(-1, 3)
    number = np.arange(len(points)).reshape(count + 1, count + 1)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.concatenate([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)]).reshape(-1, 3)
    corners: Floats = points[faces]
    return corners


def test_a_field_casts_the_volume_under_it() -> None:
    """Plan times mean height of every triangle, exact for a prism cut aslant; growth adds a rim."""
    corners = hills(12)
    known_mm3 = float(corners[:, :, 2].mean(axis=1).sum() * 0.5)
    assert shadow(corners, 0.0, 0.0).volume() == pytest.approx(known_mm3, rel=1e-12)
    grown = shadow(corners, 0.0, 0.01).volume()
    assert known_mm3 + 0.01 * 144.0 < grown < known_mm3 + 0.01 * 144.0 + 0.01 * 4.0 * 12.0 * 30.0


def test_faces_over_one_another_count_once() -> None:
    """A field twice, one over the other and aside, casts what the two cast together and not their sum."""
    low = hills(4)
    high = low + np.array([1.0, 0.0, 30.0])
    apart = shadow(low, 0.0, 0.0).volume()
    both = shadow(np.concatenate([low, high]), 0.0, 0.0).volume()
    column = low[:, :, 0].max(axis=1) <= 1.0
    known_mm3 = float(high[:, :, 2].mean(axis=1).sum() * 0.5 + low[column][:, :, 2].mean(axis=1).sum() * 0.5)
    assert both == pytest.approx(known_mm3, rel=1e-9)
    assert both < apart + shadow(high, 0.0, 0.0).volume() - 1.0


def test_the_turn_of_a_face_does_not_matter() -> None:
    """Faces seen from below cast as those seen from above do, and none at all cast nothing."""
    corners = hills(5)
    turned = np.where((np.arange(len(corners)) % 3 == 0)[:, None, None], corners[:, ::-1], corners)
    assert shadow(turned, 0.0, 0.003).volume() == pytest.approx(
        shadow(corners, 0.0, 0.003).volume(), rel=1e-12
    )
    assert shadow(corners[:0], 0.0, 0.003).is_empty()


def test_a_steep_narrow_face_keeps_its_height() -> None:
    """A strip a hundredth wide and ten millimetres tall is wholly under what it casts, grown or not: its
    upper edge is not lowered by being moved aside.
    """
    strip = np.array(
        [
            [[0.0, 0.0, 10.0], [0.01, 0.0, 0.5], [0.0, 5.0, 10.0]],
            [[0.01, 0.0, 0.5], [0.01, 5.0, 0.5], [0.0, 5.0, 10.0]],
        ]
    )
    bare = shadow(strip, 0.0, 0.0)
    assert bare.volume() == pytest.approx(0.01 * 5.0 * 5.25, rel=1e-9)
    assert (bare - shadow(strip, 0.0, 0.003)).volume() < 1e-9


@pytest.mark.parametrize("wide_mm", [0.001, 0.004, 0.0119])
def test_a_crack_that_growth_closes_is_enclosed_once(wide_mm: float) -> None:
    """A square with a crack narrower than twice the growth casts a whole block: its volume is the closed form
    of a box, not what both lips of the crack would cast one over the other.
    """
    more_mm, half = 0.006, wide_mm / 2.0
    outer = [(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)]
    inner = [(-2.5, -half), (2.5, -half), (2.5, half), (-2.5, half)]
    flat = []
    for k in range(4):
        a, b, c, d = outer[k], outer[(k + 1) % 4], inner[(k + 1) % 4], inner[k]
        flat += [(a, b, c), (a, c, d)]
    corners = np.dstack([np.array(flat), np.full((len(flat), 3), 8.0)])
    grown = shadow(corners, 0.0, more_mm)
    side_mm = 10.0 + 2.0 * more_mm
    # But for its corners, which are cut off.
    assert grown.volume() == pytest.approx(side_mm**2 * (8.0 + more_mm), abs=4 * 8.0 * more_mm**2)
    assert (
        manifold3d.Manifold.cube((9.0, 9.0, 7.0), True).translate((0.0, 0.0, 4.0)) - grown
    ).volume() < 1e-9


def test_faces_that_meet_in_a_point_alone_are_enclosed_once() -> None:
    """Two squares corner to corner: their grown rims cross there, and cast what both cover together."""
    flat = [
        ((0, 0), (1, 0), (1, 1)),
        ((0, 0), (1, 1), (0, 1)),
        ((1, 1), (2, 1), (2, 2)),
        ((1, 1), (2, 2), (1, 2)),
    ]
    corners = np.dstack([np.array(flat, np.float64), np.full((4, 3), 3.0)])
    more_mm = 0.01
    side_mm = 1.0 + 2.0 * more_mm
    known_mm3 = (2.0 * side_mm**2 - (2.0 * more_mm) ** 2) * (3.0 + more_mm)
    assert shadow(corners, 0.0, more_mm).volume() == pytest.approx(known_mm3, rel=1e-9)
