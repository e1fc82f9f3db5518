"""Hollow ware drawn with its wall is told from what is solid."""

from __future__ import annotations

import re

import numpy as np
import pytest

from claybed.geometry.lattice import rotation_about
from claybed.geometry.mesh import Mesh
from claybed.intake.hollow import hollow_findings
from tests.pieces import solids

UP = (0.0, 0.0, 1.0)


def held_ml(mesh: Mesh) -> float:
    """What the finding says the vessel holds, ml."""
    (found,) = hollow_findings(mesh, UP)
    assert found.amount is not None
    return found.amount.value


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 180.0])
def test_a_tumbler_is_hollow_whichever_way_it_lies(turn_deg: float) -> None:
    """It holds what its inside holds, and --mouth is pointed to; lying, the way it stands is told."""
    tumbler = solids.tumbler(wall_mm=4.0)
    turned = tumbler.moved(rotation_about((turn_deg, 0.0, 0.0)), np.zeros(3), frame="object")
    (found,) = hollow_findings(turned, UP)
    assert found.id == "hollow_ware"
    assert "--mouth" in found.remedy
    assert ("upward" in found.says) is (turn_deg > 0.0)
    assert held_ml(turned) == pytest.approx(held_ml(tumbler), rel=0.01)


def test_the_share_is_of_its_own_volume() -> None:
    """A straight cup with a floor of 4 mm holds the disc inside its wall, and is told how many times its
    own volume that is.
    """
    cup = solids.from_manifold(
        solids.to_manifold(solids.cylinder(40.0, 100.0))
        - solids.to_manifold(solids.cylinder(36.0, 100.0)).translate((0.0, 0.0, 4.0))
    )
    inside_mm3 = solids.cylinder(36.0, 96.0).volume_mm3
    (found,) = hollow_findings(cup, UP)
    assert held_ml(cup) == pytest.approx(inside_mm3 / 1000.0, rel=0.01)
    told = re.search(r", ([\d.]+) times", found.says)
    assert told is not None
    assert float(told[1]) == pytest.approx(inside_mm3 / cup.volume_mm3, abs=0.06)


@pytest.mark.parametrize(
    "solid",
    [solids.box(50.0, 40.0, 30.0), solids.sphere(30.0), solids.torus(40.0, 10.0, around=64, sides=24)],
)
def test_what_holds_nothing_is_not_called_hollow(solid: Mesh) -> None:
    """A brick, a ball and a ring hold no water to speak of."""
    assert hollow_findings(solid, UP) == ()
