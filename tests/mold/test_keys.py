"""Keys stand clear of cavity and edge, close one way only, and are left out where they do not fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.geometry.lattice import XY_PER_MM, to_lattice
from claybed.geometry.mesh import Mesh
from claybed.geometry.registration import closing_miss_mm
from claybed.geometry.sheets import envelope
from claybed.materials import shelf
from claybed.mold.block import lay_out
from claybed.mold.interfaces import short_of
from claybed.mold.keys import place_keys, places_in_plan
from claybed.mold.side_keys import _pair_misses_mm
from claybed.parting.keyed import press_keys
from claybed.parting.surface import part
from claybed.records.gated import GatePlan
from claybed.records.parted import Key, Layout, Parting
from tests.mold.molds import BARE, UP, Vector
from tests.pieces import solids

NO_GATE = GatePlan("none", (0.0, 0.0, 0.0), float("nan"), False, "asked for none")


def parted(obj: Mesh, pull: Vector, shape: str, wall_mm: float) -> tuple[Parting, Layout]:
    """A parted object in a block of the given wall."""
    brief = replace(BARE, shape=shape, wall_mm=wall_mm)  # type: ignore[arg-type]
    layout = lay_out(obj, pull, NO_GATE, brief, pieces=2)
    found = envelope(to_lattice(obj, layout.rotation, layout.shift_mm), layout.footprint)
    return part(found, layout, spacing_mm=3.0, square_mm=10.0), layout


@pytest.mark.parametrize("shape", ["boxed", "round"])
@pytest.mark.parametrize("name", ["ball", "ring", "box"])
def test_keys_are_clear_and_close_one_way(name: str, shape: str) -> None:
    """At least three; clear of cavity, edge and one another; wrong closings miss by a radius."""
    obj = {
        "ball": solids.sphere(30.0, subdivisions=3),
        "ring": solids.torus(40.0, 10.0, around=64, sides=24),
        "box": solids.box(60.0, 60.0, 40.0),
    }[name]
    parting, layout = parted(obj, UP, shape, 40.0)
    keys = place_keys(parting, layout)
    assert len(keys) >= 3
    at = np.array([[k.x_mm, k.y_mm] for k in keys])
    radius = keys[0].diameter_mm / 2.0
    seam = parting.outside.plan[parting.rim].reshape(-1, 2) / XY_PER_MM
    clear = np.linalg.norm(at[:, None] - seam[None], axis=2).min() - radius
    assert clear >= shelf.value("practice", "key_to_cavity_least_mm").value - 0.5
    corners = layout.footprint / XY_PER_MM
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        inward = along[0] * (at[:, 1] - a[1]) - along[1] * (at[:, 0] - a[0])
        assert inward.min() - radius >= shelf.value("practice", "key_to_edge_least_mm").value - 1e-6
    apart = np.linalg.norm(at[:, None] - at[None], axis=2)[np.triu_indices(len(at), 1)]
    assert apart.min() >= 4.0 * radius - 1e-9
    assert closing_miss_mm(at, corners, radius) >= radius
    assert all(k.depth_mm <= k.diameter_mm / 2.0 for k in keys)


def test_no_keys_where_none_fit() -> None:
    """With the least wall there is no room between cavity and edge."""
    least = shelf.value("practice", "wall_least_mm").value
    obj = solids.box(60.0, 60.0, 40.0)
    assert place_keys(*parted(obj, UP, "boxed", least)) == ()


def test_a_key_is_a_cap_of_its_depth() -> None:
    """Pressed into a flat surface it is as deep as asked in its middle and nothing at its rim."""
    key = Key(45.0, 45.0, 16.0, 6.0)
    flat, _ = parted(solids.sphere(30.0, subdivisions=3), UP, "boxed", 40.0)
    parting = press_keys(flat, [key], spacing_mm=3.0, square_mm=10.0, down=True)
    plan = parting.outside.plan[parting.outside.faces] / XY_PER_MM
    away = np.linalg.norm(plan - [45.0, 45.0], axis=2)
    depth = (parting.level - parting.outside.heights) / 4096.0
    middle = depth[away < 2.0]
    assert middle.max() == pytest.approx(6.0, abs=0.35)
    assert middle.max() <= 6.0 + 1e-3
    rim = depth[(away > 8.05) & (away < 14.0)]
    assert np.abs(rim).max() < 0.05


@pytest.mark.parametrize("name", ["ball", "ring"])
def test_a_plan_without_room_has_no_keys(name: str) -> None:
    """Between two side pieces only the walls across are left, and keys want 30 mm there: what the plan alone
    denies, the parted block denies.
    """
    ends = [(np.array([x, 0.0]), 28.0) for x in (1.0, -1.0)]
    obj = {"ball": solids.sphere(30.0, subdivisions=3), "ring": solids.torus(40.0, 10.0, around=64, sides=24)}
    told = []
    for wall_mm in (20.0, 24.0, 28.0, 32.0, 40.0):
        parting, layout = parted(obj[name], UP, "boxed", wall_mm)
        layout = short_of(layout, ends)
        told.append(places_in_plan(obj[name], layout))
        assert told[-1] or not place_keys(parting, layout)
    assert told[0] is False
    assert told[-1]


def test_pairs_of_keys_are_told_apart_however_they_are_shifted() -> None:
    """Against two keys 28 mm apart across and 8 up, the same two 5 mm aside miss by nothing, two that are
    22 mm apart by half of what they lack, and two that rise the other way by all of their rise.
    """
    pair = np.array([[-14.0, 116.0], [14.0, 124.0]])
    for other, miss_mm in (
        (pair + np.array([5.0, 0.0]), 0.0),
        (pair[::-1], 0.0),
        (np.array([[-8.0, 116.0], [14.0, 124.0]]), 3.0),
        (np.array([[-14.0, 124.0], [14.0, 116.0]]), 8.0),
    ):
        assert _pair_misses_mm(other, pair) == pytest.approx([miss_mm])
