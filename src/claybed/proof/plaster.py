"""Whether the plaster holds: wall around the cavity, slender tongues, weight in the hands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flagged import marked_corners
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import upright_copy
from claybed.geometry.tongues import Tongue, narrowest_tongue
from claybed.materials.shelf import entries
from claybed.proof.faces import named, touched
from claybed.proof.places import Place, in_words, place_of
from claybed.records.assembly import Assembly
from claybed.records.finding import Check

WALLED = (Origin.OBJECT, Origin.MEND, Origin.FILL)
# The wall is asked for in whole hundredths; the lattice may take that much.
WALL_GRACE_MM = 0.01
OuterPlane = tuple[NDArray[np.float64], float, str, float]
# A solid never changes, so what was measured on it holds as long as it lives.
_MEASURED: WeakKeyDictionary[LatticeSolid, dict[Place, Tongue]] = WeakKeyDictionary()


def wall(assembly: Assembly) -> Check:
    """The check that the cavity nowhere comes nearer to the outside of the block than the wall asked for.

    Mouth and gate do not count, corners of the gate included, nor the outer face in which a mold of one
    piece is open.
    """
    model = assembly.model
    outer = outer_planes(assembly)
    walled = named(model.origin, WALLED)
    walled_points = np.flatnonzero(touched(model, walled))
    off = off_planes(model.points[walled_points], outer)
    for row in off:
        if (row == 0.0).any():
            # A face that lies in an outer plane is the block's outside, not cavity.
            in_plane = np.zeros(len(model.points), bool)
            in_plane[walled_points[row == 0.0]] = True
            walled &= marked_corners(model.faces, in_plane) < 3
    # Walls that close the gate at the seam carry the model's origin; their corners are the gate's.
    corner = touched(model, walled) & ~touched(model, model.origin == Origin.GATE)
    corners = walled_points[corner[walled_points]]
    limit_mm = assembly.wall_mm - WALL_GRACE_MM
    how = "least distance from the cavity's corners to the outer planes of the block"
    if not len(corners):
        where = "the model, which has no surface within the block"
        return Check("wall", False, 0.0, limit_mm, "mm", "least", where, how, "Plan again.")
    opens = _open_plane(assembly, outer)
    gap = off[:, corner[walled_points]] / np.array([plane[3] for plane in outer])[:, None]
    least = [(float(row.min()), int(np.argmin(row)), k) for k, row in enumerate(gap) if k != opens]
    least_mm, nearest, side = min(least)
    at = place_of(lattice_mm(model.points[corners[nearest]][None])[0])
    return Check(
        id="wall",
        ok=least_mm >= limit_mm,
        measured=least_mm,
        limit=limit_mm,
        unit="mm",
        sense="least",
        where=f"towards the {outer[side][2]}, {in_words(at, assembly)}",
        how=how,
        remedy="" if least_mm >= limit_mm else "Make the block larger on this side.",
        at_mm=at,
    )


def tongue(pieces: Mapping[str, LatticeSolid], assembly: Assembly) -> Check:
    """The check that no slender tongue of plaster is thinner than plaster bears."""
    shelf = entries("practice")
    limit_mm = shelf["tongue_strength_least_mm"].value
    found = {p.id: _tongue_of(pieces[p.id], p.pull) for p in assembly.pieces}
    letter, least = min(found.items(), key=lambda item: item[1].width_mm)
    where = f"no slender tongue up to {least.sought_mm:g} mm wide"
    if least.at_mm is not None:
        where = f"piece {letter}, {least.height_mm:.0f} mm tall, {in_words(least.at_mm, assembly)}"
    ok = least.width_mm >= limit_mm
    return Check(
        id="tongue",
        ok=ok,
        measured=least.width_mm,
        limit=limit_mm,
        unit="mm",
        sense="least",
        where=where,
        how="flat disks rolled over each face on a raster; "
        f"{shelf['tongue_slender_ratio'].value:g} times as tall as wide is slender; widths from "
        f"{least.resolved_mm:.2g} mm, tips over {shelf['tongue_crumb_mm3'].value:g} mm³",
        remedy=""
        if ok
        else "Fill the gap that it stands in with oil clay, take another --axis, or ask for one piece more: "
        f"--pieces {len(assembly.pieces) + 1}.",
        at_mm=least.at_mm,
    )


def _tongue_of(solid: LatticeSolid, pull: Place) -> Tongue:
    """The narrowest tongue of a piece; measured once, though it is asked for when a mold is chosen and again
    when it is proved.
    """
    known = _MEASURED.setdefault(solid, {})
    if pull not in known:
        shelf = entries("practice")
        sought = partial(
            narrowest_tongue,
            slender_ratio=shelf["tongue_slender_ratio"].value,
            crumb_mm3=shelf["tongue_crumb_mm3"].value,
        )
        if abs(pull[2]) == 1.0:
            known[pull] = sought(solid, pull)
        else:
            found = sought(upright_copy(solid, pull), (0.0, 0.0, 1.0))
            if found.at_mm is not None:
                found = replace(found, at_mm=place_of(np.array(found.at_mm) @ pull_rotation(pull)))
            known[pull] = found
    return known[pull]


def liftable(wet_kg: Mapping[str, float], lift_kg: float) -> Check:
    """The check that no piece is heavier wet (kg, by letter) than may be lifted.

    Raises ValueError when there is no piece.
    """
    if not wet_kg:
        raise ValueError("there is no piece to weigh")
    letter, most_kg = max(wet_kg.items(), key=lambda item: item[1])
    ok = most_kg <= lift_kg
    return Check(
        id="liftable",
        ok=ok,
        measured=most_kg,
        limit=lift_kg,
        unit="kg",
        sense="most",
        where=f"piece {letter}",
        how="volume times the density of set plaster full of water",
        remedy=""
        if ok
        else "Make the wall thinner, mold it in more pieces, or say with "
        f"--lift {math.ceil(most_kg)}kg that so much can be lifted.",
    )


def outer_planes(assembly: Assembly) -> list[OuterPlane]:
    """Inward normal (3,), offset, name, and lattice units per mm of every outer plane of the block."""
    planes = [
        (np.array([0.0, 0.0, 1.0]), 0.0, "board", float(Z_PER_MM)),
        (np.array([0.0, 0.0, -1.0]), -float(assembly.height), "top", float(Z_PER_MM)),
    ]
    ring = assembly.footprint.astype(np.float64)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = b - a
        inward = np.array([-along[1], along[0], 0.0])
        length = float(np.hypot(*along))
        name = "side" if assembly.shape == "round" else f"{_facing(-inward)} side"
        planes.append((inward, float(inward[:2] @ a), name, length * XY_PER_MM))
    return planes


def off_planes(points: Lattice, outer: Sequence[OuterPlane]) -> Floats:
    """How far points (n, 3) lie inwards of each of k planes, (k, n), in the planes' own units; exact."""
    x, y, z = points.T.astype(np.float64)
    off = np.empty((len(outer), len(points)))
    for row, (normal, offset, _, _) in zip(off, outer, strict=True):
        row[:] = normal[0] * x + normal[1] * y + normal[2] * z - offset
    return off


def _facing(out: NDArray[np.float64]) -> str:
    if abs(out[0]) >= abs(out[1]):
        return "right" if out[0] > 0 else "left"
    return "back" if out[1] > 0 else "front"


def _open_plane(assembly: Assembly, outer: Sequence[OuterPlane]) -> int:
    """Number of the outer plane in which a mold with an open face is open; -1 when there is none."""
    if assembly.gate.kind != "face":
        return -1
    out = np.array(assembly.gate.out)
    return int(np.argmax([float(-normal @ out) / float(np.linalg.norm(normal)) for normal, *_ in outer]))
