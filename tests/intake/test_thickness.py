"""Sheets without a thickness, and points that are no numbers and belong to nothing: told, and no fault."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from intake_shapes import box, write_obj

from claybed.errors import InputError
from claybed.intake.reading import read_object
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject

SIDE_MM = 40.0


def read(path: Path) -> MeasuredObject:
    """The object of a file in millimetres."""
    return read_object(path, Brief(unit="mm"), progress=lambda step, part: None)


@pytest.mark.parametrize("thick_mm", [1e-6, 0.009])
def test_a_foil_is_refused_with_its_thickness(tmp_path: Path, thick_mm: float) -> None:
    """A closed sheet thinner than coordinates of a mold is no body, whatever its other sides."""
    with pytest.raises(InputError, match=r"is a foil, .* no body to mold"):
        read(write_obj(tmp_path / "foil.obj", box((SIDE_MM, SIDE_MM, thick_mm))))


@pytest.mark.parametrize(("thick_mm", "told"), [(0.1, True), (0.49, True), (0.6, False)])
def test_a_thin_sheet_is_told(tmp_path: Path, thick_mm: float, told: bool) -> None:
    """What is thinner than ware is told with its thickness: twice the volume over the surface, by hand."""
    found = read(write_obj(tmp_path / "sheet.obj", box((SIDE_MM, SIDE_MM, thick_mm)))).findings
    amounts = [f.amount.value for f in found if f.id == "object_thin" and f.amount is not None]
    by_hand_mm = 2.0 * SIDE_MM**2 * thick_mm / (2.0 * SIDE_MM**2 + 4.0 * SIDE_MM * thick_mm)
    assert amounts == ([pytest.approx(by_hand_mm, rel=1e-6)] if told else [])


def test_loose_points_without_a_number_are_told(tmp_path: Path) -> None:
    """Points that are no number and that no triangle uses are left out, and the object is as without them."""
    points, faces = box((SIDE_MM, SIDE_MM, SIDE_MM))
    loose = np.array([[np.nan, np.nan, np.nan], [np.inf, 0.0, 0.0]])
    found = read(write_obj(tmp_path / "loose.obj", (np.concatenate([loose, points]), faces + 2)))
    assert [r.says for r in found.repairs] == ["Left out 2 points without a number, which no triangle uses."]
    assert found.solid_ml == pytest.approx(SIDE_MM**3 / 1000.0)
