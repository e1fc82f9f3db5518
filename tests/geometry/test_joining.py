"""Gates joined to objects: unions that remember whose face is whose, and mouths carried outwards."""

from __future__ import annotations

import math

import numpy as np
import pytest

from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.joining import CORNERS, carry_mouth, frustum, unite, unite_end
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.sheet import unmated
from tests.pieces import solids

POLYGON = 0.5 * CORNERS * math.sin(2.0 * math.pi / CORNERS)


def closed(mesh: Mesh) -> bool:
    """Whether every edge is mated."""
    return len(unmated(mesh.faces, len(mesh.vertices_mm))) == 0


def vessel() -> Mesh:
    """A solid tumbler whose top is its closed mouth."""
    solid = solids.tumbler()
    top = (solid.corners_mm[:, :, 2] > 99.9).all(axis=1)
    return Mesh.make(
        solid.vertices_mm, solid.faces, frame="object", origin=np.where(top, int(Origin.MOUTH), 0)
    )


@pytest.mark.parametrize("axis", [(0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (1.0, -2.0, 0.5)])
def test_a_frustum_is_closed_and_has_its_volume(axis: tuple[float, float, float]) -> None:
    """Its volume is polygon times h/3 (a² + ab + b²); it lies between its ends and is all gate."""
    way = np.array(axis) / np.linalg.norm(axis)
    start = np.array([3.0, -2.0, 5.0])
    tool = frustum(start, start + 40.0 * way, 6.0, 9.0, frame="object")
    assert closed(tool)
    assert tool.volume_mm3 == pytest.approx(POLYGON * 40.0 / 3.0 * (36.0 + 54.0 + 81.0))
    reach = (tool.vertices_mm - start) @ way
    assert (reach.min(), reach.max()) == pytest.approx((0.0, 40.0))
    assert set(tool.origin.tolist()) == {int(Origin.GATE)}


def test_a_union_keeps_origins_and_adds_what_stands_out() -> None:
    """Faces lie on the mesh whose origin they carry; the volume is object plus what stands out."""
    ball = solids.sphere(30.0, subdivisions=3)
    marked = Mesh.make(
        ball.vertices_mm,
        ball.faces,
        frame="object",
        origin=np.where(ball.corners_mm[:, :, 2].mean(axis=1) < -10.0, int(Origin.MEND), int(Origin.OBJECT)),
    )
    tool = frustum(np.array([0.0, 10.0, 0.0]), np.array([0.0, 60.0, 0.0]), 8.0, 8.0, frame="object")
    both = unite(marked, tool)
    assert closed(both)
    middle = both.corners_mm.mean(axis=1)
    away = np.hypot(middle[:, 0], middle[:, 2])
    gate = both.origin == int(Origin.GATE)
    assert (middle[gate][:, 1] > 25.0).all()
    assert (away[gate] < 8.01).all()
    assert (np.linalg.norm(middle[~gate], axis=1) > 29.0).all()
    assert (middle[both.origin == int(Origin.MEND)][:, 2] < -9.0).all()
    assert (both.origin == int(Origin.MEND)).sum() >= (marked.origin == int(Origin.MEND)).sum()
    depth = math.sqrt(30.0**2 - 8.0**2)
    sunk = math.pi * ((60.0 - depth) * 64.0 - (30.0 - depth) ** 2 * (60.0 + depth) / 3.0)
    grown = both.volume_mm3 - marked.volume_mm3
    assert grown == pytest.approx(sunk, rel=0.02)


def test_meshes_of_two_frames_are_not_united() -> None:
    """A mesh in the pull frame has no place in the object's."""
    tool = frustum(np.zeros(3), np.array([0.0, 0.0, 9.0]), 2.0, 2.0, frame="pull")
    with pytest.raises(ValueError, match="frames"):
        unite(solids.box(10.0, 10.0, 10.0), tool)


def test_a_mouth_carried_straight_adds_its_area_times_the_way() -> None:
    """Without flare, volume grows by mouth area times length; the mesh stays closed and the tube is gate."""
    cup = vessel()
    mouth = cup.corners_mm[cup.origin == int(Origin.MOUTH)]
    area = float(
        np.linalg.norm(np.cross(mouth[:, 1] - mouth[:, 0], mouth[:, 2] - mouth[:, 0]), axis=1).sum() / 2.0
    )
    longer = carry_mouth(cup, np.array([0.0, 0.0, 1.0]), 25.0, flare_ratio=0.0)
    assert closed(longer)
    assert longer.volume_mm3 - cup.volume_mm3 == pytest.approx(area * 25.0, rel=1e-9)
    assert longer.vertices_mm[:, 2].max() == pytest.approx(125.0)
    assert not (longer.origin == int(Origin.MOUTH)).any()
    height = longer.corners_mm[:, :, 2].min(axis=1)
    assert (height[longer.origin == int(Origin.GATE)] > 99.9).all()


def test_a_flared_mouth_widens_by_its_ratio() -> None:
    """The end ring of the spare is wider than the rim by ratio times length."""
    longer = carry_mouth(vessel(), np.array([0.0, 0.0, 1.0]), 25.0, flare_ratio=0.1)
    end = longer.vertices_mm[longer.vertices_mm[:, 2] > 124.0]
    assert np.hypot(end[:, 0], end[:, 1]).max() == pytest.approx(40.0 + 2.5, rel=1e-6)
    assert closed(longer)


def test_a_wavy_rim_can_end_level() -> None:
    """With `level` the end lies in one plane, the length beyond the rim's highest point."""
    cup = vessel()
    v = cup.vertices_mm.copy()
    rim = v[:, 2] > 99.9
    v[rim, 2] += 3.0 * np.sin(3.0 * np.arctan2(v[rim, 1], v[rim, 0])) * (np.hypot(*v[rim, :2].T) / 40.0)
    wavy = Mesh.make(v, cup.faces, frame="object", origin=cup.origin)
    longer = carry_mouth(wavy, np.array([0.0, 0.0, 1.0]), 20.0, flare_ratio=0.0)
    assert closed(longer)
    end = np.unique(longer.vertices_mm[longer.vertices_mm[:, 2] > v[:, 2].max() + 1.0][:, 2])
    assert end == pytest.approx(v[:, 2].max() + 20.0, abs=1e-9)
    assert longer.volume_mm3 > wavy.volume_mm3


def test_an_object_without_a_mouth_has_none_to_carry() -> None:
    """It is said, not guessed."""
    with pytest.raises(ValueError, match="no mouth"):
        carry_mouth(solids.tumbler(), np.array([0.0, 0.0, 1.0]), 5.0, flare_ratio=0.0)


def test_uniting_one_end_is_uniting_the_whole() -> None:
    """The end's faces and the rest fit without a gap, enclose the volume of the whole union, and faces away
    from the tool are the very ones that were there.
    """
    ball = solids.sphere(30.0, subdivisions=4)
    out = np.array([0.6, 0.8, 0.0])
    tool = frustum(24.0 * out, 60.0 * out, 5.0, 9.0, frame="object")
    whole, end = unite(ball, tool), unite_end(ball, tool, out)
    assert closed(end)
    assert end.volume_mm3 == pytest.approx(whole.volume_mm3, rel=1e-12)
    assert end.area_mm2 == pytest.approx(whole.area_mm2, rel=1e-12)
    for origin in (Origin.OBJECT, Origin.GATE):
        one, other = (
            np.sort(m.corners_mm[m.origin == int(origin)].mean(axis=1).round(9).view("f8,f8,f8").ravel())
            for m in (whole, end)
        )
        assert len(one) == len(other) and (one == other).all()
    away = ball.corners_mm[(ball.vertices_mm @ out < 20.0)[ball.faces].all(axis=1)]
    assert 0.5 * len(ball.faces) < len(away) < len(ball.faces)
    assert {c.tobytes() for c in away} <= {c.tobytes() for c in end.corners_mm}


def test_an_end_with_long_faces_is_united_too() -> None:
    """A box has no corner below its top that a face of its end does not reach; the union is the same."""
    box = solids.box(40.0, 40.0, 40.0)
    out = np.array([0.0, 0.0, 1.0])
    middle = box.bounds_mm.mean(axis=0)
    tool = frustum(middle - 5.0 * out, middle + 60.0 * out, 5.0, 9.0, frame="object")
    whole, end = unite(box, tool), unite_end(box, tool, out)
    assert closed(end)
    assert end.volume_mm3 == pytest.approx(whole.volume_mm3, rel=1e-12)


def test_what_stands_beside_the_tool_is_left_alone() -> None:
    """On a wide lumpy plate only the faces round the tool are computed; the union is that of the whole."""
    side = np.linspace(-50.0, 50.0, 61)
    x, y = np.meshgrid(side, side, indexing="ij")
    top = np.stack([x, y, 1.5 * np.sin(0.4 * x) * np.cos(0.3 * y)], axis=-1).reshape(-1, 3)
    number = np.arange(61 * 61).reshape(61, 61)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    up = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    rim = side_ends(up, match_sides(up, len(top)).lone)
    low = np.full(len(rim), len(top))
    plate = Mesh.make(
        np.concatenate([top, [[0.0, 0.0, -20.0]]]),
        np.concatenate([up, np.stack([rim[:, 1], rim[:, 0], low], axis=1)]),
        frame="object",
    )
    out = np.array([0.0, 0.0, 1.0])
    for at in ((0.0, 0.0), (13.0, -21.0), (-30.0, 8.0)):
        foot = np.array([*at, -4.0])
        tool = frustum(foot, foot + 40.0 * out, 5.0, 8.0, frame="object")
        whole, end = unite(plate, tool), unite_end(plate, tool, out)
        assert closed(end)
        assert end.volume_mm3 == pytest.approx(whole.volume_mm3, rel=1e-12)
        hill = plate.corners_mm[: len(up)]
        far = hill[(np.abs(hill[:, :, :2] - at).max(axis=2) > 15.0).all(axis=1)]
        assert len(far) > 0.8 * len(hill)
        assert {t.tobytes() for t in far} <= {t.tobytes() for t in end.corners_mm}


def test_a_part_that_stands_by_itself_is_united_with_the_tool_on_it() -> None:
    """Of two balls apart, one above the other, the upper gets the tool; both are still there."""
    ball = solids.sphere(10.0, subdivisions=2)
    low, n = ball.vertices_mm - np.array([0.0, 0.0, 40.0]), len(ball.vertices_mm)
    two = Mesh.make(
        np.concatenate([ball.vertices_mm, low]), np.concatenate([ball.faces, ball.faces + n]), frame="object"
    )
    out = np.array([0.0, 0.0, 1.0])
    tool = frustum(5.0 * out, 30.0 * out, 3.0, 4.0, frame="object")
    end = unite_end(two, tool, out)
    assert closed(end)
    assert end.volume_mm3 == pytest.approx(unite(ball, tool).volume_mm3 + ball.volume_mm3, rel=1e-12)
