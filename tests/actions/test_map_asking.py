"""What a cast map is asked comes from the cast's own working, not from a second one."""

from __future__ import annotations

import pytest

from claybed.actions.casting import CastWish, cast_document, map_ask
from claybed.errors import InputError
from claybed.flow.cast_figures import figures_of
from claybed.flow.cast_map import within_memory_mm
from claybed.geometry.mesh import Mesh
from tests.pieces import solids

SLIP = "[slip.yard]\ncasting_rate_mm2_per_min = 1.6\ndensity_ratio = 1.78\ndamp_slope_ratio = 0.3\n"


@pytest.mark.parametrize(
    "wish",
    [
        CastWish(wall_mm=4.0, k_mm2_per_min=1.4),
        CastWish(wall_mm=4.0, k_mm2_per_min=1.4, celsius=12.0),
        CastWish(wall_mm=4.0, tests=[(4.0, 5.0)]),
        CastWish(wall_mm=4.0, tests=[(3.0, 3.0), (4.0, 5.0), (5.0, 9.0)], celsius=28.0),
        CastWish(wall_mm=4.0, slip="yard", studio=SLIP),
    ],
)
def test_a_map_casts_at_the_rate_of_the_cast(wish: CastWish) -> None:
    """k, test pours, temperature and the studio's slip give map and plain cast the same rate and time."""
    plain = cast_document(wish)
    figures = figures_of(map_ask(wish), consistency_per_100=77.0, ware_wall_mm=3.0)
    assert figures.rate_mm2_per_min == plain["k_mm2_per_min"]
    assert figures.minutes_min == pytest.approx(plain["minutes"], rel=1e-12)


def test_a_map_takes_the_slip_of_the_studio() -> None:
    """Density and slowing of a named slip reach the map; what is typed beside it comes first."""
    asked = map_ask(CastWish(slip="yard", studio=SLIP))
    assert (asked.slip_ratio, asked.slowdown_fraction) == (1.78, 0.3)
    assert map_ask(CastWish(slip="yard", studio=SLIP, density_ratio=1.7)).slip_ratio == 1.7


def test_cold_slip_casts_slower() -> None:
    """Water is stickier in the cold, so the wall grows slower."""
    cold = map_ask(CastWish(k_mm2_per_min=1.4, celsius=10.0)).rate
    assert cold is not None and cold.value < 1.4
    assert cold.figure.inputs == {"k_mm2_per_min": 1.4, "water_celsius": 10.0}


@pytest.mark.parametrize(
    "wish",
    [
        CastWish(wall_mm=4.0, minutes=10.0),
        CastWish(k_mm2_per_min=1.0, tests=[(4.0, 5.0)]),
        CastWish(k_mm2_per_min=900.0),
        CastWish(slip="nobody", studio=SLIP),
    ],
)
def test_contradictions_are_refused(wish: CastWish) -> None:
    """Wall and time, k and a test, a rate that no slip has, an unknown slip: refused before any work."""
    with pytest.raises(InputError):
        map_ask(wish)


def test_cells_too_small_for_the_machine_name_one_that_fits() -> None:
    """Cells of half a millimetre in a block of 9 litres are refused, and the size named is taken."""
    block: list[Mesh] = [solids.box(200.0, 200.0, 225.0)]
    with pytest.raises(InputError, match="72 million") as refused:
        within_memory_mm(block, 0.5)
    fits_mm = float(refused.value.remedy.split()[2].removesuffix("mm"))
    assert within_memory_mm(block, fits_mm) == fits_mm
    with pytest.raises(InputError):
        within_memory_mm(block, fits_mm - 0.11)
