"""What the columns of a depth raster say: where space is locked, how far sideways, how steep a wall is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.distances import away_from
from claybed.geometry.mesh import Floats, Ints, Mesh

VERTICAL_DEG = 0.005  # a wall steeper than single-precision corners can tell from vertical
CLEARLY_INSIDE_MM = 0.012  # twice what rounding to the lattice can move a corner
_WITNESSES = 4096
_EIGHT = np.ones((3, 3), bool)
_COARSE_PIXELS = 4.5  # a sideways depth of fewer pixels is mostly the pixel, and worth a closer look
_ZOOM = 16
_WINDOW_PIXELS = 32


@dataclass(frozen=True, slots=True)
class Gaps:
    """Stretches of empty space between two stretches of the object on one line.

    `pixel` (g,) line number; `lo_mm`, `hi_mm` (g,) the ends along the axis.
    """

    pixel: Ints
    lo_mm: Floats
    hi_mm: Floats


@dataclass(frozen=True, slots=True)
class Patch:
    """Gaps that hang together in plan.

    `volume_mm3`; `depth_mm` the farthest a bit of plaster in it must move sideways to be free of the object;
    `error_mm` what the raster leaves open about that depth, either way; `at_mm` the middle of the locked
    space, object frame; `pixels` counts its lines; `deepest` names one to three of its deepest lines.
    """

    volume_mm3: float
    depth_mm: float
    error_mm: float
    at_mm: tuple[float, float, float]
    pixels: int
    deepest: tuple[int, ...]


def gaps(columns: Columns) -> Gaps:
    """All gaps the score counts, by line and upwards."""
    pixel, lo, hi = _gaps(columns.start, columns.z_mm, columns.side, columns.floor_mm)
    return Gaps(pixel, lo, hi)


def patches(columns: Columns) -> tuple[Patch, ...]:
    """Locked patches, largest volume first, with their sideways depth.

    The way out of a line leads to the nearest line beside the patch where some height of the gap is open to
    either side along the axis. Distances run between line centres, so a depth is known to one spacing.
    """
    if columns.score.gap_columns == 0:
        return ()
    grid = columns.grid
    found = gaps(columns)
    label, distance = _depths(columns, found)
    length = found.hi_mm - found.lo_mm
    of_gap = label.flat[found.pixel] - 1
    summed: Floats = np.bincount(of_gap, length).astype(np.float64)
    middle = grid.object_mm(found.pixel, 0.5 * (found.lo_mm + found.hi_mm))
    weighted = [np.bincount(of_gap, length * middle[:, k]) / summed for k in range(3)]
    centre: Floats = np.stack(weighted, axis=1).astype(np.float64)
    out = []
    for k, box in enumerate(ndimage.find_objects(label)):
        inside = label[box] == k + 1
        depth = np.where(inside, distance[box], 0.0)
        row, column = np.nonzero(depth >= depth.max() - 0.5)
        deep = (row + box[0].start) * grid.columns + column + box[1].start
        out.append(
            Patch(
                volume_mm3=float(summed[k]) * grid.spacing_mm**2,
                depth_mm=float(depth.max()) * grid.spacing_mm,
                error_mm=grid.spacing_mm,
                at_mm=(float(centre[k, 0]), float(centre[k, 1]), float(centre[k, 2])),
                pixels=int(inside.sum()),
                deepest=tuple(dict.fromkeys(int(deep[n]) for n in (len(deep) // 2, 0, -1))),
            )
        )
    return tuple(sorted(out, key=lambda p: -p.volume_mm3))


def sharpened(
    raster: DepthRaster,
    axis: NDArray[np.floating],
    columns: Columns,
    found: Sequence[Patch],
    *,
    windows: int = 24,
) -> tuple[Patch, ...]:
    """The patches `found` in `columns` along `axis`, with shallow depths measured again in fine windows.

    Patches less than five lines deep are looked at on lines sixteen times closer, in up to three places each
    and `windows` places in all, largest volume first. A lock too thin for the fine lines is given one fine
    spacing. Patches that were not reached keep their depth and error.
    """
    grid = columns.grid
    shallow = [k for k, p in enumerate(found) if p.depth_mm < _COARSE_PIXELS * grid.spacing_mm]
    owner = np.array([k for k in shallow for _ in found[k].deepest], np.int64)
    plan = grid.plan_mm(np.array([line for k in shallow for line in found[k].deepest], np.int64))
    fine_mm = grid.spacing_mm / _ZOOM
    near_mm = (_COARSE_PIXELS + 1.0) * grid.spacing_mm
    # what is near a place must keep that depth from the window's border, where the way out lies
    reach_mm = 0.5 * _WINDOW_PIXELS * grid.spacing_mm - 2.0 * near_mm
    out = list(found)
    waiting = np.ones(len(owner), bool)
    for _ in range(windows):
        if not waiting.any():
            break
        centre = plan[int(waiting.argmax())]
        away_mm = np.abs(plan - centre).max(axis=1)
        seen = np.nonzero(waiting & (away_mm <= reach_mm))[0]
        side_mm = 2.0 * (float(away_mm[seen].max()) + 2.0 * near_mm)
        look = raster.window(axis, (float(centre[0]), float(centre[1])), side_mm, fine_mm)
        fine = gaps(look)
        lines = look.grid.plan_mm(fine.pixel)
        deep = _depths(look, fine)[1].flat[fine.pixel] if len(fine.pixel) else np.empty(0)
        for i in seen:
            close = np.abs(lines - plan[i]).max(axis=1) <= near_mm
            depth = max(float(deep[close].max()) if close.any() else 0.0, 1.0) * fine_mm
            was = out[owner[i]]
            deepest = depth if was.error_mm > fine_mm else max(depth, was.depth_mm)
            out[owner[i]] = replace(was, depth_mm=deepest, error_mm=fine_mm)
            waiting[i] = False
    return tuple(out)


def witnessed_gap(columns: Columns, mesh: Mesh) -> bool:
    """Whether a line of the raster proves a gap: it meets two faces of one facing well inside both.

    So far inside that no rounding to the lattice can take either off the line. False leaves it open; only
    some of the lines are asked.
    """
    grid, found = columns.grid, np.unique(gaps(columns).pixel)
    if not len(found):
        return False
    asked = found[:: -(-len(found) // _WITNESSES)]
    plan = grid.plan_mm(asked)
    inside = np.ones(len(asked), bool)
    # The highest face looks along the axis, as does the one under the highest gap.
    first, last = columns.start[asked], columns.start[asked + 1] - 1
    under = _under_gap(first, last, columns.z_mm, columns.side, columns.floor_mm)
    for at in (last, under):
        corner = mesh.vertices_mm[mesh.faces[columns.side[at] >> 1]] @ grid.rotation.T
        p = corner[:, :, :2] - plan[:, None]
        along = np.roll(p, -1, axis=1) - p
        off = along[:, :, 1] * p[:, :, 0] - along[:, :, 0] * p[:, :, 1]
        inside &= (off > CLEARLY_INSIDE_MM * np.linalg.norm(along, axis=2)).all(axis=1)
    return bool((inside & (under < last)).any())


def flatness_mm(field_mm: Floats) -> float:
    """Height between the highest and lowest value of a height field, nan left out; inf when it is all nan."""
    known = field_mm[np.isfinite(field_mm)]
    return float(np.ptp(known)) if len(known) else float("inf")


def draft_areas(mesh: Mesh, axis: NDArray[np.floating], edges_deg: Sequence[float]) -> Floats:
    """Area in mm² of faces by draft, the angle between face and `axis` (3,): exact verticals first.

    `edges_deg` rising from 0 to 90, e.g. (0, 1, 2, 5, 15, 90). Returns (len(edges_deg),): the first entry
    holds faces within 0.005 degrees of vertical, entry k those from edges[k - 1] up to edges[k].
    Raises ValueError for edges that do not rise from 0 to 90.
    """
    edges = np.asarray(edges_deg, dtype=np.float64)
    if len(edges) < 2 or edges[0] != 0.0 or edges[-1] != 90.0 or (np.diff(edges) <= 0).any():
        raise ValueError(f"draft bands must rise from 0 to 90 degrees, got {tuple(edges_deg)}")
    d = np.asarray(axis, dtype=np.float64)
    sines = np.sin(np.radians(np.r_[VERTICAL_DEG, edges[1:-1]]))
    areas: Floats = _areas(mesh.vertices_mm, mesh.faces, d / np.linalg.norm(d), sines)
    return areas


@njit(cache=True, nogil=True, error_model="numpy")
def _areas(vertices: Floats, faces: Ints, axis: Floats, sines: Floats) -> Floats:
    # Area by the sine of the draft, in bands that begin at 0 and at each of the rising `sines`.
    areas = np.zeros(len(sines) + 1)
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = (
            vertices[b, 0] - vertices[a, 0],
            vertices[b, 1] - vertices[a, 1],
            vertices[b, 2] - vertices[a, 2],
        )
        vx, vy, vz = (
            vertices[c, 0] - vertices[a, 0],
            vertices[c, 1] - vertices[a, 1],
            vertices[c, 2] - vertices[a, 2],
        )
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = np.sqrt(nx * nx + ny * ny + nz * nz)
        along = abs(nx * axis[0] + ny * axis[1] + nz * axis[2])
        band = 0
        while band < len(sines) and along >= sines[band] * size:
            band += 1
        areas[band] += size / 2.0
    return areas


def _depths(columns: Columns, found: Gaps) -> tuple[Ints, Floats]:
    """Per line, both (rows, columns): the patch it is in, from 1 on (0 none), and its way out in spacings."""
    grid = columns.grid
    locked = np.zeros((grid.rows, grid.columns), bool)
    locked.flat[found.pixel] = True
    label, _ = ndimage.label(np.pad(locked, 1), structure=_EIGHT)
    ways_out = _ways_out(found.pixel, found.lo_mm, found.hi_mm, locked, columns.start, columns.z_mm)
    outside = np.pad(~columns.covered, 1, constant_values=True)
    depth = np.zeros(label.shape)
    for k, box in enumerate(ndimage.find_objects(label)):
        around = tuple(slice(s.start - 1, s.stop + 1) for s in box)
        inside = label[around] == k + 1
        way = _beside(inside, ways_out[around])
        if not way.any():  # closed in on all sides: out through the object
            around = (slice(None), slice(None))
            inside, way = label == k + 1, outside
        np.copyto(depth[around], away_from(way), where=inside)
    return label[1:-1, 1:-1].astype(np.int32), depth[1:-1, 1:-1]


@njit(cache=True, nogil=True, error_model="numpy")
def _gaps(start: Ints, z: Floats, side: Ints, floor_mm: float) -> tuple[Ints, Floats, Floats]:
    count = 0
    for fill in range(2):
        if fill:
            pixel, lo, hi = np.empty(count, np.int32), np.empty(count), np.empty(count)
            count = 0
        for p in range(len(start) - 1):
            inside = 0
            for k in range(start[p], start[p + 1] - 1):
                inside += 1 - 2 * (side[k] & 1)
                if inside <= 0 and z[k + 1] - z[k] > floor_mm:
                    if fill:
                        pixel[count], lo[count], hi[count] = p, z[k], z[k + 1]
                    count += 1
    return pixel, lo, hi


@njit(cache=True, nogil=True)
def _beside(inside: NDArray[np.bool_], which: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cells of `which` that are, or touch by a side or a corner, a cell `inside`."""
    rows, columns = inside.shape
    near = np.zeros((rows, columns), np.bool_)
    for j in range(rows):
        for i in range(columns):
            if which[j, i]:
                near[j, i] = inside[max(j - 1, 0) : j + 2, max(i - 1, 0) : i + 2].any()
    return near


@njit(cache=True, nogil=True, error_model="numpy")
def _under_gap(first: Ints, last: Ints, z: Floats, side: Ints, floor_mm: float) -> Ints:
    # For lines with crossings first to last the one below a gap, nearest the top; the last where there is
    # none.
    under = last.copy()
    for n in range(len(first)):
        inside = 0
        for k in range(first[n], last[n]):
            inside += 1 - 2 * (side[k] & 1)
            if inside <= 0 and z[k + 1] - z[k] > floor_mm and side[k] & 1:
                under[n] = k
    return under


@njit(cache=True, nogil=True, error_model="numpy")
def _ways_out(
    pixel: Ints, lo: Floats, hi: Floats, locked: NDArray[np.bool_], start: Ints, z: Floats
) -> NDArray[np.bool_]:
    """Lines beside a gap, one pixel of border added, where some height of that gap is open."""
    rows, columns = locked.shape
    out = np.zeros((rows + 2, columns + 2), np.bool_)
    for g in range(len(pixel)):
        row, column = pixel[g] // columns, pixel[g] % columns
        for j in range(row - 1, row + 2):
            for i in range(column - 1, column + 2):
                if j < 0 or i < 0 or j >= rows or i >= columns:
                    out[j + 1, i + 1] = True
                elif not locked[j, i]:
                    first, end = start[j * columns + i], start[j * columns + i + 1]
                    if first == end or z[end - 1] < hi[g] or z[first] > lo[g]:
                        out[j + 1, i + 1] = True
    return out
