"""One way of a survey cut to a closed mold: gate, block, sheets, parting surface, keys, pieces, in turn."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from claybed.errors import CannotError
from claybed.flow.cutting import RoomError, cut_in_two, lies_at
from claybed.flow.flat_seam import snapped
from claybed.flow.keeping_out import KEEP_OUT_LEAST_MM, all_barred, seam_inside_mm
from claybed.flow.key_room import Made, key_rooms_mm, keyed_pieces, told_apart, wider_still
from claybed.flow.made_fill import (
    UncutError,
    as_made,
    lies_together,
    most_fill_ml,
    whole,
)
from claybed.flow.side_seams import main_seam_inside_mm, seam_checks
from claybed.gate.choosing import choose_gate
from claybed.gate.joining import join_gate
from claybed.gate.searching import searched, through_other
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, rotation_about
from claybed.geometry.mesh import Floats
from claybed.geometry.slanting import nearest_whole_pull
from claybed.mold.block import lay_out
from claybed.mold.crumbs import CrumbledError
from claybed.mold.interfaces import ends_of, short_of, shut_in
from claybed.mold.keys import places_in_plan
from claybed.mold.leaning import drawn_aslant
from claybed.mold.siding import with_sides
from claybed.proof.leaving import sides_held_mm, sides_leave
from claybed.proof.plaster import wall
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.gated import GatePlan
from claybed.records.measured import MeasuredObject
from claybed.records.parted import Layout
from claybed.records.surveyed import MoldOption, Survey
from claybed.records.tried import Tried

Progress = Callable[[str, float], None]
# Small moves tried in turn, plan offset (mm) and tilt of the pull (degrees): rounding that leaves an edge
# touching itself at one place does not at another, and a flat face seen almost edge-on is clear of itself
# once it is tilted a hair.
NUDGES = (
    (0.0, 0.0, 0.0, 0.0),
    (0.0511, -0.3307, 0.02, 0.013),
    (0.1307, 0.2113, 0.0, 0.0),
    (0.2207, 0.1309, -0.031, 0.041),
    (-0.1103, 0.3011, 0.057, -0.029),
    (-0.2903, 0.0917, 0.0, 0.0),
)
# Of more side pieces than a few, each try costs more and is less likely to do: so many moves are tried. As
# many are tried of a way whose side pieces are held, or whose solids have slits between them.
FEW_SIDES = 2
FEW_TRIES = 3
# What holds a side piece by more than the longest of these moves would hold it after each of them.
STUCK_MM = 0.5
# What these moves take from the wall at most.
MOVED_MM = 0.4
# Several lattice steps, so that everything rounds anew; a wall is asked for in hundredths.
LEAST_NUDGE_MM = 0.009
Vector = tuple[float, float, float]
Nudge = tuple[float, float, float, float]
Ends = list[tuple[Floats, float]]
Weak = Callable[[Assembly], Sequence[Check]]


@dataclass(frozen=True, slots=True)
class Molded:
    """The mold and how it came about: the option taken, which gate it has, the length of the main seam that
    lies inside forbidden regions in the end (mm), the survey that told of it; `tried` the ways that were cut,
    in turn: the last is this one, or else the first that has a check, where none holds.
    """

    option: MoldOption
    assembly: Assembly
    gate: GatePlan
    keep_out_mm: float
    survey: Survey
    tried: tuple[Tried, ...] = ()


def gated(
    obj: MeasuredObject,
    option: MoldOption,
    survey: Survey,
    brief: Brief,
    progress: Progress,
    weak: Weak,
    *,
    over: bool,
) -> Molded:
    """The mold of one way of a survey, with the gate where it keeps the least air and slip; with the gate at
    the next best place, and at last at its usual one, where the mold cannot be cut so, or does not hold.

    With `over` its side pieces part over the object. Raises CannotError where no mold comes of it, and
    SideFillError or UncutError where its side pieces are why.
    """

    def cut(gate: GatePlan) -> Molded:
        return _one(obj, option, gate, brief, progress, over=over, weak=weak, survey=survey)

    gate = searched(choose_gate(obj, option, brief), obj, option, brief)
    made = None
    while gate.in_place_of is not None:
        # What side pieces leave locked depends on where the gate is: each place is cut.
        with contextlib.suppress(CannotError):
            again = cut(gate)
            if not _faulty(again, brief, weak):
                return again
            made = made or again
        gate = gate.in_place_of
    if made is None:
        return cut(gate)
    with contextlib.suppress(CannotError):
        again = cut(gate)
        if not _faulty(again, brief, weak):
            return again
    return made


def _faulty(molded: Molded, brief: Brief, weak: Weak) -> bool:
    """Whether a mold is passed over for what its seam or its plaster is like."""
    if molded.keep_out_mm > KEEP_OUT_LEAST_MM or (brief.flat_seam and not molded.assembly.seam_flat):
        return True
    checks = (*weak(molded.assembly), *seam_checks(molded.assembly, brief.keep_out))
    return any(not check.ok for check in checks)


def _one(
    obj: MeasuredObject,
    option: MoldOption,
    gate_plan: GatePlan,
    brief: Brief,
    progress: Progress,
    *,
    over: bool,
    weak: Weak,
    survey: Survey,
) -> Molded:
    pieces = 1 if option.kind == "one_piece" else 2
    if through_other(gate_plan, option):
        option = option.turned_over()
    if option.sides and brief.shape == "auto":
        brief = replace(brief, shape="boxed")
    most_ml = most_fill_ml(obj, option, brief, survey.chosen.fill_ml)
    based = option.base_mm is not None
    lay = partial(lay_out, obj.mesh, option.pull, gate_plan, pieces=pieces, sides=option.sides)
    cut = partial(
        _clean_cut,
        obj,
        gate_plan=gate_plan,
        sides=option.sides,
        progress=progress,
        over=over,
        based=based,
        seated=option.seat_mm is not None,
        most_ml=most_ml,
        ends={},
    )
    wants_keys = brief.keys and pieces == 2 and brief.wall_mm is None
    made: Made | None = None
    enough: Made | None = None

    def attempt(room_mm: float, keys_wanted: bool) -> Made:
        layout = lay(brief=brief, key_room_mm=room_mm)
        plane_mm = option.plane_mm if option.seat_mm is None else option.seat_mm
        if plane_mm is not None:
            layout = replace(layout, plane_mm=plane_mm + float(layout.shift_mm[2]))
        return layout, *cut(layout, brief=brief, keys_wanted=keys_wanted and not based)

    for room_mm in (rooms_mm := key_rooms_mm()):
        try:
            made = attempt(room_mm, wants_keys and room_mm < rooms_mm[-1])
        except RoomError:
            continue
        except CannotError:
            # A wider block rounds otherwise; what was made without room for these keys stands.
            if made is None:
                raise
            made = enough or made
            break
        # Further pieces bring keys of their own; it is the two main ones that may want room, all that stand
        # on a single one, and a side piece whose seam is led round a place. It does not change what locks.
        bumps = {key.bump_on for key in made[1].keys}
        keyed = bumps >= keyed_pieces(made[1], brief)
        if not wants_keys or made[3] > most_ml or (keyed and told_apart(made[1])):
            break
        if "A" in bumps:
            enough = enough or made
    else:
        made = wider_still(enough or made, attempt, brief, most_ml)
    if made is None:
        raise ArithmeticError("no block was laid out")
    layout, assembly, kept_out_mm, left_ml = made
    if option.sides and left_ml <= most_ml and not wall(assembly).ok:
        # The object was moved by a hair towards a side that had no room to spare.
        more = replace(brief, wall_mm=layout.wall_mm + MOVED_MM)
        wider = lay(brief=more)
        wider = replace(wider, plane_mm=layout.plane_mm)
        again, kept_out_mm, left_ml = cut(wider, brief=more)
        assembly = replace(again, wall_mm=assembly.wall_mm, wall_reason=assembly.wall_reason)
    progress("mold", 1.0)
    if option.leans is not None:
        assembly = drawn_aslant(assembly, option.leans, option.draft_deg)
    if option.sides:
        # More fill is proposed only where the mold that was cut would do with it.
        leave = left_ml <= most_ml or sides_leave(assembly)
        holds = leave and (left_ml <= most_ml or (whole(assembly) and not weak(assembly)))
        option = as_made(obj, option, assembly, left_ml, most_ml, brief, leave=leave, holds=holds)
    return Molded(option, assembly, gate_plan, kept_out_mm, survey)


def _clean_cut(
    obj: MeasuredObject,
    layout: Layout,
    *,
    gate_plan: GatePlan,
    sides: tuple[Vector, ...],
    brief: Brief,
    progress: Progress,
    over: bool,
    based: bool,
    seated: bool,
    most_ml: float,
    ends: dict[Nudge, Ends],
    keys_wanted: bool = False,
) -> tuple[Assembly, float, float]:
    """Cut the block, moving the object by a hair when rounding leaves a slit or an edge that touches itself,
    or holds a side piece.

    `ends` keeps what side pieces take of the plan, move by move: it is the same in a wider block. Raises
    RoomError when keys are wanted and fit nowhere.
    """
    known = ends.get(NUDGES[0])
    if keys_wanted and known and _too_narrow(obj, layout, known):
        raise RoomError
    heights_mm = obj.mesh.vertices_mm @ layout.rotation[2] + layout.shift_mm[2]
    top_mm = float(np.ceil(heights_mm.max() + layout.wall_mm))
    top_units = round(top_mm * Z_PER_MM) if gate_plan.along_pull and layout.pieces == 2 else None
    model = join_gate(obj.mesh, layout, gate_plan, top_mm=top_mm)
    fault = ""
    tried: list[tuple[bool, tuple[Assembly, float, float]]] = []
    for nudge in NUDGES if len(sides) <= FEW_SIDES else NUDGES[:FEW_TRIES]:
        # Side pieces need the moves in full, and have their block made wider for them.
        dx, dy, tilt_x, tilt_y = nudge if sides or not any(nudge) else _within_room(nudge, obj, layout)
        if (tilt_x or tilt_y) and (gate_plan.along_pull or seated):
            continue
        progress("mold", 0.1)
        hair = rotation_about((tilt_x, tilt_y, 0.0))
        shift = np.array([dx, dy, 0.0])
        moved = replace(layout, rotation=hair @ layout.rotation, shift_mm=hair @ layout.shift_mm + shift)
        lat = snapped(model.mesh, hair, shift, layout.plane_mm)
        try:
            pulls = tuple(nearest_whole_pull(layout.rotation @ np.array(side)) for side in sides)
            barred = all_barred(moved, brief.keep_out)
            keyed = moved
            if pulls:
                if nudge not in ends:
                    ends[nudge] = ends_of(lat, pulls, barred=barred, over=over)
                    if keys_wanted and _too_narrow(obj, moved, ends[nudge]):
                        raise RoomError
                keyed = short_of(moved, ends[nudge])
            assembly, parting = cut_in_two(
                lat,
                moved,
                keyed,
                model,
                gate_plan,
                replace(brief, keys=False) if based else brief,
                top_units,
                shift,
                progress,
                keys_wanted and not (pulls and shut_in(moved, keyed)),
                seated=seated,
                based=based,
            )
            if seated and not (parting.flat and lies_at(parting, moved)):
                raise ArithmeticError("the seam round the flat face does not lie in it")
            left_ml = 0.0
            if pulls:
                progress("mold", 0.85)
                cut = partial(with_sides, keys_asked=brief.keys, barred=barred, most_ml=most_ml)
                assembly, left_ml = cut(assembly, lat, moved, pulls, over=over, based=based)
        except CrumbledError as reason:
            fault = str(reason)
            break
        except ArithmeticError as reason:
            fault = str(reason)
            continue
        barred_mm = (
            main_seam_inside_mm(assembly, brief.keep_out)
            if pulls
            else seam_inside_mm(parting, moved, brief.keep_out)
        )
        made = assembly, barred_mm, left_ml
        if not pulls or (left_ml > most_ml and not tried):
            return made
        # What leaves too much to fill after a move does not take the place of what was cut before it.
        enough = left_ml <= most_ml
        leaves = enough and sides_leave(assembly)
        if leaves and lies_together(assembly, obj.mesh):
            return made
        if enough and not leaves and (stuck_mm := sides_held_mm(assembly)) > STUCK_MM:
            fault = f"a side piece would be held by {stuck_mm:.1f} mm"
            tried = [one for one in tried if one[0]]
            break
        tried.append((leaves, made))
        if len(tried) == FEW_TRIES:
            break
    if tried:
        return max(tried, key=lambda one: one[0])[1]
    raise (UncutError if sides else CannotError)(
        f"the mold could not be cut cleanly ({fault}).",
        where=obj.name,
        remedy="Simplify the file or choose another --axis.",
    )


def _too_narrow(obj: MeasuredObject, layout: Layout, ends: Ends) -> bool:
    """Whether keys of the main pieces find no place beside side pieces, but may in a wider block."""
    left = short_of(layout, ends)
    return not shut_in(layout, left) and not places_in_plan(obj.mesh, left)


def _within_room(nudge: Nudge, obj: MeasuredObject, layout: Layout) -> Nudge:
    """A move made smaller where the block has little plaster to spare beyond the wall asked for; the block
    stays where it is.
    """
    x, y, z = (obj.mesh.vertices_mm @ layout.rotation.T + layout.shift_mm).T
    corners = layout.footprint / XY_PER_MM
    room_mm = math.inf
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        inwards = along[0] * (y - a[1]) - along[1] * (x - a[0])
        room_mm = min(room_mm, float(inwards.min()) - layout.wall_mm)
    dx, dy, tilt_x, tilt_y = nudge
    move_mm = math.hypot(dx, dy) + math.radians(math.hypot(tilt_x, tilt_y)) * float(np.abs(z).max())
    share = min(1.0, max(room_mm, LEAST_NUDGE_MM) / move_mm)
    return dx * share, dy * share, tilt_x * share, tilt_y * share
