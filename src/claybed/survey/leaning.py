"""How pulls that give every wall its draft become a mold: one main piece over a flat face, one that leans."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.geometry.directions import flat_patches
from claybed.geometry.mesh import Mesh
from claybed.materials import shelf
from claybed.records.surveyed import MoldOption, Vector
from claybed.survey.standing import FLAT_MM, LEAST_SHARE

SAME_COSINE = 1.0 - 1e-9
# A piece that leaves more nearly level than this is no second main piece (cosine off the main pull).
LEANS_MOST = 0.25


def leaning_option(
    mesh: Mesh, ways: Sequence[Vector], draft_deg: float, *, axis: Vector | None = None
) -> MoldOption | None:
    """A way to cut the pulls `ways`, which give every wall `draft_deg` of draft: a main piece over a flat
    face that the object lies under, and side pieces; what is left of the block leaves last, and leans. None
    where the pulls are of no such kind, or the main one is not along an `axis` that was asked for.

    The seam between the main pieces runs at the edge of that face, so that all upright walls are the last
    piece's, and have draft by its leaning. Source: geometry.
    """
    pulls = [np.array(pull) for pull in ways]
    clear = float(np.cos(np.radians(shelf.value("practice", "side_pull_least_deg").value)))
    for flat in flat_patches(mesh, least_share=LEAST_SHARE):
        normal = np.array(flat.normal)
        if axis is not None and abs(float(normal @ np.array(axis))) < SAME_COSINE:
            continue
        if float((mesh.vertices_mm @ normal).max()) > flat.offset_mm + FLAT_MM:
            continue
        rise = [float(pull @ normal) for pull in pulls]
        up = [k for k, r in enumerate(rise) if r > SAME_COSINE]
        down = [k for k, r in enumerate(rise) if r < -LEANS_MOST]
        sides = [k for k, r in enumerate(rise) if k not in up and k not in down]
        if len(up) != 1 or len(down) != 1 or len(up) + len(down) + len(sides) != len(pulls):
            continue
        if not sides or max(abs(rise[k]) for k in sides) > clear:
            continue
        draft = f"{draft_deg:g}° of draft on every wall"
        return MoldOption(
            kind="several",
            pull=ways[up[0]],
            fill_ml=0.0,
            deepest_mm=0.0,
            says=f"Leaves in {len(pulls)} pieces with nothing to fill, and {draft}: the last leaves aslant.",
            sides=tuple(ways[k] for k in sides),
            leans=ways[down[0]],
            crown_mm=flat.offset_mm,
            draft_deg=draft_deg,
        )
    return None
