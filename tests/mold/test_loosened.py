"""Whose it is what a side piece cuts loose of main pieces: never its own where it would be held by that."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.carving import Solid, Workbench
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Origin
from claybed.mold.crumbs import CEILING_MM, let_go
from claybed.mold.loosened import given_away, standing_over
from claybed.mold.side_faces import Interface
from tests.pieces import solids

AWAY = (0.0, 1.0, 0.0)
WAYS = {"A": (0.0, 0.0, 1.0), "B": (0.0, 0.0, -1.0)}
FAR = (500.0, 0.0, 0.0)


def box(low: tuple[float, float, float], size: tuple[float, float, float]) -> Solid:
    """A box from its lowest corner."""
    return Solid.cube(size).translate(low)


def given(**solids: Solid) -> dict[str, float]:
    """What becomes of a crumb of A of 20 x 5 x 10 mm in the corner of the three axes, mm³ by whose it is."""
    bench = Workbench()
    laid = {name: bench.marked(solid, Origin.PARTING) for name, solid in solids.items()}
    crumb = bench.marked(box((0.0, 0.0, 0.0), (20.0, 5.0, 10.0)), Origin.PARTING)
    face = Interface(pull_rotation(AWAY), 0.0, Solid(), (), ())
    found = given_away(bench, {"A": [crumb]}, laid, WAYS, face, "C")
    assert sum(loose.solid.volume() for loose in found) == pytest.approx(1000.0)
    assert all(loose.of == "A" for loose in found)
    return {loose.to: loose.solid.volume() for loose in found}


def test_a_crumb_under_plaster_that_stays_does_not_leave_with_the_side_piece() -> None:
    """Half of it lies under B, seen along the side piece's pull: that half is B's, and the rest leaves."""
    away = box(FAR, (5.0, 5.0, 5.0))
    over = box((10.0, 5.0, -20.0), (30.0, 10.0, 30.0))
    more_mm3 = 5.0 * 10.0 * CEILING_MM
    assert given(A=away, B=over, model=away) == pytest.approx({"C": 500.0 - more_mm3, "B": 500.0 + more_mm3})
    beside = over.translate((10.0, 0.0, 0.0))
    assert given(A=away, B=beside, model=away) == pytest.approx({"C": 1000.0})
    by_rounding = over.translate((9.998, 0.0, 0.0))
    assert given(A=away, B=by_rounding, model=away) == pytest.approx({"C": 1000.0})


@pytest.mark.parametrize("blocks", ["A", "model"])
def test_what_no_piece_takes_along_is_filled(blocks: str) -> None:
    """B leaves last, downwards. With the model under the crumb it would not; with A there A would not, which
    goes upwards before.
    """
    others = {"A": box(FAR, (5.0, 5.0, 5.0)), "model": box(FAR, (5.0, 5.0, 5.0))}
    others[blocks] = box((12.0, 1.0, -9.0), (3.0, 3.0, 3.0))
    found = given(B=box((10.0, 5.0, -20.0), (30.0, 10.0, 30.0)), **others)
    assert found == pytest.approx({"C": 500.0, "model": 500.0}, abs=0.4)


def test_what_stands_over_a_crumb_is_measured_as_it_lies() -> None:
    """Of a plate 20 mm thick over a crumb of 20 x 16 mm, half beside it: 10 x 16 x 20 mm, however turned."""
    turned = pull_rotation(np.array([0.3, -0.5, 0.8]) / np.linalg.norm([0.3, -0.5, 0.8]))
    place = np.column_stack([turned.T, np.zeros(3)])
    plate = box((0.0, 0.0, 25.0), (40.0, 30.0, 20.0)).transform(place)
    crumb = box((30.0, 7.0, 3.0), (20.0, 16.0, 5.0)).transform(place)
    assert standing_over(crumb, plate, turned).volume() == pytest.approx(3200.0)
    assert standing_over(plate, crumb, turned).is_empty()


@pytest.mark.parametrize(("lean", "held"), [(0.0025, True), (0.0001, False)])
def test_a_wall_that_leans_over_by_a_hair_is_a_ceiling_however_it_is_cut_up(lean: float, held: bool) -> None:
    """A wall of 12 mm in strips of 1 mm, leaning over by `lean`: 0.03 mm under it would be held, 0.001 mm is
    rounding. Cut to triangles, none of them is as wide as that in plan.
    """
    heights = np.linspace(0.0, 12.0, 13)
    wall = np.column_stack([10.0 - lean * heights, heights])
    profile = np.concatenate([[[0.0, 0.0]], wall, [[0.0, 12.0]]])
    bench = Workbench()
    side = bench.marked(solids.to_manifold(solids.revolved(profile, sides=16)), Origin.OBJECT)
    # The top is the plaster's own, so that only its wall is left to hold it.
    top = bench.marked(box((-20.0, -20.0, 11.9), (40.0, 40.0, 20.0)), Origin.PARTING)
    face = Interface(np.eye(3), 0.0, Solid(), (), ())
    whole = side - top
    leaves, kept, _ = let_go(bench, whole, face)
    under_mm3 = np.pi * (10.0**2 - (10.0 - 11.9 * lean) ** 2) * 11.9 / 2.0
    assert bool(kept.volume() > under_mm3) is held
    assert leaves.volume() + kept.volume() == pytest.approx(whole.volume())
