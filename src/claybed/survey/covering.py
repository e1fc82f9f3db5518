"""More than two pieces: what locks along an axis is given to side pieces, and what that leaves to fill.

The space that locks, not the surface, has to be freed: rods can be seen all round and still hold the plaster
between them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.cover import best_sets, whole_set
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes, flat_patches, suggested
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.reach import Skyline, free_along, locked_points
from claybed.materials import shelf
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import Drafted, MoldOption, Trade, Vector, Witness
from claybed.survey.drafting import MOST_PULLS, draft_pulls, drafted, free_pulls
from claybed.survey.leaning import leaning_option
from claybed.survey.left_locked import CRUMB_ML, places_left
from claybed.survey.limits import LockLimits
from claybed.survey.standing import standing_trades
from claybed.survey.witnessing import look_about, witness
from claybed.units import say_volume

MOST_SIDES = 4
SAMPLED = 40
SIDE_LINES = 256
LEVEL_BONUS = 0.01
# The floor of a hole looks along the one pull that leaves it: places of so much of the surface are asked.
FLOOR_SHARE, MOST_FLOORS = 0.002, 24
SAME_COSINE = float(np.cos(np.radians(0.05)))
# Of less than this, which pull frees a little more is chance.
LEAST_TOTAL_MM3 = 3000.0

Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class Covered:
    """Ways with further pieces: the front from two pieces on, the option for each count, the witness, pulls
    that free all although no two are opposite where they are fewer, and what draft costs.
    """

    front: tuple[Trade, ...]
    options: tuple[MoldOption, ...]
    witness: Witness | None
    free_pulls: tuple[Vector, ...]
    drafted: Drafted | None


def cover(
    obj: MeasuredObject,
    axes: Sequence[Vector],
    up: Vector,
    limits: LockLimits,
    *,
    two_fill_ml: float,
    lines: int,
    wanted: int | None,
    fixed: bool,
    draft_deg: float,
    progress: Progress,
) -> Covered:
    """Find for three, four, .. pieces the main axis among `axes` and the side pulls that leave least to fill.

    `two_fill_ml` is what two pieces leave, `lines` the resolution of the raster on which the locked space is
    sampled. A count `wanted` is among the options whether or not it saves fill; with `fixed` only `axes` are
    main axes. `draft_deg` is the draft that is wished for on every wall. `progress` is told "pieces" and a
    fraction.
    """
    mesh = obj.mesh
    raster, side_raster = DepthRaster(mesh, lines), DepthRaster(mesh, SIDE_LINES)
    pulls, fond = _side_pulls(mesh, up)
    skylines = [Skyline(side_raster, s) for s in pulls]
    best: dict[int, tuple[tuple[float, ...], Trade]] = {}
    open_ones: list[_Looked] = []
    axes = tuple(axes) if fixed else (*axes, *_level_axes(mesh, axes, up))
    for number, axis in enumerate(axes):
        progress("pieces", 0.7 * number / len(axes))
        d = np.array(axis)
        points, volume, _ = locked_points(raster.columns(d))
        if float(volume.sum()) / 1000.0 <= CRUMB_ML:
            # Nothing for a side piece to free; one asked for all the same is a foot piece.
            foot = _foot_as_asked(d, up, wanted)
            if foot is not None and (3 not in best or foot[0] < best[3][0]):
                best[3] = foot
            continue
        usable = np.flatnonzero(np.abs(pulls @ d) <= _clear_of_main())
        ring = _square_to(d, up)
        if obj.mouth is not None:  # slip comes in there, so no side piece stands before it
            away = np.array(obj.mouth.up)
            clear = float(np.cos(np.radians(shelf.value("practice", "mouth_clear_of_side_deg").value)))
            usable = usable[pulls[usable] @ away < clear]
            ring = ring[ring @ away < clear]
        sides = np.concatenate([pulls[usable], ring])
        upright = np.abs(ring @ np.array(up)) > 1.0 - 1e-9
        liked = np.concatenate([fond[usable], LEVEL_BONUS * (1.0 + upright)])
        lines_of = [*(skylines[k] for k in usable.tolist()), *(Skyline(side_raster, s) for s in ring)]
        free = np.stack([skyline.free(points) for skyline in lines_of])
        dear = max(float(volume.sum()), LEAST_TOTAL_MM3) * (2.0 * LEVEL_BONUS - liked)
        seen_along = _Looked(axis, sides, liked, free, volume, dear, up)
        for rows in best_sets(free, volume, MOST_SIDES, dear=dear):
            _keep_best(best, seen_along, rows)
        open_ones.append(seen_along)
    if best and min(trade.fill_ml for _, trade in best.values()) > CRUMB_ML:
        # Pulls that free all there is only together are missed where each step takes what frees most.
        for looked in open_ones:
            spare_share = 1000.0 * CRUMB_ML / float(looked.volume.sum())
            whole_rows = whole_set(
                looked.free, looked.volume, MOST_SIDES, spare_share, dear=CRUMB_ML * looked.dear
            )
            if whole_rows is not None:
                _keep_best(best, looked, whole_rows)
    front = [Trade(2, two_fill_ml, axes[0], (), told="measured")]
    options = []
    least_ml = two_fill_ml
    whole = min((k for k in best if best[k][1].fill_ml <= CRUMB_ML), default=MOST_SIDES + 3)
    based = None
    if obj.mouth is None and not fixed:
        based = _on_a_base(mesh, raster, side_raster, pulls, skylines, fond, up, whole)
    done = MOST_SIDES + 3 if based is None else based.pieces
    for pieces in sorted({*best, *([based.pieces] if based else [])}):
        if based is not None and pieces == based.pieces:
            front.append(based)
            if wanted in (None, pieces):
                options.append(_standing(based))
            continue
        trade = best[pieces][1]
        # One count more than should do is kept, in case the cut of fewer leaves more than is told here.
        spare = pieces == done + 1
        saves = trade.fill_ml < least_ml - max(CRUMB_ML, 0.01 * two_fill_ml)
        if not (saves or spare) and pieces != wanted:
            continue
        option = _option(raster, side_raster, trade, limits)
        least_ml = min(least_ml, option.fill_ml)
        front.append(Trade(pieces, option.fill_ml, option.pull, option.sides))
        options.append(option)
        done = min(done, pieces) if option.fill_ml <= CRUMB_ML else done
        if pieces > done and (wanted is None or pieces >= wanted):
            break
    options += _foot_aslant(raster, side_raster, options, up, limits)
    progress("pieces", 0.8)
    sought = look_about(mesh, pulls)
    seen = witness(mesh, sought)
    if seen is None or len(seen.spots_mm) > MOST_PULLS:
        return Covered(tuple(front), tuple(options), seen, (), None)
    whole = min((trade.pieces for trade in front if trade.fill_ml <= CRUMB_ML), default=MOST_SIDES + 3)
    fewer: tuple[Vector, ...] = ()
    if len(seen.spots_mm) < whole:
        fewer = free_pulls(mesh, side_raster, sought, most=len(seen.spots_mm))
    progress("pieces", 0.9)
    ways = draft_pulls(mesh, side_raster, seen, sought, draft_deg)
    more = drafted(mesh, side_raster, seen, sought, draft_deg, pulls=ways)
    aslant = None
    if ways and obj.mouth is None and wanted in (None, len(ways)):
        aslant = leaning_option(mesh, ways, draft_deg, axis=axes[0] if fixed else None)
    if aslant is not None:
        # As many pieces that give every wall its draft are better than without.
        place = sum(option.pieces < aslant.pieces for option in options)
        options.insert(place, aslant)
        if all(trade.pieces != aslant.pieces for trade in front):
            front.append(Trade(aslant.pieces, 0.0, aslant.pull, aslant.sides))
            front.sort(key=lambda trade: trade.pieces)
    return Covered(tuple(front), tuple(options), seen, fewer, more)


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """A main axis with the pulls (n, 3) that side pieces may have beside it: how much each is `liked`, which
    of the locked points it frees, the volume (points,) mm³ of each point, and what a pull costs.
    """

    axis: Vector
    sides: Floats
    liked: Floats
    free: NDArray[np.bool_]
    volume: Floats
    dear: Floats
    up: Vector


def _keep_best(
    best: dict[int, tuple[tuple[float, ...], Trade]], looked: _Looked, rows: tuple[int, ...]
) -> None:
    """Keep a set of side pulls, rows of `looked`, where it is the best of its number of pieces so far."""
    left_ml = float(looked.volume[~looked.free[list(rows)].any(axis=0)].sum()) / 1000.0
    pieces = 2 + len(rows)
    trade = Trade(pieces, left_ml, looked.axis, tuple(_vector(looked.sides[k]) for k in rows))
    # Of equal fill, a level main axis and side pulls that follow the object are easier to make.
    rank = (
        round(left_ml / (5.0 * CRUMB_ML)),
        float(abs(float(np.dot(looked.axis, looked.up))) > 1e-3),
        -float(looked.liked[list(rows)].sum()),
        left_ml,
    )
    if pieces not in best or rank < best[pieces][0]:
        best[pieces] = (rank, trade)


def _on_a_base(
    mesh: Mesh,
    raster: DepthRaster,
    side_raster: DepthRaster,
    pulls: Floats,
    skylines: Sequence[Skyline],
    liked: Floats,
    up: Vector,
    whole: int,
) -> Trade | None:
    """The way of fewest pieces with one main piece on a flat face; None where it takes as many as two main
    ones that leave nothing to fill, `whole`. Of equal ones the main piece that leaves nearest to `up`.
    """
    crumb_mm3 = 1000.0 * CRUMB_ML
    found = standing_trades(
        mesh, raster, side_raster, pulls, skylines, liked, most_sides=MOST_SIDES, crumb_mm3=crumb_mm3
    )
    found = [trade for trade in found if trade.pieces < whole]
    return min(found, key=lambda trade: (trade.pieces, -float(np.dot(trade.pull, up))), default=None)


def _standing(trade: Trade) -> MoldOption:
    says = (
        f"Leaves in {trade.pieces} pieces with nothing to fill: one stands on the flat face it has, and what "
    )
    says += "lies under it leaves with another."
    return MoldOption("several", trade.pull, 0.0, 0.0, says, sides=trade.sides, base_mm=trade.base_mm)


def _clear_of_main() -> float:
    """Cosine to the main pull that a side pull may have at most. Source: materials/practice."""
    return float(np.cos(np.radians(shelf.value("practice", "side_pull_least_deg").value)))


def _foot_as_asked(d: Floats, up: Vector, wanted: int | None) -> tuple[tuple[float, ...], Trade] | None:
    """A foot piece beside main pieces along `d`, in its place among the trades; None unless three are wanted.

    Upright main pieces have no foot of their own to give away.
    """
    rise = abs(float(d @ np.array(up)))
    if wanted != 3 or rise >= _clear_of_main():
        return None
    trade = Trade(3, 0.0, _vector(d), (_vector(-np.array(up)),))
    return (0.0, float(rise > 1e-3), -4.0 * LEVEL_BONUS, 0.0), trade


def _foot_aslant(
    raster: DepthRaster,
    side_raster: DepthRaster,
    options: Sequence[MoldOption],
    up: Vector,
    limits: LockLimits,
) -> list[MoldOption]:
    """The same foot piece beside main pieces that leave a little up or down, where that locks nothing either.

    A flat rim that stands exactly along a level pull belongs to neither main piece.
    """
    slant = shelf.value("practice", "foot_slant_ratio").value
    found = []
    for option in options:
        if option.pieces != 3 or option.fill_ml > 0.0 or option.sides[0] != _vector(-np.array(up)):
            continue
        for rise in (1.0, -1.0):
            d = slant * np.array(option.pull) + rise * np.array(up)
            d /= np.linalg.norm(d)
            if raster.score(d).fill_mm3 <= 1000.0 * CRUMB_ML:
                trade = Trade(3, 0.0, _vector(d), option.sides)
                found.append(_option(raster, side_raster, trade, limits))
    return found


def _side_pulls(mesh: Mesh, up: Vector) -> tuple[Floats, Floats]:
    """Pulls (n, 3) for side pieces, and how much each is liked, as a share of what locks."""
    known = [np.array(c.axis) for c in suggested(mesh, (), up=up)]
    known = [*known, *(-a for a in known)]
    for flat in flat_patches(mesh, least_share=FLOOR_SHARE, most=MOST_FLOORS):
        if float((np.array(known) @ np.array(flat.normal)).max()) < SAME_COSINE:
            known.append(np.array(flat.normal))
    spread = fibonacci_axes(SAMPLED)
    pulls = np.concatenate([np.array(known), spread, -spread])
    liked = np.concatenate([np.full(len(known), LEVEL_BONUS), np.zeros(2 * SAMPLED)])
    return pulls, liked + LEVEL_BONUS * (np.abs(pulls @ np.array(up)) > 1.0 - 1e-9)


def _level_axes(mesh: Mesh, axes: Sequence[Vector], up: Vector) -> list[Vector]:
    """Level main axes that geometry suggests, beyond those already ranked."""
    more = [c.axis for c in suggested(mesh, (), up=up) if abs(float(np.dot(c.axis, up))) < 0.02]
    return [a for a in more if all(abs(float(np.dot(a, b))) < 0.9998 for b in axes)][:6]


def _square_to(d: Floats, up: Vector) -> Floats:
    """Eight pulls square to an axis, the one nearest to upright and its opposite among them."""
    flat = np.array(up) - float(np.dot(up, d)) * d
    if float(np.linalg.norm(flat)) < 0.1:
        flat = np.cross(d, np.eye(3)[int(np.argmin(np.abs(d)))])
    x = flat / np.linalg.norm(flat)
    y = np.cross(d, x)
    turn = np.arange(8)[:, None] * np.pi / 4.0
    ring: Floats = np.cos(turn) * x + np.sin(turn) * y
    return ring


def _option(raster: DepthRaster, side_raster: DepthRaster, trade: Trade, limits: LockLimits) -> MoldOption:
    """A trade as a way to make the mold, with what still locks patch by patch."""
    columns = raster.columns(np.array(trade.pull))
    points, volume, patch = locked_points(columns)
    free = np.zeros(len(points), bool)
    for s in trade.sides:
        free |= free_along(side_raster, points, np.array(s))
    places = places_left(columns, points, volume, patch, free, limits)
    fill_ml = float(sum(p.volume_ml for p in places))
    count = 2 + len(trade.sides)
    what = (
        "nothing to fill"
        if fill_ml <= CRUMB_ML
        else f"about {say_volume(fill_ml)} of oil clay".replace("about under", "under")
    )
    return MoldOption(
        kind="several",
        pull=trade.pull,
        fill_ml=fill_ml,
        deepest_mm=limits.deepest_mm(places),
        says=f"Leaves in {count} pieces with {what}.",
        sides=trade.sides,
        places=places,
    )


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
