"""Where a face of a solid comes from: apart from meshes, so that a colour needs no arrays."""

from __future__ import annotations

from enum import IntEnum


class Origin(IntEnum):
    """Where a face of a solid comes from; findings and pictures use it."""

    OBJECT = 0
    MOUTH = 1
    MEND = 2
    FILL = 3
    GATE = 4
    KEY = 5
    PARTING = 6
    OUTSIDE = 7
