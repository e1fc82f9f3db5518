"""Cases of a plan's pieces, in order: standing them up, choosing walls, building, pouring, proving."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from claybed.cases import bearing, generations
from claybed.cases.drawing import drawn_along
from claybed.cases.finger_slots import SlotSizes, formers, with_slots
from claybed.cases.flanges import HOLES_APART_MM
from claybed.cases.giving_room import with_room
from claybed.cases.loose_cores import loose_parts
from claybed.cases.loose_keys import with_sockets
from claybed.cases.proving import (
    case_checks,
    cement_checks,
    closing_checks,
    joint_checks,
    loose_checks,
    part_checks,
    slot_checks,
    wall_check,
)
from claybed.cases.standing import Readied, ready, stand_up
from claybed.cases.vessel import build_case, wall_stay_mm
from claybed.errors import CannotError, InputError
from claybed.geometry.carving import Solid
from claybed.geometry.slab import LatticeSolid
from claybed.materials import shelf
from claybed.pours.mixing import mix_for_space, slurry_g_per_ml, waste_for_form
from claybed.records.assembly import BlockKey
from claybed.records.case_ask import CaseAsk
from claybed.records.cases import Case, CementCase, Generation, Master, Poured, Shape
from claybed.records.finding import Check, Finding
from claybed.records.mix import Mix

Progress = Callable[[str, float], None]
# What a slicer shows of a length.
CLEARANCE_STEP_MM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Plastic:
    """A plastic of the shelf, each value with its spread."""

    name: str
    density_g_per_ml: shelf.Constant
    softens_celsius: shelf.Constant
    modulus_gpa: shelf.Constant


@dataclass(frozen=True, slots=True, eq=False)
class MadeCase:
    """What belongs to one piece: its case or printed piece, a case of cement, the pour, what the wall bears.

    `mix` for what is poured into the case (working mold or block piece), `cement` for the case of cement,
    `wall` of a printed case.
    """

    poured: Poured
    case: Case | None
    master: Master | None
    cement_case: CementCase | None
    mix: Mix
    cement: Mix | None
    wall: bearing.Wall | None
    asked_wall: bool


@dataclass(frozen=True, slots=True, eq=False)
class MadeCases:
    """All cases of a plan, with the steps between print and working mold, checks and findings."""

    ask: CaseAsk
    plastic: Plastic
    draft_deg: float
    clearance_mm: float
    consistency: float
    steps: tuple[Generation, ...]
    made: tuple[MadeCase, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


def plastics() -> tuple[str, ...]:
    """The names of all plastics of the shelf."""
    known = [entry.removesuffix("_softens_C") for entry in shelf.entries("printing") if "_softens_" in entry]
    return tuple(sorted(known))


def plastic_named(name: str) -> Plastic:
    """A plastic of the shelf by its name. Raises InputError listing those known."""
    known = plastics()
    wanted = name.strip().casefold()
    if wanted not in known:
        raise InputError(
            f"the plastic “{name}” is not known.", where="--plastic", remedy=f"Use {', '.join(known)}."
        )
    return Plastic(
        wanted,
        shelf.value("printing", f"{wanted}_density_g_per_ml"),
        shelf.value("printing", f"{wanted}_softens_C"),
        shelf.value("printing", f"{wanted}_modulus_GPa"),
    )


def make_cases(
    document: Mapping[str, Any], solids: Mapping[str, LatticeSolid], ask: CaseAsk, progress: Progress
) -> MadeCases:
    """The cases of the pieces of plan.json `document`, whose `solids` are named by their letters.

    Raises InputError for a piece or a plastic that is not there, CannotError when no piece can have a case.
    """
    plastic = plastic_named(ask.plastic)
    rows = {str(row["id"]): row for row in document["pieces"]}
    if ask.piece is not None and ask.piece not in rows:
        raise InputError(
            f"the plan has no piece {ask.piece}.", where="--piece", remedy=f"Use {', '.join(rows)}."
        )
    draft_deg = _or_shelf(ask.draft_deg, "case_draft_deg")
    needed_mm = needed_clearance_mm(document)
    usual_mm = shelf.value("printing", "case_clearance_mm").value
    clearance_mm = max(usual_mm, _up(needed_mm)) if ask.clearance_mm is None else ask.clearance_mm
    plaster, cement = (
        shelf.value("plaster", "setting_expansion_fraction").value,
        shelf.value("printing", "case_cement_expansion_fraction").value,
    )
    grows = {"plaster_fraction": plaster, "cement_fraction": cement}
    scale = generations.print_scale(ask.generations, **grows)
    keys = [_key(key) for key in document["mold"]["keys"]]
    wanted = [letter for letter in rows if ask.piece in (None, letter)]
    consistency, lift_kg = (float(document["made"]["brief"][name]) for name in ("consistency", "lift_kg"))
    pulls = {letter: row["pull"] for letter, row in rows.items()}
    opening = sorted(rows, key=lambda letter: int(rows[letter]["order"]))
    poured: dict[str, Poured] = {}
    refused: list[CannotError] = []
    readied: dict[str, Readied] = {}
    for k, letter in enumerate(rows):
        progress("cases", 0.3 * k / len(rows))
        try:
            readied[letter] = ready(
                letter, solids[letter],
                drawn_along(solids[letter], pulls[letter], rows[letter].get("leaves"), draft_deg=draft_deg,
                            aslant_deg=shelf.value("cases", "aslant_much_deg").value),
                keys, draft_deg=draft_deg, clearance_mm=clearance_mm, scale=scale,
                others={name: solids[name] for name in rows if name != letter},
                pulls=pulls,
            )  # fmt: skip
        except CannotError as reason:
            if letter in wanted:
                refused.append(reason)
    taken: dict[str, list[Solid]] = {}
    with contextlib.suppress(ArithmeticError):
        # Where a solid cannot be cut, all walls stand upright, which is told.
        readied, taken = with_room(readied, pulls, opening)
    for k, letter in enumerate(one for one in wanted if one in readied):
        progress("cases", 0.3 + 0.2 * k / len(wanted))
        try:
            one = stand_up(readied[letter], taken.get(letter, ()))
            poured[letter] = _slotted(one, ask, consistency, lift_kg)
        except CannotError as reason:
            refused.append(reason)
        except ArithmeticError as reason:
            refused.append(_uncut(letter, reason))
    made: list[MadeCase] = []
    checks: list[Check] = []
    for k, one in enumerate(poured.values()):
        progress("cases", 0.5 + k / (2.0 * len(poured)))
        try:
            case = _made(one, ask, plastic, clearance_mm, consistency, document)
        except CannotError as reason:
            refused.append(reason)
            continue
        except ArithmeticError as reason:
            refused.append(_uncut(one.piece, reason))
            continue
        made.append(case)
        checks += _checks(case, ask, plastic, consistency)
    if not made:
        raise refused[0]
    if len(made) == len(rows):
        in_turn = sorted(made, key=lambda one: opening.index(one.poured.piece))
        checks += closing_checks([one.poured for one in in_turn], pulls)
    progress("cases", 1.0)
    return MadeCases(
        ask=ask,
        plastic=plastic,
        draft_deg=draft_deg,
        clearance_mm=clearance_mm,
        consistency=consistency,
        steps=generations.chain(ask.generations, **grows),
        made=tuple(made),
        checks=tuple(checks),
        findings=tuple(
            Finding("case_refused", "stop", reason.where, f"{reason.where}: {reason.what}", reason.remedy)
            for reason in refused
        ),
    )


def needed_clearance_mm(plan: Mapping[str, Any]) -> float:
    """The clearance at which keys still meet when two pieces grow by the least and the most in setting."""
    keys = [np.array(key["at_mm"], dtype=float) for key in plan["mold"]["keys"]]
    apart = max((float(np.linalg.norm(a - b)) for a, b in combinations(keys, 2)), default=0.0)
    grows = shelf.value("plaster", "setting_expansion_fraction")
    tolerance = shelf.value("printing", "case_clearance_mm").low
    return tolerance + apart / 2.0 * (grows.high - grows.low)


def slots_from_kg(lift_kg: float) -> float:
    """The wet weight from which a piece gets finger slots: where practice looks at a lift, or what its people
    lift if that is less.
    """
    return min(shelf.value("practice", "lift_look_kg").value, lift_kg)


def _slotted(poured: Poured, ask: CaseAsk, consistency: float, lift_kg: float) -> Poured:
    """A piece with finger slots, if they are asked for, or it is heavy and nothing else was asked."""
    wet_kg = poured.solid.volume_mm3 * 1e-6 * slurry_g_per_ml(consistency)
    if ask.slots == "none" or (ask.slots == "auto" and wet_kg < slots_from_kg(lift_kg)):
        return poured
    deep, wide = (shelf.value("printing", f"slot_{name}_mm") for name in ("deep", "wide"))
    return with_slots(
        poured,
        SlotSizes(
            deep_mm=deep.value,
            deep_least_mm=deep.low,
            wide_mm=wide.value,
            wide_least_mm=wide.low,
            tall_mm=shelf.value("printing", "slot_tall_mm").value,
            draft_deg=shelf.value("printing", "slot_draft_deg").value,
            least_mm=shelf.value("practice", "wall_least_mm").value,
        ),
    )


def _made(
    poured: Poured,
    ask: CaseAsk,
    plastic: Plastic,
    clearance_mm: float,
    consistency: float,
    document: Mapping[str, Any],
) -> MadeCase:
    bucket_l = float(document["made"]["brief"]["bucket_l"])
    waste, _ = waste_for_form("case")
    # What a case of cement is poured over must be whole: sockets and slots come with the working mold.
    first = replace(poured, plugs=(), cores=(), slots=(), opened=None) if ask.generations == 3 else poured
    mix = mix_for_space(
        with_sockets(first).volume_mm3 / 1e3, consistency=consistency, waste=waste, bucket_l=bucket_l
    )
    case = master = cement_case = cement = wall = None
    if ask.generations == 2:
        master = generations.build_master(poured, ask.printer_mm, clearance_mm)
    else:
        case, wall = _printed(first, ask, plastic, clearance_mm, consistency)
    if ask.generations > 1:
        thick_mm = shelf.value("printing", "case_plaster_wall_mm").value
        cement_case = generations.build_cement_case(poured, thick_mm)
        boards, _ = waste_for_form("boards")
        cement = mix_for_space(
            cement_case.solid.volume_mm3 / 1e3,
            consistency=shelf.value("plaster", "use_case_consistency_per_100").value,
            waste=boards,
            bucket_l=bucket_l,
        )
    return MadeCase(poured, case, master, cement_case, mix, cement, wall, ask.wall_mm is not None)


def _printed(
    poured: Poured, ask: CaseAsk, plastic: Plastic, clearance_mm: float, consistency: float
) -> tuple[Case, bearing.Wall]:
    """A printed case with the thinnest wall that bears the liquid, hand-holds when it is heavy once full, and
    bolts near enough to one another that joints stay closed.
    """
    slurry = 1000.0 * slurry_g_per_ml(consistency)
    modulus = 1e9 * plastic.modulus_gpa.value
    bow_most_mm = shelf.value("boards", "bow_most_mm").value
    infill = shelf.value("printing", "print_infill_fraction").value
    shape = Shape(
        wall_mm=bearing.WALLS_MM[0],
        floor_mm=shelf.value("printing", "case_floor_mm").value,
        printer_mm=ask.printer_mm,
        clearance_mm=clearance_mm,
        grips=False,
        skin_mm=shelf.value("printing", "print_skin_mm").value,
        infill_fraction=infill,
    )
    for wall_mm in bearing.WALLS_MM if ask.wall_mm is None else (ask.wall_mm,):
        shape = replace(shape, wall_mm=wall_mm)
        wall = _wall(poured, shape, plastic, slurry)
        if wall.bow_mm <= bow_most_mm:
            break
    gap_most_mm = shelf.value("printing", "joint_gap_most_mm").value
    wet_kg = with_sockets(poured).volume_mm3 * 1e-9 * slurry
    # What the wall's own height asks of bolts, before anything is built.
    likely = [
        apart
        for apart in HOLES_APART_MM
        if bearing.likely_gap_mm(poured, apart, slurry, modulus) <= gap_most_mm
    ]
    for apart_mm in likely or HOLES_APART_MM[-1:]:
        case = build_case(poured, replace(shape, bolts_apart_mm=apart_mm))
        full_kg = wet_kg + plastic.density_g_per_ml.value * _printed_ml(case) / 1e3
        if not shape.grips and full_kg >= shelf.value("practice", "lift_look_kg").value:
            shape = replace(shape, grips=True)
            wall = _wall(poured, shape, plastic, slurry)
            case = build_case(poured, replace(shape, bolts_apart_mm=apart_mm))
        joints = bearing.joints_of(case, slurry, modulus, full_kg)
        if all(joint.gap_mm <= gap_most_mm for joint in joints):
            break
    return case, wall


def _printed_ml(case: Case) -> float:
    shape = case.shape
    return sum(
        bearing.plastic_taken(part, shape.skin_mm, shape.infill_fraction).volume_ml for part in case.parts
    )


def _wall(poured: Poured, shape: Shape, plastic: Plastic, slurry_kg_per_m3: float) -> bearing.Wall:
    outline = poured.top_outline_mm
    return bearing.wall_under_liquid(
        shape.wall_mm,
        wall_stay_mm(poured, shape),
        poured.top_mm - poured.low_mm,
        radius_mm=float((outline.max(axis=0) - outline.min(axis=0)).max()) / 2.0,
        corners=len(outline),
        modulus_pa=1e9 * plastic.modulus_gpa.value,
        slurry_kg_per_m3=slurry_kg_per_m3,
    )


def _checks(made: MadeCase, ask: CaseAsk, plastic: Plastic, consistency: float) -> Sequence[Check]:
    checks: list[Check] = []
    if made.case is not None:
        cuts = (made.case.cuts_x_mm, made.case.cuts_y_mm)
        checks += case_checks(made.case, [*loose_parts(made.poured), *formers(made.poured, cuts)])
        slurry = 1000.0 * slurry_g_per_ml(consistency)
        full_kg = (
            with_sockets(made.case.poured).volume_mm3 * 1e-9 * slurry
            + plastic.density_g_per_ml.value * _printed_ml(made.case) / 1e3
        )
        if made.wall is not None:
            checks.append(wall_check(made.case, made.wall, shelf.value("boards", "bow_most_mm").value))
        joints = bearing.joints_of(made.case, slurry, 1e9 * plastic.modulus_gpa.value, full_kg)
        checks += joint_checks(
            made.case,
            joints,
            bearing.washer_bears_newtons(shelf.value("printing", "print_bearing_kPa").value),
            shelf.value("printing", "joint_gap_most_mm").value,
        )
    if made.master is not None:
        parts = [*made.master.parts, *loose_parts(made.poured), *formers(made.poured)]
        checks += part_checks(parts, ask.printer_mm, made.poured.piece)
    if made.cement_case is not None:
        checks += cement_checks(made.cement_case)
    checks += loose_checks(made.poured)
    checks += slot_checks(made.poured, shelf.value("practice", "wall_least_mm").value)
    return checks


def _uncut(piece: str, reason: ArithmeticError) -> CannotError:
    return CannotError(
        f"its solids cannot be joined and cut ({reason}).",
        where=f"case of piece {piece}",
        remedy="Ask for another --wall or --draft.",
    )


def _key(row: Mapping[str, Any]) -> BlockKey:
    x, y, z = (float(v) for v in row["at_mm"])
    return BlockKey(
        (x, y, z),
        float(row["diameter_mm"]),
        float(row["depth_mm"]),
        str(row["bump_on"]),
        str(row.get("socket_in", "")),
    )


def _up(clearance_mm: float) -> float:
    """A clearance rounded up to what a slicer shows."""
    return math.ceil(clearance_mm / CLEARANCE_STEP_MM - 1e-9) * CLEARANCE_STEP_MM


def _or_shelf(given: float | None, name: str) -> float:
    return shelf.value("printing", name).value if given is None else given
