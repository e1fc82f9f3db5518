"""What columns say about locked places: how deep sideways, how much, which faces, and draft."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.columns import (
    draft_areas,
    flatness_mm,
    gaps,
    patches,
    sharpened,
    witnessed_gap,
)
from claybed.geometry.depth import DepthRaster
from claybed.geometry.mesh import Mesh
from tests.pieces import solids

Z = np.array([0.0, 0.0, 1.0])
EDGES = (0.0, 1.0, 2.0, 5.0, 15.0, 90.0)


def grooved(depth_mm: float) -> Mesh:
    """A cylinder of radius 30 with a groove 10 mm tall and `depth_mm` deep round its middle."""
    r = 30.0 - depth_mm
    outline = [[0, 0], [30, 0], [30, 10], [r, 10], [r, 20], [30, 20], [30, 30], [0, 30]]
    return solids.revolved(np.array(outline, dtype=np.float64), sides=256)


@pytest.mark.parametrize("depth_mm", [3.0, 8.0, 20.0])
def test_groove_depth_and_volume(depth_mm: float) -> None:
    """A groove is one patch as deep sideways as it is cut and as large as the ring it was cut from."""
    columns = DepthRaster(grooved(depth_mm), 512).columns(Z)
    (patch,) = patches(columns)
    assert patch.depth_mm == pytest.approx(depth_mm, abs=1.5 * columns.grid.spacing_mm)
    ring = np.pi * (30.0**2 - (30.0 - depth_mm) ** 2) * 10.0
    assert patch.volume_mm3 == pytest.approx(ring, rel=0.01)
    assert patch.at_mm == pytest.approx((0.0, 0.0, 15.0), abs=0.1)


@pytest.mark.parametrize("depth_mm", [0.03, 0.08, 0.2, 0.4])
def test_shallow_lip_is_measured_closely(depth_mm: float) -> None:
    """A lip shallower than a line's width is measured to a fraction of it once looked at closely."""
    raster = DepthRaster(grooved(depth_mm), 256)
    columns = raster.columns(Z)
    found = patches(columns)
    assert found
    coarse = max(p.depth_mm for p in found)
    assert coarse >= columns.grid.spacing_mm  # what the raster alone can say
    fine = sharpened(raster, Z, columns, found, windows=8)
    looked = [p for p in fine if p.error_mm < columns.grid.spacing_mm]
    assert looked
    # a 256-gon's flats lie 2.3 micrometres inside its round
    for p in looked:
        assert p.depth_mm == pytest.approx(depth_mm, abs=1.5 * p.error_mm)


def test_blind_hole_is_as_deep_as_drilled() -> None:
    """Across its axis a blind hole locks sideways over its whole depth, not half of it."""
    columns = DepthRaster(solids.cube_with_blind_holes(["+x"], deep_mm=15.0), 512).columns(Z)
    (patch,) = patches(columns)
    assert patch.depth_mm == pytest.approx(15.0, abs=1.5 * columns.grid.spacing_mm)
    assert patch.volume_mm3 == pytest.approx(np.pi * 64.0 * 15.0, rel=0.01)


def test_way_out_may_lead_over_a_ledge() -> None:
    """Under a cap of radius 30 over a foot of radius 40 the way out ends at the cap's edge."""
    outline = [[0, 0], [40, 0], [40, 10], [20, 10], [20, 30], [30, 30], [30, 40], [0, 40]]
    mesh = solids.revolved(np.array(outline, dtype=np.float64), sides=256)
    for axis in (Z, -Z):
        columns = DepthRaster(mesh, 512).columns(axis)
        (patch,) = patches(columns)
        assert patch.depth_mm == pytest.approx(10.0, abs=1.5 * columns.grid.spacing_mm)


def test_closed_hollow_leads_out_through_the_wall() -> None:
    """A hollow without a way out is one patch whose depth reaches through the wall to the outside."""
    shell = solids.to_manifold(solids.box(60.0, 60.0, 60.0)) - solids.to_manifold(
        solids.box(20.0, 20.0, 20.0)
    )
    columns = DepthRaster(solids.from_manifold(shell), 256).columns(Z)
    (patch,) = patches(columns)
    assert patch.depth_mm == pytest.approx(30.0, abs=1.0)


def test_separate_places_are_separate_patches() -> None:
    """Holes in opposite sides of a cube are two patches of equal volume, largest first."""
    found = patches(DepthRaster(solids.cube_with_blind_holes(["+x", "-x", "+y"]), 256).columns(Z))
    assert len(found) == 3
    volumes = [p.volume_mm3 for p in found]
    assert volumes == sorted(volumes, reverse=True)
    assert volumes[0] == pytest.approx(volumes[2], rel=0.02)


def test_patches_add_up_to_the_fill() -> None:
    """The patches together hold the fill of the score, and gaps are none where the score counts none."""
    columns = DepthRaster(solids.trefoil_tube(), 256).columns(np.array([0.4, 0.2, 0.9]))
    assert sum(p.volume_mm3 for p in patches(columns)) == pytest.approx(columns.score.fill_mm3)
    assert len(np.unique(gaps(columns).pixel)) == columns.score.gap_columns
    free = DepthRaster(solids.sphere(20.0), 128).columns(Z)
    assert patches(free) == ()
    assert len(gaps(free).pixel) == 0


@pytest.mark.parametrize(("depth_mm", "seen"), [(8.0, True), (0.02, False)])
def test_a_line_well_inside_two_faces_proves_a_gap(depth_mm: float, seen: bool) -> None:
    """A deep groove is seen for certain; one no wider than a few lattice steps is left to exact arithmetic,
    and on a box there is none to see.
    """
    mesh = grooved(depth_mm)
    assert witnessed_gap(DepthRaster(mesh, 256).columns(Z), mesh) is seen
    box = solids.box(30.0, 20.0, 12.0)
    assert not witnessed_gap(DepthRaster(box, 256).columns(Z), box)


def test_undercut_area_is_that_of_the_cheeks() -> None:
    """The undercut area of a groove is its two flat cheeks, each a ring."""
    score = DepthRaster(grooved(8.0), 512).score(Z)
    assert score.undercut_mm2 == pytest.approx(2.0 * np.pi * (30.0**2 - 22.0**2), rel=0.01)


def test_draft_bands_of_a_frustum() -> None:
    """A frustum's side lies in the band of its half angle, its ends in the last."""
    tilt = np.radians(3.0)
    side = 2.0 * np.pi * 30.0 * 50.0 / np.cos(tilt)
    frustum = solids.frustum(30.0 - 25.0 * np.tan(tilt), 30.0 + 25.0 * np.tan(tilt), 50.0, sides=512)
    areas = draft_areas(frustum, Z, EDGES)
    assert areas[3] == pytest.approx(side, rel=1e-3)
    assert areas.sum() == pytest.approx(frustum.area_mm2)
    assert areas[[0, 1, 2, 4]].sum() == pytest.approx(0.0, abs=1e-9)
    upright = draft_areas(solids.cylinder(30.0, 50.0, sides=512), Z, EDGES)
    assert upright[0] == pytest.approx(2.0 * np.pi * 30.0 * 50.0, rel=1e-3)
    assert upright[5] == pytest.approx(2.0 * np.pi * 30.0**2, rel=1e-3)


def test_draft_bands_must_cover_a_quarter_turn() -> None:
    """Bands that do not rise from 0 to 90 degrees are refused."""
    for bad in ((0.0, 45.0), (1.0, 90.0), (0.0, 50.0, 50.0, 90.0)):
        with pytest.raises(ValueError, match="draft"):
            draft_areas(solids.box(1.0, 1.0, 1.0), Z, bad)


def test_flatness_of_a_field() -> None:
    """Flatness is the span of the known values, and infinite where nothing is known."""
    assert flatness_mm(np.array([[np.nan, 1.0], [1.25, np.nan]])) == pytest.approx(0.25)
    assert flatness_mm(np.full((2, 2), np.nan)) == float("inf")
