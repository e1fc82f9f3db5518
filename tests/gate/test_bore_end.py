"""The inner end of a bore: what of it stands on the far side, what of the object lies inside it whole."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.flow.gate_noticing import gate_breaks_through, gate_takes
from claybed.gate.bore_end import (
    Taken,
    beyond_ml,
    end_cells,
    most_taken_mm,
    shown_taken_mm,
    taken_by,
    widest_sparing,
)
from claybed.geometry.mesh import Floats, Mesh
from claybed.records.assembly import Gate
from tests.pieces import solids

OUT = np.array([0.6, 0.8, 0.0])
RADIUS_MM, DEPTH_MM = 10.0, 12.0
FLARE = math.tan(math.radians(8.0))


def walls(*spans_mm: tuple[float, float]) -> Mesh:
    """Plates 60 mm square across x, between two places along it each; x is turned to lie on OUT."""
    plates = [
        manifold3d.Manifold.cube([high - low, 60.0, 60.0]).translate([low, -30.0, -30.0])
        for low, high in spans_mm
    ]
    turn_deg = math.degrees(math.atan2(OUT[1], OUT[0]))
    whole = manifold3d.Manifold.batch_boolean(plates, manifold3d.OpType.Add)
    return solids.from_manifold(whole.rotate([0.0, 0.0, turn_deg]))


def stands_beyond(mesh: Mesh, at_mm: Floats) -> float:
    """What of the bore stands beyond a mesh, ml."""
    return beyond_ml(end_cells(mesh, at_mm, OUT, RADIUS_MM, DEPTH_MM, FLARE), RADIUS_MM, DEPTH_MM)


def taken(mesh: Mesh, depth_mm: float) -> Taken:
    """What a straight bore of RADIUS_MM takes of a mesh whose top, in the middle, is at height 0."""
    up = np.array([0.0, 0.0, 1.0])
    end = end_cells(mesh, np.zeros(3), up, RADIUS_MM, depth_mm, 0.0)
    return taken_by(end, RADIUS_MM, depth_mm)


def under(mesh: Mesh) -> Mesh:
    """A mesh moved along z so that its top is at height 0."""
    return mesh.moved(np.eye(3), np.array([0.0, 0.0, -float(mesh.vertices_mm[:, 2].max())]), frame="top")


def frustum_ml(low_mm: float, high_mm: float) -> float:
    """Volume of the bore between two places along it, from its inner end, by its closed form."""
    a, b = RADIUS_MM + low_mm * FLARE, RADIUS_MM + high_mm * FLARE
    return math.pi * (high_mm - low_mm) * (a * a + a * b + b * b) / 3000.0


def test_what_stands_behind_a_wall_and_in_a_hole_is_the_bore_there() -> None:
    """Behind a wall of 5 mm stands the rest of the bore; between two, what fills the gap (closed form)."""
    single = stands_beyond(walls((-5.0, 0.0)), np.zeros(3))
    assert single == pytest.approx(frustum_ml(0.0, 7.0), rel=0.02)
    double = stands_beyond(walls((-5.0, 0.0), (-14.0, -8.0)), np.zeros(3))
    assert double == pytest.approx(frustum_ml(4.0, 7.0), rel=0.02)


def test_a_bore_that_only_laps_over_adds_nothing_beyond() -> None:
    """On a ball, however deep, and on a wall thicker than the bore is deep, nothing stands on a far side."""
    ball = solids.sphere(12.0)
    assert stands_beyond(ball, 12.0 * OUT) == 0.0
    assert stands_beyond(walls((-30.0, 0.0)), np.zeros(3)) == 0.0


def test_a_gate_that_breaks_through_is_told_with_what_it_adds() -> None:
    """From a fifth of a millilitre on."""
    gate = Gate("bore", 20.0, 7.07, 20.0, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    assert gate_breaks_through(gate) == ()
    (told,) = gate_breaks_through(replace(gate, beyond_ml=2.3))
    assert "2.3 ml" in told.says and "--gate" in told.remedy
    assert told.amount is not None and told.amount.value == 2.3


def test_what_a_gate_takes_is_told_from_two_millimetres_on() -> None:
    """4.5 mm of a knob, 0.87 ml, are."""
    gate = Gate("bore", 20.0, 7.07, 20.0, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), taken_mm=1.5, taken_ml=0.1)
    assert gate_takes(gate, ()) == ()
    (told,) = gate_takes(replace(gate, taken_mm=4.5, taken_ml=0.87), ())
    assert "4.5 mm" in told.says and "0.9 ml" in told.says


def test_a_rod_thinner_than_the_bore_is_taken_as_long_as_the_bore_is_deep() -> None:
    """pi r^2 L of a rod of r in a bore of R > r over L (closed form); nothing of a rod that is thicker."""
    lost = taken(under(solids.cylinder(7.0, 60.0)), 20.0)
    assert lost.long_mm == 20.0
    assert lost.volume_ml == pytest.approx(math.pi * 49.0 * 20.0 / 1000.0, rel=0.02)
    assert taken(under(solids.cylinder(12.0, 60.0)), 20.0) == Taken(0.0, 0.0)


def test_a_point_is_taken_up_to_where_it_is_as_wide_as_the_bore() -> None:
    """A cone of R at the height h, of pi R^2 h / 3 (closed form)."""
    lost = taken(under(solids.cone(20.0, 40.0)), 30.0)
    assert lost.long_mm == pytest.approx(20.0, abs=1.0)
    assert lost.volume_ml == pytest.approx(math.pi * 100.0 * 20.0 / 3000.0, rel=0.1)


def test_of_a_ball_a_cap_is_taken() -> None:
    """Its height a - sqrt(a^2 - R^2) and volume pi h^2 (a - h / 3) (closed forms)."""
    lost = taken(under(solids.sphere(14.0)), 9.0)
    high = 14.0 - math.sqrt(14.0**2 - RADIUS_MM**2)
    assert lost.long_mm == pytest.approx(high, abs=0.5)
    assert lost.volume_ml == pytest.approx(math.pi * high**2 * (14.0 - high / 3.0) / 1000.0, rel=0.15)
    assert lost.long_mm <= most_taken_mm(2.0 * RADIUS_MM, 100.0)


def edge(thick_mm: float) -> Mesh:
    """A plate 60 mm wide whose upper edge is at height 0."""
    plate = manifold3d.Manifold.cube([60.0, thick_mm, 60.0])
    return solids.from_manifold(plate.translate([-30.0, -0.5 * thick_mm, -60.0]))


def test_the_edge_of_a_thin_plate_is_taken_as_deep_as_the_bore_laps_over_it() -> None:
    """A plate of thickness t meets 4 asin(t / 2 R) of the girth of a bore of R: half of it from t = R sqrt 2
    on (closed form). Thinner, all that a section shows there is the bore, R wide on both its faces.
    """
    lost = taken(edge(8.0), 15.0)
    assert lost.long_mm == 15.0
    area_mm2 = 2.0 * (4.0 * math.sqrt(RADIUS_MM**2 - 16.0) + RADIUS_MM**2 * math.asin(0.4))
    assert lost.volume_ml == pytest.approx(area_mm2 * 15.0 / 1000.0, rel=0.03)
    half_mm = RADIUS_MM * math.sqrt(2.0)
    assert taken(edge(half_mm - 1.0), 15.0).long_mm == 15.0
    assert taken(edge(half_mm + 1.0), 15.0) == Taken(0.0, 0.0)


def test_the_corner_of_a_block_is_no_end() -> None:
    """Over three quarters of its girth beside the block, the bore takes its edge; over a quarter, nothing."""
    off_mm = 0.5 * math.sqrt(2.0) * RADIUS_MM
    block = manifold3d.Manifold.cube([60.0, 60.0, 60.0]).translate([-off_mm, -30.0, -60.0])
    assert taken(solids.from_manifold(block), 12.0) == Taken(0.0, 0.0)
    block = block.translate([2.0 * off_mm, 0.0, 0.0])
    assert taken(solids.from_manifold(block), 12.0).long_mm == 12.0


def test_the_widest_bore_that_spares_an_end_is_found() -> None:
    """On a rod that ends in half a ball of radius a, a bore of diameter d takes a cap of
    a - sqrt(a^2 - d^2 / 4), which may be 0.35 d: so d = 0.7 a / 0.3725 (closed form); on a cone none.
    """
    bores = [float(d) for d in range(24, 5, -1)]
    up = np.array([0.0, 0.0, 1.0])
    ball, rod = (solids.to_manifold(one) for one in (solids.sphere(9.0), solids.cylinder(9.0, 60.0)))
    round_end = ball + rod.translate([0.0, 0.0, -float(rod.bounding_box()[5])])
    found, takes = widest_sparing(under(solids.from_manifold(round_end)), np.zeros(3), up, bores, 30.0)
    assert found is not None
    assert abs(found - 0.7 * 9.0 / 0.3725) <= 1.5
    # The first takes all of a ball that it is wider than, as deep as it begins.
    assert takes.long_mm > most_taken_mm(24.0, 100.0)
    assert widest_sparing(under(solids.cone(10.0, 60.0)), np.zeros(3), up, bores, 30.0)[0] is None


def with_bore(mesh: Mesh, depth_mm: float) -> Mesh:
    """A mesh whose top is at height 0, joined with a bore of RADIUS_MM that begins so deep and flares."""
    high_mm = depth_mm + 30.0
    tool = manifold3d.Manifold.cylinder(high_mm, RADIUS_MM, RADIUS_MM + high_mm * FLARE, 64)
    return solids.from_manifold(solids.to_manifold(mesh) + tool.translate([0.0, 0.0, -depth_mm]))


def cap_mm(ball_mm: float, depth_mm: float) -> float:
    """How high a ball's cap is that lies inside a bore that begins so deep: a^2 - (a - h)^2 = r(h)^2."""
    low, high = 0.0, ball_mm
    for _ in range(40):
        h = 0.5 * (low + high)
        inside = ball_mm**2 - (ball_mm - h) ** 2 <= (RADIUS_MM + (depth_mm - h) * FLARE) ** 2
        low, high = (h, high) if inside else (low, h)
    return low


@pytest.mark.parametrize(
    ("mesh", "depth_mm", "expected_mm"),
    [
        # All of a thinner rod, as deep as the bore is; nothing of a thicker one, nor of a plate's edge.
        (solids.cylinder(7.0, 60.0), 18.0, 18.0),
        (solids.cylinder(16.0, 60.0), 6.0, 0.0),
        (solids.from_manifold(manifold3d.Manifold.cube([60.0, 8.0, 60.0], True)), 15.0, 0.0),
        # Of a cone of half its height in radius, where it is as wide as the bore: h / 2 = R + (d - h) tan 8.
        (solids.cone(30.0, 60.0), 24.0, (RADIUS_MM + 24.0 * FLARE) / (0.5 + FLARE)),
        # Of a ball the cap that is as wide as the bore there (its height by bisection).
        (solids.sphere(14.0), 10.0, cap_mm(14.0, 10.0)),
    ],
    ids=["rod", "thick rod", "plate", "cone", "ball"],
)
def test_a_model_shows_how_much_of_an_end_its_bore_took(
    mesh: Mesh, depth_mm: float, expected_mm: float
) -> None:
    """Closed forms; told without the object, to a cell or two."""
    up = np.array([0.0, 0.0, 1.0])
    model = with_bore(under(mesh), depth_mm)
    taken_mm, cell_mm = shown_taken_mm(model, np.zeros(3), up, 2.0 * RADIUS_MM, narrows=False)
    assert taken_mm == pytest.approx(expected_mm, abs=2.0 * cell_mm)
