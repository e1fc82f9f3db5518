"""What comes loose in a cut, and what it holds."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.carving import Solid, Workbench, polygon, prism
from claybed.geometry.mesh import Origin
from claybed.mold.crumbs import (
    SHADOW_MM,
    CrumbledError,
    all_faces,
    below,
    held_up,
    reached,
    settled,
    whole_of,
)
from tests.pieces import solids

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)


def block(
    bench: Workbench, low: tuple[float, float, float], size: tuple[float, float, float], origin: Origin
) -> Solid:
    """A box from its lowest corner."""
    box = solids.to_manifold(solids.box(*size))
    corner = box.bounding_box()[:3]
    return bench.marked(box.translate([a - b for a, b in zip(low, corner, strict=True)]), origin)


@pytest.mark.parametrize(
    ("at_x_mm", "pull", "held_mm3"),
    [(30.0, UP, 3200.0), (30.0, DOWN, 0.0), (60.0, UP, 0.0), (39.998, UP, 0.0)],
    ids=["over it", "over it, pulled down", "beside it", "over it by rounding"],
)
def test_a_crumb_holds_what_is_below_it(
    at_x_mm: float, pull: tuple[float, float, float], held_mm3: float
) -> None:
    """A crumb of 20 x 16 mm over the edge of a plate 20 mm high holds what lies under it: 10 x 16 x 20 mm,
    and a hair beside it.
    """
    bench = Workbench()
    plate = block(bench, (0.0, 0.0, 0.0), (40.0, 30.0, 20.0), Origin.OUTSIDE)
    crumb = block(bench, (at_x_mm, 7.0, 25.0), (20.0, 16.0, 5.0), Origin.PARTING)
    over_mm = held_up(bench, crumb, all_faces(bench, None, plate), pull)
    assert bool(len(over_mm)) is bool(held_mm3)
    assert below(bench, over_mm, pull, plate).volume() == pytest.approx(held_mm3, rel=4e-3)
    places = reached(crumb, over_mm, pull, all_faces(bench, None, plate), np.eye(3))
    assert [place.floor_mm for place in places] == ([25.0, 0.0] if held_mm3 else [25.0])


@pytest.mark.parametrize(("size_mm", "whole"), [(0.25, True), (0.35, False)])
@pytest.mark.parametrize("hollow", [False, True])
def test_a_loose_speck_is_dropped_and_a_lump_is_not(size_mm: float, whole: bool, hollow: bool) -> None:
    """Beside a body of 24 000 mm³ a loose cube of 0.016 mm³, or a hollow of that size in it, is rounding; one
    of 0.043 mm³ is a second surface.
    """
    bench = Workbench()
    body = block(bench, (0.0, 0.0, 0.0), (40.0, 30.0, 20.0), Origin.OBJECT)
    speck = block(bench, (20.0 if hollow else 60.0, 10.0, 10.0), (size_mm, size_mm, size_mm), Origin.OBJECT)
    made, fine = settled(bench, None, body - speck if hollow else bench.side_by_side([body, speck]))
    assert fine is whole
    more = 0.0 if whole else size_mm**3 * (-1.0 if hollow else 1.0)
    assert made.volume_mm3 == pytest.approx(24_000.0 + more, abs=1e-3)


@pytest.mark.parametrize(("loose", "size_mm", "crumbled"), [(4, 2.0, False), (5, 2.0, True), (9, 0.9, False)])
def test_a_side_piece_in_too_many_parts_is_crumbs(loose: int, size_mm: float, crumbled: bool) -> None:
    """Four loose parts of 8 mm³ beside a piece are told apart, five are crumbs; grains do not count."""
    bench = Workbench()
    grains = [
        block(bench, (50.0 + 5.0 * k, 0.0, 0.0), (size_mm, size_mm, size_mm), Origin.PARTING)
        for k in range(loose)
    ]
    body = block(bench, (0.0, 0.0, 0.0), (40.0, 30.0, 20.0), Origin.PARTING)
    every = bench.side_by_side([*grains, body])
    if crumbled:
        with pytest.raises(CrumbledError, match="crumbs"):
            whole_of(bench, every, "piece C")
    else:
        largest, others = whole_of(bench, every, "piece C")
        assert largest.volume() == pytest.approx(24_000.0)
        assert len(others) == loose


def box(bench: Workbench, low: tuple[float, ...], high: tuple[float, ...]) -> Solid:
    """A box between two corners, mm."""
    sides = np.array(high) - np.array(low)
    return bench.marked(Solid.cube(sides.tolist()).translate(low), Origin.PARTING)


def held(bench: Workbench, crumb: Solid, main: Solid) -> Solid:
    """What of a main piece that is pulled up a crumb would hold back."""
    return below(bench, held_up(bench, crumb, all_faces(bench, None, main), UP), UP, main)


def test_a_crumb_over_a_main_piece_holds_the_column_under_it() -> None:
    """A crumb of 4 mm x 3 mm, 2 mm over a piece 10 mm thick, holds 4 x 3 x 10 mm of it, grown by a hair."""
    bench = Workbench()
    main = box(bench, (0.0, 0.0, 0.0), (20.0, 20.0, 10.0))
    column = held(bench, box(bench, (5.0, 6.0, 12.0), (9.0, 9.0, 13.0)), main)
    assert column.volume() == pytest.approx((4.0 + 2 * SHADOW_MM) * (3.0 + 2 * SHADOW_MM) * 10.0, rel=1e-6)


@pytest.mark.parametrize("top_mm", [-0.5, -3.0])
def test_a_crumb_under_all_of_a_main_piece_holds_nothing(top_mm: float) -> None:
    """What lies lower than a piece begins cannot be over any of it."""
    bench = Workbench()
    main = box(bench, (0.0, 0.0, 0.0), (20.0, 20.0, 10.0))
    crumb = box(bench, (5.0, 6.0, -9.0), (9.0, 9.0, top_mm))
    assert held(bench, crumb, main).is_empty()


def test_a_crumb_beside_the_end_of_a_main_piece_holds_what_is_under_it() -> None:
    """A crumb partly lower than the piece begins holds what its higher part stands over."""
    bench = Workbench()
    main = box(bench, (0.0, 0.0, 0.0), (20.0, 20.0, 10.0))
    crumb = box(bench, (5.0, 6.0, 12.0), (9.0, 9.0, 16.0)) + box(bench, (30.0, 6.0, -7.0), (34.0, 9.0, 13.0))
    column = held(bench, crumb, main)
    assert column.volume() == pytest.approx((4.0 + 2 * SHADOW_MM) * (3.0 + 2 * SHADOW_MM) * 10.0, rel=1e-6)


def test_a_film_that_rounds_to_nothing_is_no_piece() -> None:
    """A plate thinner than a lattice step has no body once it is rounded: the cut fails, and says so."""
    bench = Workbench()
    film = prism(polygon(np.array([(0.0, 0.0), (20.0, 0.0), (0.0, 16.0)])), 0.0, 1e-7)
    film = bench.marked(film, Origin.OUTSIDE)
    with pytest.raises(ArithmeticError, match="thinner than the lattice"):
        settled(bench, None, film)
