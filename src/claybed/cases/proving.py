"""What every case is tested for: closed parts that fit the printer, and a piece that leaves it and closes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.cases.bearing import Joint, Wall
from claybed.cases.bedding import EDGE_MM
from claybed.cases.finger_slots import former, formers, slot_wall_mm
from claybed.cases.loose_cores import print_cores
from claybed.cases.loose_keys import print_plugs, with_sockets
from claybed.cases.standing import ROUNDED_MM, held_under_back_mm, in_block, undercut_mm
from claybed.cases.vessel import in_case
from claybed.geometry.clearance import Lock
from claybed.geometry.forming import closed, hull, on_lattice, volume_mm3
from claybed.geometry.halfedges import match_sides
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import lock_toward
from claybed.records.cases import CASE_FRAME, UP, Case, CasePart, CementCase, Poured
from claybed.records.finding import Check
from claybed.units import say_length

# Corners that a cut adds to a face lie off it by half a step of the lattice.
CUT_MM = ROUNDED_MM
# By how much more than its own size a loose key or core may fill a piece.
FILLED_MM = 0.03
ASIDE_STEPS = 2.0


def case_checks(case: Case, loose: Sequence[CasePart] | None = None) -> list[Check]:
    """The checks of one case; ids end with the piece's letter. `loose` what is printed beside its parts: its
    own keys and blocks, unless others go with it.
    """
    letter, poured = case.poured.piece, case.poured
    if loose is None:
        loose = [
            *print_plugs(poured),
            *print_cores(poured),
            *formers(poured, (case.cuts_x_mm, case.cuts_y_mm)),
        ]
    placed = in_case(poured, case.shape.floor_mm)
    lock = lock_toward(placed, [part.solid for part in case.parts], poured.pull, slack_mm=CUT_MM)
    under_mm = undercut_mm(lattice_mm(poured.solid.points), poured.solid.faces, poured.pull)
    parts_mm3 = sum(part.solid.volume_mm3 for part in case.parts)
    whole_mm3 = case.whole.volume_mm3 + poured.solid.volume_mm3
    off_mm3 = abs(whole_mm3 - case.body_mm3)
    return [
        *part_checks([*case.parts, *loose], case.shape.printer_mm, letter),
        _check(
            f"case_no_undercut_{letter}",
            under_mm,
            0.0 if _exact(poured) else ROUNDED_MM,
            "mm",
            f"piece {letter}",
            "widest place of the piece that shows along the pull anywhere but at its back"
            + ("" if _exact(poured) else "; what was cut, scaled or filled is rounded to the lattice"),
            "Pour this piece as the plan says.",
        ),
        _check(
            f"case_release_{letter}",
            lock.lateral_mm if lock.pairs else 0.0,
            CUT_MM,
            "mm",
            f"piece {letter} against all parts of its case{_below_back(lock, poured)}",
            "every pair of faces that could meet along the pull, in integers; "
            f"up to {CUT_MM:g} mm into one another is rounding of cut faces",
            "Print the case in one part with a larger --printer.",
        ),
        _check(
            f"case_filled_{letter}",
            off_mm3,
            case.whole.mesh(CASE_FRAME).area_mm2 * 0.5 / XY_PER_MM,
            "mm3",
            f"case of piece {letter}",
            "volume of plastic and plaster against the body that the case was cut from; "
            "half a step of the lattice over its surface is rounding",
            "Print with another --wall.",
        ),
        _check(
            f"case_parts_whole_{letter}",
            abs(parts_mm3 + case.joints_mm3 - case.whole.volume_mm3),
            (sum(part.solid.mesh(CASE_FRAME).area_mm2 for part in case.parts)) * 0.5 / XY_PER_MM,
            "mm3",
            f"case of piece {letter}",
            "volume of all parts, with what grooves and pegs take, against the whole case; "
            "half a step of the lattice over their surface is rounding",
            "Move the cut with another --printer size.",
        ),
    ]


def joint_checks(
    case: Case, joints: Sequence[Joint], bears_newtons: float, gap_most_mm: float
) -> list[Check]:
    """The checks that bolts hold and joints stay closed while the plaster is liquid; none without joints.

    `bears_newtons` what a print bears under the washer of a bolt, `gap_most_mm` a joint may open.
    """
    if not joints:
        return []
    letter = case.poured.piece
    hard = max(joints, key=lambda joint: joint.newtons)
    wide = max(joints, key=lambda joint: joint.gap_mm)
    return [
        _check(
            f"case_bolts_hold_{letter}",
            hard.newtons,
            bears_newtons,
            "N",
            f"{hard.where}, case of piece {letter}",
            "pull in a bolt from the liquid that stands over the joint, against what a print bears under its "
            "washer",
            "Lay wide washers or a strip of metal under the nuts, or print in fewer parts.",
        ),
        _check(
            f"case_joints_tight_{letter}",
            wide.gap_mm,
            gap_most_mm,
            "mm",
            f"{wide.where}, case of piece {letter}",
            "how far both flanges bow apart between two bolts, as beams, against what jelly and wax still "
            "close",
            "Clamp the flanges between the bolts, or print in fewer parts.",
        ),
    ]


def wall_check(case: Case, wall: Wall, bow_most_mm: float) -> Check:
    """The check that the walls stand against the liquid: they bow no more than `bow_most_mm`."""
    return _check(
        f"case_wall_stiff_{case.poured.piece}",
        wall.bow_mm,
        bow_most_mm,
        "mm",
        f"wall of {case.shape.wall_mm:g} mm, case of piece {case.poured.piece}",
        f"bow under {wall.head_mm:.0f} mm of liquid plaster, {wall.formula}",
        "Print a thicker --wall, or plan with less height.",
    )


def slot_checks(poured: Poured, least_mm: float) -> list[Check]:
    """The checks of finger slots: their blocks leave the plaster, take what the piece lacks, and leave
    `least_mm` of plaster beside them; none without slots.
    """
    if not poured.slots:
        return []
    letter = poured.piece
    piece = with_sockets(poured)
    blocks = [on_lattice(former(poured, slot)) for slot in poured.slots]
    locks = [lock_toward(block, [piece], UP, slack_mm=CUT_MM) for block in blocks]
    left_mm = slot_wall_mm(poured)
    taken_mm3 = sum(block.volume_mm3 for block in blocks)
    off_mm3 = abs(with_sockets(replace(poured, slots=())).volume_mm3 - piece.volume_mm3 - taken_mm3)
    return [
        Check(
            id=f"case_slot_wall_{letter}",
            ok=left_mm >= least_mm,
            measured=left_mm,
            limit=least_mm,
            unit="mm",
            sense="least",
            where=f"finger slots of piece {letter}",
            how="nearest distance from the slot's faces to the cavity, the parting side and the sockets",
            remedy="" if left_mm >= least_mm else "Ask for --slots none, or plan with a larger --wall.",
        ),
        _check(
            f"case_slot_release_{letter}",
            max(lock.lateral_mm if lock.pairs else 0.0 for lock in locks),
            CUT_MM,
            "mm",
            f"finger slots of piece {letter}",
            "every pair of faces of block and piece that could meet as the block is drawn up, in integers; "
            f"up to {CUT_MM:g} mm into one another is rounding of cut faces",
            "Ask for --slots none.",
        ),
        _check(
            f"case_slot_filled_{letter}",
            off_mm3,
            sum(block.mesh(CASE_FRAME).area_mm2 for block in blocks) / XY_PER_MM,
            "mm3",
            f"finger slots of piece {letter}",
            "what the piece lacks against the volume of the blocks; a step of the lattice over their surface "
            "is rounding",
            "Ask for --slots none.",
        ),
    ]


def loose_checks(poured: Poured) -> list[Check]:
    """The checks of loose keys and cores: they are all that the piece lacks once they are out, and cores
    leave it the way they are drawn; none without either.
    """
    if poured.opened is None:
        return []
    letter = poured.piece
    keys = [hull(plug.points_mm) for plug in poured.plugs]
    cores = [closed(lattice_mm(core.solid.points), core.solid.faces) for core in poured.cores]
    loose_mm3 = sum(volume_mm3(one) for one in (*keys, *cores))
    off_mm3 = abs(poured.solid.volume_mm3 - poured.opened.volume_mm3 - loose_mm3)
    checks = [
        _check(
            f"case_loose_filled_{letter}",
            off_mm3,
            sum(float(one.surface_area()) for one in (*keys, *cores)) * FILLED_MM,
            "mm3",
            f"loose keys and cores of piece {letter}",
            "what the piece lacks without them against their volume; they fill it a hair larger, so that no "
            "film is left",
            "Pour this piece as the plan says.",
        )
    ]
    if poured.cores:
        locks = [
            lock_toward(core.solid, [poured.opened], core.pull, slack_mm=CUT_MM) for core in poured.cores
        ]
        checks.append(
            _check(
                f"case_cores_leave_{letter}",
                max(lock.lateral_mm if lock.pairs else 0.0 for lock in locks),
                CUT_MM,
                "mm",
                f"cores of piece {letter}",
                "every pair of faces of core and piece that could meet as it is drawn out, in integers; "
                f"up to {CUT_MM:g} mm into one another is rounding of cut faces",
                "Pour this piece as the plan says.",
            )
        )
    return checks


def part_checks(parts: Sequence[CasePart], printer_mm: Sequence[float], letter: str) -> list[Check]:
    """The checks of parts to print: closed, one body each, on the bed, within it."""
    faults = [_faults(part.solid) for part in parts]
    loose = [_bodies(part.solid) for part in parts]
    worst = int(np.argmax(faults))
    room = sorted(v - 2.0 * EDGE_MM for v in printer_mm[:2])
    over = [
        max(
            *(have - may for have, may in zip(sorted(part.size_mm[:2]), room, strict=True)),
            part.size_mm[2] - printer_mm[2],
        )
        for part in parts
    ]
    flat = [int(part.solid.points[:, 2].min()) - round(part.bed_mm * Z_PER_MM) for part in parts]
    biggest = parts[int(np.argmax(over))]
    return [
        _check(
            f"case_closed_{letter}",
            float(sum(faults)),
            0.0,
            "edges",
            f"part {parts[worst].id}" if sum(faults) else f"case of piece {letter}",
            "edges of all parts that do not join exactly two faces",
            "Print with another --wall, or without splitting.",
        ),
        _check(
            f"case_one_body_{letter}",
            float(max(loose)),
            1.0,
            "bodies",
            f"part {parts[int(np.argmax(loose))].id}",
            "pieces of plastic joined across edges, in the part with most",
            "Move the cut with another --printer size.",
        ),
        _check(
            f"case_fits_printer_{letter}",
            max(over),
            0.0,
            "mm",
            f"part {biggest.id}",
            f"box of each part, turned if need be, against the bed less {EDGE_MM:g} mm at each edge",
            "Name the printer you have with --printer.",
        ),
        _check(
            f"case_lies_flat_{letter}",
            float(max(abs(v) for v in flat)),
            ASIDE_STEPS,
            "steps",
            f"case of piece {letter}",
            f"lowest corner of each part against the bed, in steps of 1/{Z_PER_MM} mm; corners that would "
            "fall on one another stand a step aside",
            "Print with another --wall.",
        ),
    ]


def cement_checks(case: CementCase) -> list[Check]:
    """The checks of a case of cement: closed, and the working mold leaves it."""
    letter = case.poured.piece
    faults = _faults(case.solid) + _bodies(case.solid) - 1
    placed = in_case(case.poured, case.wall_mm)
    lock = lock_toward(placed, [case.solid], case.poured.pull, slack_mm=CUT_MM)
    return [
        _check(
            f"cement_case_closed_{letter}",
            float(faults),
            0.0,
            "edges",
            f"case of piece {letter}",
            "edges that do not join exactly two faces, and bodies beyond one",
            "Ask for another --draft.",
        ),
        _check(
            f"cement_case_release_{letter}",
            lock.lateral_mm if lock.pairs else 0.0,
            CUT_MM,
            "mm",
            f"piece {letter} against its case{_below_back(lock, case.poured)}",
            "every pair of faces that could meet along the pull, in integers; "
            f"up to {CUT_MM:g} mm into one another is rounding of cut faces",
            # The outside leans as it is; no draft of it frees what holds inside.
            "Pour this piece as the plan says.",
        ),
    ]


def closing_checks(poured: Sequence[Poured], pulls: Mapping[str, Sequence[float]]) -> list[Check]:
    """The checks that pieces, each from its own case, still close: none is in the way of one that opens
    earlier. `poured` in the order of opening.
    """
    solids = [in_block(one) for one in poured]
    exact = len(poured) == 2 and all(_exact(one) and not one.slots for one in poured)
    slack_mm = 0.0 if exact else CUT_MM
    checks = []
    for k, one in enumerate(poured[:-1]):
        lock = lock_toward(solids[k], solids[k + 1 :], pulls[one.piece], slack_mm=slack_mm)
        checks.append(_closes(one.piece, [two.piece for two in poured[k + 1 :]], lock, slack_mm))
    return checks


def _closes(piece: str, others: Sequence[str], lock: Lock, slack_mm: float) -> Check:
    return _check(
        f"case_pieces_close_{piece}",
        lock.lateral_mm if lock.pairs else 0.0,
        slack_mm,
        "mm",
        f"piece {piece} on piece {' and piece '.join(others)}",
        "every pair of faces of pieces from their cases that could meet along the pull, in integers",
        "Give --clearance 0.2mm or more.",
    )


def _below_back(lock: Lock, poured: Poured) -> str:
    """Where a piece is held by its own shape, as words; none where it leaves or only stands amiss."""
    shape = lattice_mm(poured.solid.points), poured.solid.faces, poured.pull
    if not lock.pairs or lock.lateral_mm <= CUT_MM or undercut_mm(*shape) <= CUT_MM:
        return ""
    return f", {say_length(held_under_back_mm(*shape))} under its back"


def _check(name: str, measured: float, limit: float, unit: str, where: str, how: str, remedy: str) -> Check:
    ok = measured <= limit
    return Check(
        id=name,
        ok=ok,
        measured=measured,
        limit=limit,
        unit=unit,
        sense="most",
        where=where,
        how=how,
        remedy="" if ok else remedy,
    )


def _exact(poured: Poured) -> bool:
    """Whether a piece came into its case without rounding: at its size, its pull upright in
    the block, nothing laid on it or filled, and no wall along its pull where another piece meets it."""
    plain = poured.scale == 1.0 and not poured.cut and bool(abs(poured.rotation[2, 2]) == 1.0)
    edge = poured.low_outline_mm - np.roll(poured.low_outline_mm, 1, axis=0)
    leans = ((poured.top_outline_mm - poured.low_outline_mm) * np.c_[edge[:, 1], -edge[:, 0]]).sum(axis=1)
    return plain and bool((leans > 0.0).all())


def _faults(solid: LatticeSolid) -> int:
    sides = match_sides(solid.faces, len(solid.points))
    return len(np.union1d(sides.lone, sides.twice)) if len(solid.faces) else 1


def _bodies(solid: LatticeSolid) -> int:
    sides = match_sides(solid.faces, len(solid.points))
    mated = np.flatnonzero(sides.mate >= 0)
    joined = mated // 3, sides.mate[mated] // 3
    graph = coo_matrix((np.ones(len(mated), np.int8), joined), shape=(len(solid.faces),) * 2)
    return int(connected_components(graph, directed=False)[0])
