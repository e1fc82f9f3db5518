"""What side pieces leave to fill once they are cut, beside what was found before and what is allowed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from claybed.errors import CannotError
from claybed.flow.sideways import aside
from claybed.flow.standing import open_mm2
from claybed.flow.ways import NOTHING_ML, allowance, or_mouth, within_fill
from claybed.geometry.depth import DepthRaster
from claybed.geometry.mesh import Mesh
from claybed.geometry.reach import inside_points, locked_points
from claybed.materials import shelf
from claybed.proof.adjoining import adjoining, adjoining_limit_mm
from claybed.proof.likeness import model_true
from claybed.proof.solidity import solidity
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import FillPlace, MoldOption, Survey
from claybed.survey.left_locked import places_left
from claybed.survey.limits import fill_limit_ml, shelf_limits
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
    usual_ml = fill_limit_ml(obj.solid_ml, brief.max_fill_ml)
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


def lies_together(assembly: Assembly, obj_mesh: Mesh) -> bool:
    """Whether surfaces of a mold lie on one another and those of its model on the object (frame "object"):
    a slit that rounding leaves in one of its solids is not there once all is moved by a hair.
    """
    solids = {**{piece.id: piece.solid for piece in assembly.pieces}, "model": assembly.model}
    laid = adjoining(solids, assembly, limit_mm=adjoining_limit_mm(assembly))
    return all(check.ok for check in laid) and model_true(assembly, obj_mesh).ok


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
            f"{option.pieces} pieces were reckoned to free {_freed(option)}, but no side pieces were found "
            f"that reach it: {left_ml:.1f} ml would have to be filled ({_taken(most_ml, brief)}).",
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
    faults: Sequence[tuple[MoldOption, CannotError]],
    two: MoldOption | None,
    brief: Brief,
    *,
    two_holds: bool = True,
    further: str = "",
    lacks: Sequence[str] = (),
) -> CannotError:
    """The refusal of side pieces that could not be had: what was tried, and what can be made instead.

    `survey` with its front as it was cut; `faults` the ways that failed, in turn, and how; `two` the way of
    two pieces, where a mold of that was made to see that it can be, and whether it `two_holds`; `further`
    what else can be typed, of which a mold was made; `lacks` what does not hold of those that were made.
    """
    option, fault = faults[0]
    instead = ""
    told = [_also_tried(survey, option)]
    if two is not None:
        fill = f" --max-fill {allowed_ml(two.fill_ml):.1f}ml" if within_fill(obj, two, brief) else ""
        instead = f"--pieces 2{fill}"
        left = f"{say_volume(two.fill_ml)}, up to {say_length(two.deepest_mm)} deep"
        told.append(f"Two pieces leave {left if two.fill_ml > NOTHING_ML else 'nothing to fill'}.")
    told += [*lacks, _not_cut(survey, brief)]
    more = "".join(f" {one}" for one in told if one)
    says = fault.what
    if not isinstance(fault, SideFillError):
        says = f"{option.pieces} pieces were reckoned to free {_freed(option)}, but {says}"
    held = [(o, e) for o, e in faults if isinstance(e, SideFillError) and e.holds]
    allow = []
    if held and (two is None or two.fill_ml > NOTHING_ML):
        way, least = min(held, key=lambda one: one[1].left_ml)
        if two is None or two.fill_ml > least.left_ml:
            count = "" if brief.pieces == way.pieces else f"--pieces {way.pieces} "
            allow.append(f"allow it with {count}--max-fill {allowed_ml(least.left_ml):.1f}ml")
    # Two that leave far more than what is allowed for instead are no way out.
    if instead and two_holds and two is not None and not (allow and two.fill_ml >= 2.0 * least.left_ml):
        allow.append(f"take two pieces with {instead}")
    if further:
        allow.append(further)
    mouth = or_mouth(obj, two.fill_ml if two else option.fill_ml, brief)
    if not allow:
        return CannotError(f"{says}{more}", where=obj.name, remedy=f"{mouth} {fault.remedy}".lstrip())
    end = "soften the object there" if isinstance(fault, SideFillError) else "choose another --axis"
    line = f"{', or '.join(allow)}; or {end}."
    if mouth:
        return CannotError(says, where=obj.name, remedy=f"{mouth} Else {line}{more}")
    return CannotError(f"{says}{more}", where=obj.name, remedy=f"{line[:1].upper()}{line[1:]}")


def _freed(option: MoldOption) -> str:
    """What a way was reckoned to free, in words."""
    return f"all but {say_volume(option.fill_ml)}" if option.fill_ml > NOTHING_ML else "all"


def _also_tried(survey: Survey, first: MoldOption) -> str:
    """What was cut of other counts of pieces than the first way's, in a sentence; empty when none was."""
    cut = [t for t in survey.front if t.told in ("cut", "unmade") and t.pieces != first.pieces]
    ways = [
        f"{t.pieces} pieces leave {say_volume(t.fill_ml)}"
        if t.told == "cut"
        else f"{t.pieces} pieces could not be made"
        for t in cut
    ]
    return f"Cut as well: {'; '.join(ways)}." if ways else ""


def _not_cut(survey: Survey, brief: Brief) -> str:
    """What is reckoned of counts of pieces that were not cut, in a sentence; empty when there are none."""
    rows = [
        t
        for t in survey.front
        if t.told == "reckoned"
        and t.pieces != brief.pieces
        and all(t.fill_ml < fewer.fill_ml for fewer in survey.front if fewer.pieces < t.pieces)
    ]
    ways = [
        f"{t.pieces} pieces {say_volume(t.fill_ml) if t.fill_ml > NOTHING_ML else 'nothing'}" for t in rows
    ]
    return f"Reckoned from the open space to leave, and not cut: {'; '.join(ways)}." if ways else ""
