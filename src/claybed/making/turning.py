"""A turned form from its readings: outside, inside, foot ring, lip, handles and spouts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from claybed.errors import CannotError, InputError
from claybed.geometry.lofting import bodies_count, common_mm3, difference, loft, sum_of
from claybed.geometry.mesh import Floats, Mesh
from claybed.making.profile import breaks, curve, table, thinned
from claybed.making.sections import area_mm2, points_count, ring_mm
from claybed.making.sweeping import swept
from claybed.records.form import Form, Reading, Section

_LIP_STEPS: Final = 16
_BORE_BEYOND: Final = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """A form as a closed mesh, z up from the board, and how well its volume is known.

    `reading_mm3` is the half-width (95 %) that the readings leave, `between_mm3` what the curve between them
    leaves; the `closed` ones are of the outside alone, as when a mouth is closed.
    """

    mesh: Mesh
    outside_mm3: float
    reading_mm3: float
    between_mm3: float
    closed_reading_mm3: float
    closed_between_mm3: float
    tubes_mm3: float

    @property
    def half_width_mm3(self) -> float:
        """Half-width of the 95 % interval of the mesh's volume, mm³."""
        return math.hypot(self.reading_mm3, self.between_mm3)

    @property
    def closed_half_width_mm3(self) -> float:
        """Half-width of the 95 % interval of the outside's volume, mm³."""
        return math.hypot(self.closed_reading_mm3, self.closed_between_mm3)


def turned(form: Form, where: str) -> Turned:
    """Make the mesh of a form and work out how well its volume is known.

    `where` is named in errors. Raises InputError for readings that no object has, CannotError for a handle or
    spout that does not join it.
    """
    checked(form, where)
    form = _below_lip(form, where)
    widest_mm = max(max(r.width_mm, r.depth_mm) for r in form.outside)
    count = points_count(widest_mm)
    mesh = _body(form, count)
    tubes_mm3 = 0.0
    if form.tubes:
        plain_mm3 = mesh.volume_mm3
        mesh = _with_tubes(form, count, where)
        tubes_mm3 = mesh.volume_mm3 - plain_mm3
    read_mm3 = _from_readings(form, hollow=True)
    tube_share = [math.hypot(form.reading_mm / t.width_mm, form.reading_mm / t.thick_mm) for t in form.tubes]
    read_mm3 = math.hypot(read_mm3, max(tube_share, default=0.0) * abs(tubes_mm3))
    return Turned(
        mesh,
        form_volume_mm3(replace(form, inside=())),
        read_mm3,
        _between(form),
        _from_readings(form, hollow=False),
        _between(replace(form, inside=(), foot_inside_mm=0.0)),
        tubes_mm3,
    )


def checked(form: Form, where: str) -> None:
    """Refuse readings that no object has. Raises InputError that names the reading."""
    outside = form.outside
    if len(outside) < 2:
        raise InputError(
            "has one reading; a form takes at least two.", where=where, remedy="Read the foot and the rim."
        )
    if outside[0].height_mm != 0.0:
        raise InputError(
            f"starts {outside[0].height_mm:g} mm above the board, so the foot is unknown.",
            where=where,
            remedy="Add a reading at height 0.",
        )
    _rising(outside, "", where)
    if max(r.width_mm for r in outside) <= 0.0:
        raise InputError("has no reading with a diameter.", where=where, remedy="Read the widest place.")
    if form.inside:
        _rising(form.inside, "inside ", where)
        _fits(form, where)
    if form.foot_deep_mm > 0.0:
        _foot_fits(form, where)
    if not 0.0 <= form.reading_mm < min(max(r.width_mm for r in outside), outside[-1].height_mm):
        raise InputError(
            f"readings that may be {form.reading_mm:g} mm off say nothing of this form.",
            where="--reading",
            remedy="Give how far one reading may be off, such as 0.5mm.",
        )


def _rising(readings: Sequence[Reading], side: str, where: str) -> None:
    for number, reading in enumerate(readings, start=1):
        if min(reading.width_mm, reading.depth_mm, reading.height_mm) < 0.0:
            raise InputError(
                f"{side}reading {number} is negative.",
                where=where,
                remedy="Heights are read up from the board, diameters across.",
            )
    for number in range(1, len(readings)):
        low, high = readings[number - 1], readings[number]
        if high.height_mm < low.height_mm:
            raise InputError(
                f"{side}readings are out of order: number {number + 1} at {high.height_mm:g} mm comes after "
                f"{low.height_mm:g} mm.",
                where=where,
                remedy="List them from the board up.",
            )
        if high.height_mm == low.height_mm and high.width_mm == low.width_mm:
            raise InputError(
                f"{side}reading {number + 1} is there twice.", where=where, remedy="Leave one of them out."
            )
    if readings[-1].height_mm <= readings[0].height_mm:
        raise InputError(
            f"{side}readings have no height.", where=where, remedy="Read them from the board up."
        )


def _fits(form: Form, where: str) -> None:
    outside, inside = _drawn(form.outside), _drawn(form.inside)
    top_mm = form.outside[-1].height_mm
    if form.inside[-1].height_mm != top_mm:
        raise InputError(
            f"the inside ends at {form.inside[-1].height_mm:g} mm and the outside at {top_mm:g} mm.",
            where=where,
            remedy="Give both a reading at the rim.",
        )
    if not form.inside[0].height_mm > form.foot_deep_mm:
        raise InputError(
            "the inside reaches through the foot.", where=where, remedy="Read the floor's height again."
        )
    for axis, name in ((1, "width"), (2, "depth")):
        wall = np.interp(inside[:, 0], outside[:, 0], outside[:, axis]) - inside[:, axis]
        worst = int(wall.argmin())
        if wall[worst] <= 0.0:
            raise InputError(
                f"the inside is as wide as the outside at {inside[worst, 0]:.0f} mm ({name}).",
                where=where,
                remedy="Read both again there.",
            )


def _foot_fits(form: Form, where: str) -> None:
    foot = form.outside[0]
    if not 0.0 < form.foot_inside_mm < min(foot.width_mm, foot.depth_mm):
        raise InputError(
            f"the hollow of the foot is {form.foot_inside_mm:g} mm across, the foot itself "
            f"{foot.width_mm:g} mm.",
            where=where,
            remedy="Give the inner diameter of the foot ring.",
        )
    if form.foot_deep_mm >= form.outside[-1].height_mm:
        raise InputError("the foot is deeper than the form is high.", where=where, remedy="Read it again.")


def _drawn(readings: Sequence[Reading]) -> Floats:
    return curve(table(readings), breaks(readings))


def _body(form: Form, count: int) -> Mesh:
    """Outside from the foot up, over the lip, down the inside to its floor; all one loft."""
    rings: list[Floats] = []
    start_mm = 0.0
    if form.foot_deep_mm > 0.0:
        start_mm = form.foot_deep_mm
        hollow = _scaled(form.outside[0], form.foot_inside_mm)
        rings += [ring_mm(form.section, *hollow, z, count) for z in (form.foot_deep_mm, 0.0)]
    outside = thinned(_drawn(form.outside))
    rings += [_ring(form.section, row, count) for row in outside]
    end_mm = form.outside[-1].height_mm
    if form.inside:
        inside = thinned(_drawn(form.inside))
        if form.lip == "round":
            rings += _lip(form, outside[-1], inside[-1], count)
        rings += [_ring(form.section, row, count) for row in inside[::-1]]
        end_mm = form.inside[0].height_mm
    return loft(rings, np.array([0.0, 0.0, start_mm]), np.array([0.0, 0.0, end_mm]))


def _below_lip(form: Form, where: str) -> Form:
    """The form up to where the round of its rim begins; the height read is the top of the rim.

    Raises InputError when a reading lies within the round.
    """
    if form.lip == "flat" or not form.inside:
        return replace(form, lip="flat")
    outer, inner = form.outside[-1], form.inside[-1]
    from_mm = outer.height_mm - (outer.width_mm - inner.width_mm) / 4.0
    if from_mm <= max(form.outside[-2].height_mm, form.inside[-2].height_mm):
        raise InputError(
            f"a round lip begins at {from_mm:.1f} mm, below the reading before it.",
            where=where,
            remedy="Leave that reading out, or ask for a flat lip.",
        )
    return replace(
        form,
        outside=(*form.outside[:-1], replace(outer, height_mm=from_mm)),
        inside=(*form.inside[:-1], replace(inner, height_mm=from_mm)),
    )


def _scaled(foot: Reading, width_mm: float) -> tuple[float, float]:
    return width_mm, width_mm * foot.depth_mm / foot.width_mm


def _ring(section: Section, row: Floats, count: int) -> Floats:
    return ring_mm(section, float(row[1]), float(row[2]), float(row[0]), count)


def _lip(form: Form, outer: Floats, inner: Floats, count: int) -> list[Floats]:
    """Half a round over the wall's edge, from where both sides end."""
    turn = np.linspace(0.0, math.pi, _LIP_STEPS + 1)[1:-1]
    middle, reach = (outer + inner) / 2.0, (outer - inner) / 2.0
    rise_mm = float(reach[1]) / 2.0
    rows = middle + np.cos(turn)[:, None] * reach
    rows[:, 0] = outer[0] + rise_mm * np.sin(turn)
    return [_ring(form.section, row, count) for row in rows]


def _with_tubes(form: Form, count: int, where: str) -> Mesh:
    body = _body(form, count)
    hollow = [_cavity(form, count)] if form.inside else []
    added, bores = [body], []
    for tube in form.tubes:
        try:
            arm = swept(tube, width_mm=tube.width_mm, thick_mm=tube.thick_mm)
            if tube.bore_mm > 0.0:
                bores.append(
                    swept(tube, width_mm=tube.bore_mm, thick_mm=tube.bore_mm, beyond_mm=_BORE_BEYOND)
                )
        except ValueError as reason:
            raise InputError(
                f"the {tube.name} cannot be drawn: {reason}.",
                where=where,
                remedy="Give more points along it, or make it thinner.",
            ) from reason
        if hollow:
            arm = difference(arm, hollow)
        if common_mm3(body, arm) <= 0.0:
            raise CannotError(
                f"the {tube.name} does not touch the body.",
                where=where,
                remedy="Let its path begin inside the wall.",
            )
        added.append(arm)
    mesh = difference(sum_of(added), bores) if bores else sum_of(added)
    if bodies_count(mesh) > 1:
        raise CannotError(
            "a handle or spout does not hold on to the body.",
            where=where,
            remedy="Let its path begin and end inside the wall.",
        )
    return mesh


def _cavity(form: Form, count: int) -> Mesh:
    """The inside as a body, carried past the rim so that nothing of it is left there."""
    inside = thinned(_drawn(form.inside))
    above = inside[-1] + np.array([10.0 + inside[-1, 1], 0.0, 0.0])
    rings = [_ring(form.section, row, count) for row in (*inside, above)]
    return loft(rings, np.array([0.0, 0.0, form.inside[0].height_mm]), np.array([0.0, 0.0, float(above[0])]))


def form_volume_mm3(form: Form, *, straight: bool = False) -> float:
    """Volume of a form without its tubes, mm³, from the areas of its level cuts; `straight` joins readings by
    lines.
    """
    volume = _volume_mm3(form.section, table(form.outside), breaks(form.outside), straight)
    if form.inside:
        volume -= _volume_mm3(form.section, table(form.inside), breaks(form.inside), straight)
        if form.lip == "round":
            volume += _lip_mm3(form)
    if form.foot_deep_mm > 0.0:
        across = _scaled(form.outside[0], form.foot_inside_mm)
        area = area_mm2(form.section, np.array(across[0]), np.array(across[1]))
        volume -= float(area) * form.foot_deep_mm
    return volume


def _volume_mm3(section: Section, rows: Floats, corners: Sequence[int], straight: bool) -> float:
    """Simpson over every step of the curve: exact where width and depth run straight."""
    points = curve(rows, range(len(rows)) if straight else corners)
    middle = 0.5 * (points[1:] + points[:-1])
    low, mid, high = (area_mm2(section, p[:, 1], p[:, 2]) for p in (points[:-1], middle, points[1:]))
    return float((np.diff(points[:, 0]) * (low + 4.0 * mid + high)).sum() / 6.0)


def _lip_mm3(form: Form) -> float:
    """Volume of the round over the rim: level rings, summed over its height."""
    outer, inner = table(form.outside)[-1], table(form.inside)[-1]
    middle, reach = (outer + inner) / 2.0, (outer - inner) / 2.0
    turn = (np.arange(256) + 0.5) * (math.pi / 2.0) / 256
    rows = [middle + np.sign(side) * np.cos(turn)[:, None] * reach for side in (1.0, -1.0)]
    area = area_mm2(form.section, rows[0][:, 1], rows[0][:, 2])
    area = area - area_mm2(form.section, rows[1][:, 1], rows[1][:, 2])
    rise_mm = float(reach[1]) / 2.0
    return float((area * rise_mm * np.cos(turn)).sum() * (math.pi / 2.0) / 256)


def _from_readings(form: Form, *, hollow: bool) -> float:
    """Half-width (95 %) that independent errors of all readings leave, mm³: first order, root of squares.

    A width that stands for the depth as well is one reading, and so is the height of a ledge.
    """
    plain = form if hollow else replace(form, inside=(), foot_inside_mm=0.0, foot_deep_mm=0.0)
    if plain.reading_mm == 0.0:
        return 0.0
    step_mm = min(plain.reading_mm, 0.05)
    total = 0.0
    for side in ("outside", "inside"):
        readings: tuple[Reading, ...] = getattr(plain, side)
        for k in range(len(readings)):
            for shifted in _moves(readings, k, step_mm, is_round=plain.section.kind == "round"):
                slope = form_volume_mm3(_replaced(plain, side, shifted)) - form_volume_mm3(plain)
                total += (slope / step_mm * plain.reading_mm) ** 2
    if plain.foot_deep_mm > 0.0:
        for more in (
            replace(plain, foot_inside_mm=plain.foot_inside_mm + step_mm),
            replace(plain, foot_deep_mm=plain.foot_deep_mm + step_mm),
        ):
            slope = form_volume_mm3(more) - form_volume_mm3(plain)
            total += (slope / step_mm * plain.reading_mm) ** 2
    return math.sqrt(total)


def _moves(
    readings: tuple[Reading, ...], k: int, step_mm: float, *, is_round: bool
) -> list[tuple[Reading, ...]]:
    """The readings with one measure of reading `k` larger by a step, once for each that it brings.

    Readings at one height are a ledge, which stays one: the first of them brings the height of all.
    """
    here = readings[k]
    ledge = {n for n, other in enumerate(readings) if other.height_mm == here.height_mm}
    moves = []
    on_the_board = 0 in ledge and here.height_mm == 0.0  # where heights begin
    if k == min(ledge) and not on_the_board:
        moves.append(
            tuple(
                replace(one, height_mm=one.height_mm + step_mm) if n in ledge else one
                for n, one in enumerate(readings)
            )
        )
    wider = replace(here, width_mm=here.width_mm + step_mm)
    deeper = replace(here, depth_mm=here.depth_mm + step_mm)
    changed = [replace(wider, depth_mm=deeper.depth_mm)] if is_round else [wider, deeper]
    return moves + [(*readings[:k], one, *readings[k + 1 :]) for one in changed]


def _replaced(form: Form, side: str, readings: tuple[Reading, ...]) -> Form:
    return replace(form, outside=readings) if side == "outside" else replace(form, inside=readings)


def _between(form: Form) -> float:
    """What the curve between readings leaves, mm³: how far it is from straight lines between them."""
    return abs(form_volume_mm3(form) - form_volume_mm3(form, straight=True))
