"""The figures of a pour against its piece: what was changed by hand in a plan is named."""

from __future__ import annotations

from typing import Any

import pytest

from claybed.proof.pour_figures import mix_fits

# A litre of slurry at 77 of water per 100 of plaster, worked by hand with 2.7 and 0.998 g/ml:
# 1000 / (0.77 / 0.998 + 1 / 2.7) = 875.8 g of plaster.
PLASTER_G = 875.8
POUR: dict[str, Any] = {
    "plaster_g": PLASTER_G, "water_g": 0.77 * PLASTER_G, "consistency": 77.0, "waste": 0.25,
}  # fmt: skip


def test_a_pour_worked_by_hand_fits() -> None:
    """800 ml of plaster and a quarter more of slurry."""
    found = mix_fits("A", {"volume_ml": 800.0}, POUR)
    assert found.ok
    assert found.measured < 0.1


@pytest.mark.parametrize(
    "change",
    [
        {"plaster_g": 1.3 * PLASTER_G},
        {"water_g": 0.9 * 0.77 * PLASTER_G},
        {"plaster_g": 1.3 * PLASTER_G, "water_g": 1.3 * 0.77 * PLASTER_G},
        {"plaster_g": 0.0, "water_g": 0.0},
        {"consistency": 70.0},
        {"waste": 0.0},
    ],
    ids=["plaster", "water", "both", "nothing", "ratio", "waste"],
)
def test_changed_figures_are_told(change: dict[str, float]) -> None:
    """Water, plaster, ratio and waste of a pour hang together; one that was changed alone does not."""
    found = mix_fits("A", {"volume_ml": 800.0}, POUR | change)
    assert not found.ok
    assert found.where == "pour of piece A"
    assert "claybed mix" in found.remedy
