"""Walls between two pieces that lean in their cases: one piece leans into the other, which gives it room.

A wall along a piece's pull would scrape all the way out of its case. Where a neighbour lies across such a
wall and leaves away from it, the piece leans into the neighbour from its rim upwards, as its outside does,
and the neighbour's case is fuller there: both still meet all over, and the seam on the object stays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from claybed.cases.leaning import Side, lean_toward, outside, wedges_on
from claybed.cases.loose_cores import reseated
from claybed.cases.standing import Readied, held_mm2
from claybed.geometry.carving import Solid, moved, triangles
from claybed.geometry.forming import (
    closed,
    drawn_on,
    halved,
    hull,
    united,
    volume_mm3,
)
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats
from claybed.records.cases import Core, Plug

# A neighbour that leaves further off square to the wall would scrape along it.
_ACROSS = 0.9
_LEAST_MM3 = 1.0
_LEAST_HELD_MM2 = 0.5
# What a neighbour loses runs on above the back, where its own outside leans out over the wall.
_OVER_MM = 4.0
_PAST_MM = 30.0
# A core goes on from a hair deeper than where it was halved off its wall, with all of its outline: there it
# may narrow by a step, which would lock in what is narrower beyond.
_AT_WALL_MM = 0.009
_FLUSH_MM = 0.005
_NEAR_MM = 0.05
# What a neighbour loses begins so far within the piece: on the lattice no plane aslant is one.
_HAIR_MM = 0.02


def with_room(
    readied: Mapping[str, Readied], pulls: Mapping[str, Sequence[float]], opening: Sequence[str]
) -> tuple[dict[str, Readied], dict[str, list[Solid]]]:
    """All pieces of a mold with the walls that may lean, and what each loses to its neighbours, in its case's
    frame.

    `pulls` unit vectors in the block, `opening` the letters in the order in which pieces open: where two
    would lean into the same place, the later one does. Raises ArithmeticError for a piece that is not closed.
    """
    if not any(side.met for one in readied.values() for side in one.sides):
        return dict(readied), {letter: [] for letter in readied}
    solids = {letter: closed(one.points, one.faces) for letter, one in readied.items()}
    leaning: dict[str, Readied] = {}
    reach: dict[str, Solid] = {}
    for letter, one in readied.items():
        others = {
            name: (_into(solids[name], other, one), one.placing @ np.asarray(pulls[name]) / one.scale)
            for name, other in readied.items()
            if name != letter
        }
        leaning[letter], into = _leaned(one, others)
        if into is not None:
            reach[letter] = into
    later = [letter for letter in reversed(opening) if letter in reach]
    taken: dict[str, list[Solid]] = {letter: [] for letter in readied}
    for letter, one in leaning.items():
        own = reach.get(letter)
        for name in later:
            if name == letter:
                continue
            lost = _into(reach[name], leaning[name], one)
            if own is not None and later.index(name) > later.index(letter):
                lost -= own
            if volume_mm3(lost ^ _grown(one)) > _LEAST_MM3:
                taken[letter].append(lost)
    return leaning, taken


def _into(solid: Solid, there: Readied, here: Readied) -> Solid:
    """A solid of one case's frame in that of another."""
    turn = here.placing @ there.placing.T / here.scale**2
    return solid if np.array_equal(turn, np.eye(3)) else moved(solid, turn)


def _grown(one: Readied) -> Solid:
    solid = closed(one.points, one.faces)
    return solid if one.wedges is None else solid + one.wedges


def _leaned(one: Readied, others: Mapping[str, tuple[Solid, Floats]]) -> tuple[Readied, Solid | None]:
    """A piece with those of its walls leaning that may, and what of them its neighbours lose; `others` in its
    case's frame, with their pulls.
    """
    walls: dict[int, list[str]] = {}
    for k, side in enumerate(one.sides):
        given = _given_by(one, k, others) if side.met else []
        if given:
            walls[k] = given
    while walls:
        sides = _leaning(one, walls)
        over = _wedges(one, sides, _OVER_MM)
        wedges, _ = halved(over, (0.0, 0.0, 1.0), one.top_mm)
        whole = closed(one.points, one.faces) + wedges
        corners, faces = triangles(whole)
        if held_mm2(corners, faces.astype(np.int32), one.drawn.tolist()) > _LEAST_HELD_MM2:
            return one, None
        found = _seated(one, walls, whole)
        if isinstance(found, int):
            # What is loose there would have no flat face to lie on.
            del walls[found]
            continue
        plugs, cores, kept, room = found
        reach = united(
            [halved(over, (*one.sides[k].normal, 0.0), one.sides[k].offset_mm - _HAIR_MM)[1] for k in walls]
        )
        names = tuple(sorted({name for given in walls.values() for name in given}))
        more = replace(one, sides=sides, wedges=wedges, plugs=plugs, cores=cores, room=room, given_by=names)
        return more, reach - united(kept) if kept else reach
    return one, None


def _leaning(one: Readied, walls: Mapping[int, object]) -> list[Side]:
    return [
        replace(side, lean_share=lean_toward(side.normal, one.drawn.tolist(), one.draft_deg))
        if k in walls
        else side
        for k, side in enumerate(one.sides)
    ]


def _wedges(one: Readied, sides: Sequence[Side], over_mm: float) -> Solid:
    on_side, _ = outside(one.points, one.faces, sides)
    return wedges_on(one.points, one.faces, on_side, sides, one.draft_deg, over_mm=over_mm)


def _given_by(one: Readied, k: int, others: Mapping[str, tuple[Solid, Floats]]) -> list[str]:
    """The neighbours that give a wall of a piece room to lean; none where one would scrape along it, or
    where the wall would lean into the cavity.
    """
    side = one.sides[k]
    wedges = _wedges(one, _leaning(one, {k: None}), 0.0)
    _, beyond = halved(wedges, (*side.normal, 0.0), side.offset_mm)
    corners = [triangles(solid)[0] for solid, _ in others.values()]
    inner = beyond ^ hull(np.concatenate([one.points, *corners]))
    given, room_mm3 = [], 0.0
    for name, (solid, way) in others.items():
        mm3 = volume_mm3(inner ^ solid)
        if mm3 < _LEAST_MM3:
            continue
        if float(way[:2] @ side.normal) < _ACROSS:
            return []
        given.append(name)
        room_mm3 += mm3
    return given if volume_mm3(inner) - room_mm3 < max(_LEAST_MM3, 1e-3 * room_mm3) else []


def _seated(
    one: Readied, walls: Mapping[int, object], whole: Solid
) -> tuple[tuple[Plug, ...], tuple[Core, ...], tuple[Solid, ...], tuple[Solid, ...]] | int:
    """Plugs and cores grown to the walls that lean, what neighbours keep behind them, and the room of all in
    the wedges; the number of a wall on which one would not lie flat.
    """
    plugs, cores, kept, room = list(one.plugs), list(one.cores), [], []
    for k in walls:
        normal, offset = np.array([*one.sides[k].normal, 0.0]), one.sides[k].offset_mm
        for n, plug in enumerate(one.plugs):
            if abs(float(plug.at_mm @ normal) - offset) > 2.0 * _NEAR_MM or float(plug.axis @ normal) > 0.0:
                continue
            mouth = plug.points_mm[np.abs((plug.points_mm - plug.at_mm) @ plug.axis) < _NEAR_MM]
            straight = hull(np.concatenate([mouth + _NEAR_MM * plug.axis, mouth - _PAST_MM * plug.axis]))
            more = straight ^ whole
            seat = _seat(more, plug.at_mm, -plug.axis)
            if seat is None:
                return k
            points = np.concatenate([plug.points_mm, triangles(more)[0]])
            plugs[n] = grown = Plug(_flared(points, plug, one.clearance_mm), *seat)
            foot = grown.points_mm[np.abs((grown.points_mm - grown.at_mm) @ grown.axis) < _NEAR_MM]
            room.append(hull(np.concatenate([grown.points_mm, foot - _OVER_MM * grown.axis])))
            kept.append(straight)
        for n, core in enumerate(one.cores):
            if abs(float(core.at_mm @ normal) - offset) > 2.0 * _NEAR_MM or float(core.axis @ normal) > 0.0:
                continue
            way = np.array(core.pull)
            solid = closed(lattice_mm(core.solid.points), core.solid.faces)
            straight = drawn_on(solid, normal, offset - _AT_WALL_MM, way * _PAST_MM)
            more = straight ^ whole
            seat = _seat(more, core.at_mm, way)
            if seat is None:
                return k
            cores[n] = reseated(core, solid + more, *seat)
            # A hair further down as well, where the next piece's core goes on.
            room.append(solid + straight + (solid + straight).translate((0.0, 0.0, -_HAIR_MM)))
            kept.append(room[-1])
    return tuple(plugs), tuple(cores), tuple(kept), tuple(room)


def _flared(points: Floats, plug: Plug, clearance_mm: float) -> Floats:
    """Corners of a plug, wider by the clearance where it was grown, so that the bump's foot has room."""
    from_mouth = points - plug.at_mm
    deep = from_mouth @ plug.axis
    beside = from_mouth - np.outer(deep, plug.axis)
    far = np.maximum(np.linalg.norm(beside, axis=1), 1e-9)
    share = np.clip(-deep / max(float(-deep.min()), 1e-9), 0.0, 1.0)
    more = np.minimum(clearance_mm * share, np.maximum(-deep, 0.0) * _flare(plug))
    wider: Floats = points + beside * (more / far)[:, None]
    return wider


def _flare(plug: Plug) -> float:
    """How steeply a plug narrows inwards: no more may it widen outwards, or it would not be convex."""
    from_mouth = plug.points_mm - plug.at_mm
    deep = from_mouth @ plug.axis
    far = np.linalg.norm(from_mouth - np.outer(deep, plug.axis), axis=1)
    mouth, end = deep < _NEAR_MM, deep > float(deep.max()) - _NEAR_MM
    return max(float(far[mouth].min() - far[end].max()), 0.0) / float(deep.max())


def _seat(more: Solid, at_mm: Floats, way: Floats) -> tuple[Floats, Floats] | None:
    """Where a line from a place (3,) along `way` comes out of what was grown, and the unit vector inwards
    there; None where its outer face is not flat.
    """
    points, faces = triangles(more)
    corner = points[faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(across, axis=1)
    outer = across @ way > 0.5 * size
    if not outer.any():
        return None
    normal = across[outer].sum(axis=0)
    normal = normal / np.linalg.norm(normal)
    places = corner[outer].reshape(-1, 3)
    level = places @ normal
    if float(np.ptp(level)) > 2.0 * _FLUSH_MM:
        return None
    far = (float(np.median(level)) - float(at_mm @ normal)) / float(way @ normal)
    return at_mm + far * way, -normal
