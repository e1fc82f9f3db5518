"""Where in the seam a bore leaves the least air and slip: places judged before any plaster is cut.

The usual place stays unless another saves a share of the cavity that is worth it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from claybed.errors import CannotError
from claybed.gate.along import bore_place, practice
from claybed.gate.bore_end import beyond_ml, end_cells, widest_sparing
from claybed.gate.choosing import is_clear, least_bore_mm, long_way, sideways
from claybed.gate.judging import (
    COMPARING_CELLS,
    RANKING_CELLS,
    Bore,
    Kept,
    buried_mm,
    cells_of,
    kept_by,
    with_bore,
)
from claybed.gate.necks import mouth_end_mm
from claybed.gate.slender import is_slender
from claybed.gate.tips import end_of, tips
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import Cavity
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan, GateTrial, Vector
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption

# Ways across the pull that are tried, and how many ends the object may have each way.
WAYS_ROUND = 8
MOST_TIPS = 4
SAME_WAY = math.cos(math.radians(10.0))
SAME_MM = 3.0
# So many of the places that rank best are held in every way.
CLOSER_LOOKS = 3
# Within 45 degrees of up or down a bore comes out at the top or at the foot.
UPRIGHT = math.cos(math.radians(45.0))
OFF_MIDDLE = 0.2
SOUND = "a bore through the first piece, along its pull: every place in the seam is a tip or an edge"
# A way between two of the file's axes is named by both.
BETWEEN = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A place in the pull frame, in words; `mark` orders by what it does to the ware's face (0: the underside
    is marked, which stands on the shelf), `plan_mm2` how large a box round object and gate's way is.
    """

    bore: Bore
    words: str
    mark: int
    plan_mm2: float
    along: bool = False


def searched(usual: GatePlan, obj: MeasuredObject, option: MoldOption, brief: Brief) -> GatePlan:
    """A gate at the place where the cavity keeps the least air and slip, or the usual one where that is as
    good; there it is made narrower where the usual bore would take the object's own end. The next best places
    follow by `in_place_of`, the usual one last, for where no mold with the best one holds.

    `usual` is what `choose_gate` gives. Reads `gate`, `gate_bore_mm`, `up` and `ware_wall_mm` of the brief.
    Places are the ends of the object eight ways across the pull and along its length, and bores along the
    pull, through either piece, where every end keeps too much; one where the bore would take the object's own
    end is left. Where the usual place is a tip, a rim or a knob, another that drains and is wider than the
    bore with its walls is taken, at the underside if it can be. Source: materials/practice
    (gate_move_least_fraction, slip_left_most_fraction, gate_taken_most_ratio).
    """
    if usual.kind != "bore" or usual.along_pull:
        return usual
    turn = pull_rotation(option.pull)
    placed = obj.mesh.moved(turn, np.zeros(3), frame="pull")
    up = turn @ np.asarray(brief.up, dtype=float) / np.linalg.norm(brief.up)
    way = turn @ np.asarray(usual.out)
    at = end_of(placed, way)
    if option.base_mm is not None:
        return _sparing(usual, placed, np.array([at[0], at[1], option.base_mm]), way, brief)
    widest, usual = usual, _sparing(usual, placed, at, way, brief)
    if brief.gate != "auto":
        return usual
    fine, wall_mm = cells_of(placed, COMPARING_CELLS), brief.ware_wall_mm
    first = _place(placed, at, way, up, usual, turn)
    here = _kept(fine, first, wall_mm)
    cavity_ml = float(fine.inside.sum()) * fine.cell_ml
    worth_ml = practice("gate_move_least_fraction") * cavity_ml
    named = replace(usual, reason=f"a bore {first.words}, in the seam")
    ill = _stands_ill(first, placed, brief)
    if here.left_ml < worth_ml:
        narrow = _at_neck(named, widest, placed, fine, first, here, worth_ml, up, turn, brief)
        if not ill or narrow.chosen == "neck":
            return narrow
    shape = cells_of(placed, RANKING_CELLS)
    others = [
        place
        for place in _others(placed, shape, first, usual, obj, option, up, turn)
        if _spares(place, placed)
    ]
    ranked = sorted(others, key=lambda place: _kept(shape, place, wall_mm, few=True).left_ml)
    looked_at = ranked[:CLOSER_LOOKS]
    if ill:
        stand_well = [place for place in ranked if not _is_slender(place, placed, brief)]
        looked_at += [place for place in stand_well[:CLOSER_LOOKS] if place not in looked_at]
    judged = [(place, _kept(fine, place, wall_mm)) for place in looked_at]
    drains_ml = practice("slip_left_most_fraction") * cavity_ml
    so_far_ml = min([here.left_ml, *(kept.left_ml for _, kept in judged)])
    if (ill or so_far_ml > drains_ml) and not option.sides:
        most_ml = so_far_ml - drains_ml
        along = _along_pull(placed, fine, usual, up, turn, wall_mm)
        judged += [one for one in along if ill or one[1].left_ml < most_ml]
    if not judged:
        return named
    count = 1 + len(others) + sum(place.along for place, _ in judged)
    if ill:
        most_ml = max(here.left_ml + worth_ml, drains_ml)
        sound = [
            (place, kept)
            for place, kept in judged
            if kept.left_ml <= most_ml
            and not _is_slender(place, placed, brief)
            and (not place.along or _is_thick(place, placed))
        ]
        if sound:
            sound.sort(key=lambda one: (*_hidden(one[0], shape, placed), one[1].left_ml))
            gate = named
            for place, kept in reversed(sound[:CLOSER_LOOKS]):
                told = _trial(place, kept, turn, fine), _trial(first, here, turn, fine)
                chosen: Literal["better", "next", "wider"] = "wider"
                if here.left_ml - kept.left_ml >= worth_ml:
                    chosen = "better" if place is sound[0][0] else "next"
                moved = _to(place, widest, named, placed, brief, turn)
                reason = SOUND if place.along else moved.reason
                gate = replace(
                    moved, reason=reason, chosen=chosen, tried=told, places=count, in_place_of=gate
                )
            return gate
    least_ml = min(kept.left_ml for _, kept in judged)
    near = [one for one in judged if one[1].left_ml <= least_ml + worth_ml]
    best, found = min(near, key=lambda one: (*_taste(one[0], shape), one[1].left_ml))
    judged.sort(key=lambda one: (one[0] is not best, one[1].left_ml))
    tried = _trial(first, here, turn, fine), _trial(best, found, turn, fine)
    if here.left_ml - found.left_ml < worth_ml:
        return replace(named, chosen="usual", tried=tried, places=count)
    gate = named
    for place, kept in reversed(judged):
        if here.left_ml - kept.left_ml >= worth_ml:
            told = _trial(place, kept, turn, fine), tried[0]
            chosen = "better" if place is best else "next"
            moved = _to(place, widest, named, placed, brief, turn)
            gate = replace(moved, chosen=chosen, tried=told, places=count, in_place_of=gate)
    return gate


def _to(
    place: _Place, widest: GatePlan, named: GatePlan, placed: Mesh, brief: Brief, turn: Floats
) -> GatePlan:
    """The gate moved to a place, as wide as it has room for there: in the seam that may be `widest`."""
    there = replace(named, usual_takes_mm=0.0, usual_takes_ml=0.0)
    if not place.along:
        there = _sparing(widest, placed, place.bore.at, place.bore.out, brief)
    return _moved(there, place, turn)


def _stands_ill(place: _Place, placed: Mesh, brief: Brief) -> bool:
    """Whether the object's end would be lost to a bore there, or is hardly wider than it."""
    return not _spares(place, placed) or _is_slender(place, placed, brief)


def _spares(place: _Place, placed: Mesh) -> bool:
    bore = place.bore
    return widest_sparing(placed, bore.at, bore.out, [2.0 * bore.radius_mm], bore.slot_mm)[0] is not None


def _is_thick(place: _Place, placed: Mesh) -> bool:
    """Whether the object goes on behind a bore along the pull as deep as the bore begins in it."""
    bore, deep_mm = place.bore, 2.0 * practice("gate_buried_mm")
    end = end_cells(placed, bore.at, bore.out, bore.radius_mm, deep_mm, 0.0)
    return beyond_ml(end, bore.radius_mm, deep_mm) < practice("gate_beyond_least_ml")


def _is_slender(place: _Place, placed: Mesh, brief: Brief) -> bool:
    bore = place.bore
    least_mm = min(2.0 * bore.radius_mm, least_bore_mm(brief))
    return is_slender(
        placed, bore.at, bore.out, 2.0 * bore.radius_mm, wall_mm=brief.ware_wall_mm, least_mm=least_mm
    )


def _sparing(usual: GatePlan, placed: Mesh, at: Floats, out: Floats, brief: Brief) -> GatePlan:
    """The usual gate with the widest bore that takes no more of the object there than a gate may, of those
    that keep a clear way for draining; as it is where none does, or its bore was asked for.
    """
    if brief.gate_bore_mm is not None:
        return usual
    # Rather than the object's end, some of the clear way is given up, within what practice varies by.
    clear_mm = shelf.value("practice", "gate_clear_least_mm").low
    least_mm = math.hypot(clear_mm, practice("closing_bore_factor") * brief.ware_wall_mm)
    bores = range(math.ceil(usual.bore_mm) - 1, math.ceil(least_mm) - 1, -1)
    widths = [usual.bore_mm, *(float(bore) for bore in bores)]
    fits_mm, takes = widest_sparing(placed, at, out, widths, usual.slot_mm, at_base=usual.at_base)
    if fits_mm is None or fits_mm == usual.bore_mm:
        return usual
    return replace(
        usual,
        bore_mm=fits_mm,
        slot_mm=min(usual.slot_mm, fits_mm),
        usual_bore_mm=usual.bore_mm,
        usual_takes_mm=takes.long_mm,
        usual_takes_ml=takes.volume_ml,
    )


def through_other(gate: GatePlan, option: MoldOption) -> bool:
    """Whether a bore along the pull comes out through the piece that would not be the first."""
    bored = gate.kind == "bore" and gate.along_pull
    return bored and float(np.asarray(gate.out) @ np.asarray(option.pull)) < 0.0


def _moved(usual: GatePlan, place: _Place, turn: Floats) -> GatePlan:
    out, at = _vector(turn.T @ place.bore.out), _vector(turn.T @ place.bore.at)
    if place.along:
        return replace(
            usual,
            out=out,
            at_mm=at,
            along_pull=True,
            slot_mm=math.nan,
            reason="a bore through the first piece, along its pull: every place in the seam keeps more",
        )
    return replace(usual, out=out, at_mm=at, reason=f"a bore {place.words}, in the seam")


def _place(
    placed: Mesh, at: Floats, out: Floats, up: Floats, usual: GatePlan, turn: Floats, *, along: bool = False
) -> _Place:
    side = np.cross([0.0, 0.0, 1.0], out)
    flat = placed.vertices_mm @ np.stack([out, side], axis=1)
    plan_mm2 = 0.0 if along else float(np.prod(np.ptp(flat, axis=0)))
    slot_mm = usual.slot_mm if math.isfinite(usual.slot_mm) else usual.bore_mm
    foot = float(out @ up) < -UPRIGHT
    words = _where(placed, at, out, up, turn)
    if along:
        words += ", through the first piece"
    return _Place(Bore(at, out, 0.5 * usual.bore_mm, slot_mm), words, 0 if foot else 1, plan_mm2, along)


def _taste(place: _Place, shape: Cavity) -> tuple[bool, int, bool, int]:
    """The order in which places are preferred that keep as little: in the seam, at the underside, where the
    bore laps little over the object's edge, in a small block.
    """
    laps = not place.along and buried_mm(shape, place.bore) > place.bore.radius_mm
    return place.along, place.mark, laps, round(place.plan_mm2)


def _hidden(place: _Place, shape: Cavity, placed: Mesh) -> tuple[int, bool, bool, int]:
    """The order in which places are preferred where the usual one would take what is seen: at the underside,
    in the seam, lapping little over an edge, near the middle of the object.
    """
    low, high = placed.bounds_mm
    off = place.bore.at - 0.5 * (low + high)
    off = off - float(off @ place.bore.out) * place.bore.out
    _, _, laps, _ = _taste(place, shape)
    return place.mark, place.along, laps, round(float(np.linalg.norm(off)))


def _where(placed: Mesh, at: Floats, out: Floats, up: Floats, turn: Floats) -> str:
    """An end of the object in words: foot, top or side, and towards which of the file's axes."""
    upright = float(out @ up)
    if abs(upright) > UPRIGHT:
        end, towards = "at the foot" if upright < 0.0 else "at the top", np.zeros(3)
        low, high = placed.bounds_mm
        off = at - 0.5 * (low + high)
        off = off - (off @ up) * up
        wide_mm = float((high - low).max())
        if float(np.linalg.norm(off)) > OFF_MIDDLE * wide_mm:
            towards = turn.T @ off
    else:
        end, towards = "at the side", turn.T @ (out - upright * up)
    far = float(np.abs(towards).max())
    axes = [k for k in range(3) if abs(float(towards[k])) > BETWEEN * far]
    names = [f"{'-' if towards[k] < 0.0 else ''}{'xyz'[k]}" for k in axes]
    return f"{end} towards {' and '.join(names)}" if names else end


def _others(
    placed: Mesh,
    shape: Cavity,
    first: _Place,
    usual: GatePlan,
    obj: MeasuredObject,
    option: MoldOption,
    up: Floats,
    turn: Floats,
) -> list[_Place]:
    """Ends of the object other than the usual one, each once."""
    out = first.bore.out
    across = np.cross([0.0, 0.0, 1.0], out)
    angles = np.arange(WAYS_ROUND) * 2.0 * np.pi / WAYS_ROUND
    ways = [math.cos(a) * out + math.sin(a) * across for a in angles.tolist()]
    length = turn @ long_way(obj, np.asarray(option.pull))
    length = sideways(length, np.array([0.0, 0.0, 1.0]))
    ways += [one for one in (length, -length) if max(float(one @ way) for way in ways) < SAME_WAY]
    found: list[_Place] = []
    for way in ways:
        if not is_clear(turn.T @ way, option):
            continue
        for at in tips(placed, shape, way, first.bore.radius_mm, most=MOST_TIPS):
            known = [one.bore.at for one in (first, *found) if float(one.bore.out @ way) > 0.5]
            if all(float(np.linalg.norm(at - one)) > SAME_MM for one in known):
                found.append(_place(placed, at, way, up, usual, turn))
    return found


def _along_pull(
    placed: Mesh, cells: Cavity, usual: GatePlan, up: Floats, turn: Floats, wall_mm: float
) -> list[tuple[_Place, Kept]]:
    """Bores along the pull, through either piece, where a flat place is wide enough."""
    found = []
    # Turned over about x, what looked down looks up.
    for over in (np.eye(3), np.diag([1.0, -1.0, -1.0])):
        seen = placed.moved(over, np.zeros(3), frame="pull")
        long_mm, bore_mm = practice("wall_medium_mm"), usual.bore_mm
        try:
            at, _ = bore_place(seen, (), length_mm=long_mm, bore_mm=bore_mm, least_mm=bore_mm)
        except CannotError:
            continue
        place = _place(placed, over @ at, over[2], up, usual, turn, along=True)
        found.append((place, _kept(cells, place, wall_mm)))
    return found


def _at_neck(
    usual: GatePlan,
    widest: GatePlan,
    placed: Mesh,
    cells: Cavity,
    first: _Place,
    before: Kept,
    worth_ml: float,
    up: Floats,
    turn: Floats,
    brief: Brief,
) -> GatePlan:
    """The gate at the end to which hollow ware narrows, which is its mouth, where that keeps no more: as wide
    as `widest` if it has room there, else as the `usual` one is; never where a bore takes that end.
    """
    flat = up - up[2] * np.array([0.0, 0.0, 1.0])
    if float(np.linalg.norm(flat)) < UPRIGHT or first.mark:
        return usual
    way = flat / np.linalg.norm(flat)
    wide_mm = mouth_end_mm(placed, cells, way)
    if wide_mm is None:
        return usual
    rims_mm = 2.0 * practice("gate_neck_rim_mm")
    fits = widest if wide_mm >= widest.bore_mm + rims_mm else usual
    place = _place(placed, end_of(placed, way), way, up, fits, turn)
    here = _trial(first, before, turn, cells)
    if wide_mm < usual.bore_mm + rims_mm:
        return replace(usual, chosen="neck_narrow", tried=(here,), end_mm=wide_mm)
    if not _spares(place, placed):
        return usual
    there = _trial(place, _kept(cells, place, brief.ware_wall_mm), turn, cells)
    if there.left_ml > here.left_ml + worth_ml:
        return replace(usual, chosen="neck_keeps", tried=(here, there), end_mm=wide_mm)
    moved = _moved(replace(fits, usual_takes_mm=0.0, usual_takes_ml=0.0), place, turn)
    return replace(moved, chosen="neck", tried=(there, here), end_mm=wide_mm, in_place_of=usual)


def _kept(cells: Cavity, place: _Place, wall_mm: float, *, few: bool = False) -> Kept:
    return kept_by(with_bore(cells, place.bore), place.bore, wall_mm, few=few)


def _trial(place: _Place, kept: Kept, turn: Floats, cells: Cavity) -> GateTrial:
    out = _vector(turn.T @ place.bore.out)
    return GateTrial(place.words, out, kept.air_ml, kept.slip_ml, kept.shut_ml, cells.cell_mm)


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
