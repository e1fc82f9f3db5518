"""The figures that docs/decisions/0013 rests on, worked out with the code that they are about."""

from __future__ import annotations

import math

import pytest

from claybed.flow.cast_figures import figures_of
from claybed.physics.wetting import front_conductivity_m2_per_s
from claybed.records.soaked import MapAsk
from claybed.soaking.simulate import Soaking
from tests.soaking import columns

# Hall, Hoff, Skeldon, J. Phys. D 16 (1983) 1875, on brick; from memory.
BRICK = 1.08
CONSISTENCY = 100.0 / 1.3


def share_at(percent: float) -> float:
    """How much of what plaster can hold is there at so much water of its dry mass."""
    ask = MapAsk(moisture_fraction=percent / 100.0)
    return figures_of(ask, consistency_per_100=CONSISTENCY, ware_wall_mm=4.0).wet_share


@pytest.mark.parametrize(
    ("percent", "share", "weaker", "thinner"), [(5, 0.12, 1, 0.6), (10, 0.24, 3, 1.3), (15, 0.36, 5, 2.3)]
)
def test_the_law_of_brick_asks_for_little(percent: int, share: float, weaker: float, thinner: float) -> None:
    """Suction and wall that the law found on brick would take off, in per cent, as the decision says."""
    found = share_at(percent)
    suction = (1.0 - BRICK * found) / (1.0 - found)
    assert found == pytest.approx(share, abs=0.005)
    assert 100.0 * (1.0 - suction) == pytest.approx(weaker, abs=0.5)
    assert 100.0 * (1.0 - math.sqrt(suction)) == pytest.approx(thinner, abs=0.1)


def test_half_the_uptake_is_no_suction() -> None:
    """Were half the uptake at 5 % a weaker suction, a cast would take three and a half times as long."""
    found = share_at(5)
    # Uptake² = 2 x fillable room x conductivity: what is left of both at half the uptake.
    dry, damp = (
        front_conductivity_m2_per_s(rate * 3e-3 / 60.0**0.5, fillable_fraction=0.4 * room)
        for rate, room in ((1.0, 1.0), (0.5, 1.0 - found))
    )
    assert dry / damp == pytest.approx(3.5, abs=0.05)


def test_a_damp_mold_casts_with_the_same_suction() -> None:
    """At 15 % the map's first cast is thinner by what the front's way adds, under 6 %, and never thicker."""
    dry, damp = (
        Soaking(columns.bar(60, 0.5), columns.plain_soil(wet_share=share)).cast(16.0, 0.0).wall_mm[0]
        for share in (0.0, share_at(15))
    )
    assert 0.94 * dry < damp < dry
