"""The survey: which way the object leaves, what locks, and how that can be dealt with."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from claybed.errors import InputError
from claybed.geometry.columns import witnessed_gap
from claybed.geometry.directions import Candidate, FlatPatch, flat_patches, suggested
from claybed.geometry.overlap import has_gap
from claybed.geometry.proxy import proxy
from claybed.geometry.tidying import tidy_pull
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import AxisScore, MoldOption, Survey, Vector
from claybed.survey.covering import cover
from claybed.survey.humps import survey_hump
from claybed.survey.left_locked import CRUMB_ML
from claybed.survey.limits import LockLimits, fill_limit_ml, shelf_limits
from claybed.survey.opening import one_piece, open_faces
from claybed.survey.scoring import Judged, draft_bands, judge, tilt_allowed
from claybed.survey.searching import (
    COARSE_LINES,
    FINE_LINES,
    Ranked,
    Scorer,
    apart,
    equal_fill_mm3,
    facing,
    search,
)
from claybed.units import say_length, say_volume

_LISTED = 8
_TIED = 6
_WINDOWS = 16
_FEW_WINDOWS = 4
_LISTED_APART_DEG = 5.0

Progress = Callable[[str, float], None]


def survey(
    obj: MeasuredObject, brief: Brief, *, progress: Progress, limits: LockLimits | None = None
) -> Survey:
    """Rank the axes of `obj` and say how its mold can be made.

    Reads `brief.axis`, `pieces`, `up` (a mouth tells it where there is one), `max_fill_ml` and
    `pose_tolerance_deg`. The least fill wins; axes of equal fill are told apart by the tilt they allow, then
    by a level pull when there is a mouth, the shallower object, a pull that the object's own flats or
    symmetry give, and the upright pull.
    `limits` default to the materials shelf. `progress` is told "survey" and a fraction.
    Raises InputError for an axis or up direction without length, or an object without faces.
    """
    mesh = obj.mesh
    if len(mesh.faces) == 0:
        raise InputError("the object has no faces.", where=obj.name, remedy="Give a closed surface.")
    up = _unit(brief.up if obj.mouth is None else obj.mouth.up, "up")
    asked = None if brief.axis is None else _unit(brief.axis, "axis")
    limits = shelf_limits() if limits is None else limits
    if obj.hollow is not None:
        return survey_hump(obj, obj.hollow, progress=progress, limits=limits)
    progress("survey", 0.0)
    whole = Scorer(mesh, FINE_LINES)

    single: Judged | None = None
    flats = flat_patches(mesh) if asked is None else ()
    if brief.pieces != 2 and (asked is None or brief.pieces == 1):
        faces = open_faces(mesh, flats, up, asked)
        single = one_piece(whole.raster, mesh, faces, limits, windows=_WINDOWS)

    if asked is None:
        pair, listed = _ranked(obj, flats, up, whole, limits, progress)
    else:
        pair = judge(whole.raster, asked, "asked", limits, windows=_WINDOWS)
        listed = [pair.score]

    if asked is None:
        pair, listed = _straightened(whole, pair, listed, obj, limits)
    options = [_two(pair.score, limits)]
    judged = pair
    passed: MoldOption | None = None
    if single is not None and not _opens(single.score, pair.score, obj, brief):
        passed, single = _one(single.score), None
    if single is not None:
        options.insert(0, _one(single.score))
        judged = single
    tilt = judged.score.tilt_deg
    if tilt is None:  # for a single axis the whole mesh is looked at sooner than a lighter one is made
        locks = not judged.score.castable if judged is pair else None
        tilt = tilt_allowed(whole.raster, judged.score.axis, limits, upright=locks)
    chosen = replace(judged.score, tilt_deg=tilt)
    progress("survey", 0.95)
    more = None
    spare = brief.max_fill_ml is not None and pair.score.fill_ml > max(brief.max_fill_ml, CRUMB_ML)
    more_wanted = brief.pieces is None and single is None and (spare or not pair.score.castable)
    if more_wanted or (brief.pieces or 0) > 2:
        more = cover(
            obj,
            [s.axis for s in listed],
            up,
            limits,
            two_fill_ml=pair.score.fill_ml,
            lines=FINE_LINES,
            wanted=brief.pieces,
            fixed=asked is not None,
            draft_deg=brief.pose_tolerance_deg,
            progress=progress,
        )
        options += more.options
    out = Survey(
        options=tuple(options),
        chosen=chosen,
        places=judged.places,
        draft=draft_bands(mesh, chosen.axis),
        candidates=tuple(chosen if s.axis == chosen.axis else s for s in listed),
        # One line can prove that there is a gap; that there is none, all faces must.
        exact_gap=witnessed_gap(judged.columns, mesh) or has_gap(mesh, chosen.axis),
        spacing_mm=judged.columns.grid.spacing_mm,
        front=more.front if more else (),
        witness=more.witness if more else None,
        free_pulls=more.free_pulls if more else (),
        drafted=more.drafted if more else None,
        open_block=passed,
    )
    progress("survey", 1.0)
    return out


def _ranked(
    obj: MeasuredObject,
    flats: Sequence[FlatPatch],
    up: Vector,
    whole: Scorer,
    limits: LockLimits,
    progress: Progress,
) -> tuple[Judged, list[AxisScore]]:
    """The best axis for two pieces, and the ranking it stands first in."""
    mesh = obj.mesh
    light = proxy(mesh)
    light_fine = Scorer(light, FINE_LINES)
    coarse = Scorer(light, COARSE_LINES)
    found = search(whole, coarse, suggested(mesh, flats, up=up), mesh.volume_mm3, progress)
    found = [Ranked(facing(r.candidate, up), r.score) for r in found]
    enough = equal_fill_mm3(mesh.volume_mm3, found[0].score.fill_mm3)
    mouth = obj.mouth is not None
    step_mm = 0.02 * max(obj.extent_mm)  # depths closer than this are the same mold

    def by_looks(r: Ranked) -> tuple[float, ...]:
        rise = abs(float(np.dot(r.candidate.axis, up)))
        off_level = float(mouth and rise > np.sin(np.radians(1.0)))
        # A wall, a flat or a symmetry gave the others: their seam is level or flat, where a pull that only
        # chance gave runs a few degrees beside it and its seam climbs.
        chance = float(r.candidate.why in ("sampled", "refined"))
        return (off_level, round(r.score.depth_mm / step_mm), chance, -round(rise, 1), -rise)

    tied = apart(sorted((r for r in found if r.score.fill_mm3 <= enough), key=by_looks), _TIED, 2.0)
    tilts: dict[Vector, float] = {}
    for k, r in enumerate(tied):
        tilts[r.candidate.axis] = tilt_allowed(light_fine.raster, r.candidate.axis, limits)
        progress("survey", 0.85 + 0.08 * (k + 1) / len(tied))
    tied.sort(key=lambda r: (-tilts[r.candidate.axis], *by_looks(r)))
    pair = _judged(whole, tied[0].candidate, limits, _WINDOWS, tilts[tied[0].candidate.axis])
    listed = [pair.score]
    for r in apart([*tied, *found], _LISTED, _LISTED_APART_DEG)[1:]:
        tilt = tilts.get(r.candidate.axis)
        listed.append(_judged(whole, r.candidate, limits, _FEW_WINDOWS, tilt).score)
    return pair, listed


def _straightened(
    whole: Scorer, pair: Judged, listed: list[AxisScore], obj: MeasuredObject, limits: LockLimits
) -> tuple[Judged, list[AxisScore]]:
    """The chosen axis laid exactly along or across flat faces it all but meets, when that needs no more
    fill.
    """
    straight = tidy_pull(obj.mesh, pair.score.axis)
    if straight == pair.score.axis:
        return pair, listed
    tidy = judge(
        whole.raster, straight, pair.score.why, limits, windows=_WINDOWS, tilt_deg=pair.score.tilt_deg
    )
    if tidy.score.fill_ml > pair.score.fill_ml + 2e-5 * obj.solid_ml:
        return pair, listed
    return tidy, [tidy.score if s.axis == pair.score.axis else s for s in listed]


def _judged(
    whole: Scorer, candidate: Candidate, limits: LockLimits, windows: int, tilt_deg: float | None
) -> Judged:
    whole.count += 1
    return judge(whole.raster, candidate.axis, candidate.why, limits, windows=windows, tilt_deg=tilt_deg)


def _opens(single: AxisScore, pair: AxisScore, obj: MeasuredObject, brief: Brief) -> bool:
    """Whether a single block is a way at all: as it is, or filled first by no more than is asked of a person
    where two pieces want filling too. Asked for, it is told with what it takes, however much.
    """
    if single.castable or brief.pieces == 1:
        return True
    deepest_mm = shelf.value("practice", "lock_deepest_mm").value
    taken = single.fill_ml <= fill_limit_ml(obj.solid_ml, brief.max_fill_ml)
    return not pair.castable and taken and (brief.max_fill_ml is not None or single.deepest_mm <= deepest_mm)


def _one(score: AxisScore) -> MoldOption:
    how = "where clay is pressed or slumped in, or slip poured; there is no seam."
    filled = "" if score.castable else f"once {say_volume(score.fill_ml)} of oil clay is filled in, "
    says = f"Leaves a single block through its open face, {filled}{how}"
    return MoldOption("one_piece", score.axis, score.fill_ml, score.deepest_mm, says)


def _two(score: AxisScore, limits: LockLimits) -> MoldOption:
    if score.castable and score.deepest_mm < limits.ignore_mm:
        says = f"Leaves in two pieces; nothing locks deeper than {say_length(limits.ignore_mm)}."
    elif score.castable:
        says = f"Leaves in two pieces; what locks is {say_length(score.deepest_mm)} deep, so scrape it."
    else:
        where = "one place" if score.places == 1 else f"{score.places} places"
        says = f"Leaves in two pieces once {say_volume(score.fill_ml)} of oil clay closes {where}."
    return MoldOption("two_piece", score.axis, score.fill_ml, score.deepest_mm, says)


def _unit(direction: Vector, name: str) -> Vector:
    length = float(np.linalg.norm(direction))
    if not np.isfinite(length) or length <= 0.0:
        raise InputError(
            f"{direction} is no direction.", where=name, remedy="Give three numbers that are not all zero."
        )
    return (direction[0] / length, direction[1] / length, direction[2] / length)
