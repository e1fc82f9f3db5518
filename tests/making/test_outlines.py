"""Drawn outlines revolved and extruded, against Pappus, prismatoids and other libraries."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from shapely import Polygon

from claybed.errors import CannotError, InputError
from claybed.geometry.drafting import drafted, moved_in
from claybed.geometry.mesh import Floats
from claybed.intake.skin import is_closed
from claybed.making.outlines import extruded, revolved, traced_half_width_mm3
from tests.pieces.solids import to_manifold

SQUARE = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [0.0, 60.0]])
ELL = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 30.0], [40.0, 30.0], [40.0, 70.0], [0.0, 70.0]])


def circle(x: float, y: float, radius: float, count: int = 96) -> Floats:
    """A round outline."""
    turn = np.arange(count) * 2.0 * np.pi / count
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)


def area(contour: Floats) -> float:
    """Area of an outline."""
    return float(Polygon(contour).area)


@pytest.mark.parametrize("contour", [SQUARE, ELL, circle(20, 30, 25)])
@pytest.mark.parametrize("draft_deg", [0.0, 4.0, 12.0])
def test_a_drafted_body_is_a_prismatoid(contour: Floats, draft_deg: float) -> None:
    """Flat leaning sides give h/6 (A0 + 4 Am + A1) exactly, by areas of shapely's own mitred offsets."""
    height = 25.0
    mesh = extruded([contour], height, draft_deg, "a.svg")
    inward = height * math.tan(math.radians(draft_deg))
    areas = [
        Polygon(contour).buffer(-part * inward, join_style="mitre", mitre_limit=20.0).area
        for part in (0.0, 0.5, 1.0)
    ]
    exact = height / 6.0 * (areas[0] + 4.0 * areas[1] + areas[2])
    assert mesh.volume_mm3 == pytest.approx(exact, rel=3e-4 if len(contour) > 10 else 1e-9)
    assert is_closed(mesh.faces.astype(np.int64), len(mesh.vertices_mm))
    assert to_manifold(mesh).volume() == pytest.approx(mesh.volume_mm3, rel=1e-9)


def test_holes_widen_upwards() -> None:
    """A hole's sides lean into the body too: its area grows towards the top, and the genus is one."""
    mesh = extruded([SQUARE, circle(40, 30, 10)], 20.0, 5.0, "a.svg")
    solid = to_manifold(mesh)
    assert solid.genus() == 1
    low, high = (solid.slice(z).area() for z in (0.001, 19.999))
    grown = 10.0 + 20.0 * math.tan(math.radians(5.0))
    inset = 20.0 * math.tan(math.radians(5.0))
    disc = area(circle(0, 0, 1.0))
    assert low == pytest.approx(80 * 60 - disc * 100, rel=1e-4)
    assert high == pytest.approx((80 - 2 * inset) * (60 - 2 * inset) - disc * grown**2, rel=1e-3)


def test_every_side_leans_by_the_draft() -> None:
    """Each side face makes exactly the draft with the upright, wherever it is."""
    mesh = drafted([ELL], 20.0, 7.0, frame="object")
    c = mesh.corners_mm
    normal = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    sides = normal[np.abs(normal[:, 2]) < 0.9]
    assert len(sides) == 12
    assert np.degrees(np.arcsin(sides[:, 2])) == pytest.approx(7.0, abs=1e-6)


def test_moved_sides_stay_parallel() -> None:
    """Moving an outline in and out again gives it back."""
    assert np.allclose(moved_in(moved_in(ELL, 5.0), -5.0), ELL)


@pytest.mark.parametrize(
    ("contour", "most"),
    [
        (SQUARE, math.degrees(math.atan(30 / 40))),
        (ELL, math.degrees(math.atan(15 / 40))),
    ],
)
def test_too_much_draft_names_the_most(contour: Floats, most: float) -> None:
    """A draft that makes sides meet is refused with the largest that fits."""
    with pytest.raises(CannotError, match=rf"at most {math.floor(most * 10) / 10:g} degrees"):
        extruded([contour], 40.0, most + 2.0, "a.svg")
    assert extruded([contour], 40.0, most - 0.2, "a.svg").volume_mm3 > 0.0


def test_pappus_for_a_ring() -> None:
    """A circle revolved beside its axis makes a torus of 2π R · π r² (Pappus)."""
    mesh = revolved([np.concatenate([circle(0, 20, 15, 256)])], [], "left", "a.svg")
    assert mesh.volume_mm3 == pytest.approx(2 * math.pi * 15 * math.pi * 15**2, rel=1e-3)


@pytest.mark.parametrize("axis", ["left", "right"])
def test_an_open_profile_is_closed_to_the_axis(axis: str) -> None:
    """A slanting line, drawn either way round, makes a frustum standing on its lower end."""
    line = np.array([[0.0, 0.0], [30.0, 10.0], [40.0, 110.0], [0.0, 110.0]])
    if axis == "right":
        line = line * np.array([-1.0, 1.0]) + np.array([300.0, 50.0])
    mesh = revolved([], [line], axis, "a.svg")  # type: ignore[arg-type]
    cone = math.pi * 30**2 * 10 / 3
    frustum = math.pi * 100 / 3 * (30**2 + 30 * 40 + 40**2)
    assert mesh.volume_mm3 == pytest.approx(cone + frustum, rel=5e-4)
    assert mesh.bounds_mm[0, 2] == pytest.approx(0.0, abs=1e-9)


def test_both_sides_drawn() -> None:
    """An outline drawn whole is revolved about its middle, once."""
    mesh = revolved([SQUARE], [], "middle", "a.svg")
    assert mesh.volume_mm3 == pytest.approx(math.pi * 40**2 * 60, rel=5e-4)


def test_another_library_agrees_on_an_upright_body() -> None:
    """Without draft the body is the one the solid kernel extrudes."""
    section = manifold3d.CrossSection([ELL], manifold3d.FillRule.Positive)
    assert extruded([ELL], 33.0, 0.0, "a.svg").volume_mm3 == pytest.approx(
        section.extrude(33.0).volume(), rel=1e-9
    )


def test_a_traced_line_moves_the_whole_surface() -> None:
    """The doubt of a traced ball is that of a ball one line's width larger, to first order."""
    turn = np.linspace(-np.pi / 2, np.pi / 2, 181)
    half = np.stack([40 * np.cos(turn), 40 * np.sin(turn)], axis=1)
    mesh = revolved([], [half], "left", "a.svg")
    larger = 4.0 / 3.0 * math.pi * (40.5**3 - 40.0**3)
    assert traced_half_width_mm3(mesh, 0.5) == pytest.approx(larger, rel=0.02)


def test_what_is_no_outline() -> None:
    """Open, crossing, several, tiny and thick outlines are each refused, with what to do."""
    bow = np.array([[0.0, 0.0], [50.0, 40.0], [50.0, 0.0], [0.0, 40.0]])
    with pytest.raises(InputError, match="no closed outline"):
        extruded([], 10.0, 0.0, "a.svg")
    with pytest.raises(InputError, match="cross"):
        extruded([bow], 10.0, 0.0, "a.svg")
    with pytest.raises(CannotError, match="2 bodies"):
        extruded([SQUARE, SQUARE + 200.0], 10.0, 0.0, "a.svg")
    with pytest.raises(InputError, match="--unit"):
        extruded([SQUARE * 1e-6], 10.0, 0.0, "a.svg")
    with pytest.raises(InputError, match="is not made"):
        extruded([SQUARE], 1e6, 0.0, "a.svg")
    with pytest.raises(InputError, match="2 open lines"):
        revolved([], [SQUARE, SQUARE], "left", "a.svg")
    with pytest.raises(InputError, match="crosses itself"):
        revolved([bow], [], "left", "a.svg")
