"""Displaced water: Archimedes, and how far it can be trusted."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.errors import InputError
from claybed.making.displacement import displaced, form_mm
from claybed.materials import shelf

NONE = {"water_g": None, "water_ml": None, "mass_g": None, "extent_mm": None}


def test_archimedes() -> None:
    """What is displaced weighs its volume times the density of water: 998 g of it are a litre at 20 °C
    (CRC Handbook, from memory)."""
    found = displaced(**(NONE | {"water_g": 998.0, "mass_g": 499.0}))
    assert found.volume_ml == pytest.approx(1000.0, rel=1e-12)
    assert found.density_g_per_ml == pytest.approx(0.499, rel=1e-12)
    assert displaced(**(NONE | {"water_ml": 640.0})).volume_ml == 640.0


def test_a_finer_scale_leaves_less_open() -> None:
    """The interval narrows with the scale down to what film and water leave, and is the root of squares."""
    rough, fine = (displaced(**NONE | {"water_g": 640.0}, reading_g=g) for g in (20.0, 0.1))
    assert rough.half_width_share > 2.0 * fine.half_width_share
    film = shelf.value("measuring", "displaced_film_fraction").value
    assert fine.half_width_share > film
    parts = (rough.reading_share, rough.film_share, rough.water_share)
    assert rough.half_width_share**2 == pytest.approx(sum(p**2 for p in parts), rel=1e-12)


def test_the_readings_part_is_what_chance_gives() -> None:
    """Two weighings, before and after, shaken by the scale's error scatter by the share that is stated."""
    rng = np.random.default_rng(1)
    off = rng.normal(0.0, 2.0 / 1.959964, (40_000, 2))
    water = 640.0 + off[:, 1] - off[:, 0]
    stated = displaced(**NONE | {"water_g": 640.0}, reading_g=2.0).reading_share
    assert np.mean(np.abs(water / 640.0 - 1.0) <= stated) == pytest.approx(0.95, abs=0.005)


def test_the_box_must_hold_it() -> None:
    """An object cannot displace more than the box it fits into, and may displace all of it."""
    box = (100.0, 80.0, 50.0)
    assert displaced(**(NONE | {"water_ml": 400.0, "extent_mm": box})).volume_ml == 400.0
    with pytest.raises(InputError, match="does not fit into a box of 400 ml"):
        displaced(**(NONE | {"water_ml": 420.0, "extent_mm": box}))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "given once"),
        ({"water_g": 5.0, "water_ml": 5.0}, "given once"),
        ({"water_ml": 0.0}, "no water was displaced"),
        ({"water_g": 3.0}, "finer scale"),
        ({"water_ml": 100.0, "mass_g": 3000.0}, "heavier than any metal"),
    ],
)
def test_amounts_that_no_object_has(given: dict[str, float], words: str) -> None:
    """Each is refused in one sentence that says what to do."""
    with pytest.raises(InputError, match=words):
        displaced(**(NONE | given))


def test_the_form_leaves_the_usual_wall() -> None:
    """A form about a box is two usual walls larger, on whole steps of a ruler."""
    inside = form_mm((101.0, 80.0, 60.0))
    wall = shelf.value("practice", "wall_small_mm").value
    assert inside[0] == 155.0
    for side, got in zip((101.0, 80.0, 60.0), inside, strict=True):
        assert side + 2.0 * wall <= got < side + 2.0 * wall + 5.0
        assert got % 5.0 == 0.0
