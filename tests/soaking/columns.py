"""Plaster of the simplest shapes: a bar behind a flat wall, a ring round a bore, a post."""

from __future__ import annotations

import manifold3d
import numpy as np

from claybed.geometry.mesh import Mesh
from claybed.records.soaked import PlasterGrid, Soil
from claybed.soaking.grid import build_grid
from claybed.soaking.kernels import neighbours
from claybed.soaking.soil import soil_of
from tests.pieces import solids

NOTHING = Mesh.make(np.zeros((3, 3)), np.array([[0, 1, 2]]), frame="block")


def plain_soil(
    *, rate_mm2_per_min: float = 1.0, slowdown_fraction: float = 0.17, wet_share: float = 0.0
) -> Soil:
    """A slip of 1.75 on plaster that fills to two fifths, without head, release or spreading."""
    soil = soil_of(
        rate_mm2_per_min=rate_mm2_per_min,
        water_per_cake_ratio=0.23077,
        fillable_fraction=0.4,
        wet_share=wet_share,
        slowdown_fraction=slowdown_fraction,
        suction_kPa=1e9,
        slip_g_per_ml=1.75,
    )
    assert soil.head_per_mm < 1e-9
    return soil


def bar(cells: int, cell_mm: float) -> PlasterGrid:
    """Plaster `cells` deep behind one flat patch at z = 0."""
    number = np.arange(cells, dtype=np.int32).reshape(1, 1, cells)
    places = np.argwhere(number >= 0).astype(np.int32)
    return PlasterGrid(
        cell_mm=cell_mm,
        low_mm=np.array([-cell_mm / 2.0, -cell_mm / 2.0, 0.0]),
        number=number,
        cells=places,
        plaster_mm3=np.full(cells, cell_mm**3),
        piece=np.zeros(cells, np.int32),
        near=neighbours(number, places),
        cell=np.zeros(1, np.int32),
        area_mm2=np.array([cell_mm**2]),
        at_mm=np.zeros((1, 3)),
        normal=np.array([[0.0, 0.0, 1.0]]),
        bends_per_mm=np.zeros((1, 2)),
        most_mm=np.array([1e3]),
        wall=NOTHING,
        patch_of=np.zeros(1, np.int32),
        cavity=np.zeros((1, 1, cells)),
        up=np.array([0.0, 0.0, 1.0]),
        left_out_mm3=0.0,
    )


def in_block(cavity: manifold3d.Manifold, block: manifold3d.Manifold, cell_mm: float) -> PlasterGrid:
    """The plaster of a block round a cavity that opens at the block's upper face, at z = 0."""
    model = solids.from_manifold(cavity)
    opens = (np.abs(model.corners_mm[:, :, 2]) < 1e-6).all(axis=1)
    plaster = solids.from_manifold(block - cavity)
    return build_grid([plaster], model, opens.astype(np.uint8), cell_mm, bend_reach_mm=6.0)


def ring(radius_mm: float, cell_mm: float) -> PlasterGrid:
    """A bore of a radius through plaster of four cells' height, slip inside."""
    height_mm = 4.0 * cell_mm
    outer_mm = 3.0 * radius_mm
    block = manifold3d.Manifold.cube([2 * outer_mm, 2 * outer_mm, height_mm], True)
    bore = manifold3d.Manifold.cylinder(height_mm, radius_mm, radius_mm, 256, True)
    return in_block(*(s.translate([0.0, 0.0, -height_mm / 2.0]) for s in (bore, block)), cell_mm)


def post(radius_mm: float, cell_mm: float) -> PlasterGrid:
    """A post of plaster of four cells' height, slip all round it."""
    height_mm = 4.0 * cell_mm
    post = manifold3d.Manifold.cylinder(height_mm, radius_mm, radius_mm, 256, True)
    room = manifold3d.Manifold.cylinder(height_mm, 3 * radius_mm, 3 * radius_mm, 256, True)
    down = [0.0, 0.0, -height_mm / 2.0]
    return in_block((room - post).translate(down), room.translate(down), cell_mm)


def deep_block(cell_mm: float) -> PlasterGrid:
    """A bore of radius 12 mm, 30 mm deep, in a block with 12 mm of plaster round it and below."""
    bore = manifold3d.Manifold.cylinder(30.0, 12.0, 12.0, 128).translate([0.0, 0.0, -30.0])
    block = manifold3d.Manifold.cube([48.0, 48.0, 42.0]).translate([-24.0, -24.0, -42.0])
    return in_block(bore, block, cell_mm)
