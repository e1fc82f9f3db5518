"""No piece goes in another's place: by how much the best wrong place misses.

Every piece is laid into the place of every side piece, outside to outside and turned about the pull of that
place. Where they meet other pieces, the two must differ by enough to keep the mold from closing. Main pieces
that meet have keys of their own against that, and against being turned. Where they do not, and where there is
only one, their places are tried as well, and turns in their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, permutations, product

import numpy as np
from scipy.spatial import cKDTree

from claybed.geometry.lattice import lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import distances_mm
from claybed.materials import shelf
from claybed.proof.closings import main_letters, mains_apart, side_pieces, turned_away
from claybed.proof.faces import JOINT, named
from claybed.records.assembly import BLOCK_FRAME, Assembly, BlockKey, Piece
from claybed.records.finding import Check

SAMPLES = 6000
PROBES = 150
# No point of a joint lies further from its samples than so many times their mean distance.
COVER = 2.5
# Of places that samples leave open so many are measured to the end; of more only those that spots on the tips
# of keys leave open too, so many on each.
MOST_EXACT = 8
AT_TIP = 6
# The least turns of two numbers that fill a square evenly (R2 sequence, from the plastic number).
EVEN = (0.7548776662466927, 0.5698402909980532)


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """Where a piece meets others, along its own pull: `mesh`, samples with a search tree and how far a point
    may lie from them, the `top_mm` of the piece, and its keys in plan with samples (k, 3) on their tips.
    """

    letter: str
    mesh: Mesh
    samples: Floats
    tree: cKDTree
    loose_mm: float
    top_mm: float
    keys: Floats
    tips: Floats


@dataclass(frozen=True, slots=True)
class _Miss:
    """A wrong place: which piece, in whose place, at what turn, and by how much it misses there."""

    mm: float
    piece: str
    place: str
    turn_deg: float


def none_goes_elsewhere(assembly: Assembly) -> list[Check]:
    """The check that no piece goes in the place of a side piece, nor in that of a main one where main pieces
    do not meet; nor turned in its own where no keys of another main piece hold it. Empty for a mold without
    side pieces.
    """
    sides = side_pieces(assembly)
    if not sides:
        return []
    share = shelf.value("practice", "held_off_key_ratio").value
    limit_mm = min((share * k.depth_mm for k in assembly.keys), default=_plain_mm())
    mains = main_letters(assembly)
    apart = mains_apart(assembly)
    places = assembly.pieces if apart else sides
    joints = {p.id: joint for p in assembly.pieces if (joint := _joint(p, assembly)) is not None}
    # Where either of two may stand in the other's place, both miss by as much.
    pairs = {
        frozenset((piece.id, place.id)): (piece.id, place.id)
        for place in reversed(places)
        for piece in reversed(assembly.pieces)
        if piece.id != place.id and piece.id in joints and place.id in joints
    }
    tried = list(reversed(pairs.values()))
    if apart or len(mains) == 1:
        tried += [(letter, letter) for letter in joints if letter in mains]
    found = [_nearest(joints[piece], joints[place], limit_mm) for piece, place in tried]
    if not found:  # pieces of a folder that was edited may touch nothing
        return []
    worst = min(found, key=lambda miss: miss.mm)
    ok = worst.mm >= limit_mm
    at = _middle(next(p for p in assembly.pieces if p.id == worst.place))
    return [
        Check(
            id="none_goes_elsewhere",
            ok=ok,
            measured=worst.mm,
            limit=limit_mm,
            unit="mm",
            sense="least",
            where=f"piece {worst.piece} in {_whose(worst)}, turned by {worst.turn_deg:.0f} degrees",
            how="every piece laid outside to outside into the place of every side piece, and of every main "
            "one where those do not meet, that one's own included, by quarter turns and by every two keys "
            "onto two; the furthest that their joints then lie apart",
            remedy="" if ok else _told_apart(worst, keyed=bool(assembly.keys)),
            at_mm=None if ok else at,
        )
    ]


def _told_apart(miss: _Miss, *, keyed: bool) -> str:
    """How a piece is kept out of a place that is not its own."""
    if keyed:
        return f"Move a key of piece {miss.piece} and the socket it goes in."
    return "Leave --no-keys out: nothing but keys tells these pieces apart."


def _whose(miss: _Miss) -> str:
    return "its own place" if miss.piece == miss.place else f"the place of piece {miss.place}"


def _joint(piece: Piece, assembly: Assembly) -> _Joint | None:
    """Where a piece meets others; None when it meets none."""
    rotation = pull_rotation(piece.pull)
    solid = piece.solid
    points = lattice_mm(solid.points) @ rotation.T
    faces = solid.faces[named(solid.origin, JOINT)]
    mesh = Mesh.make(points, faces, frame=BLOCK_FRAME)
    corner = mesh.corners_mm
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1) / 2.0
    whole = float(area.sum())
    if whole <= 0.0:
        return None
    order = np.arange(SAMPLES)
    which = np.searchsorted(np.cumsum(area), (order + 0.5) / SAMPLES * whole)
    which = np.minimum(which, len(area) - 1)
    u, v = (order * step % 1.0 for step in EVEN)
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    a, b, c = (corner[which, k] for k in range(3))
    samples = a + u[:, None] * (b - a) + v[:, None] * (c - a)
    keys = [k for k in assembly.keys if piece.id in (k.bump_on, k.socket_in)]
    own = [rotation @ np.array(k.at_mm) for k in keys]
    pulls = {p.id: rotation @ np.array(p.pull) for p in assembly.pieces}
    tips = [_tip(samples, at, pulls[k.bump_on], k) for at, k in zip(own, keys, strict=True)]
    return _Joint(
        letter=piece.id,
        mesh=mesh,
        samples=samples,
        tree=cKDTree(samples),
        loose_mm=COVER * float(np.sqrt(whole / SAMPLES)),
        top_mm=float(points[:, 2].max()),
        keys=np.array(own).reshape(-1, 3)[:, :2],
        tips=np.concatenate([np.zeros((0, 3)), *tips]),
    )


def _tip(samples: Floats, at: Floats, pull: Floats, key: BlockKey) -> Floats:
    """The samples (k, 3) on a key that lie furthest in, where the piece it stands on leaves along `pull`."""
    off = samples - at
    own = samples[np.linalg.norm(off, axis=1) <= key.diameter_mm / 2.0 + key.depth_mm]
    found: Floats = own[np.argsort((own - at) @ pull)[:AT_TIP]]
    return found


def _nearest(piece: _Joint, place: _Joint, limit_mm: float) -> _Miss:
    """By how much a piece misses in another's place, at the turn and shift where it misses least."""
    lift = place.top_mm - piece.top_mm
    spans = [(j.mesh.vertices_mm[np.unique(j.mesh.faces)][:, 2] - j.top_mm) for j in (piece, place)]
    # Whatever the turn, joints that reach unlike far down from the outside lie apart by the difference.
    tall_mm = max(abs(float(spans[0].min() - spans[1].min())), abs(float(spans[0].max() - spans[1].max())))
    if tall_mm >= limit_mm + 1.0:
        return _Miss(tall_mm, piece.letter, place.letter, 0.0)
    tried = []
    for turn, shift in _motions(piece, place):
        if piece is place and _slips_home(piece, turn, shift, limit_mm):
            continue
        moved = _moved(piece.samples[:: SAMPLES // PROBES], turn, shift, lift)
        back = _moved(place.samples[:: SAMPLES // PROBES], turn, shift, lift, back=True)
        there = float(np.max(place.tree.query(moved)[0])) - place.loose_mm
        here = float(np.max(piece.tree.query(back)[0])) - piece.loose_mm
        # Of places that are all left open the one that looks nearest comes first.
        tried.append((max(there, here, tall_mm, 0.0), max(there, here), turn, shift))
    tried.sort(key=lambda t: t[:2])
    best = _Miss(np.inf, piece.letter, place.letter, 0.0)
    for number, (least_mm, _, turn, shift) in enumerate(tried):
        if least_mm >= best.mm:
            break
        miss_mm = least_mm
        if number >= MOST_EXACT and least_mm < limit_mm:
            miss_mm = max(
                least_mm, *_furthest_mm((piece, place), (piece.tips, place.tips), turn, shift, lift)
            )
        if number < MOST_EXACT or miss_mm < limit_mm:
            spots = (piece.samples, place.samples)
            miss_mm = max(tall_mm, *_furthest_mm((piece, place), spots, turn, shift, lift))
        if miss_mm < best.mm:
            best = _Miss(miss_mm, piece.letter, place.letter, float(np.degrees(turn)) % 360.0)
    return best


def _furthest_mm(
    joints: tuple[_Joint, _Joint], spots: tuple[Floats, Floats], turn: float, shift: Floats, lift: float
) -> tuple[float, float]:
    """How far (mm) the furthest of spots on a piece lies from the place it is laid into, and of spots on the
    place from the piece.
    """
    piece, place = joints
    there = distances_mm(_moved(spots[0], turn, shift, lift), place.mesh)
    here = distances_mm(_moved(spots[1], turn, shift, lift, back=True), piece.mesh)
    return float(there.max(initial=0.0)), float(here.max(initial=0.0))


def _motions(piece: _Joint, place: _Joint) -> list[tuple[float, Floats]]:
    """Turns (rad) and shifts (2,) mm in the plan of a place: quarter turns with middle on middle, and every
    two keys onto every two as far apart.
    """
    found = []
    middles = []
    for joint in (piece, place):
        plan = joint.mesh.vertices_mm[np.unique(joint.mesh.faces)][:, :2]
        middles.append((plan.min(axis=0) + plan.max(axis=0)) / 2.0)
    for turn in np.arange(4) * np.pi / 2.0:
        found.append((float(turn), middles[1] - _turned(middles[0], float(turn))))
    alike_mm = _plain_mm()
    for (i, j), (k, m) in product(combinations(piece.keys, 2), permutations(place.keys, 2)):
        u, v = j - i, m - k
        if abs(float(np.linalg.norm(u) - np.linalg.norm(v))) <= alike_mm:
            turn = float(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
            found.append((turn, (k + m) / 2.0 - _turned((i + j) / 2.0, turn)))
    return found


def _plain_mm() -> float:
    return shelf.value("practice", "held_off_plain_mm").value


def _slips_home(piece: _Joint, turn: float, shift: Floats, room_mm: float) -> bool:
    """Whether a motion of a piece in its own place is small enough to slip into the right one."""
    wide = bool(turned_away(np.array(turn)))
    off_mm = np.linalg.norm(_turned(piece.keys, turn) + shift - piece.keys, axis=1)
    return not wide and bool((off_mm < room_mm).all())


def _turned(plan: Floats, turn: float) -> Floats:
    c, s = np.cos(turn), np.sin(turn)
    return np.asarray(plan @ np.array([[c, s], [-s, c]]), dtype=np.float64)


def _moved(points: Floats, turn: float, shift: Floats, lift: float, *, back: bool = False) -> Floats:
    """Points (n, 3) mm turned, shifted and lifted, or all of that undone."""
    plan = _turned(points[:, :2] - shift, -turn) if back else _turned(points[:, :2], turn) + shift
    return np.column_stack([plan, points[:, 2] + (-lift if back else lift)])


def _middle(piece: Piece) -> tuple[float, float, float]:
    p = lattice_mm(piece.solid.points)
    x, y, z = (float(v) for v in (p.min(axis=0) + p.max(axis=0)) / 2.0)
    return x, y, z
