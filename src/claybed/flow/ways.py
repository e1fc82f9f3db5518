"""The ways to make a mold that a survey found, and which of them a brief allows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.errors import CannotError
from claybed.geometry.folds import FOLDED_SHARE, folded
from claybed.geometry.tidying import tidy_pull
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption, Survey
from claybed.survey.limits import fill_limit_ml
from claybed.units import say_length, say_volume
from claybed.wording import count_word

MOST_AXES = 6
# Less than this is the samples' doing, as in the survey.
NOTHING_ML = 0.02


def refusal(obj: MeasuredObject, survey: Survey, brief: Brief) -> CannotError | None:
    """What a plan of this survey would be refused for before any plaster is cut; None when nothing is."""
    if obj.hollow is not None:
        return hump_refusal(obj, survey, brief)
    try:
        options_of(obj, survey, brief)
    except CannotError as reason:
        return reason
    return None


def within_fill(obj: MeasuredObject, option: MoldOption, brief: Brief) -> str:
    """Empty when the option's fill may be asked of a person, else why not, with both numbers."""
    limit_ml = fill_limit_ml(obj.solid_ml, brief.max_fill_ml)
    deepest_mm = shelf.value("practice", "lock_deepest_mm").value
    too_deep = brief.max_fill_ml is None and option.deepest_mm > deepest_mm
    if option.fill_ml <= max(limit_ml, NOTHING_ML) and not too_deep:
        return ""
    count = {1: "one piece", 2: "two pieces"}.get(option.pieces, f"{option.pieces} pieces")
    limit = allowance(limit_ml, brief, f" and {say_length(deepest_mm)}")
    return (
        f"needs more than {count}, or {say_volume(option.fill_ml)} of oil clay in gaps up to "
        f"{say_length(option.deepest_mm)} deep ({limit})."
    )


def allowance(limit_ml: float, brief: Brief, unasked: str = "") -> str:
    """The most oil clay that is taken, in words; `unasked` is what else has a limit where none was asked."""
    if brief.max_fill_ml is not None:
        return f"--max-fill allows {say_volume(limit_ml)}"
    return f"at most {say_volume(limit_ml)}{unasked} are taken unasked"


def options_of(obj: MeasuredObject, survey: Survey, brief: Brief) -> list[MoldOption]:
    """The ways of a survey that a brief allows, best first.

    Raises CannotError when they need more fill than is allowed, or when there are none of the count asked.
    """
    options = [o for o in survey.options if brief.pieces is None or o.pieces == brief.pieces]
    if brief.keep_out:
        options = [o for o in options if o.kind != "one_piece"]
    if brief.pieces in (None, 2) and brief.axis is None:
        options += [
            MoldOption("two_piece", tidy_pull(obj.mesh, c.axis), c.fill_ml, c.deepest_mm, "")
            for c in survey.candidates[1:MOST_AXES]
        ]
        # Another way for two comes before a third piece.
        options.sort(key=lambda option: option.pieces > 2)
    affordable = [o for o in options if not within_fill(obj, o, brief)]
    if options and not affordable:
        _refuse_fill(obj, survey, options[0], brief)
    options = _but_folded(obj, survey, affordable)
    if not options and (brief.pieces or 0) > 2:
        raise CannotError(
            f"no way to make this mold in {brief.pieces} pieces was found.",
            where="--pieces",
            remedy=f"{_fewer(obj, survey, brief)}Leave --pieces out, or look at the other ways with claybed "
            "survey.",
        )
    if not options:
        raise CannotError(
            "this object does not leave a single block.",
            where=obj.name if brief.use == "press" else "--pieces 1",
            remedy=_closed_instead(brief),
        )
    return options


def _fewer(obj: MeasuredObject, survey: Survey, brief: Brief) -> str:
    """The numbers of pieces below the one asked for that the survey finds to need no more fill than may be
    asked of a person, in a sentence; empty when there are none.
    """
    does = {o.pieces for o in survey.options if not within_fill(obj, o, brief)}
    if brief.keep_out:
        does -= {1}
    fewer = [n for n in sorted(does) if n < (brief.pieces or 0)]
    if not fewer:
        return ""
    plural = "" if fewer[-1] == 1 else "s"
    return f"By the survey {' or '.join(map(count_word, fewer))} piece{plural} would do. "


def _closed_instead(brief: Brief) -> str:
    """What to do with an object that leaves no single block; a block to press into may have been asked for as
    one that is open, so that no count is left out then.
    """
    out = "plan it without asking for one open piece" if brief.use == "press" else "leave --pieces out"
    needs = "It needs a flat open face and no undercut towards it: "
    return (
        f"{needs}{out}."
        if brief.mouth or brief.close_holes
        else f"{needs}add --mouth for a hollow vessel, or {out}."
    )


def _but_folded(obj: MeasuredObject, survey: Survey, options: list[MoldOption]) -> list[MoldOption]:
    """The options without those of side pieces when the surface of the object crosses itself: cuts of side
    pieces would count such space twice, or not at all.

    Raises CannotError when none but those are left.
    """
    plain = [option for option in options if not option.sides]
    if len(plain) == len(options):
        return options
    volume_mm3, at_mm = folded(obj.mesh)
    if volume_mm3 <= FOLDED_SHARE * obj.mesh.volume_mm3:
        return options
    if plain:
        return plain
    place = ", ".join(f"{v:.0f}" for v in at_mm)
    raise CannotError(
        f"it would take more than two pieces, and those cannot be cut: the surface crosses itself, and "
        f"encloses {say_volume(volume_mm3 / 1000.0)} twice or inside out (most near {place} mm).",
        where=obj.name,
        remedy="Make one plain closed surface of it in a mesh program, or take two pieces with "
        f"--pieces 2 --max-fill {survey.chosen.fill_ml * 1.05 + 0.1:.1f}ml.",
    )


def _refuse_fill(obj: MeasuredObject, survey: Survey, option: MoldOption, brief: Brief) -> None:
    """Raise CannotError with what each number of pieces would leave to fill."""
    why = within_fill(obj, option, brief)
    ways = "; ".join(
        f"{t.pieces} pieces leave {say_volume(t.fill_ml) if t.fill_ml > 0.0 else 'nothing'}"
        for t in survey.front[1:]
        if all(t.fill_ml < fewer.fill_ml for fewer in survey.front if fewer.pieces < t.pieces)
    )
    # Side pieces may leave half more than the samples tell.
    more_ml = option.fill_ml * (1.5 if option.sides else 1.05) + 0.1
    allow = f"llow it with --max-fill {more_ml:.1f}ml"
    allow += ", since cut pieces may leave more than is told before." if option.sides else "."
    told = f"Reckoned from the open space, before any cut: {ways}." if ways else ""
    mouth = or_mouth(obj, option.fill_ml, brief)
    raise CannotError(
        why if mouth else f"{why} {told}".rstrip(),
        where=obj.name,
        remedy=f"{mouth} Else a{allow} {told}".rstrip() if mouth else f"A{allow}",
    )


def hump_refusal(obj: MeasuredObject, survey: Survey, brief: Brief) -> CannotError | None:
    """What a hump would be refused for: an inside that widens under its mouth; None when it is not."""
    score = survey.chosen
    deepest_mm = shelf.value("practice", "lock_deepest_mm").value
    limit_ml = fill_limit_ml(obj.solid_ml, brief.max_fill_ml)
    too_deep = brief.max_fill_ml is None and score.deepest_mm > deepest_mm
    if score.fill_ml <= limit_ml and not too_deep:
        return None
    return CannotError(
        f"a hump would lock in it: the inside is wider than its mouth, and {say_volume(score.fill_ml)} of "
        f"plaster would reach {say_length(score.deepest_mm)} under the wall, "
        f"{_below_rim(obj, survey)}.",
        where=obj.name,
        remedy=f"Press oil clay in there until the wall runs straight up, and allow it with --max-fill "
        f"{score.fill_ml * 1.05 + 0.1:.1f}ml; or mold its outside with --mouth.",
    )


def _below_rim(obj: MeasuredObject, survey: Survey) -> str:
    worst = max(survey.places, key=lambda one: one.depth_mm)
    down_mm = 0.0
    if obj.hollow is not None:
        down_mm = obj.hollow.rim_high_mm - float(np.dot(worst.at_mm, obj.hollow.up))
    return f"{say_length(max(down_mm, 0.0))} below the rim"


def or_mouth(obj: MeasuredObject, fill_ml: float, brief: Brief) -> str:
    """The sentence that a remedy begins with where the object may be hollow ware, by what it holds or by how
    much locks, and --mouth was not asked; empty for others. How many pieces would leave how much is told
    after it, since with --mouth that is beside the point.

    What locks in hollow ware is its inside, which no plaster needs to reach.
    """
    told = {finding.id for finding in obj.findings} & {"hollow_ware", "pierced_ware"}
    hollow = told or fill_ml > shelf.value("practice", "hollow_fill_fraction").value * obj.solid_ml
    if not hollow or brief.mouth or brief.close_holes:
        return ""
    option = "--close-holes" if "pierced_ware" in told else "--mouth"
    return f"If it is open hollow ware, add {option}, and its outside is molded."


def seam_refusal(name: str, refused: Sequence[tuple[str, float, str]], brief: Brief) -> CannotError:
    """The error for a seam that met no request; `refused` holds option, by how many mm it was missed, and in
    words, one for each way that was tried. The way that came nearest is told.

    A way refused for its place was never judged for being flat, so only a single request is known to pass
    when it is dropped.
    """
    option, _, says = min(refused)
    axis = "" if brief.axis is None else " along the axis asked for"
    ways = f"the one way tried{axis}" if len(refused) == 1 else f"none of the {len(refused)} ways tried{axis}"
    meets = f"{ways} does not meet" if len(refused) == 1 else f"{ways} meets"
    alone = not (brief.keep_out and brief.flat_seam)
    passes = f"Leave {option} out, and it can be made" if alone else f"Leave {option} out"
    other = "move the region" if option == "--keep-out" else "choose a plane through it by another --axis"
    return CannotError(f"{meets} {option}: at best {says}.", where=name, remedy=f"{passes}; or {other}.")
