"""Keys are pressed into the parting surface, and what lies beside them stays as it was."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.outside import laid_round
from claybed.geometry.sheet import Sheet, rim_edges
from claybed.parting.keyed import MisfitError, press_keys
from claybed.records.parted import Key, Parting
from tests.mold.molds import Vector
from tests.parting.test_seam import parted
from tests.pieces import solids

GRID = {"spacing_mm": 4.0, "square_mm": 10.0}


def curved() -> Parting:
    """A cup on its side: its seam climbs, and so does the surface beside it."""
    return parted(solids.cup_with_handle(), (0.0, 1.0, 0.0))


def spots(cut: Parting, count: int) -> list[Vector]:
    """Plan points in mm and distance from the seam of the corners furthest from it, well inside the block."""
    plan = cut.outside.plan[np.unique(cut.outside.faces)] / XY_PER_MM
    seam = cut.outside.plan[cut.rim[:, 0]] / XY_PER_MM
    away = np.array([np.linalg.norm(seam - p, axis=1).min() for p in plan])
    inside = (np.abs(plan) < np.abs(plan).max(axis=0) - 12.0).all(axis=1)
    order = [i for i in np.argsort(-away) if inside[i]]
    chosen: list[Vector] = []
    for i in order:
        if all(np.hypot(*(plan[i] - np.array(c[:2]))) > 30.0 for c in chosen) and len(chosen) < count:
            chosen.append((float(plan[i, 0]), float(plan[i, 1]), float(away[i])))
    return chosen


def cells(sheet: Sheet) -> set[tuple[tuple[int, int, int], ...]]:
    """Every cell by its corners, in whichever order it starts."""
    corner = np.concatenate([sheet.plan[sheet.faces], sheet.heights[:, :, None]], axis=2)
    return {tuple(sorted(map(tuple, cell))) for cell in corner.tolist()}


@pytest.mark.parametrize("down", [True, False])
def test_a_key_is_a_cap_of_its_depth_and_the_rest_stays(down: bool) -> None:
    """In its middle the surface lies its depth lower (or higher); its tiles still fill the same plan, edge to
    edge, and no cell well away from a key has changed.
    """
    before = curved()
    keys = [Key(x, y, 14.0, 5.0) for x, y, _ in spots(before, 2)]
    assert len(keys) == 2
    after = press_keys(before, keys, down=down, **GRID)
    area = [int(twice_plan_area(p.outside.plan, p.outside.faces).sum()) for p in (before, after)]
    assert area[0] == area[1]
    rims = [p.outside.plan[rim_edges(p.outside)].reshape(-1, 4) for p in (before, after)]
    assert sorted(rims[0].tolist()) == sorted(rims[1].tolist())
    changed = cells(before.outside) - cells(after.outside)
    for cell in changed:
        near = [np.hypot(*(np.array(cell)[:, :2] / XY_PER_MM - [k.x_mm, k.y_mm]).T).min() for k in keys]
        assert min(near) < 7.0 + 4.0
    for key in keys:
        flat = height_at(before.outside, key)
        pressed = height_at(after.outside, key)
        assert (flat - pressed) / Z_PER_MM == pytest.approx(5.0 if down else -5.0, abs=0.15)
    on_key = after.outside.origin == int(Origin.KEY)
    corner = after.outside.plan[after.outside.faces[on_key]].mean(axis=1) / XY_PER_MM
    away = np.min([np.linalg.norm(corner - [k.x_mm, k.y_mm], axis=1) for k in keys], axis=0)
    assert away.max() < 7.0
    assert after.keys == tuple(keys)


def height_at(sheet: Sheet, key: Key) -> float:
    """Height of a sheet in the middle of a key, lattice units."""
    p = sheet.plan[sheet.faces] / XY_PER_MM - np.array([key.x_mm, key.y_mm])
    along = np.roll(p, -1, axis=1) - p
    left = along[:, :, 0] * -p[:, :, 1] - along[:, :, 1] * -p[:, :, 0]
    row = int(np.flatnonzero((left >= 0.0).all(axis=1))[0])
    # Each corner weighs as the part of the triangle over the side facing it.
    return float(np.roll(left[row], -1) @ sheet.heights[row] / left[row].sum())


def test_a_key_over_the_seam_is_refused() -> None:
    """It would be cut by the object."""
    cut = curved()
    middle = cut.outside.plan[cut.rim[0, 0]] / XY_PER_MM
    with pytest.raises(MisfitError, match="key"):
        press_keys(cut, [Key(float(middle[0]), float(middle[1]), 14.0, 5.0)], down=True, **GRID)


def test_rings_that_cross_the_outline_cannot_be_laid() -> None:
    """A ring inside is taken in; one that reaches over the outline would leave the tiles beside it open."""
    square: Lattice = np.array([[[0, 0], [900, 0], [900, 900]], [[0, 0], [900, 900], [0, 900]]], np.int64)
    turn = np.arange(12) * np.pi / 6.0
    ring = np.rint(450 + 200 * np.stack([np.cos(turn), np.sin(turn)], axis=1)).astype(np.int64)
    laid = laid_round(square, [ring])
    assert laid is not None
    assert {tuple(p) for p in ring.tolist()} <= {tuple(p) for p in laid.reshape(-1, 2).tolist()}
    assert laid_round(square, [ring + np.array([400, 0])]) is None
