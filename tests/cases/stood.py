"""A piece as its case pours it while its neighbours stay as they are planned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from claybed.cases.standing import ready, stand_up
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import Poured


def stand(
    piece: str, solid: LatticeSolid, pull: Sequence[float], keys: Sequence[BlockKey], **wishes: Any
) -> Poured:
    """Arguments and errors as of `ready` and `stand_up`."""
    return stand_up(ready(piece, solid, pull, keys, **wishes))
