"""Whose the parts of the main pieces are that a side piece cuts loose.

What a plug goes round stands under the side piece and leaves with it, and so does what the model would not
hold on to. But the seam of the main pieces may fold back over such a crumb: plaster of one of them then
stands over it along the side piece's pull, and with the crumb the side piece would be held. So a crumb leaves
with the side piece only where nothing that stays is over it. The rest goes to the main piece that is over it,
where that one leaves with it all the same, else to the model.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from claybed.geometry.carving import INTO_MM, Solid, Workbench, moved, triangles
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.shadows import shadow
from claybed.mold.crumbs import CEILING_MM, is_flake, let_go, on_model, rising_faces
from claybed.mold.interfaces import least_plug_mm3
from claybed.mold.side_faces import Interface

Vector = tuple[float, float, float]
MODEL = "model"
# Solids are taken for one over the other from so far beyond both.
BEYOND_MM = 1.0
# Half a turn: what was along z is against it.
OVER = np.array([1.0, -1.0, -1.0])


class Loose(NamedTuple):
    """A part that came loose `of` a main piece and goes `to` another piece, or to the model, by its name."""

    of: str
    to: str
    solid: Solid


def given_away(
    bench: Workbench,
    crumbs: Mapping[str, Sequence[Solid]],
    solids: Mapping[str, Solid],
    ways: Mapping[str, Vector],
    face: Interface,
    letter: str,
) -> list[Loose]:
    """All parts that came loose of main pieces, `crumbs` by their letters, cut by whose they are then.

    `solids` is what is left of the main pieces, by letter, and of the model as "model"; `ways` their pulls in
    opening order; `face` and `letter` those of the side piece.
    """
    found: list[Loose] = []
    leaves: list[Loose] = []
    for name, some in crumbs.items():
        for crumb in some:
            follows, stays = Solid(), crumb
            if crumb.volume() > least_plug_mm3() or not on_model(bench, crumb):
                # What the object is over would be held by it.
                follows, stays, _ = let_go(bench, crumb, face)
            leaves += [] if follows.is_empty() else [Loose(name, letter, follows)]
            found += [] if stays.is_empty() else [Loose(name, MODEL, stays)]
    kept = [loose.solid for loose in found]
    for loose in leaves:
        over = {name: standing_over(loose.solid, solids[name], face.rotation) for name in ways}
        others = [standing_over(loose.solid, other, face.rotation) for other in kept]
        held, follows = _parted(bench, loose.solid, [*over.values(), *others], face)
        found += [] if follows.is_empty() else [loose._replace(solid=follows)]
        most = sorted((m for m in ways if not over[m].is_empty()), key=lambda m: -over[m].volume())
        for bit in held:
            to = next((m for m in most if leaves_with(bit, m, solids, ways)), MODEL)
            found.append(loose._replace(to=to, solid=bit))
    return found


def standing_over(crumb: Solid, other: Solid, rotation: Floats) -> Solid:
    """What of another solid stands over a crumb along a pull, films of rounding apart; `rotation` into the
    frame where that is z.
    """
    top = rising_faces(*triangles(crumb), rotation)
    if not len(top):
        return Solid()
    points, faces = triangles(other)
    corner = (points @ rotation.T)[faces]
    low, high = top.min(axis=(0, 1)), top.max(axis=(0, 1))
    beside = (corner.max(axis=1) <= low).any(axis=1) | (corner.min(axis=1)[:, :2] >= high[:2]).any(axis=1)
    if beside.all():
        return Solid()
    end_mm = max(float(high[2]), float(corner[~beside][:, :, 2].max())) + BEYOND_MM
    rising = shadow(top * OVER, -end_mm, 0.0)
    met = moved(rising, (OVER[:, None] * rotation).T) ^ other
    return Solid.compose([part for part in met.decompose() if part.volume() > 0.0 and not is_flake(part)])


def leaves_with(bit: Solid, name: str, solids: Mapping[str, Solid], ways: Mapping[str, Vector]) -> bool:
    """Whether a main piece that takes `bit` along is one solid and leaves, and so do those before it."""
    if bit.min_gap(solids[name], BEYOND_MM) > INTO_MM:
        return False
    order = list(ways)
    turn = order.index(name)
    earlier = [(pull_rotation(-np.array(ways[other])), other) for other in order[:turn]]
    later = [(pull_rotation(ways[name]), other) for other in (*order[turn + 1 :], MODEL)]
    return all(
        standing_over(bit, solids[other], rotation).is_empty() for rotation, other in (*earlier, *later)
    )


def _parted(
    bench: Workbench, crumb: Solid, over: Sequence[Solid], face: Interface
) -> tuple[list[Solid], Solid]:
    """The parts of a crumb that lie under what is `over` it, and what of it is free."""
    held: list[Solid] = []
    free = crumb
    for one in over:
        if one.is_empty() or free.is_empty():
            continue
        back = rising_faces(*triangles(one), OVER[:, None] * face.rotation) * OVER
        floor_mm = min(float((triangles(free)[0] @ face.rotation[2]).min()), float(back[:, :, 2].min()))
        under = bench.marked(shadow(back, floor_mm - BEYOND_MM, CEILING_MM), Origin.PARTING)
        caught, free = free.split(moved(under, face.rotation.T))
        held += [part for part in caught.decompose() if part.volume() > 0.0]
    return held, free
