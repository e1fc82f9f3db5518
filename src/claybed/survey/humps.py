"""Whether a filling of plaster leaves the inside of a vessel upwards, as a hump must."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from claybed.errors import CannotError
from claybed.geometry.columns import witnessed_gap
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.overlap import has_gap
from claybed.geometry.seating import seated
from claybed.records.measured import HollowReading, MeasuredObject
from claybed.records.surveyed import MoldOption, Survey
from claybed.survey.limits import LockLimits, shelf_limits
from claybed.survey.scoring import draft_bands, judge, tilt_allowed
from claybed.survey.searching import FINE_LINES, Scorer
from claybed.units import say_length, say_volume

# The bed round the seated vessel, in a share of its size; any will do, since only its inside can lock.
AROUND = 0.02
_WINDOWS = 16


def survey_hump(
    obj: MeasuredObject,
    hollow: HollowReading,
    *,
    progress: Callable[[str, float], None],
    limits: LockLimits | None = None,
) -> Survey:
    """Judge the way up out of a vessel, for the solid `obj` that fills its inside.

    What locks is the room under a shoulder of the vessel: oil clay pressed in there makes it one with the
    wall. `progress` is told "survey" and a fraction. Raises CannotError for a rim that no ledge goes round.
    """
    limits = shelf_limits() if limits is None else limits
    progress("survey", 0.0)
    bed = in_bed(obj, hollow)
    scorer = Scorer(bed, FINE_LINES)
    judged = judge(scorer.raster, hollow.up, "upright", limits, windows=_WINDOWS)
    progress("survey", 0.5)
    tilt = tilt_allowed(scorer.raster, hollow.up, limits, upright=not judged.score.castable)
    judged = judge(scorer.raster, hollow.up, "upright", limits, windows=_WINDOWS, tilt_deg=tilt)
    progress("survey", 0.9)
    score = judged.score
    skin = Mesh.make(
        obj.mesh.vertices_mm, obj.mesh.faces[obj.mesh.origin != Origin.MOUTH], frame=obj.mesh.frame
    )
    says = "Plaster that fills the inside leaves it upwards as a hump, and clay is draped over that."
    if not score.castable:
        says = (
            f"A hump leaves the inside once {say_volume(score.fill_ml)} of oil clay closes what lies under "
            f"its narrower mouth, up to {say_length(score.deepest_mm)} deep."
        )
    found = Survey(
        options=(MoldOption("one_piece", hollow.up, score.fill_ml, score.deepest_mm, says),),
        chosen=score,
        places=judged.places,
        draft=draft_bands(skin, hollow.up),
        candidates=(score,),
        exact_gap=witnessed_gap(judged.columns, bed) or has_gap(bed, hollow.up),
        spacing_mm=judged.columns.grid.spacing_mm,
    )
    progress("survey", 1.0)
    return found


def in_bed(obj: MeasuredObject, hollow: HollowReading) -> Mesh:
    """The inside sunk into a level bed, in the object's own frame; CannotError for a rim no ledge goes
    round.
    """
    turn = pull_rotation(hollow.up)
    standing = obj.mesh.moved(turn, np.zeros(3), frame="standing")
    past_mm = AROUND * max(obj.extent_mm)
    (x0, y0), (x1, y1) = standing.bounds_mm[:, :2] + past_mm * np.array([[-1.0], [1.0]])
    outline = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    try:
        found = seated(standing, outline, under_mm=past_mm)
    except ValueError as reason:
        raise CannotError(
            f"cannot be seated in a level bed: {reason}.",
            where=obj.name,
            remedy="Mend the rim in the model, or tilt --up towards the opening.",
        ) from reason
    return found.mesh.moved(turn.T, np.zeros(3), frame=obj.mesh.frame)
