"""Pieces against fill: which counts are worth telling, on screen and paper alike."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def worth_telling(found: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The rows of pieces against fill, of a survey, that tell a person something: each that leaves less than
    every row of fewer pieces, and that of its first way.
    """
    front, first = found.get("front") or (), (found.get("options") or [{}])[0]
    mains = 1 if first.get("kind") == "one_piece" or first.get("base_mm") is not None else 2
    chosen = mains + len(first.get("sides") or ())
    told: list[Mapping[str, Any]] = []
    least_ml = math.inf
    for row in sorted(front, key=lambda row: int(row["pieces"])):
        left_ml = float(row["fill_ml"])
        if left_ml < least_ml or int(row["pieces"]) == chosen:
            told.append(row)
        least_ml = min(least_ml, left_ml)
    return told
