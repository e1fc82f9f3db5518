"""Plugs into locked space: their floor, their taper, and solids that close."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.mesh import Mesh
from claybed.geometry.plugging import Floor, locked_floor, opened_out, slab_over
from tests.pieces import solids


def drilled(deep_mm: float) -> tuple[Mesh, Mesh]:
    """A block of 60 mm with a round hole of 10 mm in its +z side, and the block without the hole."""
    block = solids.to_manifold(solids.box(60.0, 60.0, 60.0))
    drill = solids.to_manifold(solids.cylinder(10.0, 40.0)).translate([0.0, 0.0, 50.0 - deep_mm])
    whole = block.translate([0.0, 0.0, 0.0])
    low, high = np.array(whole.bounding_box()).reshape(2, 3)
    whole = whole.translate((-(low + high) / 2.0).tolist())
    return solids.from_manifold(whole - drill), solids.from_manifold(whole)


def test_the_floor_of_a_hole_is_its_bottom() -> None:
    """The space over the floor is the hole's volume, and the floor lies sunk under its bottom.

    Source: geometry; a cylinder of 10 mm radius, 20 mm deep.
    """
    thing, filled = drilled(20.0)
    floor = locked_floor(thing, filled, np.array([0.0, 0.0, 1.0]), margin_mm=5.0)
    assert floor.volume_mm3 == pytest.approx(np.pi * 100.0 * 20.0, rel=0.02)
    found = floor.height_mm[np.isfinite(floor.height_mm)]
    assert np.allclose(found, 10.0 - 1.5, atol=1e-6)


def test_from_the_side_nothing_of_an_upright_hole_is_free() -> None:
    """Square to the hole its space stays locked, so no floor is found."""
    thing, filled = drilled(20.0)
    floor = locked_floor(thing, filled, np.array([1.0, 0.0, 0.0]), margin_mm=5.0)
    assert floor.volume_mm3 == 0.0
    assert not np.isfinite(floor.height_mm).any()


def test_a_plug_widens_by_its_taper() -> None:
    """Over a point of floor the underside is a cone of the taper asked for, within three in a hundred.

    Source: geometry; a cone of half angle 20 degrees rises by its distance over tan 20.
    """
    line = np.arange(151.0) * 0.25
    height = np.full((151, 151), np.inf)
    height[75, 75] = -10.0
    out = opened_out(Floor(np.eye(3), line, line, height, 1.0), taper_deg=20.0)
    x, y = np.meshgrid(out.x_mm - line[75], out.y_mm - line[75])
    away = np.hypot(x, y)
    far = away > 5.0
    reached = (out.height_mm + 10.0) * np.tan(np.radians(20.0))
    # The floor is first grown by three lines.
    assert np.abs(reached - away)[far].max() < 3.0 * 0.25 * np.sqrt(2.0) + 0.03 * away.max()


def test_a_plug_is_a_closed_solid_of_the_cone_s_volume() -> None:
    """The solid under a level closes, and holds what the underside says over its cells."""
    line = np.linspace(0.0, 30.0, 61)
    x, y = np.meshgrid(line - 15.0, line - 15.0)
    field = 4.0 * np.hypot(x, y) - 40.0
    laid = slab_over(Floor(np.eye(3), line, line, field, 1.0), 0.0)
    assert laid is not None
    solid = solids.to_manifold(Mesh.make(laid[0], laid[1], frame="test"))
    cone = np.pi * 10.0**2 * 40.0 / 3.0
    low, high = np.array(solid.bounding_box()).reshape(2, 3)
    assert solid.volume() == pytest.approx(cone + float(np.prod((high - low)[:2])), rel=0.01)
    assert slab_over(Floor(np.eye(3), line, line, field, 1.0), -41.0) is None


@pytest.mark.parametrize("taper_deg", [0.0, 90.0, -5.0])
def test_a_taper_outside_its_range_is_refused(taper_deg: float) -> None:
    """Nothing tapers by nothing, or by a right angle."""
    with pytest.raises(ValueError, match="tapers"):
        opened_out(
            Floor(np.eye(3), np.arange(9.0), np.arange(9.0), np.zeros((9, 9)), 1.0), taper_deg=taper_deg
        )


@pytest.mark.parametrize("thick_mm", [0.6, 20.0])
def test_a_floor_does_not_grow_past_the_crest_of_a_thin_wall(thick_mm: float) -> None:
    """A wall of 0.6 mm round a hollow falls on its other side: the plug's underside ends within it there, and
    beyond that where the wall is thick.
    """
    lift = [0.0, 0.0, 1.0]
    plate = solids.to_manifold(solids.cylinder(60.0, 10.0)).translate([0.0, 0.0, -9.0])
    filled = plate + solids.to_manifold(solids.cylinder(20.0 + thick_mm, 10.0))
    thing = filled - solids.to_manifold(solids.cylinder(20.0, 10.0)).translate(lift)
    floor = locked_floor(
        solids.from_manifold(thing), solids.from_manifold(filled), np.array(lift), margin_mm=5.0, closely=True
    )
    plug = opened_out(floor, taper_deg=8.0)
    away_mm = np.hypot(*np.meshgrid(plug.x_mm, plug.y_mm))
    reach_mm = float(away_mm[plug.height_mm < 0.0].max())
    assert reach_mm > 19.0
    assert (reach_mm < 20.6) == (thick_mm < 1.0)
