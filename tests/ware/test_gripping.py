"""Where a shrinking cast grips its plaster, and how long it may stay."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from claybed.errors import CannotError
from claybed.geometry.lattice import UNITS_PER_MM
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.materials import shelf
from claybed.materials.shelf import Constant
from claybed.records.assembly import Assembly, Gate, Piece
from claybed.ware.gripping import grip_findings, plan_grip
from claybed.ware.measuring import measure
from tests.pieces import solids
from tests.survey.objects import measured

WAIT_MIN = 120.0
NO_SOLID: Any = None


def around(mesh: Mesh) -> Assembly:
    """A mold of one piece whose cavity is the whole of a mesh, as far as its skin is looked at."""
    plaster = LatticeSolid(
        np.rint(mesh.vertices_mm * UNITS_PER_MM).astype(np.int64),
        np.ascontiguousarray(mesh.faces[:, ::-1]),
        np.full(len(mesh.faces), int(Origin.OBJECT), np.uint8),
    )
    return Assembly(
        shape="boxed", outer_mm=(100.0, 100.0, 100.0), footprint=np.zeros((4, 2), np.int64), height=0,
        wall_mm=20.0, wall_reason="", model=NO_SOLID, pieces=(Piece("A", 1, (0.0, 0.0, 1.0), plaster),),
        contacts=(), keys=(), gate=Gate("none", 0.0, 0.0, 0.0, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
        seam_loops=(), seam_length_mm=0.0, seam_flat=True, off_plane_mm=0.0, level_mm=0.0,
        to_block=np.eye(3), shift_mm=np.zeros(3), stance="", square_mm=0.0, hidden_faces=0,
    )  # fmt: skip


def test_an_object_that_its_gate_takes_up_is_refused() -> None:
    """Where no plaster is left against the object itself, its size is doubted, in one line."""
    mold = around(solids.box(12.0, 11.0, 18.0))
    taken = replace(mold.pieces[0].solid, origin=np.full_like(mold.pieces[0].solid.origin, int(Origin.GATE)))
    mold = replace(mold, pieces=(replace(mold.pieces[0], solid=taken),))
    with pytest.raises(CannotError, match=r"12 mm × 11 mm × 18 mm, and takes up all of it.*--gate none"):
        measure(measured(solids.box(12.0, 11.0, 18.0)), mold, 4.0, None)


def test_a_ring_grips_the_plaster_in_its_hole() -> None:
    """It is too tight by its shrinkage times the radius of the hole, and may stay for the share of the wait
    in which it shrinks by what held clay stretches.

    Source: geometry of a shrink fit; water lost by a mass balance, (1/2.6 + 0.2195) / (1/2.6 + 0.2821).
    """
    grip = plan_grip(
        around(solids.torus(40.0, 10.0)), pressed=False, wait_minutes=WAIT_MIN, drying_percent=None
    )
    shrinkage = 1.0 - ((1 / 2.6 + 0.18 / 0.82) / (1 / 2.6 + 0.22 / 0.78)) ** (1 / 3)
    assert grip.shrinkage_percent.value == pytest.approx(100.0 * shrinkage, rel=1e-9)
    assert grip.held_mm.value == pytest.approx(30.0, rel=0.01)
    assert grip.grip_mm.value == pytest.approx(30.0 * shrinkage, rel=0.01)
    stretch = shelf.value("clay", "held_stretch_fraction").value
    assert grip.within_minutes is not None
    assert grip.within_minutes.value == pytest.approx(WAIT_MIN * stretch / shrinkage, rel=1e-9)
    assert grip.within_minutes.low < grip.within_minutes.value < grip.within_minutes.high <= WAIT_MIN
    assert grip.at_mm is not None
    assert np.linalg.norm(np.array(grip.at_mm.value)) == pytest.approx(30.0, abs=1.0)
    (finding,) = grip_findings(grip, pressed=False)
    assert "piece A" in finding.where
    assert "onto piece A" in finding.says
    assert "pouring out" in finding.remedy
    assert "no source" in finding.remedy
    assert grip.gripped == ("A",)
    (ordered,) = grip_findings(grip, pressed=False, opening=("C", "A", "B"))
    assert (
        "in its own order, C, then A," in ordered.remedy and "piece A is off within about" in ordered.remedy
    )
    (last,) = grip_findings(grip, pressed=False, opening=("C", "B", "A"))
    assert "C, then B, then A," in last.remedy and "out of piece A" in last.remedy
    (alone,) = grip_findings(grip, pressed=False, opening=("A",))
    assert alone.remedy.startswith("Take the ware out as soon as the clay keeps its shape, within about")
    (both,) = grip_findings(replace(grip, gripped=("A", "B")), pressed=False, opening=("A", "B"))
    assert both.remedy.startswith("Take the ware out as")
    assert "onto pieces A and B, most onto A, " in both.says
    (one,) = grip_findings(grip, pressed=False, opening=("A", "B"))
    assert one.remedy.startswith("Take piece A off first, as")


@pytest.mark.parametrize("pressed", [False, True])
def test_a_ball_draws_away(pressed: bool) -> None:
    """Nothing is held, and nothing said."""
    grip = plan_grip(
        around(solids.sphere(30.0, subdivisions=2)),
        pressed=pressed,
        wait_minutes=WAIT_MIN,
        drying_percent=None,
    )
    assert grip.held_mm.value == grip.grip_mm.value == 0.0
    assert grip.within_minutes is None
    assert grip_findings(grip, pressed=False) == ()


def test_it_shrinks_no_more_than_its_clay() -> None:
    """A clay that loses 2 % of its length in drying has not lost more when it is leather-hard."""
    lean = Constant(2.0, "percent", 2.0, 2.0, "asked", "read", "")
    ring = around(solids.torus(40.0, 10.0))
    grip = plan_grip(ring, pressed=False, wait_minutes=WAIT_MIN, drying_percent=lean)
    assert grip.shrinkage_percent.value == 2.0
    assert grip.grip_mm.value == pytest.approx(0.6, rel=0.01)


def test_a_grip_that_clay_gives_way_to_is_not_told() -> None:
    """A ring whose hole is 2 mm across holds 1 mm of clay, which is a few hundredths too tight."""
    ring = around(solids.torus(11.0, 10.0))
    grip = plan_grip(ring, pressed=False, wait_minutes=WAIT_MIN, drying_percent=None)
    assert grip.held_mm.value == pytest.approx(1.0, abs=0.2)
    assert grip_findings(grip, pressed=False) == ()


def test_a_mold_without_skin_holds_nothing() -> None:
    """Faces that are not the object's are no skin."""
    ring = around(solids.torus(40.0, 10.0))
    (piece,) = ring.pieces
    bare = replace(piece.solid, origin=np.full(len(piece.solid.faces), int(Origin.GATE), np.uint8))
    grip = plan_grip(
        replace(ring, pieces=(replace(piece, solid=bare),)),
        pressed=False,
        wait_minutes=WAIT_MIN,
        drying_percent=None,
    )
    assert grip.grip_mm.value == 0.0
