"""Slender tongues of plaster: where a piece reaches into the object further than its own width allows.

A piece is read as the height field of its face towards the object and its neighbours. Closing that field
with a flat disk fills every valley narrower than the disk; a valley of the field is plaster that hangs
down, and how far the closing rises there is how far it hangs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import find_objects, label

from claybed.geometry.distances import away_from
from claybed.geometry.lattice import UNITS_PER_MM, XY_PER_MM, Z_PER_MM, Lattice
from claybed.geometry.looking import looking, turned
from claybed.geometry.mesh import Floats
from claybed.geometry.plan_bins import plan_reach
from claybed.geometry.slab import LatticeSolid

RADII_MM = (0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)
# A sharp inner corner in plan also fills up, with a residue no rounder than this share of the disk: below
# 39 degrees.
ROUND_SHARE = 0.5
# A disk finer than this many pixels is not told apart from the stairs of a slanted wall.
LEAST_PIXELS = 1.5
# A disk of this many pixels is round enough; wider ones are rolled over a coarser raster.
MOST_PIXELS = 6.0
# Of so many pixels is the radius of the disk where a tongue is measured: its width to a twelfth.
FINE_PIXELS = 12.0
# A row of pixels this near to the end of a triangle's side is taken for one that it crosses.
ROW_ROOM_PX = 1e-3
# Rows of a box with no more pixels than this are looked at whole.
FEW_PX = 6
# Levels between tip and root at which the width of a tongue is measured.
LEVELS = 8
# Pixels that touch at a corner hang together.
ROUND_ABOUT = np.ones((3, 3), int)
# Beyond the block there is nothing a tongue could stand between.
OPEN_GROUND_MM = -1e9


@dataclass(frozen=True, slots=True)
class Tongue:
    """The narrowest slender tongue of a piece.

    `width_mm` its width in plan, at most `sought_mm`, which it equals when there is none; `height_mm` how
    far it reaches; `at_mm` where, None when there is none; `sought_mm` the widest and `resolved_mm` the
    narrowest width looked for.
    """

    width_mm: float
    height_mm: float
    at_mm: tuple[float, float, float] | None
    sought_mm: float
    resolved_mm: float


def narrowest_tongue(
    solid: LatticeSolid,
    pull: Sequence[float],
    *,
    slender_ratio: float,
    crumb_mm3: float = 0.0,
    most_px: int = 512,
    radii_mm: Sequence[float] = RADII_MM,
) -> Tongue:
    """The narrowest slender tongue of a piece that leaves along `pull`, on at most `most_px` pixels a side.

    Slender: over `slender_ratio` times as tall as it is wide, and reaching as far from thicker plaster. What
    is no larger than `crumb_mm3` down to where it is measured is passed over. Raises ValueError for a pull
    that is not along z.
    """
    _, plan, heights = looking(solid, pull, along=False)
    sought_mm = 2.0 * max(radii_mm)
    if not len(plan):
        return Tongue(sought_mm, 0.0, None, sought_mm, 0.0)
    x0, y0, x1, y1 = plan_reach(plan)
    extent_mm = max(x1 - x0, y1 - y0) / XY_PER_MM
    relief_mm = float(np.ptp(heights)) / Z_PER_MM
    finest_mm = extent_mm / most_px
    usable = [r for r in sorted(radii_mm) if r >= LEAST_PIXELS * finest_mm]
    pixel_mm = 0.0
    for radius_mm in usable:
        slender_mm = slender_ratio * 2.0 * radius_mm
        if relief_mm <= slender_mm:
            break
        wanted_mm = max(finest_mm, radius_mm / MOST_PIXELS)
        if wanted_mm != pixel_mm:
            pixel_mm = wanted_mm
            field, origin_mm = underside(plan, heights, pixel_mm)
        seen = _tongues(field, radius_mm, pixel_mm, slender_ratio, crumb_mm3)
        # What a coarse raster takes for a tongue is measured anew on a fine one.
        room_mm = slender_mm + 4.0 * radius_mm
        fine_mm = min(pixel_mm, radius_mm / FINE_PIXELS)
        found: list[tuple[float, float, tuple[float, float, float]]] = []
        for _, _, (row, column) in seen:
            spot_mm = (np.array([column, row]) + 0.5) * pixel_mm + origin_mm
            part, corner_mm = _underside_near(plan, heights, spot_mm, room_mm, fine_mm)
            for width_mm, height_mm, (j, i) in _tongues(
                part, radius_mm, fine_mm, slender_ratio, crumb_mm3, round_middle=True
            ):
                x, y = corner_mm + (np.array([i, j]) + 0.5) * fine_mm
                found.append((width_mm, height_mm, (float(x), float(y), float(part[j, i]))))
        if not found:
            continue
        width_mm, height_mm, spot = min(found)
        lattice: Lattice = np.rint(np.array([spot]) * UNITS_PER_MM).astype(np.int64)
        at = turned(lattice, pull)[0] / UNITS_PER_MM
        place = (float(at[0]), float(at[1]), float(at[2]))
        return Tongue(width_mm, height_mm, place, sought_mm, 2.0 * usable[0])
    return Tongue(sought_mm, 0.0, None, sought_mm, 2.0 * min(usable, default=max(radii_mm)))


def underside(plan: Lattice, heights: Lattice, pixel_mm: float) -> tuple[Floats, Floats]:
    """The lowest height (rows, columns) mm of triangles on a raster; nan where there is none.

    `plan` (m, 6) and `heights` (m, 3) in lattice units, as `looking` gives them. Also the plan position
    (2,) mm of the outer corner of pixel (0, 0).
    """
    pixel = pixel_mm * XY_PER_MM
    x0, y0, x1, y1 = plan_reach(plan)
    columns, rows = (max(int(np.ceil(span / pixel)), 1) for span in (x1 - x0, y1 - y0))
    field = np.full((rows, columns), np.inf)
    _lay(plan, heights, x0, y0, pixel, 1.0 / Z_PER_MM, field)
    field[np.isinf(field)] = np.nan
    return field, np.array([x0, y0]) / XY_PER_MM


def _underside_near(
    plan: Lattice, heights: Lattice, spot_mm: Floats, room_mm: float, pixel_mm: float
) -> tuple[Floats, Floats]:
    """As `underside`, of a square that reaches `room_mm` from a place (2,) mm to every side."""
    corner: Lattice = np.floor((spot_mm - room_mm) * XY_PER_MM).astype(np.int64)
    far = corner + round(2.0 * room_mm * XY_PER_MM)
    x, y = plan[:, 0::2], plan[:, 1::2]
    near = (x.max(axis=1) >= corner[0]) & (x.min(axis=1) <= far[0])
    near &= (y.max(axis=1) >= corner[1]) & (y.min(axis=1) <= far[1])
    count = int(np.ceil(2.0 * room_mm / pixel_mm))
    field = np.full((count, count), np.inf)
    _lay(
        plan[near], heights[near], int(corner[0]), int(corner[1]), pixel_mm * XY_PER_MM, 1.0 / Z_PER_MM, field
    )
    field[np.isinf(field)] = np.nan
    return field, corner / XY_PER_MM


def _tongues(
    field: Floats,
    radius_mm: float,
    pixel_mm: float,
    slender_ratio: float,
    crumb_mm3: float,
    *,
    round_middle: bool = False,
) -> list[tuple[float, float, tuple[int, int]]]:
    """Width and height (mm) and pixel of the tip of each slender tongue that a disk bridges.

    `round_middle` asks for tips within two radii of the middle of the field, which others may be cut off.
    """
    slender_mm = slender_ratio * 2.0 * radius_mm
    solid_here = np.isfinite(field)
    ground = np.where(solid_here, field, OPEN_GROUND_MM)
    closed = grey_closing(ground, radius_mm / pixel_mm)
    risen = np.where(solid_here, closed - ground, 0.0)
    deep = risen > slender_mm
    middle = (np.array(field.shape) - 1) / 2.0
    reach_px = 2.0 * radius_mm / pixel_mm if round_middle else np.inf
    patches, _ = label(deep, structure=ROUND_ABOUT)
    # Wide enough to hold what a tongue would have to reach from.
    room = int(np.ceil((slender_mm + 2.0 * radius_mm) / pixel_mm))
    found: list[tuple[float, float, tuple[int, int]]] = []
    for k, (rows, columns) in enumerate(find_objects(patches), start=1):
        # Of all that hangs lowest, what the disk bridges soonest: corners of a fin's end are bridged last.
        own = np.argwhere(patches[rows, columns] == k) + np.array([rows.start, columns.start])
        own = own[np.hypot(*(own - middle).T) <= reach_px]
        if not len(own):
            continue
        places = own[:, 0], own[:, 1]
        row, column = (int(v) for v in own[np.lexsort((closed[places], ground[places]))[0]])
        top, left = max(rows.start - room, 0), max(columns.start - room, 0)
        part = np.s_[top : rows.stop + room, left : columns.stop + room]
        tip = row - top, column - left
        width_mm = _slender_width(
            ground[part], closed[part], tip, radius_mm, pixel_mm, slender_ratio, crumb_mm3
        )
        if width_mm is not None:
            found.append((width_mm, float(risen[row, column]), (row, column)))
    return found


def _slender_width(
    ground: Floats,
    closed: Floats,
    tip: tuple[int, int],
    radius_mm: float,
    pixel_mm: float,
    slender_ratio: float,
    crumb_mm3: float,
) -> float | None:
    """Width (mm) of the tongue over a tip, at the level nearest the tip where it is slender; None for none.

    A tongue that grows thinner towards its tip is as wide as its section at the level that it is measured
    from. There it must be too round for what a disk leaves of a sharp inner corner.
    """
    low, risen = float(ground[tip]), float(closed[tip] - ground[tip])
    for share in np.arange(1, LEVELS + 1) / LEVELS:
        level = low + share * risen if share < 1.0 else float(closed[tip])
        section = _section(ground, closed, tip, level)
        # Half a pixel less: the rim runs between the last pixel inside and the first one outside.
        half_mm = (float(_inner_distance(section).max()) - 0.5) * pixel_mm
        # An even count of pixels has no pixel in its middle: on the average that takes half a pixel.
        width_mm = min(2.0 * half_mm + 0.5 * pixel_mm, 2.0 * radius_mm)
        slender_mm = slender_ratio * width_mm
        if half_mm < ROUND_SHARE * radius_mm or share * risen <= slender_mm:
            continue
        if float((level - ground[section]).sum()) * pixel_mm**2 <= crumb_mm3:
            continue
        if _stands_free(ground, closed, tip, low + share * risen / 2.0, pixel_mm) > slender_mm:
            return width_mm
    return None


def _section(ground: Floats, closed: Floats, tip: tuple[int, int], level: float) -> NDArray[np.bool_]:
    """The plaster at a level that the disk does not enter, and that hangs together with a tip."""
    parts, _ = label((ground < level) & (closed >= level), structure=ROUND_ABOUT)
    section: NDArray[np.bool_] = parts == parts[tip]
    return section


def _inner_distance(deep: NDArray[np.bool_]) -> Floats:
    """Distance, in pixels, of each marked pixel from the nearest that is not; outside nothing is marked."""
    rows, columns = (np.flatnonzero(deep.any(axis=axis)) for axis in (1, 0))
    part = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    distance = np.zeros(deep.shape)
    distance[part] = away_from(~np.pad(deep[part], 1))[1:-1, 1:-1]
    return distance


def _stands_free(
    ground: Floats, closed: Floats, tip: tuple[int, int], level: float, pixel_mm: float
) -> float:
    """How far a tongue reaches from thicker plaster that it hangs together with at a level, mm; inf for one
    that stands alone there.

    The tip of a wedge between two walls is narrow but leans on the plaster behind it. What stands across a
    gap holds nothing.
    """
    inside = ground > OPEN_GROUND_MM
    bodies, _ = label((ground < level) & inside, structure=ROUND_ABOUT)
    thick = (closed < level) & inside & (bodies == bodies[tip])
    if not thick.any():
        return np.inf
    return float(away_from(thick)[_section(ground, closed, tip, level)].max()) * pixel_mm


def grey_closing(field: Floats, radius_px: float) -> Floats:
    """Grey closing of a height field with a flat disk; outside the field, and at -inf, lies open ground.

    The largest height under a disk, then the smallest of those: whatever the disk cannot enter from below
    is filled.
    """
    reach = int(np.floor(radius_px))
    rows = np.arange(-reach, reach + 1)
    half = np.floor(np.sqrt(np.maximum(radius_px**2 - rows**2, 0.0))).astype(np.int64)
    wide = np.pad(np.ascontiguousarray(field, np.float64), 2 * reach, constant_values=-np.inf)
    filled: Floats = -_dilate(-_dilate(wide, half), half)
    return filled[2 * reach : 2 * reach + field.shape[0], 2 * reach : 2 * reach + field.shape[1]]


@njit(cache=True, nogil=True, error_model="numpy")
def _lay(
    plan: Lattice, heights: Lattice, x0: int, y0: int, pixel: float, scale: float, field: Floats
) -> None:
    rows, columns = field.shape
    for k in range(plan.shape[0]):
        west, east = min(plan[k, 0], plan[k, 2], plan[k, 4]), max(plan[k, 0], plan[k, 2], plan[k, 4])
        south, north = min(plan[k, 1], plan[k, 3], plan[k, 5]), max(plan[k, 1], plan[k, 3], plan[k, 5])
        left, right = np.ceil((west - x0) / pixel - 0.5), np.floor((east - x0) / pixel - 0.5)
        low, high = np.ceil((south - y0) / pixel - 0.5), np.floor((north - y0) / pixel - 0.5)
        if left > right or low > high:
            continue
        ax, ay = (plan[k, 0] - x0) / pixel - 0.5, (plan[k, 1] - y0) / pixel - 0.5
        bx, by = (plan[k, 2] - x0) / pixel - 0.5, (plan[k, 3] - y0) / pixel - 0.5
        cx, cy = (plan[k, 4] - x0) / pixel - 0.5, (plan[k, 5] - y0) / pixel - 0.5
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if area <= 0.0:
            continue
        first, last = max(int(left), 0), min(int(right), columns - 1)
        for j in range(max(int(low), 0), min(int(high), rows - 1) + 1):
            # Long slivers lie aslant in wide boxes: only what of the row lies beside them is looked at.
            near, far = first, last
            if last - first > FEW_PX:
                near, far = _row_span(ax, ay, bx, by, cx, cy, j)
            for i in range(max(first, near), min(last, far) + 1):
                s = (i - ax) * (cy - ay) - (j - ay) * (cx - ax)
                t = (bx - ax) * (j - ay) - (by - ay) * (i - ax)
                if s < 0.0 or t < 0.0:
                    continue
                s, t = s / area, t / area
                if s + t <= 1.0:
                    h = (
                        heights[k, 0]
                        + s * (heights[k, 1] - heights[k, 0])
                        + t * (heights[k, 2] - heights[k, 0])
                    )
                    field[j, i] = min(field[j, i], scale * h)


@njit(cache=True, nogil=True, error_model="numpy")
def _row_span(ax: float, ay: float, bx: float, by: float, cx: float, cy: float, row: int) -> tuple[int, int]:
    # First and last column that a triangle may cover in a row of its box, a pixel more on either side than
    # it does.
    west, east = np.inf, -np.inf
    for px, py, qx, qy in ((ax, ay, bx, by), (bx, by, cx, cy), (cx, cy, ax, ay)):
        if min(py, qy) - ROW_ROOM_PX > row or max(py, qy) + ROW_ROOM_PX < row:
            continue
        if abs(qy - py) < 2.0 * ROW_ROOM_PX:
            west, east = min(west, px, qx), max(east, px, qx)
        else:
            at = px + min(max((row - py) / (qy - py), 0.0), 1.0) * (qx - px)
            west, east = min(west, at), max(east, at)
    if west > east:
        return 0, -1
    return int(np.floor(west)) - 1, int(np.ceil(east)) + 1


@njit(cache=True, nogil=True, error_model="numpy")
def _dilate(field: Floats, half: Lattice) -> Floats:
    # Largest value under a disk given by the half widths of its rows, which grow towards its middle: the
    # largest within a row's half width is kept, and widened for the next.
    rows, columns = field.shape
    out = np.full((rows, columns), -np.inf)
    reach = half.shape[0] // 2
    widest = np.empty(columns)
    for j in range(rows):
        own = field[j]
        for i in range(columns):
            widest[i] = own[i]
        wide = 0
        for r in range(reach + 1):
            while wide < half[r]:
                wide += 1
                for i in range(columns - wide):
                    widest[i] = max(widest[i], own[i + wide])
                for i in range(wide, columns):
                    widest[i] = max(widest[i], own[i - wide])
            for k in (j + r - reach, j - r + reach):
                if 0 <= k < rows:
                    into = out[k]
                    for i in range(columns):
                        into[i] = max(into[i], widest[i])
    return out
