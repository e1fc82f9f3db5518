"""Molds for the tests: one way of opening, taken as given, so that no survey has to run first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.geometry.lattice import (
    UNITS_PER_MM,
    Lattice,
    LatticeMesh,
    pull_rotation,
    to_lattice,
)
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.sheets import Envelope, envelope
from claybed.geometry.slab import LatticeSolid, odd_faced_edges, solid_between
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject, MouthReading
from claybed.records.surveyed import AxisScore, MoldOption, Survey
from tests.survey.objects import measured

Vector = tuple[float, float, float]
UP: Vector = (0.0, 0.0, 1.0)
UNITS_PER_MM3 = float(np.prod(UNITS_PER_MM))
BARE = Brief(gate="none", keys=False, max_fill_ml=1e6)


def along(pull: Vector, *, one_piece: bool = False) -> Survey:
    """A survey whose only option is the given pull."""
    kind = "one_piece" if one_piece else "two_piece"
    score = AxisScore(pull, 0.0, 0.0, 0.0, 0, 0.0, True, None, "asked")
    option = MoldOption(kind, pull, 0.0, 0.0, "as asked")  # type: ignore[arg-type]
    return Survey((option,), score, (), (), (score,), False, 1.0)


def mold(obj: Mesh | MeasuredObject, pull: Vector, brief: Brief = BARE, *, one_piece: bool = False) -> Molded:
    """The mold of an object along a pull."""
    subject = measured(obj) if isinstance(obj, Mesh) else obj
    fixed = replace(brief, axis=pull)
    return make_mold(subject, along(pull, one_piece=one_piece), fixed, progress=lambda step, part: None)


def sheets_of(
    mesh: Mesh, pull: Vector | Floats = UP, *, room_mm: float = 20.0, nudge_mm: Floats | float = 0.0
) -> tuple[LatticeMesh, Lattice, Envelope]:
    """An object on its lattice, a square footprint round it, and its sheets."""
    rotation = pull_rotation(pull)
    middle = mesh.bounds_mm.mean(axis=0) @ rotation.T
    lat = to_lattice(mesh, rotation, nudge_mm - middle)
    reach = int(np.abs(lat.points[:, :2]).max()) + round(room_mm * 1024)
    footprint = reach * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.int64)
    return lat, footprint, envelope(lat, footprint)


def block_six_volumes(assembly: Assembly) -> int:
    """Six times the volume of the block, lattice units, from its outline and height."""
    x, y = (assembly.footprint[:, k].tolist() for k in (0, 1))
    doubled = sum(a * d - c * b for a, b, c, d in zip(x, y, x[1:] + x[:1], y[1:] + y[:1], strict=True))
    return int(3 * doubled * assembly.height)


def six_volumes(solid: LatticeSolid) -> int:
    """Six times a solid's volume in Python's own integers, as a sum of tetrahedra."""
    total = 0
    for a, b, c in solid.points[solid.faces].tolist():
        total += a[0] * (b[1] * c[2] - b[2] * c[1])
        total += a[1] * (b[2] * c[0] - b[0] * c[2])
        total += a[2] * (b[0] * c[1] - b[1] * c[0])
    return total


def assert_whole(assembly: Assembly) -> None:
    """Every solid is closed and touches itself nowhere; together they fill the block to the last unit."""
    solids = [assembly.model, *(p.solid for p in assembly.pieces)]
    for solid in solids:
        open_edges, crowded = odd_faced_edges(solid)
        assert open_edges == 0
        assert len(crowded) == 0
        assert len(np.unique(solid.points, axis=0)) == len(solid.points)
        assert six_volumes(solid) > 0
    assert sum(six_volumes(s) for s in solids) == block_six_volumes(assembly)


def fill_mm3(assembly: Assembly, obj: Mesh) -> float:
    """What the model holds beyond the object, gate left out: only meaningful for molds without a gate."""
    return assembly.model.volume_mm3 - obj.volume_mm3


def model_mesh(assembly: Assembly) -> Mesh:
    """The model as an object of its own."""
    got = assembly.model.mesh("object")
    return Mesh.make(got.vertices_mm, got.faces, frame="object", origin=Origin.OBJECT)


def mouth_of(rim_mm: Floats, up: Vector) -> MouthReading:
    """A mouth with the given rim, its volumes left at nothing."""
    points = tuple((float(x), float(y), float(z)) for x, y, z in rim_mm)
    return MouthReading(points, up, float((rim_mm @ np.asarray(up)).max()), 0.0, 0.0)


def sheet_fill_mm3(mesh: Mesh, pull: Vector | Floats = UP) -> float:
    """What lies between the sheets beyond the snapped object, mm³: the least fill along a pull.

    As when a mold is made, the object is moved by a hair when the first cut does not close.
    """
    try:
        lat, _, found = sheets_of(mesh, pull)
    except ArithmeticError:
        hair = np.array([0.1307, 0.2113, 0.0713])
        lat, _, found = sheets_of(mesh, pull, nudge_mm=hair)
    between = solid_between(found.bottom, found.top, wall_origin=int(Origin.OBJECT))
    own = six_volumes(LatticeSolid(lat.points, lat.faces, lat.origin))
    return (six_volumes(between) - own) / 6.0 / UNITS_PER_MM3
