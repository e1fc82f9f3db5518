"""Units asked for, stated, inferred or overruled by a measured height; and numbers that cannot be meant."""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_shapes import box, read, together, write_obj

from claybed.errors import InputError
from claybed.intake.reading import read_object
from claybed.records.brief import Brief


@pytest.mark.parametrize(
    ("unit", "mm"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", 25.4), ("ft", 304.8)]
)
def test_asked_unit(unit: str, mm: float, tmp_path: Path) -> None:
    """An asked unit must scale by its exact length, volumes by its cube."""
    path = write_obj(tmp_path / "block.obj", box((120 / mm, 80 / mm, 40 / mm)))
    found = read(path, unit=unit)
    assert found.extent_mm == pytest.approx((120.0, 80.0, 40.0))
    assert found.solid_ml == pytest.approx(384.0)
    assert found.area_cm2 == pytest.approx(2 * (96 + 48 + 32))
    assert (found.unit.unit, found.unit.mm_per_unit, found.unit.how) == (unit, mm, "asked")


@pytest.mark.parametrize(
    ("longest", "unit"), [(0.12, "m"), (12.0, "cm"), (24.0, "cm"), (26.0, "mm"), (300.0, "mm")]
)
def test_inferred_unit_is_said(longest: float, unit: str, tmp_path: Path) -> None:
    """Without a unit the size must decide, and the sentence must say that it is a guess."""
    found = read(write_obj(tmp_path / "block.obj", box((longest, longest / 2, longest / 3))), unit=None)
    assert (found.unit.unit, found.unit.how) == (unit, "inferred")
    assert "guessed from its size" in found.unit.says


@pytest.mark.parametrize("longest", [0.001, 30_000.0])
def test_implausible_size_asks_for_a_unit(longest: float, tmp_path: Path) -> None:
    """A size no unit explains must be asked about, and a height must settle it."""
    path = write_obj(tmp_path / "block.obj", box((longest, longest, longest)))
    with pytest.raises(InputError, match="--unit"):
        read(path, unit=None)
    assert read(path, unit=None, height_mm=50.0).solid_ml == pytest.approx(125.0)


def test_height_scales_along_up(tmp_path: Path) -> None:
    """The extent along up must equal the height given, whatever the unit, on a slanted up as well."""
    path = write_obj(tmp_path / "block.obj", box((30.0, 40.0, 50.0)))
    found = read(path, height_mm=100.0, up=(0.0, 1.0, 0.0))
    assert found.extent_mm == pytest.approx((75.0, 100.0, 125.0))
    assert found.unit.how == "scaled" and found.unit.mm_per_unit == pytest.approx(2.5)
    slanted = read(path, height_mm=100.0, up=(3.0, 4.0, 0.0))
    assert slanted.extent_mm[0] == pytest.approx(30.0 * 100.0 / (30.0 * 0.6 + 40.0 * 0.8))


def test_height_is_of_the_body_picked(tmp_path: Path) -> None:
    """The height must be that of the picked body alone, not of all that stands in the file."""
    path = write_obj(tmp_path / "pair.obj", together(box((20, 20, 20)), box((40, 40, 40), (60, 0, 30))))
    assert read(path, body=2, height_mm=10.0).solid_ml == pytest.approx(1.0)


@pytest.mark.parametrize(
    "fields",
    [
        {"height_mm": 0.0},
        {"height_mm": -5.0},
        {"height_mm": float("nan")},
        {"mass_g": 0.0},
        {"mass_g": -1.0},
        {"mass_g": float("inf")},
        {"unit": "cubit"},
        {"body": 0},
        {"up": (0.0, 0.0, 0.0)},
        {"max_triangles": 0},
    ],
)
def test_numbers_that_cannot_be_meant(fields: dict[str, object], tmp_path: Path) -> None:
    """Zero, negative or unknown inputs must be refused before the file is read."""
    path = write_obj(tmp_path / "block.obj", box((30.0, 40.0, 50.0)))
    with pytest.raises(InputError) as caught:
        read_object(path, Brief(**fields), progress=lambda step, part: None)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


def test_mass_is_carried(tmp_path: Path) -> None:
    """A mass given must stand in the record unchanged, and the volume count as taken at its word."""
    found = read(write_obj(tmp_path / "block.obj", box((30.0, 40.0, 50.0))), mass_g=123.4)
    assert found.mass_g == 123.4
    assert found.volume_rel_95 == 0.0


def test_progress_runs_from_reading_to_mending(tmp_path: Path) -> None:
    """Progress must name its steps in order, each from 0 to 1 and never backwards."""
    seen: list[tuple[str, float]] = []
    path = write_obj(tmp_path / "block.obj", box((30.0, 40.0, 50.0)))
    read_object(path, Brief(unit="mm"), progress=lambda step, part: seen.append((step, part)))
    assert list(dict.fromkeys(step for step, _ in seen)) == ["reading", "mending"]
    for name in ("reading", "mending"):
        parts = [part for step, part in seen if step == name]
        assert parts == sorted(parts) and parts[0] == 0.0 and parts[-1] == 1.0
