"""Slab patterns of a plan's mold, in order: lining, parting, laying flat, drawing; and their document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from claybed.flow.ledger import finished, new_document
from claybed.geometry.mesh import Bytes, Floats, Mesh
from claybed.materials import shelf
from claybed.patterns.drawing_up import drawings, named_patterns
from claybed.patterns.laying import curvature_sr
from claybed.patterns.lining import lining_of, solid_share
from claybed.patterns.piecing import least_parts, part_lining
from claybed.records.drawing import Drawing
from claybed.records.patterns import SlabPattern

Progress = Callable[[str, float], None]
SCHEMA = "claybed-slab-patterns-1"
# A ledge lies no further from its own height.
LEDGE_MM = 0.01
CAUTIONS = (
    "Press with fingers and wooden tools: metal cuts plaster, and a chip of plaster in clay pops out later.",
    "Bevel, score and wet both edges of a joint; a joint pressed dry opens in drying or in the fire.",
    "Hold the paper in the mold before you cut clay: a pattern is geometry and has not seen your slab.",
)


@dataclass(frozen=True, slots=True, eq=False)
class Patterned:
    """Patterns of every mold piece in their order, templates of them, and what the linings hold.

    `solid_share` of the cavity's wall has no slab against it, furthest at `solid_at_mm` (3,).
    """

    patterns: tuple[SlabPattern, ...]
    drawings: tuple[Drawing, ...]
    curvature_sr: tuple[float, ...]
    least: tuple[int, ...]
    solid_share: float
    solid_at_mm: Floats | None


def make_patterns(
    pieces: list[tuple[str, Mesh]],
    model: Mesh,
    on_outside: Bytes,
    *,
    slab_mm: float,
    allowance_mm: float,
    stretch_fraction: float,
    most_pieces: int,
    gate_at_mm: Floats | None,
    bore_mm: float | None,
    up: Floats | None,
    us: bool = False,
    ledge_mm: float | None = None,
    progress: Progress,
) -> Patterned:
    """Line each mold piece (letter and mesh, block's frame) with slabs and lay them flat.

    Lengths in mm; arguments as in patterns.lining and patterns.part_lining. Raises CannotError when the
    slab does not fit the cavity.
    """
    progress("lining", 0.0)
    linings = lining_of(
        [mesh for _, mesh in pieces],
        model,
        slab_mm,
        gate_at_mm=gate_at_mm,
        bore_mm=bore_mm,
        up=up,
        ledge_mm=ledge_mm,
    )
    if ledge_mm is not None:
        # The bed's foot is no wall that clay lies against.
        foot = (model.corners_mm[:, :, 2] < LEDGE_MM).all(axis=1)
        on_outside = np.where(foot, np.uint8(1), on_outside)
        gate_at_mm, up = np.array([0.0, 0.0, ledge_mm - LEDGE_MM]), np.array([0.0, 0.0, 1.0])
    solid, solid_at_mm = solid_share(model, on_outside, linings, slab_mm, gate_at_mm=gate_at_mm, up=up)
    progress("lining", 1.0)
    patterns: list[SlabPattern] = []
    totals, least = [], []
    for k, ((letter, _), lining) in enumerate(zip(pieces, linings, strict=True)):
        progress("patterns", k / len(pieces))
        total = curvature_sr(*lining)
        totals.append(total)
        least.append(least_parts(total, stretch_fraction))
        patterns += named_patterns(letter, part_lining(lining, stretch_fraction, most_pieces), allowance_mm)
    progress("patterns", 1.0)
    drawn = drawings(patterns, slab_mm=slab_mm, allowance_mm=allowance_mm, us=us)
    return Patterned(tuple(patterns), tuple(drawn), tuple(totals), tuple(least), solid, solid_at_mm)


def strain_surface(patterns: tuple[SlabPattern, ...]) -> tuple[Mesh, Floats, Floats]:
    """All patterns in the mold as one surface, how much thinner the pressed slab is at each corner, percent,
    and the edges (k, 2, 3) of the patterns.

    A slab laid to a spot whose flat area is s times the true one becomes s times as thick.
    """
    points, faces, value, edges = [], [], [], []
    start = 0
    for pattern in patterns:
        total, count = np.zeros(len(pattern.points_mm)), np.zeros(len(pattern.points_mm))
        np.add.at(total, pattern.faces, pattern.stretch[:, None])
        np.add.at(count, pattern.faces, 1.0)
        value.append(100.0 * (1.0 - total / np.maximum(count, 1.0)))
        points.append(pattern.points_mm)
        faces.append(pattern.faces + start)
        start += len(pattern.points_mm)
        sides = np.concatenate([pattern.faces[:, [0, 1]], pattern.faces[:, [1, 2]], pattern.faces[:, [2, 0]]])
        ordered, times = np.unique(np.sort(sides, axis=1), axis=0, return_counts=True)
        edges.append(pattern.points_mm[ordered[times == 1]])
    mesh = Mesh.make(np.concatenate(points), np.concatenate(faces), frame="block")
    return mesh, np.concatenate(value), np.concatenate(edges)


def patterns_document(
    done: Patterned,
    letters: list[str],
    name: str,
    files: Mapping[str, str],
    *,
    slab_mm: float,
    allowance_mm: float,
    stretch_fraction: float,
) -> dict[str, Any]:
    """The patterns as plain values, unrounded, with the working of every number."""
    part = new_document()
    part.say(schema=SCHEMA, name=name, files=dict(files), cautions=list(CAUTIONS))
    part.number("slab_mm", slab_mm, "mm", "thickness of the slab, usual for the size or as asked", "practice")
    part.number("allowance_mm", allowance_mm, "mm", "clay beyond each edge", "practice")
    part.number(
        "stretch_fraction", stretch_fraction, "-", "log of greatest over least stretch allowed", "memory"
    )
    for letter, total, least in zip(letters, done.curvature_sr, done.least, strict=True):
        row = part.row("linings")
        row.say(piece=letter)
        row.number("curvature_sr", total, "sr", "sum of 2 pi less the angles round each corner", "geometry")
        row.number(
            "least_pieces", least, "-", "curvature / (6 pi x stretch), rounded up", "from memory",
            {"curvature_sr": total, "stretch_fraction": stretch_fraction},
        )  # fmt: skip
    for pattern in done.patterns:
        row = part.row("patterns")
        row.say(id=pattern.id, exact=pattern.unrolled, meets=sorted({joint[0] for joint in pattern.joints}))
        row.number("copies", pattern.copies, "-", "equal pieces to cut", "geometry")
        row.number("darts", pattern.darts, "-", "cuts from the edge to the most curved place", "geometry")
        row.number("curvature_sr", pattern.curvature_sr, "sr", "curvature of the part", "geometry")
        row.number(
            "spread_ratio",
            pattern.spread_ratio,
            "-",
            "log of greatest over least stretch",
            "geometry",
        )
        row.number(
            "floor_ratio", pattern.floor_ratio, "-",
            "log(a / sin a) of a round cap with the same curvature, 1 - cos a = K / 2 pi", "from memory",
        )  # fmt: skip
        row.number("thinnest_percent", 100.0 * (1.0 - float(pattern.stretch.min())), "percent",
                   "100 (1 - flat area / true area), where most is stretched", "geometry")  # fmt: skip
    part.number(
        "solid_share",
        done.solid_share,
        "-",
        "share of the cavity's wall that is further than a slab from every slab's middle",
        "geometry",
    )
    part.say(findings=[])
    told = shelf.value("practice", "press_solid_told_fraction").value
    if done.solid_share > told and done.solid_at_mm is not None:
        row = part.row("findings")
        row.say(
            id="pressed_solid",
            severity="look",
            where="narrow parts of the cavity",
            says=f"{100 * done.solid_share:.0f} % of the wall has no slab against it: the cavity is narrower "
            "there than two slabs, and the patterns leave it out.",
            remedy="Press soft clay in there first, or take a thinner slab with --thickness.",
        )
        row.number(
            "at_mm", done.solid_at_mm, "mm", "the place furthest from a slab, block's frame", "geometry"
        )
    worst = max(done.patterns, key=lambda one: one.spread_ratio)
    if worst.spread_ratio > stretch_fraction:
        row = part.row("findings")
        row.say(
            id="slab_stretched",
            severity="look",
            where=f"pattern {worst.id}",
            says=f"Pattern {worst.id} must stretch {100 * worst.spread_ratio:.0f} % more in one place than "
            f"in another, and {100 * stretch_fraction:.0f} % was asked.",
            remedy="Press it in smaller pieces there, or allow more with --stretch 20%.",
        )
    return finished(part)
