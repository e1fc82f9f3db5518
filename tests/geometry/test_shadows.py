"""What lies under faces is one solid that holds all of them and little more."""

from __future__ import annotations

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
