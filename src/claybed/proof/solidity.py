"""Closed surfaces, single bodies, and volumes that add up to the block to the last lattice step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import bodies_of, match_sides, side_ends
from claybed.geometry.lattice import UNITS_PER_MM, XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.proof.faces import JOINT, named
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import Assembly
from claybed.records.finding import Check

SIX_STEPS_PER_MM3 = 6 * XY_PER_MM * XY_PER_MM * Z_PER_MM


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """How the faces of a solid hang together.

    `faults` undirected edges (k, 2) that do not join exactly two faces running against each other there, all
    edges of a solid that is turned inside out; `bodies` how many parts are joined across edges; `stray` a
    face of the smallest part.
    """

    faults: NDArray[np.int64]
    bodies: int
    stray: int


def surface(solid: LatticeSolid) -> Surface:
    """Read the edges of a solid; points must be unique, as they are in every `LatticeSolid`."""
    m = len(solid.faces)
    if not m:
        return Surface(np.zeros((0, 2), np.int64), 0, -1)
    sides = match_sides(solid.faces, len(solid.points))
    bad = np.sort(side_ends(solid.faces, np.union1d(sides.lone, sides.twice)), axis=1)
    if not len(bad) and solid.six_volumes <= 0:
        bad = np.sort(side_ends(solid.faces, np.arange(3 * m)), axis=1)
    part, bodies = bodies_of(sides.mate)
    stray = int(np.argmax(part == int(np.argmin(np.bincount(part)))))
    return Surface(np.unique(bad, axis=0) if len(bad) else bad, int(bodies), stray)


def solidity(solids: Mapping[str, LatticeSolid], assembly: Assembly, prefix: str = "") -> list[Check]:
    """Checks `solid_closed_<id>` and `one_body_<id>` for every solid; ids begin with `prefix`."""
    checks = []
    for name, solid in solids.items():
        read = surface(solid)
        label = "the model" if name == "model" else f"piece {name}"
        where, at = label, None
        if len(read.faults):
            at = place_of(lattice_mm(solid.points[read.faults[0]]).mean(axis=0))
            where = f"{label}, {in_words(at, assembly)}"
            if solid.six_volumes <= 0:
                where, at = f"{label}, which is turned inside out", None
        checks.append(
            Check(
                id=f"{prefix}solid_closed_{name}",
                ok=not len(read.faults) and bool(len(solid.faces)),
                measured=float(len(read.faults)),
                limit=0.0,
                unit="edges",
                sense="most",
                where=where,
                how="edges that do not join exactly two faces, all of a solid that is turned inside out",
                remedy=""
                if not len(read.faults)
                else "Plan again with a finer or a mended file of the object.",
                at_mm=at,
            )
        )
        where, at = label, None
        if read.bodies > 1:
            at = place_of(lattice_mm(solid.points[solid.faces[read.stray]]).mean(axis=0))
            where = f"{label}, a loose part {in_words(at, assembly)}"
        checks.append(
            Check(
                id=f"{prefix}one_body_{name}",
                ok=read.bodies == 1,
                measured=float(read.bodies),
                limit=1.0,
                unit="bodies",
                sense="most",
                where=where,
                how="parts joined across edges",
                remedy="" if read.bodies == 1 else "Fill the place on the object that cuts this part off.",
                at_mm=at,
            )
        )
    return checks


def volumes_fill_block(
    solids: Mapping[str, LatticeSolid], assembly: Assembly, prefix: str = "", *, share: float = 0.0
) -> Check:
    """The check that pieces and model add up to the block, exactly or within a `share` of it and what the
    lattice rounds slanted joints by; its id begins with `prefix`.
    """
    total = sum(s.six_volumes for s in solids.values())
    whole = 3 * twice_area(assembly) * int(assembly.height)
    off = abs(total - whole)
    limit = share * whole + (rounding_mm3(assembly) * SIX_STEPS_PER_MM3 if share else 0.0)
    ok = off <= limit
    return Check(
        id=f"{prefix}volumes_fill_block",
        ok=ok,
        measured=off / SIX_STEPS_PER_MM3,
        limit=limit / SIX_STEPS_PER_MM3,
        unit="mm3",
        sense="most",
        where="the whole block",
        how="volumes of pieces and model against footprint times height, in integers",
        remedy="" if ok else "Do not pour from this plan: plan again, and report it if it stays.",
    )


def rounding_mm3(assembly: Assembly) -> float:
    """By how much volumes may be off, mm³, because joints of side pieces that are pulled aslant are rounded
    apart in each piece.

    A corner moves by at most half a step along x and along y, so a joint by at most the diagonal of that over
    its area; joints along x or y are on the lattice, and move by nothing.
    """
    half_step_mm = 0.5 / XY_PER_MM
    area_mm2 = 0.0
    for piece in assembly.pieces:
        if max(abs(part) for part in piece.pull) < 1.0:
            joint = named(piece.solid.origin, JOINT)
            corner = lattice_mm(piece.solid.points)[piece.solid.faces[joint]]
            cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
            area_mm2 += float(np.linalg.norm(cross, axis=1).sum()) / 2.0
    return float(np.sqrt(2.0)) * half_step_mm * area_mm2


def twice_area(assembly: Assembly) -> int:
    """Twice the footprint's area in lattice units, exact."""
    p = [(int(x), int(y)) for x, y in assembly.footprint]
    return sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(p, [*p[1:], p[0]], strict=True))


def on_lattice(name: str, off_mm: float) -> Check:
    """The check that a file read back lies on the lattice; `off_mm` its worst coordinate's distance."""
    coarsest_mm = 0.5 / float(UNITS_PER_MM.min())
    return Check(
        id=f"file_on_lattice_{name}",
        ok=off_mm == 0.0,
        measured=off_mm,
        limit=0.0,
        unit="mm",
        sense="most",
        where="the model's file" if name == "model" else f"the file of piece {name}",
        how=f"coordinates read back against the lattice; none can be off by more than {coarsest_mm:.4f} mm",
        remedy="" if off_mm == 0.0 else "Export the files again; another program has rewritten this one.",
    )
