"""What side pieces leave to fill once they are cut, beside what was found before and what is allowed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from claybed.errors import CannotError
from claybed.flow.sideways import aside
from claybed.flow.standing import open_mm2
from claybed.flow.ways import NOTHING_ML, allowance, fill_limit_ml, or_mouth, within_fill
from claybed.geometry.depth import DepthRaster
from claybed.geometry.reach import inside_points, locked_points
from claybed.materials import shelf
from claybed.proof.solidity import solidity
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import FillPlace, MoldOption, Survey
from claybed.survey.left_locked import places_left
from claybed.survey.limits import shelf_limits
from claybed.units import say_length, say_volume

# Fill beyond what the samples found that is put down to their spacing.
FILL_GRACE_ML = 0.2
# A main piece whose open plan is less than this is shut in: lattice rounding of what side pieces leave.
LEAST_MM2 = 1.0
# Lines of the raster across the object on which places are looked for.
LINES = 512


def _expected_ml(option: MoldOption, brief: Brief) -> float:
    """Fill that agrees with what was found, ml; no more than the samples may miss where a limit was asked."""
    more_ml = FILL_GRACE_ML if brief.max_fill_ml is not None else 0.5 * option.fill_ml
    return option.fill_ml + max(FILL_GRACE_ML, more_ml)


def most_fill_ml(obj: MeasuredObject, option: MoldOption, brief: Brief, two_ml: float) -> float:
    """The most fill that side pieces may leave, ml: what agrees with what was found, or what is taken of two
    pieces. Where nobody asked for so many pieces they have to spare a good part of the `two_ml` that two
    leave. Source: materials/practice.
    """
    usual_ml = fill_limit_ml(obj, brief)
    if brief.max_fill_ml is None and brief.pieces is None:
        usual_ml = min(usual_ml, shelf.value("practice", "fill_left_most_fraction").value * two_ml)
    return max(_expected_ml(option, brief), usual_ml)


def _taken(most_ml: float, brief: Brief) -> str:
    """The most fill that is taken of side pieces, in words."""
    if brief.max_fill_ml is not None:
        return allowance(brief.max_fill_ml, brief)
    return f"unasked, at most {say_volume(most_ml)} are taken where side pieces leave more than was found"


def allowed_ml(fill_ml: float) -> float:
    """What to allow so that so much fill is allowed, ml, as a person types it."""
    return round(fill_ml * 1.05 + 0.1, 1)


def whole(assembly: Assembly) -> bool:
    """Whether pieces and model of a mold are closed solids of one body each: one that leaves more to fill
    than allowed is handed back as it was cut.
    """
    solids = {**{piece.id: piece.solid for piece in assembly.pieces}, "model": assembly.model}
    return all(check.ok for check in solidity(solids, assembly))


class UncutError(CannotError):
    """Side pieces did not come out of their cuts as solids."""


class SideFillError(CannotError):
    """Side pieces leave more to fill than was found or allowed: `left_ml`; `leave` whether those that were
    cut leave the mold, `holds` whether it would do as well: whole, and no plaster weak.
    """

    def __init__(
        self,
        fault: str,
        *,
        where: str,
        remedy: str,
        left_ml: float = math.inf,
        leave: bool = False,
        holds: bool = False,
    ) -> None:
        super().__init__(fault, where=where, remedy=remedy)
        self.left_ml, self.leave, self.holds = left_ml, leave, holds


def as_made(
    obj: MeasuredObject,
    option: MoldOption,
    assembly: Assembly,
    left_ml: float,
    most_ml: float,
    brief: Brief,
    *,
    leave: bool = True,
    holds: bool = True,
) -> MoldOption:
    """The option with the fill that its side pieces really leave, and where; `assembly` as it was cut.

    Raises SideFillError when that is more than `most_ml`, UncutError when side pieces shut a main one in, so
    that it cannot be poured.
    """
    shut = [
        p.id for p in assembly.pieces if not aside(p) and open_mm2(assembly, up=p.pull[2] > 0.0) < LEAST_MM2
    ]
    if shut:
        raise UncutError(
            f"piece {shut[0]} cannot be poured: side pieces take all of the block at its end.",
            where=obj.name,
            remedy="Choose another --axis.",
        )
    if left_ml > most_ml:
        raise SideFillError(
            f"{option.pieces} pieces could free all but {option.fill_ml:.1f} ml, but no side pieces were "
            f"found that reach it: {left_ml:.1f} ml would have to be filled ({_taken(most_ml, brief)}).",
            where=obj.name,
            remedy="Soften the object there.",
            left_ml=left_ml,
            leave=leave,
            holds=holds,
        )
    if left_ml <= option.fill_ml + (NOTHING_ML if option.places else FILL_GRACE_ML):
        return option
    places = places_made(obj, option, assembly, left_ml)
    return replace(
        option,
        fill_ml=left_ml,
        deepest_mm=max([option.deepest_mm, *(place.depth_mm for place in places)]),
        places=places,
        says=f"Leaves in {option.pieces} pieces with {say_volume(left_ml)} of oil clay.",
    )


def places_made(
    obj: MeasuredObject, option: MoldOption, assembly: Assembly, left_ml: float
) -> tuple[FillPlace, ...]:
    """Where the `left_ml` lie that the pieces of a mold leave as they were cut: of the space that locks along
    its main pull, what is in its model.

    Where samples of it find nothing, the places of the option stand, with as much more in each as there is.
    """
    columns = DepthRaster(obj.mesh, LINES).columns(np.array(option.pull))
    points, volume, patch = locked_points(columns)
    placed = points @ assembly.to_block.T + assembly.shift_mm
    model = DepthRaster(assembly.model.mesh(BLOCK_FRAME), LINES).columns(np.array([0.0, 0.0, 1.0]))
    free = ~inside_points(model, placed)
    places = places_left(columns, points, volume, patch, free, shelf_limits()) or option.places
    found_ml = sum(place.volume_ml for place in places)
    share = left_ml / found_ml if found_ml > 0.0 else 1.0
    return tuple(replace(place, volume_ml=place.volume_ml * share) for place in places)


def side_refusal(
    obj: MeasuredObject,
    survey: Survey,
    option: MoldOption,
    fault: CannotError,
    two: MoldOption | None,
    brief: Brief,
) -> CannotError:
    """The refusal of side pieces that could not be had: what was tried, and what can be made instead.

    `option` the way that failed by `fault`; `two` the way of two pieces, where a mold of that was made to see
    that it can be.
    """
    instead = says = ""
    if two is not None:
        more = (
            f" --max-fill {allowed_ml(survey.chosen.fill_ml):.1f}ml" if within_fill(obj, two, brief) else ""
        )
        instead = f"--pieces 2{more}"
        left = f"{say_volume(two.fill_ml)}, up to {say_length(two.deepest_mm)} deep"
        says = f" Two pieces leave {left if two.fill_ml > NOTHING_ML else 'nothing to fill'}."
    if not isinstance(fault, SideFillError):
        reckoned = "; ".join(
            f"{t.pieces} pieces {say_volume(t.fill_ml)}" for t in survey.front if 2 < t.pieces < option.pieces
        )
        says += f" Told from the open space alone, without cutting: {reckoned}." if reckoned else ""
        remedy = f"Take two pieces with {instead}" if two else "Simplify the file"
        free = f"all but {say_volume(option.fill_ml)}" if option.fill_ml > NOTHING_ML else "all"
        return CannotError(
            f"{option.pieces} pieces could free {free}, but {fault.what}{says}",
            where=obj.name,
            remedy=f"{remedy}, or choose another --axis.",
        )
    left_ml = fault.left_ml
    count = "" if brief.pieces else f"--pieces {option.pieces} "
    allow = ""
    if fault.holds:
        allow = f"llow it with {count}--max-fill {allowed_ml(left_ml):.1f}ml"
        if two is not None and two.fill_ml < 2.0 * left_ml:
            allow += f", or take two pieces with {instead}"
    elif two is not None:
        allow = f"llow {say_volume(two.fill_ml)} in two pieces with {instead}"
        if two.fill_ml <= NOTHING_ML:
            return CannotError(
                f"{fault.what}{says}", where=obj.name, remedy=f"Take two pieces with {instead}."
            )
    remedy = f"{or_mouth(obj, left_ml, brief)}{allow}; or soften the object there." if allow else ""
    return CannotError(f"{fault.what}{says}", where=obj.name, remedy=remedy or fault.remedy)
