"""Seam lines of the main pieces once side pieces were cut: what is left of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.mold.side_faces import Interface

# A seam on the model lies nearer to it than this.
ON_MM = 0.05


def up_to(loops: Sequence[Floats], face: Interface) -> list[Floats]:
    """Seam lines up to the interface, and the interface's own seam added."""
    kept: list[Floats] = []
    for loop in loops:
        over = face.over_mm(loop)
        inside = over <= 0.0
        runs = np.flatnonzero(np.diff(np.r_[False, inside, False].astype(np.int8)))
        for a, b in zip(runs[::2].tolist(), runs[1::2].tolist(), strict=True):
            line = [loop[a:b]]
            for end, other in ((a, a - 1), (b - 1, b)):
                if 0 <= other < len(loop):
                    t = over[end] / (over[end] - over[other])
                    cut = (loop[end] + t * (loop[other] - loop[end]))[None]
                    line = [cut, *line] if other < end else [*line, cut]
            whole = np.concatenate(line)
            if len(whole) > 1:
                kept.append(whole)
    return [*kept, *face.seam_mm]


def all_beyond(loops: Sequence[Floats], faces: Sequence[Interface]) -> bool:
    """Whether the whole seam between two pieces, polylines (n, 3) mm, lies beyond the interfaces of others:
    then the two no longer meet.
    """
    every = np.concatenate(list(loops))
    over = np.stack([face.over_mm(every) for face in faces])
    return bool((over > 0.0).any(axis=0).all())


def on_surface(loops: Sequence[Floats], model: LatticeSolid) -> list[Floats]:
    """The runs of seam lines, polylines (n, 3) mm, whose edges lie on the model at both ends and half way."""
    corners = lattice_mm(model.points)[model.faces]
    kept: list[Floats] = []
    for loop in loops:
        spots = np.concatenate([loop, (loop[1:] + loop[:-1]) / 2.0])
        on = nearest_within(spots, corners, ON_MM)[0] >= 0
        n = len(loop)
        edges = on[: n - 1] & on[1:n] & on[n:]
        runs = np.flatnonzero(np.diff(np.r_[False, edges, False].astype(np.int8)))
        kept += [loop[a : b + 1] for a, b in zip(runs[::2].tolist(), runs[1::2].tolist(), strict=True)]
    return kept
