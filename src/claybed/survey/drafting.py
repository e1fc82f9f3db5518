"""The least number of pieces where every wall is to leave with draft, and sets of pulls that no two main
pieces bind.

Spots that never share a pull each take a pull of their own. With no more pulls than such spots, what can
leave with one of them only, such as the walls of its hole, has to leave along that spot's pull as well. Where
no direction frees them all, or none of the directions that do frees some other wall, it takes one piece more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.cover import fewest
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import nearest_mm
from claybed.geometry.reach import free_along, open_directions, outside_points
from claybed.geometry.sharing import Outlook, outlook, shared
from claybed.records.surveyed import Drafted, Vector, Witness
from claybed.survey.witnessing import Sought

Flags = NDArray[np.bool_]
# Directions looked along about the pull of a spot, and how far they reach from it.
ABOUT = 600
ABOUT_DEG = 40.0
# Directions looked along stand as far apart as this sine.
BETWEEN_SINE = 0.05
# Of so many spots with few ways out companions are taken, in so many rounds; spots with more ways than this
# share bear on no one pull.
MOST_LOOKED_AT = 120
MOST_COMPANIONS = 5
NARROW_SHARE = 0.3
# Companions that the proof leaves open are put to it so often.
MOST_PASSES = 3
# On meshes of more faces a proof of many spots takes longer than it is worth.
MOST_FACES = 60_000
# More than so many are not sought among all sets of pulls.
MOST_PULLS = 4
# A wall that has the draft asked for but for the rounding of its file has it.
ROUND_SINE = 2e-5
# Points outside the object at which a set of pulls is tried, along its longest side, and how much of them may
# be locked by the raster's doing.
GRID_STEPS = 40
GRID_MARGIN = 0.05
LOCKED_SHARE = 1e-3
# Bundles of directions that one proof may take.
BUNDLES = 1500


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    """A spot (3,) mm off the mesh itself and the unit normal (3,) of the wall it stands at."""

    at_mm: Floats
    beside: Floats


def free_pulls(
    mesh: Mesh, raster: DepthRaster, sought: Sought, *, most: int, draft_deg: float = 0.0
) -> tuple[Vector, ...]:
    """The fewest pulls found, at most `most` and no two of them bound to be opposite, that free all space
    outside a closed mesh and every wall with `draft_deg` of draft; empty when none were found.

    The walls are looked at where `sought` has spots, the space on a grid. `raster` is the mesh's. Source: a
    set of pulls makes a mold exactly when each point outside is free along one of them.
    """
    least = _least_sine(draft_deg)
    leaves = sought.open_to & (sought.normals @ sought.directions.T >= least)
    chosen = fewest(leaves.T, np.ones(len(leaves)), most, 0.0)
    if not chosen:
        return ()
    pulls = sought.directions[list(chosen)]
    free = leaves[:, list(chosen)]
    for k in range(len(pulls)):
        # What is opposite to all the others may free as much, and then leaves more walls with more draft.
        away = -np.delete(pulls, k, axis=0).sum(axis=0)
        if float(np.linalg.norm(away)) < 1e-6:
            continue
        away /= np.linalg.norm(away)
        alone = np.flatnonzero(~np.delete(free, k, axis=1).any(axis=1))
        if (sought.normals[alone] @ away >= least).all() and all(
            open_directions(sought.light, sought.spots_mm[m], away[None])[0] for m in alone
        ):
            pulls[k] = away
            break
    size_mm = float(np.ptp(mesh.vertices_mm, axis=0).max())
    points = outside_points(mesh, raster, spacing_mm=size_mm / GRID_STEPS, margin_mm=GRID_MARGIN * size_mm)
    freed = np.zeros(len(points), bool)
    for pull in pulls:
        freed |= free_along(raster, points, pull)
    if float((~freed).mean()) > LOCKED_SHARE:
        return ()
    return tuple(sorted((_vector(pull) for pull in pulls), reverse=True))


def draft_pulls(
    mesh: Mesh, raster: DepthRaster, seen: Witness, sought: Sought, draft_deg: float
) -> tuple[Vector, ...]:
    """Pulls that free every wall with `draft_deg` of draft, one more than `seen` has spots; empty when as
    many were not found, or fewer do. `raster` is the mesh's.
    """
    count = len(seen.spots_mm) + 1
    if draft_deg <= 0.0 or len(mesh.faces) > MOST_FACES or count > MOST_PULLS:
        return ()
    pulls = free_pulls(mesh, raster, sought, most=count, draft_deg=draft_deg)
    return pulls if len(pulls) == count else ()


def drafted(
    mesh: Mesh,
    raster: DepthRaster,
    seen: Witness,
    sought: Sought,
    draft_deg: float,
    *,
    pulls: tuple[Vector, ...] | None = None,
) -> Drafted | None:
    """That draft costs a piece: pulls that free every wall with `draft_deg` of draft, one more than `seen`
    has spots, and the proof that as many as it has spots do not.

    None when that was not found, as where upright walls have draft along no pull. `raster` is the mesh's;
    `pulls` are those of `draft_pulls`, where they are known.
    """
    if pulls is None:
        pulls = draft_pulls(mesh, raster, seen, sought, draft_deg)
    if not pulls:
        return None
    own = _on(mesh, np.array(seen.spots_mm), sought.off_mm)
    ways = [_about(sought, spot, np.array(p), draft_deg) for spot, p in zip(own, seen.pulls, strict=True)]
    if not all(map(len, ways)):
        return None
    found, left = _companions(sought, ways, draft_deg)
    groups = [[_look(mesh, spot, draft_deg)] for spot in own]
    companions: list[_Spot] = []
    open_ones = found
    for _ in range(MOST_PASSES):
        # A companion that may still leave with another spot may not once that one has companions of its own.
        left_open = []
        for k, number in open_ones:
            for spot in _on(mesh, sought.spots_mm[[number]], sought.off_mm):
                look = _look(mesh, spot, draft_deg)
                others = (group for j, group in enumerate(groups) if j != k)
                if all(shared(look, *group, most=BUNDLES).verdict == "none" for group in others):
                    groups[k].append(look)
                    companions.append(spot)
                else:
                    left_open.append((k, number))
        if len(left_open) in (0, len(open_ones)):
            break
        open_ones = left_open
    walls: list[_Spot] = []
    if not any(shared(*group, most=BUNDLES).verdict == "none" for group in groups if len(group) > 1):
        walls = _left_out(mesh, sought, left, draft_deg)
        extra = [_look(mesh, spot, draft_deg) for spot in walls]
        if not walls or any(shared(*group, *extra, most=BUNDLES).verdict != "none" for group in groups):
            return None
    return Drafted(
        draft_deg=draft_deg,
        wall_mm=_vector(walls[0].at_mm) if walls else None,
        companions_mm=tuple(_vector(spot.at_mm) for spot in companions),
        pulls=pulls,
    )


def _about(sought: Sought, spot: _Spot, pull: Floats, draft_deg: float) -> Floats:
    """Directions (d, 3) that free a spot, close together about `pull` and beyond."""
    away = fibonacci_axes(round(ABOUT / (1.0 - np.cos(np.radians(ABOUT_DEG)))))
    away = away[away[:, 2] > np.cos(np.radians(ABOUT_DEG))] @ pull_rotation(pull)
    about = np.concatenate([away, sought.directions])
    about = about[about @ spot.beside >= _least_sine(draft_deg)]
    free: Floats = about[open_directions(sought.light, spot.at_mm, about)]
    return free


def _companions(
    sought: Sought, ways: Sequence[Floats], draft_deg: float
) -> tuple[list[tuple[int, int]], list[Floats]]:
    """Numbers of spots that leave with one of the own spots only, each with the number of that spot, in the
    order in which they are found; and the directions that are left to each own spot with its companions.

    `ways` are those that free each own spot. What leaves with none of the others' groups has to leave with
    this one, and so narrows it; then more shares no way with it.
    """
    least = _least_sine(draft_deg)
    drafts = (sought.open_to & (sought.normals @ sought.directions.T >= least)).sum(axis=1)
    narrow = np.flatnonzero((drafts > 0) & (drafts < NARROW_SHARE * len(sought.directions)))
    narrow = narrow[:: max(1, -(-len(narrow) // MOST_LOOKED_AT))]
    free = {}
    for m in narrow.tolist():
        flags = []
        for along in ways:
            # What lies between the directions looked along must not be lost.
            out = along @ sought.normals[m] >= least - BETWEEN_SINE
            out[out] = open_directions(sought.light, sought.spots_mm[m], along[out])
            flags.append(out)
        free[m] = flags
    left = [np.ones(len(way), bool) for way in ways]
    found: list[tuple[int, int]] = []
    for _ in range(MOST_COMPANIONS):
        before = len(found)
        for k in range(len(ways)):
            may = [
                m
                for m, flags in free.items()
                if not any((flags[j] & left[j]).any() for j in range(len(ways)) if j != k)
            ]
            if not may or not left[k].any():
                continue
            best = min(may, key=lambda m: int((left[k] & free[m][k]).sum()))
            fewer = left[k] & free.pop(best)[k]
            if fewer.sum() < left[k].sum():
                left[k] = fewer
                found.append((k, best))
        if len(found) == before:
            break
    return found, [way[flags] for way, flags in zip(ways, left, strict=True)]


def _left_out(mesh: Mesh, sought: Sought, left: Sequence[Floats], draft_deg: float) -> list[_Spot]:
    """The spot, on the mesh itself, whose wall has least draft along all directions that are left to each own
    spot; none where every wall clearly has enough along one of them.
    """
    most = np.stack([(sought.normals @ ways.T).max(axis=1, initial=-1.0) for ways in left]).max(axis=0)
    # Only what can leave at all bears witness.
    most[~sought.open_to.any(axis=1)] = np.inf
    best = int(np.argmin(most))
    if most[best] > _least_sine(draft_deg) + BETWEEN_SINE:
        return []
    return _on(mesh, sought.spots_mm[[best]], sought.off_mm)


def _on(mesh: Mesh, spots_mm: Floats, off_mm: float) -> list[_Spot]:
    """Spots put just off the mesh itself, with the walls they stand at."""
    foot, face = nearest_mm(spots_mm, mesh)
    corner = mesh.corners_mm[face]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(normal, axis=1)
    return [
        _Spot(foot[k] + off_mm * normal[k] / length[k], normal[k] / length[k])
        for k in np.flatnonzero(length > 0.0).tolist()
    ]


def _look(mesh: Mesh, spot: _Spot, draft_deg: float) -> Outlook:
    return outlook(mesh, spot.at_mm, beside=spot.beside, draft_rad=float(np.radians(draft_deg)))


def _least_sine(draft_deg: float) -> float:
    """The least sine of a wall to a pull that counts as that much draft."""
    return float(np.sin(np.radians(draft_deg))) - ROUND_SINE


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
