"""How a wall grows shut in slots, bores and hollows, against the closed forms of the casting law."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.cast_solid import End, NeckShape, Plug, solid_parts
from claybed.geometry.growing_wall import Neck, grown_in, liquid_in, shut_off
from claybed.geometry.pooling import Cavity, Cells

X, Y, Z = np.meshgrid(np.arange(24) + 0.5, np.arange(24) + 0.5, np.arange(3) + 0.5, indexing="ij")


def cells(inside: Cells) -> Cavity:
    """Cells of 1 mm, open where they meet the grid's border."""
    rim = np.ones(inside.shape, bool)
    rim[1:-1, 1:-1, 1:-1] = False
    return Cavity(inside, inside & rim, np.zeros(3), 1.0)


def closing_wall_mm(inside: Cells) -> float:
    """The wall on flat plaster at which the last slip in some cells has gone."""
    open_mm, shut_mm = 0.5, 20.0
    for _ in range(9):
        wall_mm = 0.5 * (open_mm + shut_mm)
        if liquid_in(cells(inside), wall_mm).inside.any():
            open_mm = wall_mm
        else:
            shut_mm = wall_mm
    return 0.5 * (open_mm + shut_mm)


def test_a_round_bore_closes_at_the_square_root_of_eight_walls() -> None:
    """A bore of 20 mm closes while flat plaster takes 20/2.83 mm.

    Source: casting-law, D² / (8 k); cells make the circle rough by a part in a hundred or so.
    """
    bore = (X - 12.0) ** 2 + (Y - 12.0) ** 2 < 10.0**2
    assert 20.0 / closing_wall_mm(bore) == pytest.approx(np.sqrt(8.0), rel=0.02)


def test_a_slot_closes_at_two_walls() -> None:
    """A slot of 18 mm closes while flat plaster takes 9 mm. Source: casting-law, g² / (4 k)."""
    assert 18.0 / closing_wall_mm(np.abs(X - 12.0) < 9.0) == pytest.approx(2.0, rel=0.01)


def test_flat_plaster_takes_the_wall_that_is_asked() -> None:
    """On a wide flat face slip is left from the wall's thickness on. Source: casting-law, L = sqrt(k t)."""
    left = liquid_in(cells(X > 2.0), 6.0).inside
    assert X[left].min() == 8.5
    assert left[X > 8.0].all()


def test_a_ball_takes_a_thicker_wall_than_flat_plaster() -> None:
    """In a ball of R the slip left has the radius r of 3 L² = R² - 3 r² + 2 r³ / R.

    Source: Darcy flow through a shell, integrated in closed form.
    """
    x, y, z = np.meshgrid(*[np.arange(40) + 0.5] * 3, indexing="ij")
    ball = (x - 20.0) ** 2 + (y - 20.0) ** 2 + (z - 20.0) ** 2 < 18.0**2
    left = liquid_in(Cavity(ball, ball & False, np.zeros(3), 1.0), 5.0).inside.sum()
    r_mm = float(np.cbrt(3.0 * left / (4.0 * np.pi)))
    told = [
        r for r in np.linspace(0.0, 18.0, 1801) if 18.0**2 - 3.0 * r**2 + 2.0 * r**3 / 18.0 >= 3.0 * 5.0**2
    ]
    assert r_mm == pytest.approx(max(told), abs=0.3)
    assert r_mm < 12.95  # 13 is what a wall as on flat plaster would leave


def shut(wall_mm: float, hollow: Cavity) -> list[Neck | None]:
    """The necks before all parts that a wall shuts off."""
    slip = liquid_in(hollow, wall_mm)
    return [n for _, n in shut_off(hollow, slip, wall_mm, less_than_ml=0.0, most_necks=1)]


def test_a_neck_is_named_with_its_width_and_the_wall_that_shuts_it() -> None:
    """A slot 6 mm wide before a belly shuts it in at a wall of 3.2 mm and not at one of 2.8 mm.

    Source: casting-law, 2 L; the belly keeps the slip that the casting law leaves in a long box.
    """
    inside = np.zeros((30, 30, 40), bool)
    inside[2:28, 2:28, 2:22] = True
    inside[12:18, 2:28, 22:40] = True
    hollow = cells(inside)
    assert shut(2.8, hollow) == []
    found = shut(3.2, hollow)
    assert len(found) == 1
    neck = found[0]
    assert neck is not None
    assert neck.clear_mm == pytest.approx(6.0, abs=1.0)
    assert neck.closes_at_wall_mm == pytest.approx(3.0, abs=0.1)
    assert neck.at_mm[0] == pytest.approx(15.0, abs=0.6)
    assert neck.at_mm[2] > 20.0


def solid(hollow: Cavity, wall_mm: float) -> list[Plug]:
    """Necks of some cells that cast solid."""
    slip, turns_mm = grown_in(hollow, wall_mm)
    rods = NeckShape(far_factor=1.5, reach_least_ratio=1.0, volume_most_ratio=3.0, taper_least_ratio=0.75)
    return solid_parts(hollow, slip, turns_mm, wall_mm, shape=rods, less_than_ml=0.1)[0]


X3, Y3, Z3 = np.meshgrid(np.arange(30) + 0.5, np.arange(30) + 0.5, np.arange(80) + 0.5, indexing="ij")
BELLY = (np.abs(X3 - 15.0) < 13.0) & (np.abs(Y3 - 15.0) < 13.0) & (Z3 > 2.0) & (Z3 < 30.0)
FROM_AXIS = np.hypot(X3 - 15.0, Y3 - 15.0)


def test_a_neck_without_slip_behind_it_is_told_as_solid() -> None:
    """A round neck of 12 mm on a belly closes at 12/2.83 = 4.2 mm: at 5 mm it is solid, at 4 mm it is not.

    Source: casting-law, D² / (8 k); 12 cells make a circle rough, its width by two cells.
    """
    hollow = cells(BELLY | ((FROM_AXIS < 6.0) & (Z3 >= 30.0) & (Z3 < 74.0)))
    assert solid(hollow, 4.0) == []
    (neck,) = solid(hollow, 5.0)
    assert neck.closes_mm == pytest.approx(12.0 / np.sqrt(8.0), rel=0.05)
    assert neck.wide_mm == pytest.approx(12.0, abs=2.5)
    assert neck.at_mm[:2] == pytest.approx((15.0, 15.0), abs=1.0)
    assert 32.0 < neck.at_mm[2] < 72.0
    assert neck.volume_ml == pytest.approx(np.pi * 36.0 * (74.0 - 30.0) / 1000.0, rel=0.2)


def test_corners_rims_and_points_that_cast_solid_are_no_necks() -> None:
    """A belly's corners, a thin rim all round it and a cone that runs out to its point are told of no one."""
    rim = (np.abs(Z3 - 20.0) < 2.0) & (X3 > 1.0) & (X3 < 29.0) & (Y3 > 1.0) & (Y3 < 29.0)
    cone = (FROM_AXIS < 7.0 * (74.0 - Z3) / 44.0) & (Z3 >= 30.0)
    assert solid(cells(BELLY), 3.0) == []
    assert solid(cells(BELLY | rim), 3.0) == []
    assert solid(cells(BELLY | cone), 5.0) == []


def test_a_thin_plate_that_casts_solid_is_an_end() -> None:
    """A plate of 4 mm on a belly is clay throughout at a wall of 3 mm; what lies beyond 1.5 walls from the
    slip counts, 4 x 26 mm by 42 mm (geometry). At 1 mm slip stays in it. A plate alone is all solid.
    """
    rods = NeckShape(far_factor=1.5, reach_least_ratio=1.0, volume_most_ratio=3.0, taper_least_ratio=0.75)
    plate = (np.abs(X3 - 15.0) < 2.0) & (np.abs(Y3 - 15.0) < 13.0) & (Z3 >= 30.0) & (Z3 < 74.0)

    def ends(inside: Cells, wall_mm: float) -> list[End]:
        hollow = cells(inside)
        slip, turns_mm = grown_in(hollow, wall_mm)
        return solid_parts(hollow, slip, turns_mm, wall_mm, shape=rods, less_than_ml=0.1)[1]

    (end,) = ends(BELLY | plate, 3.0)
    assert end.volume_ml == pytest.approx(4.0 * 26.0 * (74.0 - 31.5) / 1000.0, rel=0.05)
    assert end.thick_mm == pytest.approx(4.0, abs=2.0)
    assert end.at_mm[2] > 31.0
    assert ends(BELLY | plate, 1.0) == []
    (whole,) = ends(plate, 3.0)
    assert whole.volume_ml == pytest.approx(4.0 * 26.0 * 44.0 / 1000.0)
