"""The weights of a pour corrected for the form as it really stands, before anything is mixed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from claybed.actions.plan_file import read_plan
from claybed.errors import InputError
from claybed.materials import shelf
from claybed.pours.mixing import mix_for_space
from claybed.pours.working import mix_entry, mix_figures
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.mix import Mix
from claybed.units import say_share

Progress = Callable[[str, float], None]
SCHEMA: Final = "claybed-as-built-1"
# A side or height off by more than this is a slip of the unit or of the pour, not of the saw.
_MOST_OFF: Final = 0.35
_ENDS: Final = ("low", "high")


@dataclass(frozen=True, slots=True)
class _Planned:
    """What the plan says of one pour: lengths mm, area mm², space ml; `per_mm_wider_ml` as the form has it;
    `off_ml` from there to the ends of its interval, 0 for an object taken at its word.
    """

    piece: str
    round: bool
    inside_mm: tuple[float, ...]
    object_mm: tuple[float, float]
    footprint_mm2: float
    per_mm_wider_ml: tuple[float, ...]
    bed_mm: float
    line_mm: float
    rim_mm: float
    wall_mm: float
    space_ml: float
    off_ml: tuple[float, float]
    water_g: float
    plaster_g: float
    waste: float
    consistency: float
    bucket_l: float


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Correct one pour of the plan folder payload["path"] for the form that stands there.

    `piece` its letter; `inside_mm` measured sides (x, y) or the diameter, None as planned; `line_mm` the
    fill line above the board, None as planned. Raises InputError for a folder that holds no plan, a form
    that does not go round the object, a line that the form does not hold, or a length far from the planned
    one.
    """
    progress("reading", 0.0)
    plan = read_plan(Path(payload["path"]))
    progress("reading", 1.0)
    return as_built(plan, payload.get("piece"), payload.get("inside_mm"), payload.get("line_mm"))


def as_built(
    plan: Mapping[str, Any],
    piece: str | None,
    inside_mm: tuple[float, ...] | None,
    line_mm: float | None,
) -> dict[str, Any]:
    """The corrected mix of one pour as plain values, with the working of every number; see `run`."""
    planned = _planned(plan, piece)
    built_mm = planned.inside_mm if inside_mm is None else _sides(planned, inside_mm)
    level_mm = planned.line_mm if line_mm is None else line_mm
    _refuse(planned, built_mm, level_mm)
    depth_mm = planned.line_mm - planned.bed_mm
    if planned.round:
        footprint_mm2 = planned.footprint_mm2 * (built_mm[0] / planned.inside_mm[0]) ** 2
    else:
        # Each side by what a millimetre of it adds: fillers that stand along it stay as thick as they are.
        more_mm = [built - meant for built, meant in zip(built_mm, planned.inside_mm, strict=True)]
        added_ml = sum(each * more for each, more in zip(planned.per_mm_wider_ml, more_mm, strict=True))
        footprint_mm2 = planned.footprint_mm2 + 1000.0 * added_ml / depth_mm + math.prod(more_mm)
    wider_ml = (footprint_mm2 - planned.footprint_mm2) * depth_mm / 1000.0
    higher_ml = footprint_mm2 * (level_mm - planned.line_mm) / 1000.0
    space_ml = planned.space_ml + wider_ml + higher_ml
    if space_ml <= 0.0:
        raise InputError(
            "nothing is left to fill.", where="--inside", remedy="Measure the form again, in mm."
        )

    def mixed(room_ml: float) -> Mix:
        return mix_for_space(
            room_ml, consistency=planned.consistency, waste=planned.waste, bucket_l=planned.bucket_l
        )

    mix = mixed(space_ml)
    # What is not known of the object is not known whatever the form.
    low, high = (mixed(max(space_ml + off_ml, 0.0)) for off_ml in planned.off_ml)
    per_mm = mix_for_space(
        footprint_mm2 / 1000.0, consistency=planned.consistency, waste=0.0, bucket_l=planned.bucket_l
    )
    given: dict[str, float | str] = {
        "planned_space_ml": planned.space_ml,
        "planned_footprint_mm2": planned.footprint_mm2,
        "footprint_mm2": footprint_mm2,
        "planned_line_mm": planned.line_mm,
        "line_mm": level_mm,
        "bed_level_mm": planned.bed_mm,
    }
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "piece": planned.piece,
        "inside_mm": list(built_mm),
        "line_mm": level_mm,
        **mix_entry(mix),
        "planned": {"space_ml": planned.space_ml, "water_g": planned.water_g, "plaster_g": planned.plaster_g},
        "more_fraction": space_ml / planned.space_ml - 1.0,
        "grams_per_mm": {"water": per_mm.water_g, "plaster": per_mm.plaster_g},
        "findings": [asdict(one) for one in _findings(planned, built_mm, level_mm, space_ml)],
    }
    figures = mix_figures(mix, low=low, high=high) | {
        "/space_ml": Figure(
            "ml",
            "planned space + change of the plan x planned height above the bed + plan x change of the line",
            "geometry",
            given,
            *((low.space_ml, high.space_ml) if any(planned.off_ml) else (None, None)),
        ),
        "/inside_mm": Figure("mm", "measured in the standing form", "measured"),
        "/line_mm": Figure("mm", "measured above the board", "measured"),
        "/more_fraction": Figure(
            "-",
            "space as built / planned space - 1",
            "derived",
            {"space_ml": space_ml, "planned_space_ml": planned.space_ml},
        ),
    }
    for key in ("space_ml", "water_g", "plaster_g"):
        unit = key.rpartition("_")[2]
        figures[f"/planned/{key}"] = Figure(unit, f"pours.{planned.piece}.{key} of the plan", "derived")
    for key in ("water", "plaster"):
        figures[f"/grams_per_mm/{key}"] = Figure(
            "g/mm", "one mm of the plan as built", "derived", {"footprint_mm2": footprint_mm2}
        )
    for k, batch in enumerate(mix.batches):
        figures[f"/batches/{k}/number"] = Figure(
            "-",
            f"batch {batch.number} of the fewest equal ones that fit the bucket",
            "asked",
            {"bucket_l": planned.bucket_l},
        )
    for k, found in enumerate(document["findings"]):
        if found["amount"] is not None:
            figures[f"/findings/{k}/amount/value"] = Figure(
                str(found["amount"]["unit"]), "as its sentence says", "derived"
            )
    return document | {"figures": {pointer: asdict(figure) for pointer, figure in figures.items()}}


def _planned(plan: Mapping[str, Any], piece: str | None) -> _Planned:
    try:
        pours = {str(pour["piece"]): pour for pour in plan["pours"]}
        if piece is None and len(pours) == 1:
            piece = next(iter(pours))
        letters = {letter.casefold(): letter for letter in pours}
        if piece is None or piece.casefold() not in letters:
            raise InputError(
                "which pour is not said." if piece is None else f"there is no piece “{piece}” in this plan.",
                where="--piece",
                remedy=f"Use one of {', '.join(pours)}.",
            )
        pour = pours[letters[piece.casefold()]]
        form = pour["form"]
        place = plan["pours"].index(pour)
        room = plan.get("figures", {}).get(f"/pours/{place}/space_ml", {})
        off_ml = tuple(float(room[end]) - float(pour["space_ml"]) if room.get(end) else 0.0 for end in _ENDS)
        return _Planned(
            piece=str(pour["piece"]),
            round=len(form["inside_mm"]) == 1,
            inside_mm=tuple(float(side) for side in form["inside_mm"]),
            object_mm=(float(form["object_mm"][0]), float(form["object_mm"][1])),
            footprint_mm2=float(form["footprint_mm2"]),
            per_mm_wider_ml=tuple(float(more_ml) for more_ml in form["per_mm_wider_ml"]),
            bed_mm=float(form["bed_level_mm"]),
            line_mm=float(form["fill_from_board_mm"]),
            rim_mm=float(form["fill_from_board_mm"]) + float(form["fill_from_rim_mm"]),
            wall_mm=float(plan["mold"]["wall_mm"]),
            space_ml=float(pour["space_ml"]),
            off_ml=(off_ml[0], off_ml[1]),
            water_g=float(pour["water_g"]),
            plaster_g=float(pour["plaster_g"]),
            waste=float(pour["waste"]),
            consistency=float(pour["consistency"]),
            bucket_l=float(plan["made"]["brief"]["bucket_l"]),
        )
    except (KeyError, TypeError, IndexError, ValueError) as reason:
        raise InputError(
            "says nothing of the form of this pour.", where="plan.json", remedy="Plan it again."
        ) from reason


def _sides(planned: _Planned, inside_mm: tuple[float, ...]) -> tuple[float, ...]:
    """The measured sides in the plan's order: what was measured the other way round is turned."""
    if len(inside_mm) != len(planned.inside_mm):
        example = "--inside 180mm" if planned.round else "--inside 174x173mm"
        raise InputError(
            f"this form is {'round' if planned.round else 'boxed'}.",
            where="--inside",
            remedy=f"Write {example}.",
        )

    def off(sides: tuple[float, ...]) -> float:
        return sum(abs(side - meant) for side, meant in zip(sides, planned.inside_mm, strict=True))

    return min((inside_mm, inside_mm[::-1]), key=off)


def _refuse(planned: _Planned, built_mm: tuple[float, ...], line_mm: float) -> None:
    least_mm = shelf.value("practice", "wall_least_mm").value
    object_mm = (max(planned.object_mm),) if planned.round else planned.object_mm
    if any(built <= wide for built, wide in zip(built_mm, object_mm, strict=True)):
        sizes, nearest = (
            " × ".join(f"{side:.0f}" for side in sides)
            for sides in (object_mm, [wide + 2.0 * least_mm for wide in object_mm])
        )
        raise InputError(
            f"the form is smaller than the object, which is {sizes} mm wide in it.",
            where="--inside",
            remedy=f"Set it to {' × '.join(f'{side:g}' for side in planned.inside_mm)} mm as planned; "
            f"{nearest} mm is the least with plaster around.",
        )
    if line_mm > planned.rim_mm:
        freeboard_mm = shelf.value("practice", "freeboard_mm").value
        raise InputError(
            f"the fill line of {line_mm:g} mm lies above the form, which is {planned.rim_mm:.0f} mm high.",
            where="--line",
            remedy=f"Stop at {planned.line_mm:.0f} mm as planned, or use boards of "
            f"{line_mm + freeboard_mm:.0f} mm or more.",
        )
    if line_mm <= planned.bed_mm:
        raise InputError(
            f"the fill line of {line_mm:g} mm lies under what the plaster stands on, {planned.bed_mm:.0f} mm "
            "above the board.",
            where="--line",
            remedy=f"Measure from the board; {planned.line_mm:.0f} mm is planned.",
        )
    for built, meant, where in (
        *((side, meant, "--inside") for side, meant in zip(built_mm, planned.inside_mm, strict=True)),
        (line_mm, planned.line_mm, "--line"),
    ):
        if abs(built - meant) > _MOST_OFF * meant:
            raise InputError(
                f"{built:g} mm is far from the planned {meant:.0f} mm.",
                where=where,
                remedy="Check the unit, or plan it again for that form.",
            )


def _findings(
    planned: _Planned, built_mm: tuple[float, ...], line_mm: float, space_ml: float
) -> list[Finding]:
    least_mm = shelf.value("practice", "wall_least_mm").value
    found = []
    narrower = max(meant - built for built, meant in zip(built_mm, planned.inside_mm, strict=True)) / 2.0
    wall_mm = planned.wall_mm - max(narrower, planned.line_mm - line_mm, 0.0)
    if wall_mm < least_mm:
        found.append(
            Finding(
                id="wall_thin_as_built",
                severity="stop",
                where=f"form of piece {planned.piece}",
                says=f"The plaster would be {wall_mm:.0f} mm thin somewhere, and {least_mm:g} mm is the "
                "least.",
                remedy=f"Widen the form or fill to {planned.line_mm:.0f} mm.",
                amount=Amount(wall_mm, "mm"),
            )
        )
    freeboard_mm = planned.rim_mm - line_mm
    if freeboard_mm < shelf.value("practice", "freeboard_mm").low:
        found.append(
            Finding(
                id="freeboard_low",
                severity="look",
                where=f"form of piece {planned.piece}",
                says=f"Only {freeboard_mm:.0f} mm of board stand above the fill line.",
                remedy="Tape a strip on top, or pour with care; a knock spills it.",
                amount=Amount(freeboard_mm, "mm"),
            )
        )
    more = space_ml / planned.space_ml - 1.0
    if more > planned.waste:
        found.append(
            Finding(
                id="short_pour_avoided",
                severity="note",
                where=f"pour of piece {planned.piece}",
                says=f"The form takes {say_share(more, 1)} more than planned, more than the allowance of "
                f"{say_share(planned.waste)}.",
                remedy="The planned weights would have run short; mix these.",
                amount=Amount(100.0 * more, "%"),
            )
        )
    return found
