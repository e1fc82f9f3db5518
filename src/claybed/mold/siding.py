"""Foot and side pieces: what a mold of two pieces leaves locked is given to further pieces.

Each takes everything beyond a level interface square to its own pull, and reaches from there into the pockets
of the object that only it can leave. It leaves before the two main pieces, so that whatever it takes from
them frees them as well: a piece never gets into another's way that has already gone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from claybed.geometry.carving import (
    Section,
    Solid,
    Workbench,
    cone,
    moved,
    outlines,
    polygon,
    prism,
    shadow,
    spots,
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
from claybed.mold.interfaces import Interface, interface_level_mm, lay_interface, reaching
from claybed.records.assembly import Assembly, BlockKey, Piece
from claybed.records.parted import Layout

Vector = tuple[float, float, float]
Plane = tuple[Floats, float]
JOINT = (int(Origin.PARTING), int(Origin.KEY), int(Origin.OUTSIDE))
# Ceilings smaller or narrower than this in plan are rounding; shadows reach a little beyond them.
CEILING_MM2 = 1e-5
CEILING_MM = 0.006
MOST_CEILINGS = 4000
SHADOW_MM = 0.003
KEY_TIP = 0.6
KEY_SPACING_MM = 4.0
KEY_SIZES = (1.0, 0.8, 0.64, 0.5)
MOST_SPOTS = 60
# How far off the middle of the object's height the seam is expected where a side piece climbs.
SEAM_BAND = 0.15


def add_sides(
    assembly: Assembly,
    source: LatticeMesh,
    pulls: Sequence[Vector],
    *,
    keys_asked: bool,
    over: bool = False,
    heal: bool = False,
) -> tuple[Assembly, float]:
    """The mold of two pieces with one further piece for each of `pulls` (block frame, unit, in opening
    order).

    `source` is the object with its gate on the block's lattice, undercuts and all. With `over` the interfaces
    stand over the object, and only plugs meet it; `heal` as in `geometry.carving.snapped`. Returns the mold
    and what it leaves to fill, ml. Raises ArithmeticError when the cuts do not give solids, or an interface
    cannot be laid.
    """
    bench = Workbench()
    thing = bench.lay(lattice_mm(source.points), source.faces, source.origin)
    block = _block(bench, assembly)
    ways = {piece.id: piece.pull for piece in assembly.pieces}
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
        face = reaching(
            bench, lay_interface(bench, body, left, source, pull, over=over), thing, model, left, pull
        )
        if over and face.plug is None:
            raise ArithmeticError("a side piece over the object would not meet it")
        later = [_beyond_plane(thing, source, p, over=over) for p in pulls[number + 1 :]]
        face, bumps = _with_keys(face, bench, mains, left, letter, later, keys_asked=keys_asked)
        tool = face.tool
        side, _ = _whole(bench, _free(bench, tool - thing, face), f"piece {letter}")
        meets = [name for name, main in mains.items() if not (main ^ tool).is_empty()]
        # Under its own ceilings the object would hold the side piece: that stays with the main pieces, and
        # with the model what was fill before.
        rest = (tool - thing) - side
        model = model - side
        for name, main in mains.items():
            own = (main - tool) + (main ^ rest)
            mains[name], crumbs = _whole(bench, own, f"piece {name}")
            for crumb in crumbs:
                held = _below(bench, crumb, ways[name], mains[name])
                model = model + bench.marked(crumb + held, Origin.FILL)
                mains[name] = mains[name] - held
        left = (left - tool) + rest
        pieces.append(
            Piece(
                letter, len(assembly.pieces) + number + 1, pull, bench.on_lattice(side, heal=heal), number + 1
            )
        )
        loops = _beyond(loops, face)
        keys = _keys_beside(keys, face, letter, mains) + bumps
        contacts += [(name, letter) for name in meets]
    length_mm = float(sum(np.linalg.norm(np.diff(loop, axis=0), axis=1).sum() for loop in loops))
    # What the model holds beyond the object and its gate is what still has to be filled.
    fill_ml = max(0.0, model.volume() - (thing ^ block).volume()) / 1000.0
    opened = len(pulls)
    first = [
        replace(piece, solid=bench.on_lattice(mains[piece.id], heal=heal), opens=opened + k + 1)
        for k, piece in enumerate(assembly.pieces)
    ]
    made = replace(
        assembly,
        model=bench.on_lattice(model, heal=heal),
        pieces=(*first, *pieces),
        contacts=tuple(contacts),
        keys=tuple(keys),
        seam_loops=tuple(loops),
        seam_length_mm=length_mm,
        seam_flat=False,
    )
    return made, fill_ml


def with_sides(
    assembly: Assembly,
    source: LatticeMesh,
    layout: Layout,
    pulls: Sequence[Vector],
    *,
    keys_asked: bool,
    over: bool = False,
    heal: bool = False,
    most_ml: float = math.inf,
) -> tuple[Assembly, float]:
    """As `add_sides`, with `source` on the lattice of the pull frame and `pulls` in that frame.

    `layout` is the one that was cut. A solid that touches itself along an edge is opened there with `heal`,
    and raises ArithmeticError without; one that leaves more than `most_ml` to fill is handed back as it is.
    """
    turn = np.rint(assembly.to_block @ layout.rotation.T).astype(np.int64)
    lift = np.rint((assembly.shift_mm - turn @ layout.shift_mm) * UNITS_PER_MM).astype(np.int64)
    placed = replace(source, points=source.points @ turn.T + lift)
    own = tuple(_vector(turn @ np.array(pull)) for pull in pulls)
    made, fill_ml = add_sides(assembly, placed, own, keys_asked=keys_asked, over=over, heal=heal)
    if fill_ml > most_ml:
        return made, fill_ml
    for solid in (made.model, *(piece.solid for piece in made.pieces)):
        if len(odd_faced_edges(solid)[1]):
            raise ArithmeticError("a side piece could not be cut cleanly")
    return made, fill_ml


def short_of(layout: Layout, source: LatticeMesh, pulls: Sequence[Vector], *, over: bool = False) -> Layout:
    """The layout with the plan that is left for keys of the main pieces: what side pieces take is cut away.

    `source` and `pulls` in the pull frame. Where a pull climbs, what its piece takes over the middle of the
    object's height counts.
    """
    outline = polygon(layout.footprint / XY_PER_MM)
    bench = Workbench()
    thing = bench.lay(lattice_mm(source.points), source.faces, source.origin)
    for pull in pulls:
        flat = float(np.hypot(pull[0], pull[1]))
        if flat < 0.1:
            continue
        rotation = pull_rotation(pull)
        level_mm = interface_level_mm(moved(thing, rotation), source, rotation, over=over)
        away = np.array(pull[:2]) / flat
        heights = lattice_mm(source.points)[:, 2]
        span = float(np.ptp(heights)) if abs(pull[2]) > 1e-9 else 0.0
        middle_mm = float(heights.max() + heights.min()) / 2.0
        level_mm = (level_mm - pull[2] * middle_mm - abs(pull[2]) * SEAM_BAND * span) / flat
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


def _whole(bench: Workbench, solid: Solid, name: str) -> tuple[Solid, list[Solid]]:
    """The largest part of a solid, and the others."""
    parts = bench.parts(solid)
    if not parts:
        raise ArithmeticError(f"side pieces leave nothing of {name}")
    return parts[0].solid, [part.solid for part in parts[1:]]


def _below(bench: Workbench, crumb: Solid, pull: Vector, main: Solid) -> Solid:
    """What of a main piece a crumb would hold back once it belongs to the model: all that is below it along
    the pull, mostly nothing.
    """
    rotation = pull_rotation(pull)
    points, faces, _ = bench.faces_of(moved(crumb, rotation))
    corner = points[faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    under = corner[across[:, 2] < -CEILING_MM2][:MOST_CEILINGS]
    if not len(under):
        return Solid()
    low_mm = float(moved(main, rotation).bounding_box()[2])
    prisms = shadow(under, low_mm - 1.0, SHADOW_MM)
    return main ^ moved(bench.marked(prisms, Origin.FILL), rotation.T)


def _free(bench: Workbench, side: Solid, face: Interface) -> Solid:
    """The piece without what lies under its own ceilings: there the object would hold it. The model keeps
    it as fill.
    """
    points, faces, origin = bench.faces_of(side)
    corner = (points @ face.rotation.T)[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    longest = np.linalg.norm((corner - np.roll(corner, 1, axis=1))[:, :, :2], axis=2).max(axis=1)
    wide = normal[:, 2] > np.maximum(CEILING_MM2, CEILING_MM * longest)
    ceiling = ~np.isin(origin, JOINT) & wide
    if not ceiling.any() or int(ceiling.sum()) > MOST_CEILINGS:
        return side
    under = shadow(corner[ceiling], float(corner[:, :, 2].min()) - 1.0, SHADOW_MM)
    return side - moved(bench.marked(under, Origin.FILL), face.rotation.T)


def _beyond_plane(thing: Solid, source: LatticeMesh, pull: Vector, *, over: bool) -> Plane:
    """Pull and level of a side piece that is cut later: beyond it no key of an earlier one may stand."""
    rotation = pull_rotation(pull)
    return rotation[2], interface_level_mm(moved(thing, rotation), source, rotation, over=over)


def _with_keys(
    face: Interface,
    bench: Workbench,
    mains: dict[str, Solid],
    block: Solid,
    letter: str,
    later: Sequence[Plane],
    *,
    keys_asked: bool,
) -> tuple[Interface, list[BlockKey]]:
    """Bumps of the side piece that go into every main piece it meets, in an arrangement that closes one
    way, and clear of what `later` side pieces take.
    """
    if not keys_asked:
        return face, []
    sections = {name: moved(main, face.rotation).slice(face.level_mm) for name, main in mains.items()}
    if face.plug is not None:
        opening = moved(face.plug, face.rotation).slice(face.level_mm)
        sections = {name: section - opening for name, section in sections.items()}
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
        chosen = _arranged(sections, rim, diameter_mm, clear_mm, face, later)
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
    sections: dict[str, Section],
    rim: Floats,
    diameter_mm: float,
    clear_mm: float,
    face: Interface,
    later: Sequence[Plane],
) -> list[tuple[str, Floats]] | None:
    """Two places for keys in every section (three in a single one), or None when they do not fit."""
    each = 3 if len(sections) == 1 else 2
    places: dict[str, Floats] = {}
    for name, section in sections.items():
        at = spots(section.offset(-(diameter_mm / 2.0 + clear_mm)), KEY_SPACING_MM)
        placed = np.column_stack([at, np.full(len(at), face.level_mm)]) @ face.rotation
        for away, level_mm in later:
            inside = placed @ away < level_mm - diameter_mm / 2.0 - clear_mm
            at, placed = at[inside], placed[inside]
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
