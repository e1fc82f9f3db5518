"""The order of the stages: intake, survey, mold, pours, proof, bench, ware, timetable.

Each is taken from the store when nothing that it reads has changed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from claybed.bench.planning import plan_bench
from claybed.flow.flowing import flow_checks
from claybed.flow.gate_sparing import sparing_checks
from claybed.flow.humps import make_hump
from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.flow.side_seams import seam_checks
from claybed.flow.sideways import aside, seen_along
from claybed.flow.standing import board_mm, open_mm2, standing_object, standing_pours
from claybed.flow.store import Store, recall, stage_keys
from claybed.gate.bore_end import longest_mm
from claybed.gate.flowing import flow_of
from claybed.geometry.lattice import Z_PER_MM
from claybed.geometry.levels import volume_above_mm3
from claybed.materials import shelf
from claybed.pours.floating import judge_float
from claybed.pours.planning import consistency_findings, plan_pours
from claybed.proof.evidence import prove, weak_plaster
from claybed.records.assembly import BLOCK_FRAME, Assembly, Piece
from claybed.records.bench import Bench
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.flowed import Flow
from claybed.records.measured import MeasuredObject
from claybed.records.measuring import VolumeBand
from claybed.records.pour import PiecePour
from claybed.records.poured import Poured
from claybed.records.surveyed import MoldOption, Survey
from claybed.records.timetable import Timetable
from claybed.records.ware import Ware
from claybed.survey.surveying import survey
from claybed.timetable.planning import plan_timetable
from claybed.ware.planning import plan_ware

Progress = Callable[[str, float], None]
# Reads the object; called only when the store does not know it.
Reader = Callable[[Brief, Progress], MeasuredObject]


@dataclass(frozen=True, slots=True)
class Surveyed:
    """An object and its survey, with the keys they are kept under."""

    obj: MeasuredObject
    survey: Survey
    keys: dict[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What every stage of a plan handed on, in order.

    `survey` describes the way the mold really opens, also where the first survey preferred another;
    `checks` are of the solids, before any file was written; `keys` the store's key of every stage;
    `flow` how slip fills and leaves, None when none does.
    """

    obj: MeasuredObject
    survey: Survey
    molded: Molded
    poured: Poured
    checks: tuple[Check, ...]
    bench: Bench
    timetable: Timetable
    ware: Ware
    keys: dict[str, str]
    flow: Flow | None = None


def run_survey(read: Reader, brief: Brief, source: str, store: Store, progress: Progress) -> Surveyed:
    """Read and survey an object, or recall both.

    `source` is a text that stands for the file's content. Raises what intake and survey raise; `progress` is
    told their step names and a fraction.
    """
    keys = stage_keys(brief, source)
    progress("reading", 0.0)
    obj = recall(store, keys["intake"], MeasuredObject, lambda: read(brief, progress))
    found = recall(store, keys["survey"], Survey, lambda: survey(obj, brief, progress=progress))
    return Surveyed(obj, found, keys)


def run_mold(start: Surveyed, brief: Brief, source: str, store: Store, progress: Progress) -> Molded:
    """Cut the mold of a surveyed object, or recall it. Raises CannotError as the stage does."""
    obj, hollow = start.obj, start.obj.hollow

    def wider(more: Brief) -> Survey:
        key = stage_keys(more, source)["survey"]
        return recall(store, key, Survey, lambda: survey(obj, more, progress=progress))

    def make() -> Molded:
        if hollow is not None:
            return make_hump(obj, hollow, start.survey, brief, progress=progress)
        weak = partial(weak_plaster, brief=brief)

        def fails(made: Molded) -> list[Check]:
            return [check for check in _all_checks(obj, made, brief, progress) if not check.ok]

        return make_mold(obj, start.survey, brief, progress=progress, weak=weak, wider=wider, fails=fails)

    return recall(store, start.keys["mold"], Molded, make)


def run_course(read: Reader, brief: Brief, source: str, store: Store, progress: Progress) -> Course:
    """Run every stage of a plan up to the proof of its solids, recalling those whose inputs did not change.

    Arguments as in `run_survey`. Raises InputError and CannotError as the stages do; a plan that fails a
    check is returned all the same.
    """
    start = run_survey(read, brief, source, store, progress)
    molded = run_mold(start, brief, source, store, progress)
    obj, keys, first = start.obj, start.keys, molded.survey
    found = first
    if not _describes(first, molded.option):
        found = _survey_along(molded.option, obj, brief, source, store, progress)
    if found.options[0] != molded.option:
        found = _with_front(found, first, molded.option)
    if molded.option.sides or molded.option.plane_mm is not None:
        found = _as_filled(found, molded.option)
    progress("pours", 0.0)
    assembly = molded.assembly
    poured = recall(store, keys["pours"], Poured, lambda: plan_all_pours(obj, assembly, brief))
    progress("pours", 1.0)
    wet_kg = {pour.piece: pour.wet_kg for pour in poured.pours}
    checks = recall(
        store, keys["proof"], tuple, lambda: prove(assembly, obj.mesh, brief, wet_kg, progress=progress)
    )
    flow = recall(store, keys["flow"], tuple, lambda: (flow_of(assembly, brief),))[0]
    checks = (*checks, *_of_gate_and_seam(obj, molded, flow, brief))
    fill_ml = found.chosen.fill_ml
    bench = recall(
        store,
        keys["bench"],
        Bench,
        lambda: plan_all_benches(obj, assembly, poured, fill_ml, brief, keys["bench"]),
    )
    ware = recall(store, keys["ware"], Ware, lambda: plan_ware(obj, molded.option, assembly, brief))
    timetable = recall(
        store, keys["timetable"], Timetable, lambda: plan_timetable(bench, ware.drying, brief.use)
    )
    return Course(obj, found, molded, poured, checks, bench, timetable, ware, keys, flow)


def _all_checks(obj: MeasuredObject, molded: Molded, brief: Brief, progress: Progress) -> tuple[Check, ...]:
    """All checks of a mold that a plan would have, before any file is written."""
    assembly = molded.assembly
    wet_kg = {pour.piece: pour.wet_kg for pour in plan_all_pours(obj, assembly, brief).pours}
    checks = prove(assembly, obj.mesh, brief, wet_kg, progress=progress)
    return (*checks, *_of_gate_and_seam(obj, molded, flow_of(assembly, brief), brief))


def _of_gate_and_seam(
    obj: MeasuredObject, molded: Molded, flow: Flow | None, brief: Brief
) -> tuple[Check, ...]:
    """The checks of draining, of where seams run and of what the gate takes of the object."""
    assembly, searched = molded.assembly, molded.gate.chosen in ("better", "next", "usual")
    return (
        *flow_checks(flow, assembly, searched=searched),
        *seam_checks(assembly, brief.keep_out),
        *sparing_checks(assembly, brief, longest_mm(obj.mesh)),
    )


def plan_all_benches(
    obj: MeasuredObject, assembly: Assembly, poured: Poured, fill_ml: float, brief: Brief, plan_key: str
) -> Bench:
    """Plan everything at the bench from the closed mold and its pours; `fill_ml` of oil clay it needs."""
    thing = standing_object(obj, assembly, fill_ml, brief)
    return plan_bench(standing_pours(obj, assembly, poured), thing, poured, brief, plan_key=plan_key)


def plan_all_pours(obj: MeasuredObject, assembly: Assembly, brief: Brief) -> Poured:
    """Plan the pour of every piece and judge whether the object floats, from the closed mold.

    The first of two pours stands on the bed, so its board lies under the object's deepest point by the usual
    pad; the second stands on the first piece; a single piece stands on the board. Source: materials/practice
    (bed_pad_mm, freeboard_mm).
    """
    above_ml = _above_ml(obj, assembly)
    pieces = [_piece_pour(obj, assembly, piece, above_ml) for piece in assembly.pieces]
    floating = None
    if obj.mass_g is not None and not assembly.hump:
        floating = judge_float(obj.solid_ml, obj.mass_g, brief.consistency)
    uneven = obj.uneven
    if uneven is not None and assembly.hump:  # more inside is more plaster, not less
        uneven = VolumeBand(uneven.larger_share, uneven.smaller_share)
    pours = plan_pours(pieces, brief, obj.volume_rel_95, uneven)
    return Poured(pours, floating, consistency_findings(brief))


def _piece_pour(obj: MeasuredObject, assembly: Assembly, piece: Piece, above_ml: float) -> PiecePour:
    space_ml = piece.solid.volume_mm3 / 1000.0
    if aside(piece):
        view = seen_along(assembly, piece, obj)
        return PiecePour(
            piece=piece.id,
            order=piece.order,
            space_ml=space_ml,
            volume_ml=space_ml,
            fill_line_from_board_mm=view.height_mm,
            fill_line_from_rim_mm=shelf.value("practice", "freeboard_mm").value,
            footprint_mm2=view.own_mm[0] * view.own_mm[1],
            object_ml=view.object_ml,
        )
    return PiecePour(
        piece=piece.id,
        order=piece.order,
        space_ml=space_ml,
        volume_ml=space_ml,
        fill_line_from_board_mm=assembly.height / Z_PER_MM - board_mm(assembly, piece),
        fill_line_from_rim_mm=shelf.value("practice", "freeboard_mm").value,
        footprint_mm2=open_mm2(assembly, up=piece.pull[2] > 0.0),
        object_ml=above_ml if piece.pull[2] > 0.0 else obj.solid_ml - above_ml,
    )


def _above_ml(obj: MeasuredObject, assembly: Assembly) -> float:
    """How much of the object lies above the flat level of the parting surface, ml: all that of the pieces
    pulled up. In one piece, all of the object.
    """
    if len(assembly.pieces) == 1:
        return obj.solid_ml if assembly.pieces[0].pull[2] > 0.0 else 0.0
    placed = obj.mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    return volume_above_mm3(placed, assembly.level_mm) / 1000.0


def _describes(found: Survey, option: MoldOption) -> bool:
    first = found.options[0]
    return first.kind == option.kind and option.pull in (first.pull, first.turned_over().pull)


def _survey_along(
    option: MoldOption, obj: MeasuredObject, brief: Brief, source: str, store: Store, progress: Progress
) -> Survey:
    """The survey of the way the mold opens after all, when what was asked of the seam ruled others out."""
    fixed = replace(brief, axis=option.pull, pieces=1 if option.kind == "one_piece" else 2)
    key = stage_keys(fixed, source)["survey"]
    return recall(store, key, Survey, lambda: survey(obj, fixed, progress=progress))


def _with_front(found: Survey, first: Survey, option: MoldOption) -> Survey:
    """The survey along the main axis, with what was found of counts of pieces before."""
    told = next((o for o in first.options if (o.pull, o.sides) == (option.pull, option.sides)), option)
    return replace(
        found,
        options=(option, *(o for o in first.options if o not in (option, told))),
        front=first.front,
        witness=first.witness,
        free_pulls=first.free_pulls,
        drafted=first.drafted,
    )


def _as_filled(found: Survey, option: MoldOption) -> Survey:
    """The survey along the main axis, with what is filled in the end: what side pieces leave, or what brings
    the seam into one plane as well.
    """
    score = found.chosen
    per_ml = shelf.value("clay", "oil_clay_density_g_per_ml").value
    places = sum(p.lock_class == "fill" for p in option.places)
    chosen = replace(
        score,
        fill_ml=option.fill_ml,
        fill_g=option.fill_ml * per_ml,
        places=places,
        deepest_mm=option.deepest_mm,
        castable=places == 0,
    )
    return replace(
        found,
        options=(option, *found.options[1:]),
        chosen=chosen,
        places=option.places,
        candidates=tuple(chosen if s.axis == chosen.axis else s for s in found.candidates),
    )
