"""What side pieces leave to fill once they are cut, beside what was found before and what is allowed."""

from __future__ import annotations

import math
from dataclasses import replace

from claybed.errors import CannotError
from claybed.flow.ways import or_mouth
from claybed.proof.solidity import solidity
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption
from claybed.units import say_volume

# Fill beyond what the samples found that is put down to their spacing.
FILL_GRACE_ML = 0.2


def _expected_ml(option: MoldOption) -> float:
    """Fill that agrees with what was found, ml."""
    return option.fill_ml + max(FILL_GRACE_ML, 0.5 * option.fill_ml)


def most_fill_ml(option: MoldOption, brief: Brief) -> float:
    """The most fill that side pieces may leave, ml."""
    return max(_expected_ml(option), brief.max_fill_ml or 0.0)


def whole(assembly: Assembly) -> bool:
    """Whether pieces and model of a mold are closed solids of one body each: one that leaves more to fill
    than allowed is handed back as it was cut.
    """
    solids = {**{piece.id: piece.solid for piece in assembly.pieces}, "model": assembly.model}
    return all(check.ok for check in solidity(solids, assembly))


class SideFillError(CannotError):
    """Side pieces leave more to fill than was found or allowed: `left_ml`."""

    def __init__(self, fault: str, *, where: str, remedy: str, left_ml: float = math.inf) -> None:
        super().__init__(fault, where=where, remedy=remedy)
        self.left_ml = left_ml


def as_made(
    obj: MeasuredObject,
    option: MoldOption,
    left_ml: float,
    brief: Brief,
    *,
    two_ml: float,
    holds: bool = True,
) -> MoldOption:
    """The option with the fill that its side pieces really leave, beside the `two_ml` that two pieces would.

    Raises SideFillError when that is much more than was found, and more than was allowed; it proposes to
    allow that much only when the mold that was cut `holds`: its side pieces leave, and no plaster is weak.
    """
    if left_ml <= _expected_ml(option):
        return option
    if left_ml <= most_fill_ml(option, brief):
        return replace(option, fill_ml=left_ml)
    two = f"--pieces 2 --max-fill {two_ml * 1.05 + 0.1:.1f}ml"
    allow = f"llow it with --max-fill {left_ml * 1.05 + 0.1:.1f}ml"
    if not holds and math.isfinite(two_ml):
        allow = f"llow {say_volume(two_ml)} in two pieces with {two}"
    elif two_ml < 2.0 * left_ml:
        allow += f", or take two pieces with {two}"
    raise SideFillError(
        f"{option.pieces} pieces could free all but {option.fill_ml:.1f} ml, but no side pieces were found "
        f"that reach it: {left_ml:.1f} ml would have to be filled.",
        where=obj.name,
        remedy=f"{or_mouth(obj, left_ml, brief)}{allow}; or soften the object there.",
        left_ml=left_ml,
    )
