"""The surface that parts a side piece from the main ones: level, near the object's end, with pockets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from claybed.geometry.barred import Barred
from claybed.geometry.carving import (
    Section,
    Solid,
    Workbench,
    bodies,
    moved,
    outlines,
    polygon,
    prism,
)
from claybed.geometry.lattice import XY_PER_MM, LatticeMesh, lattice_mm, pull_rotation
from claybed.geometry.level_sections import section_at
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearby import Shaft, near
from claybed.geometry.plugging import locked_floor, opened_out, slab_over
from claybed.geometry.slab import LatticeSolid
from claybed.mold.side_dips import find_dip, lay_skirt, lowest_mm
from claybed.mold.side_faces import Interface
from claybed.mold.side_level import NOWHERE, crest_mm, find_level, practice
from claybed.records.assembly import BLOCK_FRAME, BlockKey
from claybed.records.parted import Layout

Vector = tuple[float, float, float]
# A pocket's prism is grown into the object by the most of these that leaves its walls inside, and its floor
# goes so deep into it, or half way through.
GROWN_MM = (1.5, 1.0, 0.6, 0.3)
FLOOR_MM = 3.0
# How far the outline of a pocket's prism may stray where it was grown by at least 0.3 mm.
SMOOTH_MM = 0.02
# How far a box round the object stands off it.
ROUND_MM = 1.0
# Lines that look for a plug reach so far beyond what locks, since it widens; where it meets nothing but
# plaster, its sides may stray so far.
PLUG_MARGIN_MM = 15.0
PLUG_SMOOTH_MM = 0.15
# More than a plug's side rises from one line of its raster to the next.
PLUG_SPARE_MM = 12.0
# How far off the middle of the object's height the seam is expected where a side piece climbs.
SEAM_BAND = 0.15
# A plan that comes this near to the block's side reaches it.
AT_SIDE_MM = 0.5


def least_plug_mm3() -> float:
    """Locked space that a plug is made for, mm³. Source: materials/practice."""
    return 1000.0 * practice("plug_least_ml")


def lay_interface(
    bench: Workbench,
    source: LatticeMesh,
    block: Solid,
    pull: Vector,
    *,
    barred: Barred,
    model: LatticeSolid,
    keys: Sequence[BlockKey] = (),
    earlier: Sequence[Interface] = (),
    over: bool = False,
    dips: bool = True,
    whole: bool = False,
) -> Interface:
    """Lay the interface of a side piece that leaves along `pull` (block frame, unit), its seam clear of
    `barred` where a level is.

    `source` the object with its gate, whose gate faces do not count for its end; `block` what is left of the
    block, and of the object as well when there are `earlier` side pieces; `model` the object with what would
    still be filled; `keys` that stand already, which a dip stays clear of. With `over` the level stands over
    the object; without `dips` it stays level where a level is good. `whole` as in `geometry.nearby.near`.
    Raises ArithmeticError when no level crosses the object near its end.
    """
    rotation = pull_rotation(pull)
    left = block if earlier else None
    dip = None
    if over:
        level_mm = crest_mm(source, rotation) + practice("side_over_object_mm")
    else:
        found = find_level(bench, source, rotation, barred=barred, model=model, left=left, whole=whole)
        if dips or not found.good:
            dip = find_dip(
                bench,
                source,
                rotation,
                found,
                barred,
                keys=keys,
                left=left,
                block=block,
                earlier=earlier,
                whole=whole,
            )
        level_mm = found.level_mm if dip is None else dip.level_mm

    low_mm = float((lattice_mm(source.points) @ rotation[2]).min())
    section = section_at(source, rotation, level_mm)
    if left is not None:
        section = section ^ moved(left, rotation).slice(level_mm)
    box = moved(block, rotation).bounding_box()
    reach = polygon(np.array([[box[0], box[1]], [box[3], box[1]], [box[3], box[4]], [box[0], box[4]]]))
    tool = prism(reach.offset(1.0), level_mm, box[5] + 1.0)
    outer, holes = outlines(section)
    pits = [ring for ring in holes if polygon(ring).area() >= practice("pocket_least_mm") ** 2]
    pockets: list[Shaft] = []
    reached: list[int] = []
    if pits:
        # What stands over the level is in no pocket's way, so that only the shafts under it are looked at.
        shafts = [_shaft(ring, low_mm - 1.0) for ring in pits]
        part = near(bench, source, rotation, np.inf, shafts, whole=whole).solid
        body = moved(part if left is None else part ^ left, rotation)
        for ring in pits:
            pocket = _pocket(body, section, polygon(ring), level_mm, low_mm)
            if pocket is not None:
                tool = tool + pocket
                pockets.append(Shaft.around(pocket))
                reached.append(id(ring))
    back = rotation.T
    # Where the side piece reaches into a hollow there is no seam.
    parts = [ring for ring in holes if id(ring) not in reached]
    seams = [
        np.column_stack([ring, np.full(len(ring), level_mm)])[[*range(len(ring)), 0]]
        for ring in (parts if dip is not None else (*outer, *parts))
    ]
    skirt = None
    if dip is not None:
        skirt = lay_skirt(bench, dip)
        tool = tool + skirt
        seams += dip.loops_mm()
    placed = moved(bench.marked(tool, Origin.PARTING), back) ^ block
    lines = tuple(seam @ rotation for seam in seams)
    return Interface(rotation, level_mm, placed, lines, tuple(pockets), dip=dip, skirt=skirt)


def _shaft(ring: Floats, floor_mm: float) -> Shaft:
    """The shaft over an outline (k, 2) with room for a pocket to be grown."""
    low, high = ring.min(axis=0) - GROWN_MM[0], ring.max(axis=0) + GROWN_MM[0]
    return Shaft((float(low[0]), float(low[1])), (float(high[0]), float(high[1])), floor_mm)


def reaching(
    bench: Workbench,
    face: Interface,
    thing: Mesh,
    model: Mesh,
    left: Solid,
    pull: Vector,
    *,
    closely: bool = False,
) -> Interface:
    """The interface with a plug into what would stay locked beyond it and is free along its pull.

    `thing` the object with its gate, `model` the same with all that is still to be filled, `left` what is
    left of the block. The plug widens towards the interface, so that plaster leaves plaster; laid
    `closely`, it ends in thin walls instead of beyond them.
    """
    points, faces, _ = bench.faces_of(face.tool)
    taken = Mesh.make(points, faces, frame=BLOCK_FRAME)
    floor = locked_floor(thing, model, np.array(pull), margin_mm=PLUG_MARGIN_MM, taken=taken, closely=closely)
    if floor.volume_mm3 < least_plug_mm3():
        return face
    opened = opened_out(floor, taper_deg=practice("plug_taper_deg"))
    laid = slab_over(opened, face.level_mm, spare_mm=PLUG_SPARE_MM if closely else 0.0)
    if laid is None:
        return face
    points, faces = laid
    plug = bench.lay(points @ floor.rotation, faces, np.full(len(faces), int(Origin.PARTING), np.uint8))
    plug = bench.marked(plug.simplify(PLUG_SMOOTH_MM), Origin.PARTING)
    return replace(face, tool=face.tool + (plug ^ left), plug=plug)


def _pocket(body: Solid, section: Section, hole: Section, level_mm: float, low_mm: float) -> Solid | None:
    """The prism that reaches into a pocket, walls and floor inside the object; None for one that leads
    through.
    """
    # Its walls end up nowhere, so that they need no more corners than keep them inside the object.
    for grown_mm in GROWN_MM:
        grown = hole.offset(grown_mm).simplify(SMOOTH_MM)
        if (grown - hole - section).area() <= 1e-6:
            break
    else:
        return None
    column = prism(grown, low_mm - 1.0, level_mm)
    parts = bodies(column - body)
    open_ones = [low for low, high in parts if high >= level_mm - 1e-6]
    if not open_ones or min(open_ones) <= low_mm:
        return None
    floor_mm = min(open_ones)
    under = max([high for _, high in parts if high < floor_mm], default=low_mm)
    return prism(grown, floor_mm - min(FLOOR_MM, (floor_mm - under) / 2.0), level_mm + 0.5)


def ends_of(
    source: LatticeMesh,
    pulls: Sequence[Vector],
    *,
    barred: Barred = NOWHERE,
    over: bool = False,
) -> list[tuple[Floats, float]]:
    """What side pieces take of a plan: for each pull that leads sideways the way out in plan
    (2,), unit, and how far out along it the piece begins, mm.

    `source` and `pulls` in the pull frame. Where a pull climbs, what its piece takes over the middle of the
    object's height counts.
    """
    bench = Workbench()
    left: Solid | None = None
    found = []
    for pull in pulls:
        flat = float(np.hypot(pull[0], pull[1]))
        if flat < 0.1:
            continue
        rotation = pull_rotation(pull)
        level_mm = lowest_mm(bench, source, rotation, barred, left=left, over=over)
        if barred and not over:
            # What a later piece dips to is seen on what this one leaves.
            part = _room_round(bench, source) if left is None else left
            left = bench.marked(part.trim_by_plane((-rotation[2]).tolist(), -level_mm), Origin.PARTING)
        heights = lattice_mm(source.points)[:, 2]
        span = float(np.ptp(heights)) if abs(pull[2]) > 1e-9 else 0.0
        middle_mm = float(heights.max() + heights.min()) / 2.0
        level_mm = (level_mm - pull[2] * middle_mm - abs(pull[2]) * SEAM_BAND * span) / flat
        found.append((np.array(pull[:2]) / flat, level_mm))
    return found


def short_of(layout: Layout, ends: Sequence[tuple[Floats, float]]) -> Layout:
    """The layout with the plan that is left for keys of the main pieces: what side pieces take, as `ends_of`
    tells it, is cut away.
    """
    outline = polygon(layout.footprint / XY_PER_MM)
    for away, level_mm in ends:
        across = np.array([-away[1], away[0]])
        far = 1e4
        half = np.array([level_mm * away + s * far * across for s in (-1.0, 1.0)])
        outline = outline ^ polygon(np.concatenate([half, half[::-1] - far * away]))
    rings, _ = outlines(outline)
    if not rings:
        raise ArithmeticError("side pieces leave no room for the main ones")
    return replace(layout, footprint=np.rint(rings[0] * XY_PER_MM).astype(np.int64))


def shut_in(layout: Layout, left: Layout) -> bool:
    """Whether side pieces take all the plan round the main ones, so that what is `left` of it nowhere reaches
    the block's side: a wider block would leave the main ones no more.
    """
    corners, inner = layout.footprint / XY_PER_MM, left.footprint / XY_PER_MM
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        inwards = along[0] * (inner[:, 1] - a[1]) - along[1] * (inner[:, 0] - a[0])
        if float(inwards.min()) < AT_SIDE_MM:
            return False
    return True


def _room_round(bench: Workbench, source: LatticeMesh) -> Solid:
    """A box round the object."""
    points = lattice_mm(source.points)
    (x, y, z), (far_x, far_y, far_z) = points.min(axis=0) - ROUND_MM, points.max(axis=0) + ROUND_MM
    plan = polygon(np.array([[x, y], [far_x, y], [far_x, far_y], [x, far_y]]))
    return bench.marked(prism(plan, float(z), float(far_z)), Origin.PARTING)
