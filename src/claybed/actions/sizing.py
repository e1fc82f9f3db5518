"""A wish for the fired piece, turned into the height of the model before anything is planned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from claybed.errors import CannotError, InputError
from claybed.flow.course import Reader, run_survey
from claybed.flow.store import Store
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.ware.measuring import inside_of
from claybed.ware.planning import scale_for_capacity, shrinkage_for, ware_wall

Progress = Callable[[str, float], None]


def sized_brief(brief: Brief, read: Reader, source: str, store: Store, progress: Progress) -> Brief:
    """Return the brief with the model's height that gives the fired height or capacity that was asked.

    A brief with a height of its own, or without such a wish, comes back as it is: a found object cannot be
    scaled. A capacity takes a look at the object's shape first. Raises InputError for two wishes or no clay,
    CannotError for a capacity that no size of the shape has.
    """
    shrunk = shrinkage_for(brief)
    if brief.fired_height_mm is not None and brief.fired_capacity_ml is not None:
        raise InputError(
            "height and capacity together fix the shape, which is given.",
            where="--fired-capacity",
            remedy="Ask for one of them; the plan tells the other.",
        )
    if shrunk is None or brief.height_mm is not None:
        return brief
    if brief.fired_height_mm is not None:
        wanted_mm = brief.fired_height_mm * shrunk.oversize_ratio.value
        if brief.hump:
            return _as_deep(run_survey(read, brief, source, store, progress).obj, wanted_mm, brief)
        return replace(brief, height_mm=wanted_mm)
    if brief.fired_capacity_ml is None:
        return brief
    start = run_survey(read, brief, source, store, progress)
    if start.obj.hollow is not None:
        wet_ml = brief.fired_capacity_ml * shrunk.oversize_ratio.value**3
        scale = float((wet_ml / start.obj.hollow.holds_ml) ** (1.0 / 3.0))
        return replace(brief, height_mm=scale * start.obj.hollow.height_mm)
    inside = inside_of(start.obj, start.survey.options[0])
    if inside is None:
        raise CannotError("all of it is open.", where="--fired-capacity", remedy="Ask for a height instead.")
    longest_mm = max(start.obj.extent_mm)
    scale = scale_for_capacity(
        inside, shrunk, brief.fired_capacity_ml, lambda scale: ware_wall(brief, scale * longest_mm).value
    )
    up = np.asarray(brief.up) / np.linalg.norm(brief.up)
    return replace(brief, height_mm=scale * float(np.ptp(start.obj.mesh.vertices_mm @ up)))


def _as_deep(obj: MeasuredObject, deep_mm: float, brief: Brief) -> Brief:
    """The brief with the height of a vessel whose inside is `deep_mm` deep."""
    hollow = obj.hollow
    assert hollow is not None
    deep = float(np.ptp(obj.mesh.vertices_mm @ np.asarray(hollow.up)))
    return replace(brief, height_mm=hollow.height_mm * deep_mm / deep)
