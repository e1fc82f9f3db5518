"""Where the seam climbs so steeply that a finger laid on it slides, found from the seam itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.posing.stations import SeamLine
from claybed.records.pose import Station, SteepPlace

# A seam is read this often along.
STEP_MM = 0.5
# Steepness is read over this much of the line, so that the model's own small steps are none.
OVER_STEPS = 2
# Between two steep stretches nearer than this nobody builds a level.
JOINED_MM = 3.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A steep part of a seam line: `from_mm` to `to_mm` along it (beyond its length where a closed line is
    run through its beginning), and the seam's height at both, block's frame, mm.
    """

    from_mm: float
    to_mm: float
    from_height_mm: float
    to_height_mm: float


def stretches(line: SeamLine) -> list[Stretch]:
    """The steep stretches of a seam line, in the order along it, each so high that it is told.

    Source: materials/practice (seam_steep_ratio, seam_steep_least_mm).
    """
    along = np.arange(0.0, line.length_mm, STEP_MM)
    points = np.stack([np.interp(along, line.along_mm, line.points[:, k]) for k in range(3)], axis=1)
    if len(along) <= 2 * OVER_STEPS:
        return []
    steep = _steep(points, line.closed)
    start = 0
    if line.closed and steep.any() and not steep.all():
        # Begun where it is not steep, so that no stretch is cut in two.
        start = int(np.argmin(steep))
        steep, points = np.roll(steep, -start), np.roll(points, -start, axis=0)
    edges = np.flatnonzero(np.diff(np.r_[0, steep.astype(np.int8), 0]))
    runs: list[tuple[int, int]] = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        rising = points[last, 2] > points[first, 2]
        if runs and (first - runs[-1][1]) * STEP_MM < JOINED_MM:
            before = points[runs[-1][1], 2] > points[runs[-1][0], 2]
            if before == rising:
                runs[-1] = (runs[-1][0], int(last))
                continue
        runs.append((int(first), int(last)))
    return [
        Stretch(
            float((start + first) * STEP_MM),
            float((start + last) * STEP_MM),
            float(points[first, 2]),
            float(points[last, 2]),
        )
        for first, last in runs
        if abs(points[last, 2] - points[first, 2]) >= shelf.value("practice", "seam_steep_least_mm").value
    ]


def _steep(points: Floats, closed: bool) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether the seam is steep at each of its points (n, 3)."""
    ratio = shelf.value("practice", "seam_steep_ratio").value
    ends = [np.roll(points, turn, axis=0) for turn in (-OVER_STEPS, OVER_STEPS)]
    step = ends[0] - ends[1]
    steep: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.abs(step[:, 2]) > ratio * np.linalg.norm(
        step[:, :2], axis=1
    )
    if not closed:
        steep[:OVER_STEPS] = steep[-OVER_STEPS:] = False
    return steep


def steep_places(
    lines: Sequence[SeamLine], stations: Sequence[Station], board_mm: float
) -> tuple[SteepPlace, ...]:
    """The steep stretches of all lines, each named by the stations nearest to its two ends; heights above the
    board at `board_mm`.
    """
    found = []
    for loop, line in enumerate(lines, start=1):
        mine = [station for station in stations if station.loop == loop]
        for one in stretches(line) if mine else []:
            first, last = (
                min(mine, key=lambda s: apart_mm(line, s.along_mm, end)) for end in (one.from_mm, one.to_mm)
            )
            found.append(
                SteepPlace(
                    first.number, last.number, one.from_height_mm - board_mm, one.to_height_mm - board_mm
                )
            )
    return tuple(found)


def apart_mm(line: SeamLine, one_mm: float, other_mm: float) -> float:
    """How far apart two places along a line are, the shorter way round a closed one, mm."""
    away = abs(one_mm - other_mm)
    return min(away % line.length_mm, -away % line.length_mm) if line.closed else away
