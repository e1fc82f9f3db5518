"""What a person should be told about a plan beside its checks: few sentences, each with what to do."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

from claybed.flow.course import Course
from claybed.flow.describing import to_act_on
from claybed.flow.fewest import fewest_findings
from claybed.flow.float_noticing import float_findings
from claybed.flow.flowing import flow_findings
from claybed.flow.gate_noticing import (
    closed_on_top,
    gate_breaks_through,
    gate_narrowed,
    gate_off,
    gate_placed,
    gate_takes,
)
from claybed.flow.hump_figures import hump_findings
from claybed.flow.passed_over import open_block_findings, passed_findings, too_much_in_two
from claybed.flow.sideways import aside, seen_along
from claybed.flow.starved_noticing import starved_findings
from claybed.geometry.mesh import Mesh
from claybed.materials import shelf
from claybed.mold.block import choose_wall
from claybed.proof.places import in_words
from claybed.proof.seam_edges import seam_in_corner
from claybed.records.assembly import Assembly, Gate
from claybed.records.brief import Brief, Vector
from claybed.records.finding import Amount, Check, Finding
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import FillPlace, MoldOption, Survey
from claybed.survey.scoring import TILTS_DEG
from claybed.units import say_length, say_volume
from claybed.wording import clay_words, fill_finish, pull_words


def plan_findings(course: Course, brief: Brief) -> tuple[Finding, ...]:
    """All findings of a plan, in the order of work: object, what locks, seam and gate, pours; their places in
    the block's frame.
    """
    assembly = course.molded.assembly
    left = {t.option.pieces for t in course.molded.tried if t.check or t.why}
    locks = lock_findings(course.obj, course.survey, brief, left=left, made=True)
    found = [
        *(_in_block(one, assembly) for one in (*course.obj.findings, *locks)),
        *passed_findings(course.molded.tried, course.molded.option),
        *too_much_in_two(course.obj, course.survey, brief, course.molded.option),
        *open_block_findings(course.obj, course.survey, brief),
        *_plane_findings(course.molded.option),
        *_tilt_findings(course.survey, brief),
        *hump_findings(course.obj, assembly, brief),
        *_wall_findings(course.obj.mesh, assembly, brief),
        *_side_findings(assembly),
        *_leaning_findings(assembly),
        *_pair_findings(assembly, brief),
        *_gate_findings(assembly.gate, brief),
        *gate_placed(course.molded.gate),
        *closed_on_top(course.molded.gate, course.obj.mesh, brief),
        *gate_narrowed(course.molded.gate, assembly.gate, brief.ware_wall_mm),
        *gate_breaks_through(assembly.gate),
        *gate_takes(assembly.gate, course.checks),
        *gate_off(course.molded.gate, brief.gate, course.molded.option.pull),
        *flow_findings(course.flow, assembly),
        *starved_findings(course.flow, course.ware, assembly),
        *edge_findings(course.checks, told := corner_findings(assembly)),
        *told,
        *_stance_findings(assembly.stance),
        *float_findings(course, brief),
        *course.poured.findings,
    ]
    for pour in course.poured.pours:
        found += pour.findings
    return (*found, *course.bench.findings)


def _in_block(finding: Finding, assembly: Assembly) -> Finding:
    if finding.at_mm is None:
        return finding
    x, y, z = (float(v) for v in assembly.to_block @ finding.at_mm + assembly.shift_mm)
    return replace(finding, at_mm=(x, y, z))


def lock_findings(
    obj: MeasuredObject,
    found: Survey,
    brief: Brief,
    *,
    made: bool = False,
    left: Collection[int] = (),
) -> tuple[Finding, ...]:
    """What locks along the chosen axis: one finding for all that is filled, one for all that is scraped; and
    whether fewer pieces would do.

    `brief.up` tells which end of the object a place lies at; `made` when a mold was cut, and pictures go
    with it; `left` counts of pieces that were cut and left.
    """
    places = to_act_on(found)
    up = brief.up if obj.hollow is None else obj.hollow.up
    filled = [p for p in places if p.lock_class == "fill"]
    scraped = [p for p in places if p.lock_class == "scrape"]
    findings = []
    grams_per_ml = found.chosen.fill_g / found.chosen.fill_ml if found.chosen.fill_ml > 0.0 else 0.0
    if filled:
        total_ml = sum(p.volume_ml for p in filled)
        worst = max(filled, key=lambda p: p.depth_mm)
        clay = f"{say_volume(total_ml)} ({clay_words(total_ml * grams_per_ml)}) of oil clay"
        stands = "form is" if found.options[0].kind == "one_piece" else "bed is"
        finish = fill_finish(found.options[0].plane_mm is not None)
        gaps = "one gap" if len(filled) == 1 else f"{len(filled)} gaps"
        findings.append(
            Finding(
                id="fill_with_oil_clay",
                severity="look",
                where=object_place(obj.mesh, worst.at_mm, up),
                says=f"{clay[:1].upper()}{clay[1:]} closes {gaps}, up to {say_length(worst.depth_mm)} deep.",
                remedy=f"Press it in before the {stands} built, {finish}, in the numbered places.",
                amount=Amount(total_ml, "ml"),
                at_mm=worst.at_mm,
            )
        )
    if scraped:
        findings.append(_scrape_finding(obj, scraped, up))
    return (
        *findings,
        *fewest_findings(found, lambda at: object_place(obj.mesh, at, up), made=made, left=left),
    )


def object_place(mesh: Mesh, at_mm: Vector, up: Vector) -> str:
    """A place on the object in words: how high along `up`, and towards which side of the file's axes."""
    low, high = mesh.bounds_mm
    length = math.sqrt(sum(u * u for u in up))
    heights = mesh.vertices_mm @ [u / length for u in up]
    here = sum(a * u for a, u in zip(at_mm, up, strict=True)) / length
    share = (here - float(heights.min())) / max(float(heights.max() - heights.min()), 1e-9)
    level = (
        "near the foot" if share < 0.25 else "near the top" if share > 0.75 else "in the middle of its height"
    )
    sides = []
    for k, name in enumerate("xyz"):
        if abs(up[k]) / length > 0.9 or high[k] - low[k] < 1e-9:
            continue
        off = (at_mm[k] - low[k]) / (high[k] - low[k]) - 0.5
        if abs(off) > 0.2:
            sides.append(f"{'+' if off > 0 else '-'}{name}")
    return f"{level}, towards {' '.join(sides)}" if sides else level


def _scrape_finding(obj: MeasuredObject, places: list[FillPlace], up: Vector) -> Finding:
    # A speck may be deep and hold next to nothing: a depth is told of what can be seen.
    shallow = [p for p in places if p.depth_mm <= shelf.value("practice", "lock_scrape_mm").value]
    worst = max(shallow or places, key=lambda p: p.depth_mm)
    count = "one place" if len(places) == 1 else f"{len(places)} places"
    deep = f"It locks up to {say_length(worst.depth_mm)} deep in {count}"
    if not shallow:
        total_ml = sum(p.volume_ml for p in places)
        deep = f"It locks in {count}, {'a speck' if len(places) == 1 else 'specks'} of {say_volume(total_ml)}"
    return Finding(
        id="scrape_undercut",
        severity="note",
        where=object_place(obj.mesh, worst.at_mm, up),
        says=f"{deep}{' in all' if not shallow and len(places) > 1 else ''}.",
        remedy="Smear a little oil clay over it before the bed is built.",
        amount=Amount(worst.depth_mm, "mm"),
        at_mm=worst.at_mm,
    )


def _plane_findings(option: MoldOption) -> tuple[Finding, ...]:
    """How a seam comes to lie in one plane, where that takes fill."""
    if option.plane_mm is None:
        return ()
    clay = say_volume(option.plane_fill_ml)
    return (
        Finding(
            id="seam_levelled",
            severity="look",
            where="along the seam",
            says=f"{clay[:1].upper()}{clay[1:]} of the oil clay brings the seam into one plane.",
            remedy="Where the object overhangs the bed, pack oil clay under it and cut it upright along the "
            "object's outline; where the object stays under the bed's level, fill up to that level with oil "
            "clay. It stays on the object until both pieces are cast.",
            amount=Amount(option.plane_fill_ml, "ml"),
        ),
    )


def _side_findings(assembly: Assembly) -> tuple[Finding, ...]:
    """How every side piece is poured, and what stands in its place until then."""
    findings = []
    for piece in assembly.pieces:
        if not aside(piece):
            continue
        view = seen_along(assembly, piece)
        thick_mm = view.height_mm - view.interface_mm
        deep = f"the last {say_length(thick_mm)}"
        if view.rise_mm > 0.0:
            deep = f"the last {say_length(thick_mm - view.rise_mm)} to {say_length(thick_mm)}, aslant,"
            if thick_mm - view.rise_mm < shelf.value("practice", "filler_edge_least_mm").value:
                deep = f"a wedge, {say_length(thick_mm)} at one end and running out at the other,"
        opens = piece.opens or piece.order
        hollow = "fill the pocket with clay"
        bed = ", and the bed, whose place it takes under the object" if piece.id == assembly.base else ""
        if view.plug_mm > 0.0:
            hollow = (
                f"fill what piece {piece.id} takes behind it with clay, {say_length(view.plug_mm)} at the "
                f"deepest, widening towards the board as the piece does in the picture"
            )
        findings.append(
            Finding(
                id="side_piece_pour",
                severity="look",
                where=f"piece {piece.id}",
                says=f"Piece {piece.id} is poured on the closed others, and opens as number {opens}.",
                remedy=f"Until then close {deep} of the form on that side with a "
                f"board that carries the keys in clay, and {hollow}. Then stand the mold "
                f"with that side up, take both out{bed}, soap, and pour.",
                amount=Amount(thick_mm, "mm"),
            )
        )
    return tuple(findings)


def _leaning_findings(assembly: Assembly) -> tuple[Finding, ...]:
    """How a last piece that leaves aslant is drawn."""
    return tuple(
        Finding(
            id="leaves_aslant",
            severity="look",
            where=f"piece {piece.id}",
            says=f"Piece {piece.id} opens last and leaves aslant, away from all its walls at once: straight "
            "up or down it would slide along those that stand upright.",
            remedy=f"When all others are off, hold the object still and draw piece {piece.id} off it "
            f"{pull_words(piece.leans)}.",
        )
        for piece in assembly.pieces
        if piece.leans is not None
    )


def _pair_findings(assembly: Assembly, brief: Brief) -> tuple[Finding, ...]:
    """Pairs of pieces that meet without a key, where keys were asked for: there was no room between them."""
    if not brief.keys or len(assembly.pieces) < 3:
        return ()
    keyed = {frozenset((key.bump_on, key.socket_in)) for key in assembly.keys}
    return tuple(
        Finding(
            id="pair_without_key",
            severity="look",
            where=f"pieces {one} and {two}",
            says=f"Pieces {one} and {two} meet without a key: none finds room between them.",
            remedy="The pieces beside them hold them in place: strap the mold all round. A larger --wall "
            "gives room.",
        )
        for one, two in assembly.contacts
        if frozenset((one, two)) not in keyed
    )


def _tilt_findings(found: Survey, brief: Brief) -> tuple[Finding, ...]:
    tilt_deg = found.chosen.tilt_deg
    if tilt_deg is None or not 0.0 < tilt_deg < min(brief.pose_tolerance_deg, TILTS_DEG[-1]):
        return ()
    return (
        Finding(
            id="pose_level",
            severity="note",
            where="on the bed",
            says=f"Tilted by {tilt_deg:g}° it locks, so straight walls must stand straight.",
            remedy="Set it with a square or a level before the bed is built up.",
            amount=Amount(tilt_deg, "deg"),
        ),
    )


def _wall_findings(mesh: Mesh, assembly: Assembly, brief: Brief) -> tuple[Finding, ...]:
    usual_mm, _ = choose_wall(mesh, brief)
    wall_mm, sides = assembly.wall_mm, len(assembly.pieces) > 2
    if wall_mm < usual_mm + 1.0:
        return ()
    return (
        Finding(
            id="wall_for_keys",
            severity="note",
            where="the block",
            says=f"The wall is {say_length(wall_mm)} instead of {say_length(usual_mm)}, so that keys fit.",
            remedy="Keys keep side pieces out of each other's places."
            if sides
            else "Ask for --no-keys to save the plaster.",
            amount=Amount(wall_mm, "mm"),
        ),
    )


def _gate_findings(gate: Gate, brief: Brief) -> tuple[Finding, ...]:
    if gate.kind == "none" and brief.use == "slip":
        return (
            Finding(
                id="gate_none",
                severity="note",
                where="the gate",
                says="There is no way in for slip.",
                remedy="Cut one into the set plaster, or plan one with --gate auto.",
            ),
        )
    if not math.isfinite(gate.closes_at_wall_mm) or gate.closes_at_wall_mm > brief.ware_wall_mm:
        return ()
    return (
        Finding(
            id="gate_closes",
            severity="look",
            where="the gate",
            says=f"The way in closes at a wall of {say_length(gate.closes_at_wall_mm)}, before the ware has "
            f"{say_length(brief.ware_wall_mm)}.",
            remedy="Cast thinner and say so with --ware-wall, or cast it solid.",
            amount=Amount(gate.closes_at_wall_mm, "mm"),
            at_mm=gate.at_mm,
        ),
    )


def edge_findings(checks: Sequence[Check], corners: Sequence[Finding] = ()) -> tuple[Finding, ...]:
    """What to say of plaster edges along seams that hold but are sharper than one would wish; nothing of what
    is told of `corners`, and of a place once.

    Source: materials/practice (edge_angle_least_deg).
    """
    wished_deg = shelf.value("practice", "edge_angle_least_deg").value
    angles = [check for check in checks if check.id in ("seam_angle", "side_seam_angle") and check.ok]
    told = [corner.at_mm for corner in corners]
    sharpest = {check.at_mm: check for check in sorted(angles, key=lambda c: -c.measured)}
    return tuple(
        Finding(
            id="edge_acute",
            severity="note",
            where=check.where,
            says=f"The plaster edge along the seam is {check.measured:.0f} degrees there; "
            f"{wished_deg:g} or more wears better.",
            remedy="Keep metal and knocks away from that edge of the plaster; nothing else has to be done.",
            amount=Amount(check.measured, "deg"),
            at_mm=check.at_mm,
        )
        for check in angles
        if check.measured < wished_deg and check.at_mm not in told and sharpest[check.at_mm] is check
    )


def corner_findings(assembly: Assembly) -> tuple[Finding, ...]:
    """What to say where the seam runs along an inner corner of the object: only where no seam avoids it."""
    corner = seam_in_corner(assembly)
    if corner is None:
        return ()
    return (
        Finding(
            id="edge_acute",
            severity="note",
            where=in_words(corner.at_mm, assembly),
            says=f"The seam runs {say_length(corner.length_mm)} along an inner corner of "
            f"{corner.object_deg:.0f} degrees, where plaster of {corner.plaster_deg:.0f} degrees is left; "
            "every seam along this pull has to cross that corner.",
            remedy="Break this edge of the plaster lightly with a damp sponge once the mold has opened, "
            "soften the corner on the object with clay, or choose another --axis.",
            amount=Amount(corner.plaster_deg, "deg"),
            at_mm=corner.at_mm,
        ),
    )


def _stance_findings(stance: str) -> tuple[Finding, ...]:
    if not stance.startswith("rolls"):
        return ()
    return (
        Finding(
            id="stance_rolls",
            severity="note",
            where="the closed mold",
            says="The closed mold is round and its gate looks sideways, so it rolls.",
            remedy="Put it in a cradle to cast, or ask for --shape boxed.",
        ),
    )
