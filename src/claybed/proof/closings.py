"""Keys close one way only: by how much the best wrong way of putting two pieces together misses.

Motions are made anew here instead of taken from geometry.registration, which placed the keys: evidence that
came from the builder's own code would share its mistakes.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import XY_PER_MM, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.geometry.spotting import spread_spots
from claybed.materials import shelf
from claybed.proof.faces import JOINT, MEETS_MM, named
from claybed.records.assembly import Assembly, BlockKey, Piece
from claybed.records.finding import Check

# A round block turns to any angle; between whole degrees keys move by far less than their radius.
ROUND_STEP_DEG = 1.0
# Whether two pieces meet is asked at spots so far apart on the joint of one, while they are not too many.
MEETS_APART_MM = 2.0
MOST_SPOTS = 10_000
# A motion in plan: points are turned by (cos, sin) about the middle of the block, then shifted.
Motions = tuple[Floats, Floats]


def close_one_way(assembly: Assembly, *, keys_asked: bool) -> list[Check]:
    """The checks that keys close a mold one way only: one for the two main pieces, one for every further
    piece.

    A further piece stands on the closed main ones, so its keys are judged together: it must fit them in no
    turn or shift but its own. Main pieces that others part all round have no keys of their own to judge.
    Empty where keys have no say.
    """
    letters = main_letters(assembly)
    mains = [p for p in assembly.pieces if p.id in letters]
    if len(assembly.pieces) <= 2:
        single = keys_close_one_way(assembly, keys_asked=keys_asked)
        return [single] if single else []
    between = tuple(k for k in assembly.keys if k.bump_on in letters)
    checks = []
    if not mains_apart(assembly):
        pair = replace(assembly, pieces=tuple(mains), keys=between)
        first = keys_close_one_way(pair, keys_asked=keys_asked)
        checks += [first] if first else []
    for piece in assembly.pieces:
        if piece.id in letters:
            continue
        check = keys_close_one_way(_seen_along(piece, assembly, letters), keys_asked=keys_asked)
        if check is not None:
            keyed = any(key.bump_on == piece.id for key in assembly.keys)
            remedy = check.remedy if keyed else _more_room(assembly)
            checks.append(replace(check, id=f"keys_close_one_way_{piece.id}", remedy=remedy))
    return checks


def _more_room(assembly: Assembly) -> str:
    """How keys come to stand that tell right from wrong: by a block that has more room for them."""
    step_mm = shelf.value("practice", "key_room_step_mm").value
    more = shelf.value("practice", "key_room_wall_ratio").value
    wall_mm = step_mm * math.ceil(more * assembly.wall_mm / step_mm)
    return f"Ask for --wall {wall_mm:g}mm: keys find more room there."


def main_letters(assembly: Assembly) -> set[str]:
    """The letters of the main pieces; all others are side pieces."""
    upright = [p.id for p in assembly.pieces if p.opens is None or abs(p.pull[2]) == 1.0]
    return set(upright[:2])


def side_pieces(assembly: Assembly) -> list[Piece]:
    """The pieces that are no main pieces."""
    mains = main_letters(assembly)
    return [p for p in assembly.pieces if p.id not in mains]


def mains_apart(assembly: Assembly) -> bool:
    """Whether a mold has two main pieces that meet nowhere, because further ones stand between them all
    round.
    """
    letters = main_letters(assembly)
    if len(letters) < 2 or any({key.bump_on, key.socket_in} == letters for key in assembly.keys):
        return False
    one, other = (p.solid for p in assembly.pieces if p.id in letters)
    own, others = (s.faces[named(s.origin, JOINT)] for s in (one, other))
    if not len(own) or not len(others):
        return True
    spots = spread_spots(lattice_mm(one.points), own, MEETS_APART_MM, MOST_SPOTS)
    return bool((nearest_within(spots, lattice_mm(other.points)[others], MEETS_MM)[0] < 0).all())


def _seen_along(piece: Piece, assembly: Assembly, letters: set[str]) -> Assembly:
    """The mold seen along the pull of a further piece: its keys and its own outline in plan, two pieces."""
    rotation = pull_rotation(piece.pull)
    keys = []
    for key in assembly.keys:
        if key.bump_on == piece.id:
            x, y, z = (float(v) for v in rotation @ np.array(key.at_mm))
            keys.append(replace(key, at_mm=(x, y, z)))
    plan = (lattice_mm(piece.solid.points) @ rotation.T)[:, :2]
    lo, hi = plan.min(axis=0), plan.max(axis=0)
    middle = (lo + hi) / 2.0
    keys = [replace(k, at_mm=(k.at_mm[0] - middle[0], k.at_mm[1] - middle[1], k.at_mm[2])) for k in keys]
    x, y = (hi - lo) / 2.0 * XY_PER_MM
    outline = np.rint(np.array([[-x, -y], [x, -y], [x, y], [-x, y]])).astype(np.int64)
    mains = [p for p in assembly.pieces if p.id in letters]
    # One main piece and the further one are two as well.
    pair = tuple(mains) if len(mains) > 1 else (*mains, piece)
    return replace(assembly, shape="boxed", footprint=outline, keys=tuple(keys), pieces=pair)


def keys_close_one_way(assembly: Assembly, *, keys_asked: bool) -> Check | None:
    """The check that no wrong closing comes within a key's radius of fitting; None where keys have no say.

    They have none on a mold that is not of two pieces, or when no keys were asked for and there are none.
    """
    if len(assembly.pieces) != 2 or (not assembly.keys and not keys_asked):
        return None
    if not assembly.keys:
        return Check(
            id="keys_close_one_way",
            ok=False,
            measured=0.0,
            limit=1.0,
            unit="keys",
            sense="least",
            where="the parting surface",
            how="keys counted",
            remedy="Make the block larger so that keys find room, or ask for none with --no-keys.",
        )
    radius_mm = min(key.diameter_mm for key in assembly.keys) / 2.0
    miss_mm, worst, turn_deg = nearest_wrong_closing(assembly, radius_mm)
    at = assembly.keys[worst].at_mm if worst >= 0 else assembly.keys[0].at_mm
    ok = miss_mm >= radius_mm
    where = f"turned by {turn_deg:.0f} degrees, the keys miss by {miss_mm:.1f} mm"
    return Check(
        id="keys_close_one_way",
        ok=ok,
        measured=miss_mm,
        limit=radius_mm,
        unit="mm",
        sense="least",
        where=where,
        how="every motion that carries two keys onto two sockets, and the turns of the block itself",
        remedy="" if ok else _more_room(assembly),
        at_mm=at,
    )


def nearest_wrong_closing(assembly: Assembly, radius_mm: float) -> tuple[float, int, float]:
    """How far (mm) the best wrong closing misses, which key misses there, and its turn in degrees.

    Motions that turn by little and leave every key within `radius_mm` of its own socket are the right
    closing. When there is no wrong motion at all the miss is the block's own size and the key -1.
    """
    keys = assembly.keys
    at = np.array([k.at_mm[:2] for k in keys])
    turn, shift = _motions(assembly, at, radius_mm)
    size_mm = float(np.ptp(assembly.footprint, axis=0).max()) / XY_PER_MM
    if not len(turn):
        return size_mm, -1, 0.0
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    moved = np.stack([c * at[:, 0] - s * at[:, 1], s * at[:, 0] + c * at[:, 1]], axis=2) + shift[:, None, :]
    strays = turned_away(turn) | (np.linalg.norm(moved - at, axis=2).max(axis=1) >= radius_mm)
    moved, turn = moved[strays], turn[strays]
    if not len(turn):
        return size_mm, -1, 0.0
    gap = np.linalg.norm(moved[:, :, None, :] - at[None, None, :, :], axis=3)
    gap[:, ~_fits(keys)] = np.inf
    least = np.maximum(gap.min(axis=2).max(axis=1), gap.min(axis=1).max(axis=1))
    best, chosen = np.inf, 0
    for k in np.argsort(least, kind="stable").tolist():
        if least[k] >= best:
            break
        miss = _bottleneck(gap[k])
        if miss < best:
            best, chosen = miss, k
    if not np.isfinite(best):
        return size_mm, -1, 0.0
    worst = int(np.argmax(gap[chosen].min(axis=1)))
    return float(best), worst, float(np.degrees(turn[chosen])) % 360.0


def turned_away(turn_rad: Floats) -> NDArray[np.bool_]:
    """Which turns (n,) are too large for a closing to pass for the right one. Source: materials/practice."""
    most_deg = shelf.value("practice", "closing_turn_most_deg").value
    away: NDArray[np.bool_] = np.abs((turn_rad + np.pi) % (2.0 * np.pi) - np.pi) > np.radians(most_deg)
    return away


def _motions(assembly: Assembly, at: Floats, radius_mm: float) -> Motions:
    """Turns (m,) in radians and shifts (m, 2) mm: pairs of keys onto pairs, and the footprint onto itself."""
    turns: list[float] = []
    shifts: list[Floats] = []
    for (i, j), (k, m) in itertools.product(itertools.permutations(range(len(at)), 2), repeat=2):
        u, v = at[j] - at[i], at[m] - at[k]
        if abs(np.linalg.norm(u) - np.linalg.norm(v)) > 2.0 * radius_mm:
            continue
        turn = float(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
        c, s = np.cos(turn), np.sin(turn)
        middle = (at[i] + at[j]) / 2.0
        turns.append(turn)
        shifts.append(
            (at[k] + at[m]) / 2.0 - np.array([c * middle[0] - s * middle[1], s * middle[0] + c * middle[1]])
        )
    if assembly.shape == "round":
        own = np.radians(np.arange(ROUND_STEP_DEG, 360.0, ROUND_STEP_DEG)).tolist()
    else:
        x_mm, y_mm = np.ptp(assembly.footprint, axis=0) / XY_PER_MM
        own = [np.pi / 2, np.pi, -np.pi / 2] if abs(x_mm - y_mm) <= 2.0 * radius_mm else [np.pi]
    turns += own
    shifts += [np.zeros(2)] * len(own)
    return np.array(turns), np.array(shifts).reshape(-1, 2)


def _fits(keys: Sequence[BlockKey]) -> NDArray[np.bool_]:
    """Which key (row) can stand in whose place (column): a bump needs a socket on the same side."""
    side = np.array([k.bump_on for k in keys])
    fits: NDArray[np.bool_] = side[:, None] == side[None, :]
    return fits


def _bottleneck(gap: Floats) -> float:
    """The least possible largest distance when every key takes a socket of its own; `gap` (n, n) mm."""
    steps = np.unique(gap[np.isfinite(gap)])
    low, high = 0, len(steps)
    while low < high:
        middle = (low + high) // 2
        match = maximum_bipartite_matching(csr_matrix(gap <= steps[middle]), perm_type="column")
        if (match >= 0).all():
            high = middle
        else:
            low = middle + 1
    return float(steps[low]) if low < len(steps) else float("inf")
