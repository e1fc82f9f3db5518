"""Neighbours made to agree on which side is out."""

from __future__ import annotations

import igl
import numpy as np

from claybed.intake.skin import Skin, edges_of
from claybed.records.measured import Repair


def orient(skin: Skin) -> tuple[Skin, Repair | None]:
    """Turn the fewest faces of each patch so that neighbours run along their common edge in opposite ways."""
    edges = edges_of(skin.faces, len(skin.vertices))
    if not ((edges.count == 2) & (edges.forward != 1)).any():
        return skin, None
    turned, patch = igl.bfs_orient(np.ascontiguousarray(skin.faces))
    turned, patch = np.asarray(turned, np.int64), np.asarray(patch, np.int64)
    at = (turned == skin.faces[:, :1]).argmax(axis=1)
    flip = turned[np.arange(len(turned)), (at + 1) % 3] != skin.faces[:, 1]
    # The library starts each patch from its first face; the patch's majority knows better.
    share = np.bincount(patch, weights=flip) / np.maximum(np.bincount(patch), 1)
    flip ^= (share > 0.5)[patch]
    if not flip.any():
        return skin, None
    count = int(flip.sum())
    return skin.flipped(flip), Repair(
        "orient", count, 0.0, "mm", f"Turned over {count:,} triangles that faced inward."
    )
