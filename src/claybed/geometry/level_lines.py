"""Where levels cut a closed surface: length, lean, creases and forbidden places of the line, level by level.

Between two corners' heights the line's length changes evenly, so that the best level stands at a corner's
height, or where a forbidden place begins or ends: `heights_of_change` names them, `level_lines` judges each.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.barred import Barred, chord_mm
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.mesh import Floats

Numbers = NDArray[np.int64]
# Corners nearer in height than this are judged as one; a line this near to a crease runs along it.
MERGED_MM = 0.02
ALONG_MM = 0.08
# The lean told is the one that this share of the line does not exceed, to a hundredth.
SHARE = 0.95
BINS = 100


class Lines(NamedTuple):
    """What each of some levels cuts, arrays (k,) in the order of the levels.

    `length_mm` of the outer lines, those in hollows left out; `lean` the sine of the surface's lean off
    upright that a twentieth of that length exceeds, 0 to 1; `crease_mm` and `corner_mm` the length along
    outer edges and along inner corners; `barred_mm` the length in forbidden places; `held_mm2` plan of the
    surface beyond the level that looks down; `sharp_mm` the length where the surface lies so nearly level
    that what fills the corner between both ends too sharp.
    """

    length_mm: Floats
    lean: Floats
    crease_mm: Floats
    corner_mm: Floats
    barred_mm: Floats
    held_mm2: Floats
    sharp_mm: Floats


def bends(
    points_mm: Floats, faces: NDArray[np.integer], mate: NDArray[np.int32], least_deg: float
) -> Numbers:
    """How the surface turns at each side (3 m,): 1 along an outer edge, -1 along an inner corner, 0 where it
    turns by less than `least_deg` (0 to 180) or nothing lies beyond the side.
    """
    corner = points_mm[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    side = np.flatnonzero(mate >= 0)
    here, there = side // 3, mate[side] // 3
    cosine = np.einsum("ij,ij->i", normal[here], normal[there])
    # The corner across the mated side lies under this face where the surface is convex.
    across = points_mm[faces[there, (mate[side] % 3 + 2) % 3]] - corner[here, 0]
    under = np.einsum("ij,ij->i", normal[here], across)
    bent = cosine < np.cos(np.radians(least_deg))
    out = np.zeros(len(mate), np.int64)
    out[side] = np.where(bent, np.where(under < 0.0, 1, -1), 0)
    return out


def heights_of_change(
    points_mm: Floats,
    faces: NDArray[np.integer],
    low_mm: float,
    high_mm: float,
    barred: Barred,
    step_mm: float,
) -> Floats:
    """Heights (k,) between two levels, descending, just under and just over which the line is worth judging:
    of corners, and where forbidden places begin and end; and every `step_mm` between.
    """
    z = points_mm[:, 2]
    at = [z, barred.ends_mm(points_mm[faces])]
    off_mm = 1.5 * MERGED_MM
    grid = np.arange(low_mm, high_mm, step_mm)
    every = np.concatenate([np.concatenate(at) - off_mm, np.concatenate(at) + off_mm, grid])
    every = every[(every >= low_mm) & (every <= high_mm)]
    _, first = np.unique(np.floor(every / MERGED_MM), return_index=True)
    found: Floats = np.sort(every[first])[::-1].copy()
    return found


def level_lines(
    points_mm: Floats,
    faces: NDArray[np.integer],
    levels_mm: Floats,
    barred: Barred,
    *,
    crease_deg: float,
    sharp_deg: float,
) -> Lines:
    """What each of `levels_mm` (k,) cuts of a closed surface: corners (n, 3) mm, faces (m, 3) outward.

    Lines round hollows that open towards +z, and what stands in those hollows, are left out. `crease_deg`
    (0 to 180) is the least turn that counts as an edge or a corner, `sharp_deg` (0 to 90) the angle between
    level and surface under which that is sharp. What lies under the lowest level may be missing. Raises
    ArithmeticError for a surface that is not closed above it.
    """
    sides = match_sides(faces, len(points_mm))
    open_mm = points_mm[side_ends(faces, sides.lone).reshape(-1), 2].max(initial=-np.inf)
    if len(sides.twice) or open_mm >= levels_mm.min(initial=np.inf):
        raise ArithmeticError("a surface that is levelled has to be closed")
    order = np.argsort(-levels_mm, kind="stable")
    top = points_mm[faces][:, :, 2].max(axis=1)
    got = _lines(
        np.ascontiguousarray(points_mm, np.float64),
        np.ascontiguousarray(faces, np.int64),
        sides.mate,
        bends(points_mm, faces, sides.mate, crease_deg),
        np.argsort(-top, kind="stable"),
        np.ascontiguousarray(levels_mm[order], np.float64),
        barred.balls,
        barred.layers,
        np.cos(np.radians(sharp_deg)),
    )
    out = np.empty_like(got)
    out[order] = got
    return Lines(*np.ascontiguousarray(out.T))


def side_kernel_cache() -> tuple[str, str]:
    """Where compiled kernels of side pieces are kept: a folder, and a pattern that a kept one matches."""
    return str(_lines.stats.cache_path), "level_lines._lines*.nbi"


@njit(cache=True, nogil=True)
def _lines(
    points: Floats,
    faces: Numbers,
    mate: NDArray[np.int32],
    bend: Numbers,
    highest: Numbers,
    levels: Floats,
    balls: Floats,
    layers: Floats,
    sharp: float,
) -> Floats:
    # Faces come up from below as the level sinks, and leave once they lie beyond it.
    out = np.zeros((len(levels), 7))
    crossing = np.empty(len(faces), np.int64)
    stamp = np.full(len(faces), -1, np.int64)
    ring = np.empty(len(faces), np.int64)
    line = np.empty((len(faces), 6))
    own = np.empty(len(faces), np.int64)
    # What holds of a face at every level: its lowest corner, its lean, what of it looks down, whether any
    # of its sides bends.
    lowest, lean, under = np.empty(len(faces)), np.empty(len(faces)), np.empty(len(faces))
    bent = np.empty(len(faces), np.bool_)
    count, following, beyond = 0, 0, 0.0
    for t in range(len(levels)):
        level = levels[t]
        while following < len(faces):
            f = highest[following]
            a, b, c = faces[f]
            if max(points[a, 2], points[b, 2], points[c, 2]) < level:
                break
            lowest[f] = min(points[a, 2], points[b, 2], points[c, 2])
            lean[f], under[f] = _lean(points, a, b, c), _under(points, a, b, c)
            bent[f] = bend[3 * f] != 0 or bend[3 * f + 1] != 0 or bend[3 * f + 2] != 0
            crossing[count] = f
            count += 1
            following += 1
        kept, held = 0, beyond
        for i in range(count):
            f = crossing[i]
            if lowest[f] >= level:
                beyond += under[f]
                held += under[f]
                continue
            if under[f] > 0.0:
                a, b, c = faces[f]
                held += under[f] * _share_over(points[a, 2], points[b, 2], points[c, 2], level)
            crossing[kept] = f
            kept += 1
        count = kept
        # Every line is followed once round, an outer one to the left of what lies in it.
        parts, rings = 0, 0
        for i in range(count):
            f = crossing[i]
            if stamp[f] == t:
                continue
            first, twice_area = parts, 0.0
            while stamp[f] != t:
                stamp[f] = t
                leaves = -1
                for k in range(3):
                    u, v = faces[f, k], faces[f, (k + 1) % 3]
                    if (points[u, 2] >= level) != (points[v, 2] >= level):
                        share = (level - points[u, 2]) / (points[v, 2] - points[u, 2])
                        at = 3 if points[v, 2] >= level else 0
                        if at == 3:
                            leaves = k
                        for j in range(2):
                            line[parts, at + j] = points[u, j] + share * (points[v, j] - points[u, j])
                        line[parts, at + 2] = level
                own[parts], ring[parts] = f, rings
                twice_area += line[parts, 0] * line[parts, 4] - line[parts, 1] * line[parts, 3]
                parts += 1
                f = mate[3 * f + leaves] // 3
            if twice_area <= 0.0:
                for j in range(first, parts):
                    ring[j] = -1 - rings
            rings += 1
        _judge(points, faces, bend, bent, lean, balls, layers, sharp, line[:parts], own, ring, out[t])
        out[t, 5] = held
    return out


@njit(cache=True, nogil=True)
def _judge(
    points: Floats,
    faces: Numbers,
    bend: Numbers,
    bent: NDArray[np.bool_],
    lean: Floats,
    balls: Floats,
    layers: Floats,
    sharp: float,
    line: Floats,
    own: Numbers,
    ring: Numbers,
    out: Floats,
) -> None:
    run = np.zeros(BINS + 1)
    anywhere = len(balls) + len(layers) > 0
    last, inside = -1, False
    for i in range(len(line)):
        if ring[i] < 0:
            continue
        if ring[i] != last:
            last, inside = ring[i], _in_hollow(line, ring, line[i, 0], line[i, 1])
        if inside:
            continue
        f = own[i]
        length = np.sqrt((line[i, 3] - line[i, 0]) ** 2 + (line[i, 4] - line[i, 1]) ** 2)
        run[int(lean[f] * BINS)] += length
        out[0] += length
        if lean[f] > sharp:
            out[6] += length
        if bent[f]:
            p, q = line[i, :3], line[i, 3:]
            for k in range(3):
                turn = bend[3 * f + k]
                if turn == 0:
                    continue
                u, v = points[faces[f, k]], points[faces[f, (k + 1) % 3]]
                if _off(p, u, v) <= ALONG_MM and _off(q, u, v) <= ALONG_MM:
                    out[2 if turn > 0 else 3] += length
                    break
        if anywhere:
            out[4] += chord_mm(line[i, :3], line[i, 3:], balls, layers)
    part = 0.0
    for k in range(BINS + 1):
        part += run[k]
        if part >= SHARE * out[0]:
            out[1] = min((k + 0.5) / BINS, 1.0)
            break


@njit(cache=True, nogil=True)
def _in_hollow(line: Floats, ring: Numbers, x: float, y: float) -> bool:
    # Each hollow's line runs round a point inside it once: crossings of the ray to +x, hollow by hollow.
    odd, last = False, 0
    for i in range(len(line)):
        if ring[i] >= 0:
            continue
        if ring[i] != last:
            if odd:
                return True
            last = ring[i]
        y0, y1 = line[i, 1], line[i, 4]
        if (y0 > y) != (y1 > y) and line[i, 0] + (y - y0) / (y1 - y0) * (line[i, 3] - line[i, 0]) > x:
            odd = not odd
    return odd


@njit(cache=True, nogil=True)
def _under(points: Floats, a: int, b: int, c: int) -> float:
    # Plan area of a face that looks down, 0 of one that looks up.
    twice: float = (points[b, 0] - points[a, 0]) * (points[c, 1] - points[a, 1]) - (
        points[b, 1] - points[a, 1]
    ) * (points[c, 0] - points[a, 0])
    return max(0.0, -0.5 * twice)


@njit(cache=True, nogil=True)
def _lean(points: Floats, a: int, b: int, c: int) -> float:
    # Sine of a face's lean off upright, 0 where it has no area.
    x, y, z = _across(points[a], points[b], points[c])
    size = np.sqrt(x * x + y * y + z * z)
    return min(abs(z) / size, 1.0) if size > 0.0 else 0.0


@njit(cache=True, nogil=True)
def _share_over(x: float, y: float, z: float, level: float) -> float:
    # Share of a triangle's area that lies over a level which crosses it.
    low, high = min(x, y, z), max(x, y, z)
    middle = x + y + z - low - high
    if middle <= level:
        return (high - level) ** 2 / ((high - low) * max(high - middle, 1e-30))
    return 1.0 - (level - low) ** 2 / ((high - low) * max(middle - low, 1e-30))


@njit(cache=True, nogil=True)
def _off(p: Floats, u: Floats, v: Floats) -> float:
    # Distance of a point from the line through two others.
    x, y, z = v[0] - u[0], v[1] - u[1], v[2] - u[2]
    i, j, k = p[0] - u[0], p[1] - u[1], p[2] - u[2]
    size2 = x * x + y * y + z * z
    t = (i * x + j * y + k * z) / size2 if size2 > 0.0 else 0.0
    off: float = np.sqrt((i - t * x) ** 2 + (j - t * y) ** 2 + (k - t * z) ** 2)
    return off


@njit(cache=True, nogil=True)
def _across(a: Floats, b: Floats, c: Floats) -> tuple[float, float, float]:
    # Twice the area of a triangle as a vector.
    x, y, z = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    i, j, k = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    return y * k - z * j, z * i - x * k, x * j - y * i
