"""A plan and a survey as plain documents: every number beside its working."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from claybed import __version__
from claybed.flow.benchwork import write_bench, write_pour_bench, write_timetable
from claybed.flow.course import Course, Surveyed
from claybed.flow.describing import write_findings, write_object, write_survey
from claybed.flow.fewest import uncut_findings
from claybed.flow.flowing import write_flow
from claybed.flow.gate_noticing import as_typed, write_bore, write_gate_trials
from claybed.flow.hump_figures import hump_of
from claybed.flow.ledger import Part, finished, new_document
from claybed.flow.noticing import lock_findings, plan_findings
from claybed.flow.posing import pose_of, write_pose
from claybed.flow.record_writing import write_record
from claybed.flow.record_writing import write_record as write_ware
from claybed.flow.seam_noticing import climb_findings
from claybed.flow.standing import board_mm
from claybed.flow.ways import refusal
from claybed.gate.choosing import another_way
from claybed.geometry.lattice import Z_PER_MM
from claybed.materials import shelf
from claybed.pours.working import pour_entry, pour_figures, weight_figures
from claybed.proof.drafts import side_drafts_deg
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief, KeepOutSpot
from claybed.records.figure import Figure
from claybed.records.finding import Check
from claybed.records.plan_schema import PLAN_SCHEMA, SURVEY_SCHEMA
from claybed.records.pose import Pose
from claybed.records.tried import Tried

# Where the files of a plan stand below its folder, by what they hold.
FILES = {"piece": "pieces/{id}.{kind}", "model": "pieces/model.{kind}"}


def plan_document(
    course: Course, brief: Brief, file_checks: tuple[Check, ...], pose: Pose | None = None
) -> dict[str, Any]:
    """The whole plan as plain values, as plan.json holds it; `file_checks` are what the written files proved,
    `pose` is set up anew when it is None.

    Ready only when every check holds and no finding says stop.
    """
    document = new_document()
    checks = (*course.checks, *file_checks)
    pose = pose_of(course, brief.up) if pose is None else pose
    climbs = climb_findings(pose, course.survey, len(course.molded.assembly.pieces))
    findings = (*plan_findings(course, brief), *climbs)
    ready = all(check.ok for check in checks) and not any(f.severity == "stop" for f in findings)
    document.say(schema=PLAN_SCHEMA, ready=ready)
    write_object(document.part("object"), course.obj, brief, course.poured.floating)
    write_survey(document.part("survey"), course.survey, course.molded.option)
    _write_mold(document.part("mold"), course, brief)
    _write_pieces(document, course)
    write_pose(document.part("pose"), pose)
    _write_pours(document, course)
    write_flow(document, course.flow, course.molded.assembly)
    write_bench(document, course.bench)
    write_timetable(document, course.timetable)
    write_ware(document.part("ware"), course.ware)
    _write_checks(document, checks)
    write_findings(document, findings)
    _write_made(document.part("made"), brief, course.keys)
    return finished(document)


def survey_document(found: Surveyed, brief: Brief) -> dict[str, Any]:
    """A survey as plain values: object, which way it leaves, findings and the working."""
    document = new_document()
    document.say(schema=SURVEY_SCHEMA)
    write_object(document.part("object"), found.obj, brief)
    write_survey(document.part("survey"), found.survey, found.survey.options[0])
    locks = lock_findings(found.obj, found.survey, brief)
    write_findings(document, (*found.obj.findings, *locks, *uncut_findings(found.obj, found.survey, brief)))
    reason = refusal(found.obj, found.survey, brief)
    document.say(refused=None if reason is None else {"says": reason.what, "remedy": reason.remedy})
    keys = {stage: found.keys[stage] for stage in ("intake", "survey")}
    _write_made(document.part("made"), brief, keys)
    return finished(document)


def _write_mold(part: Part, course: Course, brief: Brief) -> None:
    assembly = course.molded.assembly
    hump = hump_of(course.obj, assembly, brief)
    if hump is None:
        part.say(hump=None)
    else:
        write_record(part.part("hump"), hump, with_findings=False)
    part.say(shape=assembly.shape, wall_reason=assembly.wall_reason, stance=assembly.stance)
    part.number(
        "outer_mm",
        assembly.outer_mm,
        "mm",
        "object and twice the wall, up to whole steps of a ruler",
        "geometry",
        {"wall_mm": assembly.wall_mm},
    )
    source = "asked" if brief.wall_mm is not None else "practice"
    part.number("wall_mm", assembly.wall_mm, "mm", assembly.wall_reason, source)
    seam_mm = assembly.seam_length_mm if len(assembly.pieces) > 1 else 0.0
    part.number("seam_length_mm", seam_mm, "mm", "sum of the seam's edges; none on one piece", "geometry")
    part.say(seam_flat=assembly.seam_flat if len(assembly.pieces) > 1 else None)
    part.number(
        "off_plane_mm",
        assembly.off_plane_mm,
        "mm",
        "largest distance of the seam from a level plane",
        "geometry",
    )
    part.number("level_mm", assembly.level_mm, "mm", "flat part of the parting surface", "geometry")
    if assembly.draft_deg > 0.0:
        part.number("draft_deg", assembly.draft_deg, "deg", "asked of every wall", "asked")
    bed = None
    if len(assembly.pieces) > 1:
        bed = assembly.level_mm - board_mm(assembly, assembly.pieces[0])
    part.number(
        "bed_mm",
        bed,
        "mm",
        "flat part of the parting surface above the board of the first pour",
        "practice",
        _bed_inputs(assembly),
    )
    part.number(
        "square_mm", assembly.square_mm, "mm", "run of the parting surface square to the object", "memory"
    )
    _write_tried(part, course.molded.tried)
    place = part.part("object_to_block")
    for name, row in zip("xyz", assembly.to_block, strict=True):
        place.number(f"row_{name}", row, "-", f"row {name} of the turn from the object's frame", "geometry")
    place.number("shift_mm", assembly.shift_mm, "mm", "shift after that turn", "geometry")
    part.say(keys=[])
    for key in assembly.keys:
        row = part.row("keys")
        row.say(bump_on=key.bump_on, socket_in=key.socket_in or None)
        row.number("at_mm", key.at_mm, "mm", "middle on the parting surface, block frame", "geometry")
        row.number("diameter_mm", key.diameter_mm, "mm", "usual for the wall", "practice")
        row.number("depth_mm", key.depth_mm, "mm", "usual for the diameter", "practice")
    _write_gate(part.part("gate"), course, brief)


def _write_gate(part: Part, course: Course, brief: Brief) -> None:
    gate = course.molded.assembly.gate
    part.say(kind=gate.kind, reason=course.molded.gate.reason)
    write_bore(part, course.molded.gate, gate, asked=brief.gate_bore_mm is not None)
    part.number(
        "closes_at_wall_mm",
        gate.closes_at_wall_mm,
        "mm",
        "width / sqrt(8)",
        "casting-law",
        {"bore_mm": gate.bore_mm, "factor": shelf.value("practice", "closing_bore_factor").value},
    )
    if gate.at_object_mm is not None:
        narrows = "bore + 2 length tan(draft)"
        part.number("at_object_mm", gate.at_object_mm, "mm", narrows, "practice")
    part.number("spare_ml", gate.spare_ml, "ml", "gate between object and outside", "geometry")
    if gate.kind == "none":
        part.say(at_mm=None)
    else:
        part.number("at_mm", gate.at_mm, "mm", "where it meets the object, block frame", "geometry")
        out = course.molded.assembly.to_block.T @ np.array(gate.out)
        part.number("out", tuple(out.tolist()), "-", "way in which it comes out, object's frame", "geometry")
    if gate.kind == "bore":
        for side, lap_mm in zip(("above", "below"), gate.laps_mm, strict=True):
            laps = f"how far its inner end laps over the object {side} its middle"
            part.number(f"lap_{side}_mm", lap_mm, "mm", laps, "geometry")
        past = "cells of the bore outside the object, with some of it further out"
        part.number("beyond_ml", gate.beyond_ml, "ml", past, "geometry")
        inside = "sections of the object square to the bore that lie inside it or hardly go on beside it"
        part.number("taken_mm", gate.taken_mm, "mm", inside, "geometry")
        part.number("taken_ml", gate.taken_ml, "ml", inside, "geometry")
        write_gate_trials(part, course.molded.gate)
        x, y, z = (float(v) for v in out)
        another = another_way(course.obj, course.molded.option, brief, (x, y, z))
        part.say(another=another and as_typed(another))


def _write_pieces(document: Part, course: Course) -> None:
    assembly = course.molded.assembly
    model = document.part("model")
    model.say(file=FILES["model"].format(kind="stl"), file_3mf=FILES["model"].format(kind="3mf"))
    exact = "signed tetrahedra over all faces, in whole lattice steps / 1000"
    model.number("volume_ml", assembly.model.volume_mm3 / 1000.0, "ml", exact, "geometry")
    pours = {pour.piece: pour for pour in course.poured.pours}
    drafts = side_drafts_deg(assembly)
    for place, piece in enumerate(assembly.pieces):
        row = document.row("pieces")
        row.say(id=piece.id)
        row.number("order", piece.opens or piece.order, "-", "place in the order of opening", "geometry")
        row.number("pull", piece.pull, "-", "unit vector in the block's frame", "geometry")
        if piece.leans is not None:
            row.number("leaves", piece.leans, "-", "unit vector in the block's frame", "geometry")
        if piece.id in drafts:
            formula = (
                "least angle of way out to walls of model and pieces that open later, but slivers of 1 mm²"
            )
            row.number("least_draft_deg", drafts[piece.id], "deg", formula, "geometry")
        row.number("volume_ml", piece.solid.volume_mm3 / 1000.0, "ml", exact, "geometry")
        pour = pours[piece.id]
        row.take({"wet_kg": pour.wet_kg, "dry_kg": pour.dry_kg}, weight_figures(pour, at=f"/pieces/{place}"))
        row.say(
            file=FILES["piece"].format(id=piece.id, kind="stl"),
            file_3mf=FILES["piece"].format(id=piece.id, kind="3mf"),
        )


def _write_pours(document: Part, course: Course) -> None:
    assembly = course.molded.assembly
    for place, (planned, bench) in enumerate(zip(course.poured.pours, course.bench.pours, strict=True)):
        row = document.row("pours")
        # The rim is that of the boards which really stand there.
        pour = replace(planned, fill_line_from_rim_mm=bench.form.fill_from_rim_mm.number)
        at = f"/pours/{place}"
        worked = pour_figures(pour, at=at)
        worked[f"{at}/order"] = Figure("-", "place in the order of pouring", "geometry")
        for k, batch in enumerate(pour.mix.batches):
            inputs: dict[str, float | str] = {"slurry_ml": pour.mix.slurry_ml}
            worked[f"{at}/batches/{k}/number"] = Figure(
                "-", f"batch {batch.number} of the fewest equal ones that fit the bucket", "asked", inputs
            )
        line = Figure(
            "mm",
            "height of the block less that of the board",
            "geometry",
            {
                "block_mm": assembly.height / Z_PER_MM,
                "board_mm": board_mm(assembly, assembly.pieces[place]),
            },
        )
        worked[f"{at}/fill_line_mm"] = worked[f"{at}/fill_line/from_board_mm"] = line
        row.take(pour_entry(pour), worked)
        write_pour_bench(row, bench)
        for k in range(len(pour.mix.batches)):
            for key in ("water_g", "plaster_g"):
                whole, bucket = (f"{at}/{part}/{k}/{key}" for part in ("batches", "mixing/buckets"))
                ends = row.figures[whole]
                if bucket in row.figures:
                    row.figures[bucket] = replace(row.figures[bucket], low=ends.low, high=ends.high)


def _write_tried(part: Part, tried: Sequence[Tried]) -> None:
    """Write which ways were cut, in turn, what each leaves to fill and what it was left for."""
    part.say(tried=[])
    for way in tried:
        row = part.row("tried")
        row.say(over=way.over, check=None if way.check is None else way.check.id, why=way.why)
        row.number("pieces", way.option.pieces, "-", "main pieces and side pieces", "geometry")
        row.number("pull", way.option.pull, "-", "unit main pull in the object's frame", "geometry")
        row.number("reckoned_ml", way.option.fill_ml, "ml", "locked space before the cut", "geometry")
        row.number("left_ml", way.left_ml, "ml", "what its model holds beyond the object", "geometry")


def _bed_inputs(assembly: Assembly) -> dict[str, float | str | None]:
    return {
        "level_mm": assembly.level_mm,
        "model_lowest_mm": float(assembly.model.points[:, 2].min()) / Z_PER_MM,
        "bed_pad_mm": shelf.value("practice", "bed_pad_mm").value,
    }


def _write_checks(document: Part, checks: tuple[Check, ...]) -> None:
    for check in checks:
        row = document.row("checks")
        row.say(id=check.id, ok=check.ok, unit=check.unit, where=check.where, sense=check.sense)
        row.say(how=check.how, remedy=check.remedy)
        row.number("measured", check.measured, check.unit, check.how or check.id, "measured")
        bound = "least that may be measured" if check.sense == "least" else "most that may be measured"
        row.number("limit", check.limit, check.unit, bound, "practice" if check.limit else "geometry")
        row.number("at_mm", check.at_mm, "mm", "place of the worst value, block frame", "measured")


def _write_made(part: Part, brief: Brief, keys: Mapping[str, str]) -> None:
    part.say(claybed=__version__, stage_keys=dict(keys))
    asked = part.part("brief")
    for name, value in asdict(brief).items():
        if name == "clays":  # the studio's whole file, which is nobody else's business
            continue
        if name == "keep_out":
            _write_regions(asked, brief)
        elif name in ("boards", "bands"):
            _write_owned(asked, name, value)
        elif isinstance(value, bool) or value is None or isinstance(value, str):
            asked.say(**{name: value})
        else:
            asked.number(name, value, _unit_of(name), "as asked, or the usual", "asked")


def _write_regions(asked: Part, brief: Brief) -> None:
    asked.say(keep_out=[])
    for region in brief.keep_out:
        row = asked.row("keep_out")
        if isinstance(region, KeepOutSpot):
            row.number("centre_mm", region.centre_mm, "mm", "middle in the object's frame", "asked")
            row.number("radius_mm", region.radius_mm, "mm", "reach around the middle", "asked")
            continue
        row.number("direction", region.direction, "-", "direction in the object's frame", "asked")
        for key, bound in (("lo_mm", region.lo_mm), ("hi_mm", region.hi_mm)):
            row.number(
                key, bound if math.isfinite(bound) else None, "mm", "bound along the direction", "asked"
            )


def _write_owned(asked: Part, name: str, owned: Sequence[Mapping[str, Any]]) -> None:
    asked.say(**{name: []})
    for item in owned:
        row = asked.row(name)
        for key, value in item.items():
            if isinstance(value, str):
                row.say(**{key: value})
            else:
                row.number(key, value, _unit_of(key), "as owned", "asked")


def _unit_of(name: str) -> str:
    if name == "consistency":
        return "per 100"
    tail = name.rpartition("_")[2]
    if tail == "celsius":
        return "°C"
    return tail if tail in {"mm", "ml", "g", "kg", "l", "deg"} else "-"
