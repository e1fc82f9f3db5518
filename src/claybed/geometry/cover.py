"""Few pulls that free as much as possible, and spots that no two of which can share a pull."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats

Flags = NDArray[np.bool_]
# So many points steer the search for a set that frees everything, and so much of them may stay locked in it.
STEERING = 3000
STEERING_SHARE = 0.01


def best_sets(free: Flags, weight: Floats, most: int, *, dear: Floats | None = None) -> list[tuple[int, ...]]:
    """The best set of 1, 2, .. `most` pulls: numbers of rows of `free` (pulls, points).

    Sets of one and two are the best there are; three are the best that hold one of the twelve best pairs;
    larger ones grow by the pull that frees most. `weight` (points,) is what each point counts, `dear`
    (pulls,) what a pull costs in the same unit, to settle ties.
    """
    if not len(free) or most < 1:
        return []
    cost = np.zeros(len(free)) if dear is None else dear
    rows = free.astype(np.float32)
    weighted = rows * weight.astype(np.float32)
    total = float(weight.sum())
    own = weighted.sum(axis=1).astype(np.float64)
    found: list[tuple[int, ...]] = [(int(np.argmin(total - own + cost)),)]
    if most == 1 or len(free) == 1:
        return found
    both = (weighted @ rows.T).astype(np.float64)
    left = total - (own[:, None] + own[None, :] - both) + cost[:, None] + cost[None, :]
    np.fill_diagonal(left, np.inf)
    order = np.argsort(left, axis=None)[:24:2]
    pairs = [(int(k) // len(free), int(k) % len(free)) for k in order]
    found.append(min(pairs, key=lambda p: left[p]))
    for count in range(3, most + 1):
        starts: Sequence[tuple[int, ...]] = pairs if count == 3 else [found[-1]]
        best, best_left = found[-1], np.inf
        for start in starts:
            covered = free[list(start)].any(axis=0)
            gain = (weighted @ (~covered).astype(np.float32)).astype(np.float64) - cost
            gain[list(start)] = -np.inf
            k = int(np.argmax(gain))
            rest = float(weight[~covered].sum()) - float(gain[k]) + float(cost[list(start)].sum())
            if rest < best_left:
                best, best_left = (*start, k), rest
        if len(best) == len(found[-1]):
            break
        found.append(best)
    return found


def whole_set(
    free: Flags, weight: Floats, most: int, spare_share: float, *, dear: Floats
) -> tuple[int, ...] | None:
    """At most `most` pulls leaving no more than `spare_share` of the weight locked; None if none are found.

    `free`, `weight` and `dear` as in `best_sets`, which takes what frees most at each step and so may miss
    pulls that free all there is only together. Some of the points steer the search; then one pull after the
    other is exchanged while less stays locked.
    """
    total = float(weight.sum())
    spare = spare_share * total
    if total <= 0.0 or float(weight[~free.any(axis=0)].sum()) > spare:
        return None
    some = slice(None, None, max(1, free.shape[1] // STEERING))
    # Walls upright to a pull are a line of the raster off, so that a little more is let pass here.
    chosen = fewest(free[:, some], weight[some], most, max(STEERING_SHARE, spare_share))
    if chosen is None:
        return None
    rows = list(chosen)
    left = float(weight[~free[rows].any(axis=0)].sum()) + float(dear[rows].sum())
    for _ in range(len(free)):
        best = (left, -1, -1)
        for k in range(len(rows)):
            others = rows[:k] + rows[k + 1 :]
            open_points = ~free[others].any(axis=0)
            locked = float(weight[open_points].sum()) - free[:, open_points] @ weight[open_points]
            cost = locked + float(dear[others].sum()) + dear
            cost[others] = np.inf
            best = min(best, (float(cost.min()), k, int(np.argmin(cost))))
        if best[1] < 0 or best[0] >= left:
            break
        left, rows[best[1]] = best[0], best[2]
    if float(weight[~free[rows].any(axis=0)].sum()) > spare:
        return None
    return tuple(rows)


def fewest(free: Flags, weight: Floats, most: int, negligible_share: float) -> tuple[int, ...] | None:
    """The fewest pulls, at most `most`, that leave no more than `negligible_share` of the weight locked;
    None if there are none among those tried.

    Branches on the point that fewest pulls free, over the eight pulls that free most beside it; points that
    the same pulls free are one.
    """
    groups, number = np.unique(free, axis=1, return_inverse=True)
    mass = np.bincount(number.reshape(-1), weight, groups.shape[1])
    stuck = ~groups.any(axis=0)
    spare = negligible_share * float(weight.sum()) - float(mass[stuck].sum())
    if spare < 0.0:
        return None
    groups, mass = groups[:, ~stuck], mass[~stuck]
    # Crumbs together lighter than half of what may stay locked do not steer the search.
    order = np.argsort(mass)
    crumbs = order[np.cumsum(mass[order]) <= 0.5 * spare]
    heavy = np.ones(len(mass), bool)
    heavy[crumbs] = False
    options = groups.sum(axis=0)

    def grow(chosen: tuple[int, ...], open_groups: Flags, room: int) -> tuple[int, ...] | None:
        if float(mass[open_groups].sum()) <= spare:
            return chosen
        steer = np.flatnonzero(open_groups & heavy)
        if room == 0 or not len(steer):
            return None
        rarest = steer[int(np.argmin(options[steer]))]
        rows = np.flatnonzero(groups[:, rarest])
        gain = groups[rows][:, open_groups] @ mass[open_groups]
        for k in rows[np.argsort(-gain, kind="stable")][:8].tolist():
            found = grow((*chosen, k), open_groups & ~groups[k], room - 1)
            if found is not None:
                return found
        return None

    for count in range(1, most + 1):
        found = grow((), np.ones(len(mass), bool), count)
        if found is not None:
            return found
    return None


def sharing_none(open_to: Flags, near: Flags | None, most: int) -> list[int]:
    """Spots no two of which share a direction: numbers of rows of `open_to` (spots, directions), at most
    `most`.

    `near` (directions, directions) tells which directions are to be taken for one, so that what lies between
    two samples is not lost; None when each stands for itself. Greedy, the narrowest spots first; rows
    without a direction are left out.
    """
    wide = open_to if near is None else (open_to.astype(np.float32) @ near.astype(np.float32)) > 0.0
    chosen: list[int] = []
    for k in np.argsort(open_to.sum(axis=1), kind="stable").tolist():
        if not open_to[k].any() or len(chosen) >= most:
            continue
        if all(not (wide[k] & open_to[other]).any() for other in chosen):
            chosen.append(k)
    return chosen
