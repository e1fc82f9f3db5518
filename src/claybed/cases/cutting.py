"""A case cut into parts that fit the printer: tongue and groove at every cut, pegs for what stands free."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from claybed.cases.bedding import EDGE_MM, Bedded
from claybed.cases.crowns import peg_holes, stands_free
from claybed.cases.flanges import INTO_MM, Body, ridge, turned
from claybed.cases.sizes import size_mm
from claybed.geometry.carving import Solid
from claybed.geometry.forming import (
    bodies,
    bounds_mm,
    box,
    halved,
    hull,
    on_lattice,
    reach_mm,
    united,
    unturned,
    volume_mm3,
)
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.records.cases import CasePart, Poured, Shape

TONGUE_OUT_MM = size_mm("tongue_out")
TONGUE_ROOT_MM = size_mm("tongue_root")
TONGUE_TIP_MM = size_mm("tongue_tip")


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A case in parts: the `parts`, ids of the `crowns` among them, how many `pegs` join those, and the
    `joints_mm3` that grooves and peg holes take away beyond what tongues add.
    """

    parts: tuple[CasePart, ...]
    crowns: tuple[str, ...]
    pegs: int
    joints_mm3: float


def cut_parts(
    solid: Solid, body: Body, poured: Poured, shape: Shape, bedded: Bedded, placed: LatticeSolid
) -> Cut:
    """A case `solid` cut at its planes, `placed` the plaster in it; parts in order upwards, then in plan."""
    layers, joints_mm3 = _layers(solid, body, shape, bedded)
    pieces: list[tuple[float, Solid]] = []
    free: list[bool] = []
    for bed_mm, layer in layers:
        # A level cut leaves what rises in the middle of a case without wall beside it: no bolt reaches it,
        # so that it stays whole where it can.
        for one in bodies(layer) if bedded.levels_mm else [layer]:
            crown = bed_mm > 0.0 and stands_free(one, body.ring(bed_mm), bed_mm, shape.wall_mm)
            if crown and _fits(one, shape):
                pieces.append((bed_mm, one))
                free.append(True)
                continue
            split, lost_mm3 = _across(one, body, poured, shape, bedded)
            joints_mm3 += lost_mm3
            loose = [two for part in split for two in (bodies(part) if bedded.levels_mm else [part])]
            pieces += [(bed_mm, two) for two in loose]
            free += [crown] * len(loose)
    holes: list[Solid] = []
    for (bed_mm, one), crown in zip(pieces, free, strict=True):
        if crown:
            below = [two for other_mm, two in pieces if other_mm < bed_mm]
            holes += peg_holes(one, below, bed_mm, shape.clearance_mm)
    drill = united(holes) if holes else None
    order = sorted(
        range(len(pieces)),
        key=lambda k: (pieces[k][0], *np.round(bounds_mm(pieces[k][1]).mean(axis=0), 1)),
    )
    made, crowns = [], []
    for number, k in enumerate(order, start=1):
        bed_mm, one = pieces[k]
        drilled = one if drill is None else one - drill
        joints_mm3 += volume_mm3(one) - volume_mm3(drilled)
        lattice = unturned(on_lattice(drilled), placed)
        low, high = bounds_mm(drilled)
        name = f"{poured.piece}{number}" if len(pieces) > 1 else poured.piece
        size = high - low
        made.append(CasePart(name, lattice, (float(size[0]), float(size[1]), float(size[2])), bed_mm))
        if free[k]:
            crowns.append(name)
    return Cut(tuple(made), tuple(crowns), len(holes), joints_mm3)


def _fits(part: Solid, shape: Shape) -> bool:
    low, high = bounds_mm(part)
    room = sorted(side - 2.0 * EDGE_MM for side in shape.printer_mm[:2])
    return bool((np.sort(high[:2] - low[:2]) <= room).all())


def _layers(
    solid: Solid, body: Body, shape: Shape, bedded: Bedded
) -> tuple[list[tuple[float, Solid]], float]:
    """What lies between level cuts, each with the height it stands at, and what ridge and groove take."""
    layers, lost_mm3 = [(0.0, solid)], 0.0
    for level in bedded.levels_mm:
        bed_mm, last = layers.pop()
        below, above = halved(last, (0.0, 0.0, 1.0), level)
        ridged = below + (ridge(body, level, 0.0) - _cut_gaps(body, level, bedded, shape))
        grooved = above - ridge(body, level, shape.clearance_mm)
        lost_mm3 += volume_mm3(above) - volume_mm3(grooved) - volume_mm3(ridged) + volume_mm3(below)
        layers += [(bed_mm, ridged), (level, grooved)]
    return layers, lost_mm3


def _cut_gaps(body: Body, level: float, bedded: Bedded, shape: Shape) -> Solid:
    """Where upright cuts run through a ridge it is left out by the clearance, so that parts come together."""
    (low_x, low_y), (high_x, high_y) = body.top_mm.min(axis=0) - 99.0, body.top_mm.max(axis=0) + 99.0
    gap = shape.clearance_mm
    gaps = [box((x - gap, low_y, level - 9.0), (x + gap, high_y, level + 9.0)) for x in bedded.cuts_x_mm]
    gaps += [box((low_x, y - gap, level - 9.0), (high_x, y + gap, level + 9.0)) for y in bedded.cuts_y_mm]
    return united(gaps)


def _across(
    layer: Solid, body: Body, poured: Poured, shape: Shape, bedded: Bedded
) -> tuple[list[Solid], float]:
    """A layer cut at the upright planes, tongue and groove in the floor at each."""
    pieces, lost_mm3 = [layer], 0.0
    for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm)):
        others = (bedded.cuts_y_mm, bedded.cuts_x_mm)[along]
        for at in cuts:
            normal = [0.0, 0.0, 0.0]
            normal[along] = 1.0
            tongue = united(_tongues(poured, shape, along, at, others, 0.0))
            groove = united(_tongues(poured, shape, along, at, others, shape.clearance_mm))
            split = []
            for one in pieces:
                low, high = bounds_mm(one)
                if not low[along] < at - 1.0 < at + 1.0 < high[along]:
                    split.append(one)
                    continue
                behind, before = halved(one, normal, at)
                # A tongue belongs to the part whose floor it grows out of.
                made = [behind + (tongue ^ _slab(low, high, along)), before - groove]
                lost_mm3 += volume_mm3(behind) + volume_mm3(before) - sum(volume_mm3(part) for part in made)
                split += made
            pieces = split
    return pieces, lost_mm3


def _slab(low: Floats, high: Floats, along: int) -> Solid:
    """The room beside a part across the cut: tongues of its neighbours in the other direction stay out."""
    reach_low, reach_high = low.copy(), high.copy()
    reach_low[along] -= 1.0
    reach_high[along] += 1.0 + TONGUE_OUT_MM
    return box(reach_low.tolist(), reach_high.tolist())


def _tongues(
    poured: Poured,
    shape: Shape,
    along: int,
    at: float,
    others: tuple[float, ...],
    more_mm: float,
) -> list[Solid]:
    """Ridges along a cut in the floor, `more_mm` larger all round for the groove; clear of other cuts."""
    low, high = reach_mm(poured.low_outline_mm, along, at)
    stops = [low, *others, high]
    middle = shape.floor_mm / 2.0
    made = []
    for begin, end in pairwise(stops):
        inner_low = begin + 8.0 - more_mm
        inner_high = end - 8.0 + more_mm
        if inner_high - inner_low < 12.0:
            continue
        corners = []
        for side in (inner_low, inner_high):
            for d, half in (
                (-INTO_MM, TONGUE_ROOT_MM / 2.0 + more_mm),
                (0.0, TONGUE_ROOT_MM / 2.0 + more_mm),
                (TONGUE_OUT_MM + more_mm, TONGUE_TIP_MM / 2.0 + more_mm),
            ):
                for z in (middle - half, middle + half):
                    corners.append(turned(along, at + d, side, z))
        made.append(hull(np.array(corners)))
    return made


def longest_stay_mm(body: Body, bedded: Bedded) -> float:
    """The longest straight stretch of wall between two corners or flanges at the rim, mm."""
    longest = 0.0
    for a, b in zip(body.top_mm, np.roll(body.top_mm, -1, axis=0), strict=True):
        shares = [0.0, 1.0]
        for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm)):
            for at in cuts:
                if abs(b[along] - a[along]) > 1e-6:
                    share = (at - a[along]) / (b[along] - a[along])
                    shares += [float(share)] if 0.0 < share < 1.0 else []
        length = float(np.linalg.norm(b - a))
        longest = max(longest, max(length * (v - u) for u, v in pairwise(sorted(shares))))
    return longest
