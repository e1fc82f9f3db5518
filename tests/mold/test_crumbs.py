"""What a loose crumb of a main piece would hold back once it belongs to the model."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.carving import Solid, Workbench
from claybed.geometry.mesh import Origin
from claybed.mold.crumbs import SHADOW_MM, below

UP = (0.0, 0.0, 1.0)


def box(bench: Workbench, low: tuple[float, ...], high: tuple[float, ...]) -> Solid:
    """A box between two corners, mm."""
    sides = np.array(high) - np.array(low)
    return bench.marked(Solid.cube(sides.tolist()).translate(low), Origin.PARTING)


def test_a_crumb_over_a_main_piece_holds_the_column_under_it() -> None:
    """A crumb of 4 mm x 3 mm, 2 mm over a piece 10 mm thick, holds 4 x 3 x 10 mm of it, grown by a hair."""
    bench = Workbench()
    main = box(bench, (0.0, 0.0, 0.0), (20.0, 20.0, 10.0))
    held = below(bench, box(bench, (5.0, 6.0, 12.0), (9.0, 9.0, 13.0)), UP, main)
    assert held.volume() == pytest.approx((4.0 + 2 * SHADOW_MM) * (3.0 + 2 * SHADOW_MM) * 10.0, rel=1e-6)


@pytest.mark.parametrize("top_mm", [-0.5, -3.0])
def test_a_crumb_under_all_of_a_main_piece_holds_nothing(top_mm: float) -> None:
    """What lies lower than a piece begins cannot be over any of it."""
    bench = Workbench()
    main = box(bench, (0.0, 0.0, 0.0), (20.0, 20.0, 10.0))
    crumb = box(bench, (5.0, 6.0, -9.0), (9.0, 9.0, top_mm))
    assert below(bench, crumb, UP, main).is_empty()


def test_a_crumb_beside_the_end_of_a_main_piece_holds_what_is_under_it() -> None:
    """A crumb partly lower than the piece begins holds what its higher part stands over."""
    bench = Workbench()
    main = box(bench, (0.0, 0.0, 0.0), (20.0, 20.0, 10.0))
    crumb = box(bench, (5.0, 6.0, 12.0), (9.0, 9.0, 16.0)) + box(bench, (30.0, 6.0, -7.0), (34.0, 9.0, 13.0))
    held = below(bench, crumb, UP, main)
    assert held.volume() == pytest.approx((4.0 + 2 * SHADOW_MM) * (3.0 + 2 * SHADOW_MM) * 10.0, rel=1e-6)
