"""How much draft a side piece has along its way out, against pegs of known taper."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from small_mold import double_cone, mold_of

from claybed.geometry.forming import box, on_lattice
from claybed.geometry.slab import LatticeSolid
from claybed.proof.drafts import side_drafts_deg
from claybed.records.assembly import Piece
from claybed.sheets.side_words import straight_off

SIDES = 48
DEEP_MM = 15.0


def peg(taper_deg: float) -> manifold3d.Manifold:
    """A peg from the plane x = 40 towards -x, whose flat walls narrow by a taper."""
    narrows_mm = DEEP_MM * np.tan(np.radians(taper_deg)) / np.cos(np.pi / SIDES)
    upright = manifold3d.Manifold.cylinder(DEEP_MM, 8.0, 8.0 - narrows_mm, SIDES)
    return upright.rotate((0.0, -90.0, 0.0)).translate((40.0, 0.0, 20.0))


def drafts_of(
    taper_deg: float, later: LatticeSolid | None = None, rim: manifold3d.Manifold | None = None
) -> dict[str, float]:
    """The drafts of a mold whose piece C fills a blind hole in the model along x, and a rim at its mouth."""
    hole = peg(taper_deg) if rim is None else peg(taper_deg) + rim
    model = on_lattice(box((0.0, -20.0, 0.0), (40.0, 20.0, 40.0)) - hole)
    side = on_lattice(box((40.0, -20.0, 0.0), (60.0, 20.0, 40.0)) + hole)
    main = later or on_lattice(box((0.0, 50.0, 0.0), (10.0, 60.0, 10.0)))
    pieces = (
        Piece("A", 1, (0.0, 0.0, 1.0), main, opens=2),
        Piece("C", 3, (1.0, 0.0, 0.0), side, opens=1),
    )
    return side_drafts_deg(replace(mold_of(double_cone()), model=model, pieces=pieces))


@pytest.mark.parametrize("taper_deg", [0.0, 3.0, 8.0])
def test_a_peg_has_the_draft_of_its_walls(taper_deg: float) -> None:
    """Its flat walls open by the taper; the seat around it is square to the way out, its outside free.

    Source: geometry; corners on the lattice turn a wall of 15 mm by up to a few thousandths of a degree.
    """
    assert drafts_of(taper_deg) == {"C": pytest.approx(taper_deg, abs=0.02)}


def test_pieces_that_open_later_count() -> None:
    """A neighbour beside the side piece's straight outside leaves it no draft."""
    beside = on_lattice(box((40.0, 20.0, 0.0), (60.0, 30.0, 40.0)))
    assert drafts_of(8.0, later=beside) == {"C": pytest.approx(0.0, abs=1e-6)}


def test_a_hair_of_straight_wall_holds_nothing() -> None:
    """A rim of 0.4 mm at the mouth of a tapered hole leaves the piece its taper; one of 4 mm takes it."""
    for rim_mm, draft_deg in ((0.4, 3.0), (4.0, 0.0)):
        rim = manifold3d.Manifold.cylinder(rim_mm, 12.0, 12.0, SIDES).rotate((0.0, -90.0, 0.0))
        rim = rim.translate((40.0, 0.0, 20.0))
        assert drafts_of(3.0, rim=rim) == {"C": pytest.approx(draft_deg, abs=0.02)}


def test_pieces_without_draft_are_drawn_straight() -> None:
    """The sheet names them in the order of opening, and says nothing of pieces with draft or no figure."""
    rows = [
        {"id": "A", "order": 3}, {"id": "D", "order": 2, "least_draft_deg": 0.0},
        {"id": "C", "order": 1, "least_draft_deg": 0.2}, {"id": "E", "order": 4, "least_draft_deg": 3.0},
    ]  # fmt: skip
    assert straight_off({"pieces": rows})[0].startswith("Pieces C and D slide along walls without draft")
    assert "Piece D slides" in straight_off({"pieces": rows[:2]})[0]
    assert straight_off({"pieces": [rows[0], rows[3]]}) == []
