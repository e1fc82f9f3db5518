"""The depth raster: every crossing of a closed mesh with a grid of lines parallel to an axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.crossings import bounds, cross, place, settle, spread, tiled
from claybed.geometry.mesh import Floats, Ints, Mesh

LATTICE_BITS = 30
GAP_FLOOR = 1e-8  # gaps shorter than this part of the extent are rounding of the heights, not space
MOST_TILES = 64  # along a side of the plan
_TWIST_RAD = 0.19634954084936207  # turns the grid off the axes walls usually follow, so edges do not alias


def axis_frame(axis: NDArray[np.floating]) -> Floats:
    """Proper rotation (3, 3) whose third row is the unit `axis` (3,); its rows are the frame's x, y and z.

    Opposite axes share the x row, so their grids hold the same lines. Raises ValueError for a zero axis.
    """
    d = np.asarray(axis, dtype=np.float64)
    length = float(np.linalg.norm(d))
    if not length > 0.0 or not np.isfinite(length):
        raise ValueError(f"an axis needs a length, got {d}")
    d = d / length
    lead = d[np.nonzero(np.abs(d) > 1e-12)[0][-1]]
    sign = 1.0 if lead > 0 else -1.0
    up: Floats = d * sign
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(up)))] = 1.0
    u: Floats = np.cross(helper, up)
    u /= np.linalg.norm(u)
    w: Floats = np.cross(up, u)
    x = np.cos(_TWIST_RAD) * u + np.sin(_TWIST_RAD) * w
    frame: Floats = np.stack([x, np.cross(d, x), d]).astype(np.float64)
    return frame


@dataclass(frozen=True, slots=True)
class Grid:
    """Where the lines stand, in the axis frame.

    `rotation` (3, 3) object to axis frame; `origin_mm` plan position of the lower left corner of pixel
    (0, 0); `spacing_mm` between lines; `columns` along x and `rows` along y; one pixel is 2**`shift` lattice
    units wide. The line of pixel (row j, column i) stands at origin + (i + 0.5, j + 0.5) x spacing.
    """

    rotation: Floats
    origin_mm: tuple[float, float]
    spacing_mm: float
    columns: int
    rows: int
    shift: int

    def plan_mm(self, pixel: NDArray[np.integer]) -> Floats:
        """Plan position (n, 2) mm of pixels (n,) numbered row x columns + column."""
        row, column = np.divmod(pixel, self.columns)
        centre: Floats = np.stack([column + 0.5, row + 0.5], axis=1) * self.spacing_mm
        return centre + np.array(self.origin_mm, dtype=np.float64)

    def object_mm(self, pixel: NDArray[np.integer], z_mm: NDArray[np.floating]) -> Floats:
        """Points (n, 3) mm in the object's frame at heights `z_mm` (n,) on the lines of `pixel` (n,)."""
        points: Floats = np.column_stack([self.plan_mm(pixel), z_mm]) @ self.rotation
        return points


@dataclass(frozen=True, slots=True)
class Score:
    """One axis in numbers, all taken in one call.

    `fill_mm3` sum of gaps; `silhouette_mm2` shadow; `volume_mm3` from the columns; `undercut_mm2` area of
    faces reached from neither side (exactly vertical faces are never crossed and so not counted);
    `longest_gap_mm` along the axis; `gap_columns` lines with a gap; `odd_columns` lines crossed an odd number
    of times (0 for a closed mesh); `depth_mm` extent along the axis; `crossings` in all; `spacing_mm` of the
    lines.
    """

    fill_mm3: float
    silhouette_mm2: float
    volume_mm3: float
    undercut_mm2: float
    longest_gap_mm: float
    gap_columns: int
    odd_columns: int
    depth_mm: float
    crossings: int
    spacing_mm: float


@dataclass(frozen=True, slots=True)
class Columns:
    """All crossings, line by line, lowest first.

    `start` (rows x columns + 1,) int32: line p holds crossings start[p]:start[p + 1]; `z_mm` (k,) heights
    along the axis; `side` (k,) int32 is 2 x face + 1 where the face looks along the axis, 2 x face where it
    looks back; `floor_mm` the length up to which a gap is rounding.
    """

    grid: Grid
    start: Ints
    z_mm: Floats
    side: Ints
    floor_mm: float
    score: Score

    @property
    def covered(self) -> NDArray[np.bool_]:
        """(rows, columns) true where the line meets the object."""
        return (self.start[1:] > self.start[:-1]).reshape(self.grid.rows, self.grid.columns)

    @property
    def top_mm(self) -> Floats:
        """(rows, columns) highest crossing along the axis, mm; nan outside the silhouette."""
        return self._field(self.start[1:] - 1)

    @property
    def bottom_mm(self) -> Floats:
        """(rows, columns) lowest crossing along the axis, mm; nan outside the silhouette."""
        return self._field(self.start[:-1])

    def _field(self, pick: Ints) -> Floats:
        out = np.full(len(pick), np.nan)
        hit = self.start[1:] > self.start[:-1]
        out[hit] = self.z_mm[pick[hit]]
        return out.reshape(self.grid.rows, self.grid.columns)


class DepthRaster:
    """A mesh ready to be looked at along any axis; keeps its scratch memory between axes.

    `resolution` lines along the longer side of the plan, 16 to 8192. Not for use from two threads at once.
    """

    def __init__(self, mesh: Mesh, resolution: int = 512) -> None:
        if not 16 <= resolution <= 8192:
            raise ValueError(f"resolution must lie between 16 and 8192, got {resolution}")
        if len(mesh.faces) == 0:
            raise ValueError("a mesh without faces has no depth")
        self.resolution = resolution
        self._vertices = mesh.vertices_mm
        self._faces = mesh.faces
        self._plan = np.empty((len(self._vertices), 2), np.int32)
        self._height = np.empty(len(self._vertices))
        self._every = np.arange(len(self._faces), dtype=np.int32), np.arange(len(self._plan), dtype=np.int32)
        self._tiles: _Tiles | None = None
        self._room(64 + 2 * resolution * resolution)

    def _room(self, capacity: int) -> None:
        self._hit_pixel = np.empty(capacity, np.int32)
        self._hit_side = np.empty(capacity, np.int32)
        self._hit_z = np.empty(capacity)
        self._z = np.empty(capacity)
        self._side = np.empty(capacity, np.int32)

    def score(self, axis: NDArray[np.floating]) -> Score:
        """Score along `axis` (3,), object frame; raises ValueError for a zero axis."""
        grid, lo, hi = self._whole(axis_frame(axis))
        return self._look(grid, lo, hi)[0]

    def columns(self, axis: NDArray[np.floating]) -> Columns:
        """All crossings along `axis` (3,), object frame; raises ValueError for a zero axis."""
        grid, lo, hi = self._whole(axis_frame(axis))
        return self._kept(grid, lo, hi)

    def window(
        self, axis: NDArray[np.floating], centre_mm: tuple[float, float], side_mm: float, spacing_mm: float
    ) -> Columns:
        """Crossings in a square window of the plan only, on lines `spacing_mm` apart.

        `centre_mm` in the plan of `axis_frame(axis)`; `side_mm` of the window, at most 8192 lines, as many on
        either side of the centre.
        Raises ValueError when the window holds more lines or the lattice cannot resolve the spacing.
        """
        if self._tiles is None or not np.array_equal(self._tiles.axis, axis):
            self._tiles = _Tiles(self._vertices, self._faces, axis, side_mm)
        rotation, lo, hi = self._tiles.rotation, self._tiles.lo, self._tiles.hi
        lines = 2 * int(np.ceil(0.5 * side_mm / spacing_mm))
        origin = (centre_mm[0] - 0.5 * lines * spacing_mm, centre_mm[1] - 0.5 * lines * spacing_mm)
        reach = max(float(np.abs(b[i] - origin[i])) for b in (lo, hi) for i in (0, 1))
        shift = LATTICE_BITS - 1 - int(np.ceil(np.log2(reach / spacing_mm + lines)))
        if lines > 8192 or shift < 4:
            raise ValueError(f"a window of {side_mm} mm cannot be looked at every {spacing_mm} mm")
        reached = self._tiles.over(origin, lines * spacing_mm)
        return self._kept(Grid(rotation, origin, spacing_mm, lines, lines, shift), lo, hi, reached)

    def _whole(self, rotation: Floats) -> tuple[Grid, Floats, Floats]:
        lo, hi = bounds(self._vertices, rotation)
        extent = hi - lo
        longer = float(max(extent[0], extent[1]))
        if not longer > 0.0:
            raise ValueError("the object has no width across this axis")
        spacing = longer * (1.0 + 1e-12) / self.resolution
        columns = max(1, int(np.ceil(extent[0] / spacing)))
        rows = max(1, int(np.ceil(extent[1] / spacing)))
        middle = 0.5 * (lo + hi)
        origin = (middle[0] - 0.5 * columns * spacing, middle[1] - 0.5 * rows * spacing)
        shift = LATTICE_BITS - int(np.ceil(np.log2(self.resolution)))
        return Grid(rotation, (float(origin[0]), float(origin[1])), spacing, columns, rows, shift), lo, hi

    def _look(
        self, grid: Grid, lo: Floats, hi: Floats, reached: tuple[Ints, Ints] | None = None
    ) -> tuple[Score, Ints]:
        # `reached` are the faces that may be crossed, and their corners.
        units_per_mm = (1 << grid.shift) / grid.spacing_mm
        some, corners = self._every if reached is None else reached
        place(self._vertices, corners, grid.rotation, *grid.origin_mm, units_per_mm, self._plan, self._height)
        start = np.zeros(grid.rows * grid.columns + 1, np.int32)
        shape = (grid.columns, grid.rows, grid.shift)
        hits = self._hit_pixel, self._hit_side, self._hit_z
        used = cross(self._plan, self._height, self._faces, some, *shape, start, *hits)
        if used > len(self._z):
            self._room(int(used * 1.25) + 64)
            return self._look(grid, lo, hi, reached)
        spread(used, self._hit_pixel, self._hit_side, self._hit_z, start, self._z, self._side)
        fill, volume, undercut, longest, covered, gapped, odd = settle(
            start, self._z, self._side, self._plan, self._height, self._faces, units_per_mm, _floor_mm(lo, hi)
        )
        pixel_mm2 = grid.spacing_mm**2
        score = Score(
            fill_mm3=fill * pixel_mm2,
            silhouette_mm2=covered * pixel_mm2,
            volume_mm3=volume * pixel_mm2,
            undercut_mm2=undercut * pixel_mm2,
            longest_gap_mm=longest,
            gap_columns=gapped,
            odd_columns=odd,
            depth_mm=float(hi[2] - lo[2]),
            crossings=int(used),
            spacing_mm=grid.spacing_mm,
        )
        return score, start

    def _kept(self, grid: Grid, lo: Floats, hi: Floats, reached: tuple[Ints, Ints] | None = None) -> Columns:
        score, start = self._look(grid, lo, hi, reached)
        return Columns(
            grid, start, self._z[: start[-1]].copy(), self._side[: start[-1]].copy(), _floor_mm(lo, hi), score
        )


class _Tiles:
    """The faces sorted by where they lie in the plan of one axis, so that a window meets only its own."""

    def __init__(self, vertices: Floats, faces: Ints, axis: NDArray[np.floating], side_mm: float) -> None:
        self.axis, self.rotation = np.array(axis), axis_frame(axis)
        self.lo, self.hi = bounds(vertices, self.rotation)
        self._side_mm = max(side_mm, float((self.hi - self.lo)[:2].max()) / MOST_TILES)
        self._nx, self._ny = (max(1, int(np.ceil(v / self._side_mm))) for v in (self.hi - self.lo)[:2])
        self._faces = faces
        self._starts, self._items = tiled(
            vertices, faces, self.rotation, self.lo[0], self.lo[1], self._side_mm, self._nx, self._ny
        )

    def over(self, origin_mm: tuple[float, float], side_mm: float) -> tuple[Ints, Ints]:
        """Faces that may lie over a square of the plan, ascending, and their corners, some more than once."""
        ends = []
        for k, most in ((0, self._nx - 1), (1, self._ny - 1)):
            at = (origin_mm[k] - self.lo[k], origin_mm[k] + side_mm - self.lo[k])
            ends.append([min(max(int(np.floor(v / self._side_mm)), 0), most) for v in at])
        (left, right), (front, back) = ends
        rows = [
            self._items[self._starts[iy * self._nx + left] : self._starts[iy * self._nx + right + 1]]
            for iy in range(front, back + 1)
        ]
        ranked = np.sort(np.concatenate(rows))
        faces = ranked[np.r_[True, ranked[1:] != ranked[:-1]]] if len(ranked) else ranked
        return faces, self._faces[faces].reshape(-1)


def _floor_mm(lo: Floats, hi: Floats) -> float:
    return GAP_FLOOR * float(np.max(hi - lo))
