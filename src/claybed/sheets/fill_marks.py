"""Where fill is marked on paper: one number for each place, and for films that lie side by side."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

# Films nearer to each other than this are smeared over in one go.
BESIDE_MM = 20.0


@dataclass(frozen=True, slots=True)
class FillMark:
    """A numbered place to fill, in plan coordinates of the block and heights above the board, mm.

    `spots` are the indices of the spots it stands for, `at_mm` their middle, `low_mm` and `high_mm` their
    least and largest height, `depth_mm` the deepest; `film` whether a smear is all that they take.
    """

    number: int
    spots: tuple[int, ...]
    at_mm: tuple[float, float]
    low_mm: float
    high_mm: float
    depth_mm: float
    film: bool

    @property
    def height_mm(self) -> float:
        """Height of its middle above the board, mm."""
        return (self.low_mm + self.high_mm) / 2.0


def fill_marks(spots: Sequence[Mapping[str, Any]]) -> list[FillMark]:
    """The marks of a pose's fill, places with a number of their own first, then films with those that follow.

    `spots` have `number`, `lock_class`, `at_mm` (plan), `height_mm` and `depth_mm`; what may be ignored gets
    no mark.
    """
    worth = [k for k, spot in enumerate(spots) if spot["lock_class"] != "ignore"]
    places = [k for k in worth if spots[k]["number"]]
    groups: list[list[int]] = []
    for k in worth:
        if spots[k]["number"]:
            continue
        near = [g for g in groups if any(_apart_mm(spots[k], spots[other]) < BESIDE_MM for other in g)]
        if near:
            near[0].append(k)
        else:
            groups.append([k])
    marks = [_mark(int(spots[k]["number"]), [k], spots, film=False) for k in places]
    first = max((mark.number for mark in marks), default=0) + 1
    return [*marks, *(_mark(first + n, group, spots, film=True) for n, group in enumerate(groups))]


def _apart_mm(one: Mapping[str, Any], other: Mapping[str, Any]) -> float:
    return math.dist((*one["at_mm"], one["height_mm"]), (*other["at_mm"], other["height_mm"]))


def _mark(number: int, members: list[int], spots: Sequence[Mapping[str, Any]], *, film: bool) -> FillMark:
    mine = [spots[k] for k in members]
    heights = [float(spot["height_mm"]) for spot in mine]
    x, y = (sum(float(spot["at_mm"][axis]) for spot in mine) / len(mine) for axis in (0, 1))
    deepest = max(float(spot["depth_mm"]) for spot in mine)
    return FillMark(number, tuple(members), (x, y), min(heights), max(heights), deepest, film)
