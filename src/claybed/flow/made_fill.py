"""What side pieces leave to fill once they are cut, beside what was found before and what is allowed."""

from __future__ import annotations

import math
from dataclasses import replace

from claybed.errors import CannotError
from claybed.flow.ways import NOTHING_ML, allowance, or_mouth, within_fill
from claybed.proof.solidity import solidity
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption, Survey
from claybed.units import say_length, say_volume

# Fill beyond what the samples found that is put down to their spacing.
FILL_GRACE_ML = 0.2


def _expected_ml(option: MoldOption, brief: Brief) -> float:
    """Fill that agrees with what was found, ml; no more than the samples may miss where a limit was asked."""
    more_ml = FILL_GRACE_ML if brief.max_fill_ml is not None else 0.5 * option.fill_ml
    return option.fill_ml + max(FILL_GRACE_ML, more_ml)


def most_fill_ml(option: MoldOption, brief: Brief) -> float:
    """The most fill that side pieces may leave, ml."""
    return max(_expected_ml(option, brief), brief.max_fill_ml or 0.0)


def _taken(option: MoldOption, brief: Brief) -> str:
    """The most fill that is taken of side pieces, in words: unasked much less than of two pieces, as what was
    found is what the person was told.
    """
    if brief.max_fill_ml is not None:
        return allowance(brief.max_fill_ml, brief)
    more_ml = most_fill_ml(option, brief) - option.fill_ml
    return f"unasked, side pieces may leave at most {say_volume(more_ml)} more than was found"


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
    left_ml: float,
    brief: Brief,
    *,
    leave: bool = True,
    holds: bool = True,
) -> MoldOption:
    """The option with the fill that its side pieces really leave.

    Raises SideFillError when that is more than agrees with what was found, and more than was allowed.
    """
    if left_ml > most_fill_ml(option, brief):
        raise SideFillError(
            f"{option.pieces} pieces could free all but {option.fill_ml:.1f} ml, but no side pieces were "
            f"found that reach it: {left_ml:.1f} ml would have to be filled ({_taken(option, brief)}).",
            where=obj.name,
            remedy="Soften the object there.",
            left_ml=left_ml,
            leave=leave,
            holds=holds,
        )
    if left_ml <= option.fill_ml + (NOTHING_ML if option.places else FILL_GRACE_ML):
        return option
    # The samples told where; how much of it stays is told by the pieces as they were cut.
    share = left_ml / option.fill_ml if option.fill_ml > 0.0 else 1.0
    return replace(
        option,
        fill_ml=left_ml,
        places=tuple(replace(place, volume_ml=place.volume_ml * share) for place in option.places),
        says=f"Leaves in {option.pieces} pieces with {say_volume(left_ml)} of oil clay.",
    )


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
