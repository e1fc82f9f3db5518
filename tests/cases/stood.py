"""A piece as its case pours it while its neighbours stay as they are planned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from claybed.cases.standing import NO_OTHERS, NO_PULLS, ready, stand_up
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import Poured


def stand(
    piece: str,
    solid: LatticeSolid,
    pull: Sequence[float],
    keys: Sequence[BlockKey],
    *,
    draft_deg: float,
    clearance_mm: float,
    scale: float = 1.0,
    others: Mapping[str, LatticeSolid] = NO_OTHERS,
    pulls: Mapping[str, Sequence[float]] = NO_PULLS,
) -> Poured:
    """Arguments and errors as of `ready` and `stand_up`."""
    return stand_up(
        ready(
            piece, solid, pull, keys, draft_deg=draft_deg, clearance_mm=clearance_mm, scale=scale,
            others=others, pulls=pulls,
        )
    )  # fmt: skip
