"""Another piece where two would leave weak plaster: a tongue that breaks, an edge that crumbles."""

from __future__ import annotations

from dataclasses import replace

from claybed.flow.molding import Molded
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import Survey

MORE_PIECES = 3


def sounder_brief(obj: MeasuredObject, found: Survey, molded: Molded, brief: Brief) -> Brief | None:
    """The brief that asks for one piece more than the two of a mold whose plaster is weak; None where the
    mold holds, or where what was asked leaves no other choice.

    Two are weak when the way taken is the first of those that were left for what does not hold.
    """
    option = molded.option
    asked = brief.pieces is not None or brief.axis is not None or brief.flat_seam or obj.hollow is not None
    if asked or option.kind != "two_piece" or option.sides or not molded.passed:
        return None
    if molded.passed[0][0].pull != option.pull:
        return None
    # A front that says that one more leaves more to fill, or nothing at all, is no better.
    left = {row.pieces: row.fill_ml for row in found.front}
    if left.get(MORE_PIECES, 0.0) > max(option.fill_ml, left.get(2, 0.0)):
        return None
    return replace(brief, pieces=MORE_PIECES)
