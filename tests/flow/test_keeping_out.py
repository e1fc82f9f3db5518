"""How much of a seam lies where none may run, against points counted along it."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from claybed.flow.keeping_out import all_barred, edges_inside_mm, length_inside_mm
from claybed.geometry.barred import chord_mm
from claybed.records.brief import KeepOut, KeepOutSpot

SPOTS = (KeepOutSpot((1.0, 2.0, 3.0), 6.0), KeepOutSpot((4.0, 2.0, 0.0), 5.0))
LAYERS = (KeepOut((0.0, 0.0, 2.0), -2.0, 3.0), KeepOut((1.0, 1.0, 0.0), 0.0, 4.0))


def test_what_lies_in_several_regions_counts_once() -> None:
    """Of edges through two balls and two layers as much is found inside any of them as 20 000 points along
    each edge tell.
    """
    edges = np.random.default_rng(1).normal(size=(40, 2, 3)) * 10.0
    share = (np.arange(20_000) + 0.5) / 20_000
    for edge, found in zip(edges, edges_inside_mm(edges, (*SPOTS, *LAYERS)), strict=True):
        at = edge[0] + share[:, None] * (edge[1] - edge[0])
        inside = np.zeros(len(at), bool)
        for spot in SPOTS:
            inside |= np.linalg.norm(at - np.array(spot.centre_mm), axis=1) < spot.radius_mm
        for layer in LAYERS:
            along = at @ (np.array(layer.direction) / np.linalg.norm(layer.direction))
            inside |= (along > layer.lo_mm) & (along < layer.hi_mm)
        assert abs(float(inside.mean()) * np.linalg.norm(edge[1] - edge[0]) - found) < 0.02


def test_a_region_without_an_end_holds_what_lies_beyond_its_one_end() -> None:
    """Of a slanted edge that crosses a height, what lies under it is inside all below it, the rest inside all
    above, as seams of side pieces heed it and as finished seams are measured.
    """
    p, q = np.array([0.0, 0.0, 0.0]), np.array([30.0, 0.0, 40.0])
    layout = SimpleNamespace(rotation=np.eye(3), shift_mm=np.array([1.0, 2.0, 3.0]))
    for region, inside_mm in (
        (KeepOut((0.0, 0.0, 1.0), -np.inf, 8.0), 10.0),
        (KeepOut((0.0, 0.0, 1.0), 8.0, np.inf), 40.0),
    ):
        assert length_inside_mm(np.array([[p, q]]), [region]) == pytest.approx(inside_mm, abs=0.01)
        barred = all_barred(layout, [region])  # type: ignore[arg-type]
        found = chord_mm(p + layout.shift_mm, q + layout.shift_mm, barred.balls, barred.layers)
        assert found == pytest.approx(inside_mm, abs=0.01)


def test_an_edge_along_a_wall_of_a_layer_is_outside() -> None:
    """Level edges lie wholly in a level layer or not at all, and none does without regions."""
    level = np.array([[[0.0, 0.0, z], [8.0, 0.0, z]] for z in (-2.0, 0.0, 3.0, 5.0)])
    assert edges_inside_mm(level, LAYERS[:1]).tolist() == [0.0, 8.0, 0.0, 0.0]
    assert length_inside_mm(level, ()) == 0.0
