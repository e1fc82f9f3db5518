"""Laws of molds of three pieces and more: turned, mirrored, scaled and refined objects need as many pieces
and the same fill.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from claybed.flow.searching import make_mold
from claybed.geometry.mesh import Floats, Mesh
from claybed.proof.leaving import CUT_LATERAL_MM, leaving
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.surveyed import MoldOption
from claybed.survey import surveying
from claybed.survey.covering import SIDE_LINES
from tests.mold.molds import BARE, along
from tests.pieces import solids
from tests.survey.objects import measured

SIDE_MM, HOLE_MM, DEEP_MM, CORNERS = 60.0, 8.0, 15.0, 24
TURN = Rotation.from_euler("xyz", [31.0, -47.0, 12.0], degrees=True).as_matrix()
MIRROR = np.diag([1.0, 1.0, -1.0])
# What a law does to an object: a matrix (3, 3), and whether every triangle is cut in four.
FORMS: dict[str, tuple[Floats, bool]] = {
    "as it lies": (np.eye(3), False),
    "turned": (TURN, False),
    "mirrored": (MIRROR, False),
    "larger": (1.5 * np.eye(3), False),
    "refined": (np.eye(3), True),
}


def formed(mesh: Mesh, name: str) -> Mesh:
    """An object as a law has it."""
    matrix, refine = FORMS[name]
    vertices, faces = mesh.vertices_mm, mesh.faces
    if refine:
        vertices, faces = trimesh.remesh.subdivide(vertices, faces)
    if np.linalg.det(matrix) < 0.0:
        faces = faces[:, ::-1]
    return Mesh.make(vertices @ matrix.T, faces, frame="object")


def hole_mm3(corners: int = CORNERS) -> float:
    """Volume of one hole, a prism over a regular polygon."""
    return 0.5 * corners * math.sin(2.0 * math.pi / corners) * HOLE_MM**2 * DEEP_MM


def drilled(sides: tuple[str, ...], corners: int = CORNERS) -> Mesh:
    """A cube with blind holes in some sides."""
    return solids.cube_with_blind_holes(
        sides, side_mm=SIDE_MM, hole_mm=HOLE_MM, deep_mm=DEEP_MM, corners=corners
    )


@pytest.mark.parametrize("name", FORMS)
def test_as_many_pieces_leave_as_much_to_fill(name: str) -> None:
    """Holes up, down and to two sides, the main pull up: two pieces leave two holes to fill, three one, four
    none, however the cube lies, as large as it is, and of whatever triangles.

    Source: geometry. Samples next to the wall of a hole count as free: at most one line's width of them.
    """
    matrix, _ = FORMS[name]
    times = abs(float(np.linalg.det(matrix))) ** (1.0 / 3.0)
    up = matrix[:, 2] / times
    axis = (float(up[0]), float(up[1]), float(up[2]))
    got = surveying.survey(
        measured(formed(drilled(("+x", "+y", "+z", "-z")), name)), Brief(axis=axis),
        progress=lambda phase, part: None,
    )  # fmt: skip
    # A count beyond the one that does is kept to fall back on.
    needed = [trade for trade in got.front if trade.pieces <= 4]
    assert [trade.pieces for trade in needed] == [2, 3, 4]
    assert all(trade.fill_ml == 0.0 for trade in got.front[3:])
    two, three, four = (1000.0 * trade.fill_ml / times**3 for trade in needed)
    assert two == pytest.approx(2.0 * hole_mm3(), rel=2e-3)
    line_mm = math.sqrt(3.0) * SIDE_MM / SIDE_LINES
    beside_mm3 = line_mm * DEEP_MM * 2.0 * math.pi * HOLE_MM
    assert hole_mm3() - beside_mm3 < three <= 1.002 * hole_mm3()
    assert four == 0.0


def test_a_turned_object_is_not_given_more_pieces() -> None:
    """With no pull asked for, a cube aslant of the file's axes is told the pulls of its own holes."""
    got = surveying.survey(
        measured(formed(drilled(("+x", "+y", "+z", "-z")), "turned")), Brief(),
        progress=lambda phase, part: None,
    )  # fmt: skip
    whole = next(trade for trade in got.front if trade.fill_ml == 0.0)
    assert whole.pieces == 4
    pulls = np.array([whole.pull, *whole.sides]) @ TURN
    assert np.abs(pulls).max(axis=1) == pytest.approx(np.ones(3), abs=1e-3)


@cache
def three_pieces(name: str, corners: int = CORNERS) -> tuple[Mesh, Assembly, float]:
    """A cube with holes up and to two sides in three pieces, the third for one of those two: the object, its
    mold and what is filled, mm³.
    """
    matrix, _ = FORMS[name]
    mesh = formed(drilled(("+x", "+y", "+z"), corners), name)
    up, side = (tuple(float(v) for v in matrix[:, k] / np.linalg.norm(matrix[:, k])) for k in (2, 0))
    option = MoldOption("several", up, hole_mm3(corners) / 1000.0, 0.0, "as asked", sides=(side,))
    found = replace(along(up), options=(option,))
    brief = replace(BARE, axis=up, pieces=3, wall_mm=35.0)
    made = make_mold(measured(mesh), found, brief, progress=lambda step, part: None)
    return mesh, made.assembly, made.assembly.model.volume_mm3 - mesh.volume_mm3


@pytest.mark.parametrize("name", FORMS)
def test_three_pieces_leave_and_fill_the_one_hole_that_none_of_them_frees(name: str) -> None:
    """Whatever was done to the object; the fill grows with the cube of its size.

    Source: geometry, the volume of a prism.
    """
    matrix, _ = FORMS[name]
    mesh, assembly, fill_mm3 = three_pieces(name)
    assert len(assembly.pieces) == 3
    parts = {"model": assembly.model, **{piece.id: piece.solid for piece in assembly.pieces}}
    assert [check for check in leaving(parts, assembly, lateral_mm=CUT_LATERAL_MM) if not check.ok] == []
    times = abs(float(np.linalg.det(matrix)))
    # Snapping moves a surface by no more than a few thousandths of a millimetre.
    assert fill_mm3 == pytest.approx(times * hole_mm3(), abs=1.5e-3 * mesh.area_mm2)


def test_fill_of_three_pieces_closes_in_on_that_of_a_round_hole() -> None:
    """Of polygons with twice as many sides the fill lacks a fourth as much of the cylinder's.

    Source: geometry; a polygon of n sides lacks (2 / 3) pi³ r² / n² of its circle, to first order.
    """
    exact_mm3 = math.pi * HOLE_MM**2 * DEEP_MM
    lacks = [exact_mm3 - three_pieces("as it lies", corners)[2] for corners in (12, 24)]
    assert lacks[1] / exact_mm3 == pytest.approx(2.0 / 3.0 * (math.pi / CORNERS) ** 2, rel=0.05)
    assert lacks[0] / lacks[1] == pytest.approx(4.0, rel=0.05)
