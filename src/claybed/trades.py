"""Pieces against fill: which counts are worth telling, on screen and paper alike."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def worth_telling(found: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The rows of pieces against fill, of a survey, that tell a person something: each that leaves less than
    every row of fewer pieces, those that were cut, and that of its first way.
    """
    front, chosen = found.get("front") or (), _pieces((found.get("options") or [{}])[0])
    told: list[Mapping[str, Any]] = []
    least_ml = math.inf
    for row in sorted(front, key=lambda row: int(row["pieces"])):
        left_ml = float(row["fill_ml"])
        cut = row.get("told") in ("cut", "unmade")
        if left_ml < least_ml or cut or int(row["pieces"]) == chosen:
            told.append(row)
        if row.get("told") != "unmade":
            least_ml = min(least_ml, left_ml)
    return told


def other_ways(found: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The ways of a survey after its first, without those of more pieces that leave no less than fewer do."""
    counts = {int(row["pieces"]) for row in worth_telling(found)}
    ways = (found.get("options") or ())[1:]
    return [way for way in ways if not way.get("sides") or way.get("leans") or _pieces(way) in counts]


def _pieces(way: Mapping[str, Any]) -> int:
    mains = 1 if way.get("kind") == "one_piece" or way.get("base_mm") is not None else 2
    return mains + len(way.get("sides") or ())


def how_told(row: Mapping[str, Any]) -> str:
    """What goes with the fill of a row of pieces against fill, in words: how it is known; empty for what is
    measured or cut.
    """
    return {"reckoned": "reckoned, not cut", "unmade": "reckoned, and could not be made"}.get(
        str(row.get("told")), ""
    )
