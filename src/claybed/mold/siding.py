"""Foot and side pieces: what a mold of two pieces leaves locked is given to further pieces.

Each takes everything beyond a level interface square to its own pull, and reaches from there into the pockets
of the object that only it can leave. It leaves before the two main pieces, so that whatever it takes from
them frees them as well: a piece never gets into another's way that has already gone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from claybed.geometry.carving import (
    Section,
    Solid,
    Workbench,
    bodies,
    cone,
    moved,
    outlines,
    polygon,
    prism,
    spots,
    triangles,
    within,
)
from claybed.geometry.lattice import (
    UNITS_PER_MM,
    XY_PER_MM,
    Z_PER_MM,
    LatticeMesh,
    lattice_mm,
    pull_rotation,
)
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.registration import closing_miss_mm
from claybed.geometry.slab import odd_faced_edges
from claybed.materials import shelf
from claybed.records.assembly import Assembly, BlockKey, Piece
from claybed.records.parted import Layout

Vector = tuple[float, float, float]
# Depths below the object's end at which the interface is tried, mm; and what a millimetre of depth costs
# against a seam that leans.
DEPTHS_MM = (0.63, 1.07, 1.53, 2.11, 3.07, 4.13, 6.17, 8.23, 12.31)
DEPTH_COST = 0.02
GROWN_MM = (1.5, 1.0, 0.6, 0.3)
FLOOR_MM = 3.0
LEAST_POCKET_MM2 = 4.0
PIT_MM = 0.5
KEY_TIP = 0.6
KEY_SPACING_MM = 4.0
KEY_SIZES = (1.0, 0.8, 0.64, 0.5)
MOST_SPOTS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Interface:
    """The surface that parts a side piece from the main ones, in the frame where its pull is z.

    `rotation` (3, 3) from the block's frame; `level_mm` of the flat part; `tool` all that lies beyond it, in
    the block's frame; `seam_mm` closed polylines (n, 3) on the object, block frame; `pockets` how many
    pockets of the object it reaches into.
    """

    rotation: Floats
    level_mm: float
    tool: Solid
    seam_mm: tuple[Floats, ...]
    pockets: int


def add_sides(
    assembly: Assembly, source: LatticeMesh, pulls: Sequence[Vector], *, keys_asked: bool
) -> Assembly:
    """The mold of two pieces with one further piece for each of `pulls` (block frame, unit, in opening
    order).

    `source` is the object with its gate on the block's lattice, undercuts and all. Raises ArithmeticError
    when the cuts do not give solids, or an interface cannot be laid.
    """
    bench = Workbench()
    thing = bench.lay(lattice_mm(source.points), source.faces, source.origin)
    block = _block(bench, assembly)
    mains = {piece.id: bench.lay_lattice(piece.solid) for piece in assembly.pieces}
    model = bench.lay_lattice(assembly.model)
    pieces: list[Piece] = []
    keys = [replace(key, socket_in="B" if key.bump_on == "A" else "A") for key in assembly.keys]
    loops, length_mm = list(assembly.seam_loops), assembly.seam_length_mm
    contacts = list(assembly.contacts)
    left = block
    for number, pull in enumerate(pulls):
        letter = chr(ord("C") + number)
        body = thing if number == 0 else thing ^ left
        face = _interface(bench, body, left, source, pull)
        face, own = _with_keys(bench, face, mains, left, thing, letter, assembly, keys_asked=keys_asked)
        tool = face.tool
        side = tool - thing
        pieces.append(
            Piece(letter, len(assembly.pieces) + number + 1, pull, bench.on_lattice(side), number + 1)
        )
        meets = [name for name, main in mains.items() if not (main ^ tool).is_empty()]
        mains = {name: main - tool for name, main in mains.items()}
        model = model - side
        left = left - tool
        loops = _beyond(loops, face)
        keys = _keys_beside(keys, face, letter, mains) + own
        contacts += [(name, letter) for name in meets]
    length_mm = float(sum(np.linalg.norm(np.diff(loop, axis=0), axis=1).sum() for loop in loops))
    opened = len(pulls)
    first = [
        replace(piece, solid=bench.on_lattice(mains[piece.id]), opens=opened + k + 1)
        for k, piece in enumerate(assembly.pieces)
    ]
    return replace(
        assembly,
        model=bench.on_lattice(model),
        pieces=(*first, *pieces),
        contacts=tuple(contacts),
        keys=tuple(keys),
        seam_loops=tuple(loops),
        seam_length_mm=length_mm,
        seam_flat=False,
    )


def with_sides(
    assembly: Assembly, source: LatticeMesh, layout: Layout, pulls: Sequence[Vector], *, keys_asked: bool
) -> Assembly:
    """As `add_sides`, with `source` on the lattice of the pull frame and `pulls` in that frame.

    `layout` is the one that was cut. Raises ArithmeticError also when a solid touches itself along an edge.
    """
    turn = np.rint(assembly.to_block @ layout.rotation.T).astype(np.int64)
    lift = np.rint((assembly.shift_mm - turn @ layout.shift_mm) * UNITS_PER_MM).astype(np.int64)
    placed = replace(source, points=source.points @ turn.T + lift)
    own = tuple(_vector(turn @ np.array(pull)) for pull in pulls)
    made = add_sides(assembly, placed, own, keys_asked=keys_asked)
    for solid in (made.model, *(piece.solid for piece in made.pieces)):
        if len(odd_faced_edges(solid)[1]):
            raise ArithmeticError("a side piece could not be cut cleanly")
    return made


def short_of(layout: Layout, source: LatticeMesh, pulls: Sequence[Vector]) -> Layout:
    """The layout with the plan that is left for keys of the main pieces: what side pieces take is cut away.

    `source` and `pulls` in the pull frame; pulls that climb leave the plan as it is.
    """
    outline = polygon(layout.footprint / XY_PER_MM)
    bench = Workbench()
    thing = bench.lay(lattice_mm(source.points), source.faces, source.origin)
    for pull in pulls:
        if abs(pull[2]) > 1e-9:
            continue
        rotation = pull_rotation(pull)
        level_mm = _level(moved(thing, rotation), source, rotation)
        away = np.array(pull[:2])
        across = np.array([-away[1], away[0]])
        far = 1e4
        half = np.array([level_mm * away + s * far * across for s in (-1.0, 1.0)])
        outline = outline ^ polygon(np.concatenate([half, half[::-1] - far * away]))
    rings, _ = outlines(outline)
    if not rings:
        raise ArithmeticError("side pieces leave no room for the main ones")
    return replace(layout, footprint=np.rint(rings[0] * XY_PER_MM).astype(np.int64))


def _block(bench: Workbench, assembly: Assembly) -> Solid:
    whole = prism(polygon(assembly.footprint / XY_PER_MM), 0.0, assembly.height / Z_PER_MM)
    return bench.marked(whole, Origin.OUTSIDE)


def _level(body: Solid, source: LatticeMesh, rotation: Floats) -> float:
    """Level of the interface: near the object's end along the pull, where its surface stands most upright."""
    own = lattice_mm(source.points)[np.unique(source.faces[source.origin != int(Origin.GATE)])]
    crest_mm = float((own @ rotation[2]).max())
    points, faces = triangles(body)
    best, level_mm = math.inf, crest_mm
    for depth_mm in DEPTHS_MM:
        _, pits = outlines(body.slice(crest_mm - depth_mm))
        lean = _lean(points, faces, crest_mm - depth_mm, pits)
        if lean is not None and lean + DEPTH_COST * depth_mm < best:
            best, level_mm = lean + DEPTH_COST * depth_mm, crest_mm - depth_mm
    if not math.isfinite(best):
        raise ArithmeticError("no level parts a side piece from the object")
    return level_mm


def _interface(bench: Workbench, thing: Solid, block: Solid, source: LatticeMesh, pull: Vector) -> Interface:
    rotation = pull_rotation(pull)
    body, frame = moved(thing, rotation), moved(block, rotation)
    low_mm = float(body.bounding_box()[2])
    level_mm = _level(body, source, rotation)
    section = body.slice(level_mm)
    box = frame.bounding_box()
    reach = polygon(np.array([[box[0], box[1]], [box[3], box[1]], [box[3], box[4]], [box[0], box[4]]]))
    tool = prism(reach.offset(1.0), level_mm, box[5] + 1.0)
    outer, holes = outlines(section)
    pockets = 0
    for ring in holes:
        hole = polygon(ring)
        if hole.area() < LEAST_POCKET_MM2:
            continue
        pocket = _pocket(body, section, hole, level_mm, low_mm)
        if pocket is not None:
            tool = tool + pocket
            pockets += 1
    back = rotation.T
    placed = moved(bench.marked(tool, Origin.PARTING), back) ^ block
    seams = tuple(
        np.column_stack([ring, np.full(len(ring), level_mm)])[[*range(len(ring)), 0]] @ rotation
        for ring in (*outer, *holes)
    )
    return Interface(rotation, level_mm, placed, seams, pockets)


def _lean(points: Floats, faces: np.ndarray, level_mm: float, pits: Sequence[Floats]) -> float | None:
    """How far the surface that crosses a level leans off upright: the sine that a twentieth of the crossing's
    length exceeds, walls of `pits` left out. None when nothing crosses it.
    """
    z = points[faces][:, :, 2] - level_mm
    crossing = (z.min(axis=1) < 0.0) & (z.max(axis=1) > 0.0)
    corner = points[faces[crossing]]
    for ring in pits:
        corner = corner[~within(corner.mean(axis=1)[:, :2], ring, PIT_MM)]
    if not len(corner):
        return None
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(normal, axis=1)
    lean = np.abs(normal[:, 2]) / np.maximum(size, 1e-12)
    run = np.sqrt(size)
    order = np.argsort(lean)
    total = np.cumsum(run[order])
    return float(lean[order][int(np.searchsorted(total, 0.95 * total[-1]))])


def _pocket(body: Solid, section: Section, hole: Section, level_mm: float, low_mm: float) -> Solid | None:
    """The prism that reaches into a pocket, walls and floor inside the object; None for one that leads
    through.
    """
    for grown_mm in GROWN_MM:
        grown = hole.offset(grown_mm)
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


def _with_keys(
    bench: Workbench,
    face: Interface,
    mains: dict[str, Solid],
    block: Solid,
    thing: Solid,
    letter: str,
    assembly: Assembly,
    *,
    keys_asked: bool,
) -> tuple[Interface, list[BlockKey]]:
    """Bumps of the side piece that go into every main piece it meets, in an arrangement that closes one
    way.
    """
    if not keys_asked:
        return face, []
    sections = {name: moved(main, face.rotation).slice(face.level_mm) for name, main in mains.items()}
    sections = {name: section for name, section in sections.items() if section.area() > 1.0}
    outer, _ = outlines(moved(block, face.rotation).slice(face.level_mm))
    if not sections or not outer:
        return face, []
    rim = max(outer, key=len)

    def practice(name: str) -> float:
        return shelf.value("practice", name).value

    share = min(
        practice("key_depth_mm") / practice("key_diameter_mm"), practice("key_depth_to_diameter_most_ratio")
    )
    clear_mm = max(practice("key_to_edge_least_mm"), practice("key_to_cavity_least_mm"))
    for size in KEY_SIZES:
        diameter_mm = practice("key_diameter_mm") * size
        chosen = _arranged(sections, rim, diameter_mm, clear_mm)
        if chosen is None:
            continue
        depth_mm = share * diameter_mm
        tool, keys = face.tool, []
        for name, spot in chosen:
            at = (*spot.tolist(), face.level_mm - depth_mm)
            bump = cone(at, KEY_TIP * diameter_mm / 2.0, diameter_mm / 2.0, depth_mm)
            over = cone((*spot.tolist(), face.level_mm), diameter_mm / 2.0, diameter_mm / 2.0, 0.5)
            placed = moved(bench.marked(bump + over, Origin.KEY), face.rotation.T)
            tool = tool + placed
            x, y, z = (float(v) for v in np.array([*spot.tolist(), face.level_mm]) @ face.rotation)
            keys.append(BlockKey((x, y, z), diameter_mm, depth_mm, letter, name))
        return replace(face, tool=tool), keys
    return face, []


def _arranged(
    sections: dict[str, Section], rim: Floats, diameter_mm: float, clear_mm: float
) -> list[tuple[str, Floats]] | None:
    """Two places for keys in every section (three in a single one), or None when they do not fit."""
    each = 3 if len(sections) == 1 else 2
    places: dict[str, Floats] = {}
    for name, section in sections.items():
        at = spots(section.offset(-(diameter_mm / 2.0 + clear_mm)), KEY_SPACING_MM)
        if len(at) < each:
            return None
        if len(at) > MOST_SPOTS:
            at = at[np.linspace(0, len(at) - 1, MOST_SPOTS).astype(int)]
        places[name] = at
    chosen: list[tuple[str, Floats]] = []
    for name, at in places.items():
        pairs = [(i, j) for i in range(len(at)) for j in range(i)]
        pairs.sort(key=lambda p: -float(np.linalg.norm(at[p[0]] - at[p[1]])))
        for i, j in pairs[:400]:
            if float(np.linalg.norm(at[i] - at[j])) < 2.0 * diameter_mm:
                return None
            tried = [*chosen, (name, at[i]), (name, at[j])]
            if each == 3:
                far = np.minimum(np.linalg.norm(at - at[i], axis=1), np.linalg.norm(at - at[j], axis=1))
                tried.append((name, at[int(np.argmax(far))]))
            spread = np.array([spot for _, spot in tried])
            last = name == list(places)[-1]
            if not last or closing_miss_mm(spread, rim, diameter_mm / 2.0) >= diameter_mm / 2.0:
                chosen = tried
                break
        else:
            return None
    return chosen


def _keys_beside(
    keys: Sequence[BlockKey], face: Interface, letter: str, mains: Mapping[str, Solid]
) -> list[BlockKey]:
    """Keys after a further piece was cut: one of the main pieces beyond its interface is gone, one of an
    earlier further piece has its socket in the new one.
    """
    kept = []
    for key in keys:
        if float((face.rotation @ np.array(key.at_mm))[2]) < face.level_mm:
            kept.append(key)
        elif key.bump_on not in mains:
            kept.append(replace(key, socket_in=letter))
    return kept


def _beyond(loops: Sequence[Floats], face: Interface) -> list[Floats]:
    """Seam lines up to the interface, and the interface's own seam added."""
    kept: list[Floats] = []
    for loop in loops:
        over = loop @ face.rotation[2] - face.level_mm
        inside = over <= 0.0
        runs = np.flatnonzero(np.diff(np.r_[False, inside, False].astype(np.int8)))
        for a, b in zip(runs[::2].tolist(), runs[1::2].tolist(), strict=True):
            line = [loop[a:b]]
            for end, other in ((a, a - 1), (b - 1, b)):
                if 0 <= other < len(loop):
                    t = over[end] / (over[end] - over[other])
                    cut = (loop[end] + t * (loop[other] - loop[end]))[None]
                    line = [cut, *line] if other < end else [*line, cut]
            whole = np.concatenate(line)
            if len(whole) > 1:
                kept.append(whole)
    return [*kept, *face.seam_mm]


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
