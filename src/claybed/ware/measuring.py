"""What the finished solids of a mold say about ware: the cavity, the plaster near it, faces that dry."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from claybed.errors import CannotError
from claybed.geometry.inset import DepthField, depth_field
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.figure import Figure
from claybed.records.measured import MeasuredObject
from claybed.records.reckoned import Reckoned
from claybed.records.surveyed import MoldOption
from claybed.records.ware import Measures, PieceFaces
from claybed.units import say_length

# Faces of plaster that slip or clay lies against and that stay with the piece; the gate is trimmed off.
_SKIN = (Origin.OBJECT, Origin.MOUTH, Origin.MEND, Origin.FILL)
_CELLS = 44
# A face lies on the board when all its corners do, to this part of the height.
_ON_BOARD = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Inside:
    """The room inside a piece of ware: depth below its molded skin, so that any wall can be taken off."""

    field: DepthField

    def holds_ml(self, wall_mm: float) -> float:
        """What lies inside a wall of `wall_mm`, ml."""
        return self.field.beyond_mm3(wall_mm) / 1000.0


def inside_of(obj: MeasuredObject, option: MoldOption, *, most_mm: float = math.inf) -> Inside | None:
    """The room inside the ware of an object, before its mold is made; None when all of it is open.

    A mouth, and the face on the board of a one-piece mold, are open: no wall grows there. Walls up to
    `most_mm` can be taken off.
    """
    mesh = obj.mesh
    kept = mesh.origin != Origin.MOUTH
    if option.kind == "one_piece":
        height = mesh.vertices_mm @ np.asarray(option.pull)
        corners = height[mesh.faces]
        low, high = float(height.min()), float(height.max())
        reach = _ON_BOARD * (high - low)
        on_low, on_high = (corners < low + reach).all(axis=1), (corners > high - reach).all(axis=1)
        areas = _areas_mm2(mesh)
        kept &= ~(on_high if areas[on_high].sum() > areas[on_low].sum() else on_low)
    if not kept.any():
        return None
    skin = Mesh.make(mesh.vertices_mm, mesh.faces[kept], frame=mesh.frame)
    return Inside(depth_field([mesh], _trimmed(skin), cells=_CELLS, most_mm=most_mm))


def measure(obj: MeasuredObject, assembly: Assembly, ware_wall_mm: float, inside: Inside | None) -> Measures:
    """Cavity, near plaster, seam and faces of a closed mold; `ware_wall_mm` of the ware, wet.

    Areas are sums over the pieces' own faces, volumes exact; plaster near the cavity lies within one wall of
    the mold from it, on a grid. Raises CannotError when the gate has taken up the whole object.
    """
    pieces = [piece.solid.mesh(BLOCK_FRAME) for piece in assembly.pieces]
    skin = _joined([_part(piece, _SKIN) for piece in pieces])
    if not len(skin.faces):
        size = " × ".join(say_length(side) for side in obj.extent_mm)
        raise CannotError(
            f"the gate is as wide as the object, which is {size}, and takes up all of it.",
            where=obj.name,
            remedy="Settle its size with --height or --unit; if it is so small, ask for --gate none.",
        )
    wall_mm = assembly.wall_mm
    near_ml = depth_field(pieces, skin, cells=_CELLS, most_mm=wall_mm).within_mm3(wall_mm) / 1000.0
    rows = tuple(
        PieceFaces(
            id=piece.id,
            outside_cm2=_found(
                float(_areas_mm2(mesh)[mesh.origin == Origin.OUTSIDE].sum()) / 100.0,
                "cm2",
                "sum of its faces on the outside of the closed mold",
            ),
            open_cm2=_found(mesh.area_mm2 / 100.0, "cm2", "sum of its faces, taken apart from the others"),
            plaster_ml=_found(piece.solid.volume_mm3 / 1000.0, "ml", "volume of the piece"),
        )
        for piece, mesh in zip(assembly.pieces, pieces, strict=True)
    )
    plaster_ml = sum(row.plaster_ml.value for row in rows)
    outside, whole = (sum(getattr(row, key).value for row in rows) for key in ("outside_cm2", "open_cm2"))
    seam = assembly.seam_length_mm if len(assembly.pieces) > 1 else 0.0
    faces = "sum of the pieces' faces"
    return Measures(
        cavity_cm2=_found(skin.area_mm2 / 100.0, "cm2", f"{faces} that the ware lies against"),
        cavity_ml=_found(assembly.model.volume_mm3 / 1000.0, "ml", "model with its gate"),
        near_plaster_ml=_found(
            min(near_ml, plaster_ml),
            "ml",
            "plaster within one wall of the cavity, on a grid",
            {"wall_mm": wall_mm, "cells_along": float(_CELLS)},
        ),
        seam_mm=_found(seam, "mm", "sum of the seam's edges"),
        capacity_ml=None
        if inside is None
        else _found(
            inside.holds_ml(ware_wall_mm),
            "ml",
            "room inside the molded surface moved inward by the wet wall, on a grid",
            {"ware_wall_mm": ware_wall_mm, "cells_along": float(_CELLS)},
        ),
        outside_cm2=_found(outside, "cm2", f"{faces} on the outside of the closed mold"),
        open_cm2=_found(whole, "cm2", f"{faces}, pieces apart"),
        plaster_ml=_found(plaster_ml, "ml", "volume of all pieces"),
        face_mm=_found(float(max(assembly.outer_mm)), "mm", "longest side of the block"),
        pieces=rows,
    )


def _found(value: float, unit: str, formula: str, inputs: dict[str, float | str] | None = None) -> Reckoned:
    return Reckoned(value, Figure(unit, formula, "geometry", inputs or {}))


def _part(mesh: Mesh, origins: tuple[Origin, ...]) -> Mesh:
    kept = np.isin(mesh.origin, [int(one) for one in origins])
    return _trimmed(Mesh.make(mesh.vertices_mm, mesh.faces[kept], frame=mesh.frame))


def _trimmed(mesh: Mesh) -> Mesh:
    """The mesh without corners that no face uses."""
    used, faces = np.unique(mesh.faces, return_inverse=True)
    return Mesh.make(mesh.vertices_mm[used], faces.reshape(-1, 3), frame=mesh.frame)


def _joined(meshes: list[Mesh]) -> Mesh:
    starts = np.cumsum([0, *(len(mesh.vertices_mm) for mesh in meshes)])
    return Mesh.make(
        np.concatenate([mesh.vertices_mm for mesh in meshes]),
        np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts, strict=False)]),
        frame=meshes[0].frame,
    )


def _areas_mm2(mesh: Mesh) -> Floats:
    c = mesh.corners_mm
    areas: Floats = np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1) / 2.0
    return areas
