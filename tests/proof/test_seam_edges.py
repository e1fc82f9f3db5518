"""How sharp edges along a seam are told."""

from __future__ import annotations

import pytest

from claybed.proof import seam_edges


@pytest.mark.parametrize(("length_mm", "says"), [(0.3, "0.3 mm"), (1.2, "1 mm"), (86.4, "86 mm")])
def test_a_short_stretch_is_not_told_as_none(length_mm: float, says: str) -> None:
    """A check that fails over a third of a millimetre says so, not "0 mm"; edges up to 0.2 mm never count."""
    assert seam_edges._told(length_mm) == says
