"""A small depth-buffer renderer: triangles in, shaded picture out, without a graphics card.

The projection is parallel, as in a drawing: equal lengths stay equal. Everything is computed at twice the
wanted size and averaged down. `Scene` collects meshes; `draw` shades them once and keeps depth, face and
piece of each pixel, so that lines can be laid on afterwards with what is hidden told from what is seen.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, zoom

from claybed.assets.palette import rgb
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.scene.smoothing import corner_normals

OVERSAMPLE = 2
# Light from upper left and in front, softened so that no face goes black on a cheap printer.
KEY_LIGHT = np.array([-0.45, 0.55, 0.70]) / np.linalg.norm([-0.45, 0.55, 0.70])
FILL_LIGHT = np.array([0.75, 0.10, 0.45]) / np.linalg.norm([0.75, 0.10, 0.45])


@dataclass(frozen=True, slots=True)
class Camera:
    """A parallel view. `basis` (3, 3) rows right, up, towards the eye; `scale` pixels per mm; `centre_px`
    (2,)."""

    basis: Floats
    scale: float
    centre_px: tuple[float, float]
    centre_mm: tuple[float, float]

    def project(self, points_mm: Floats) -> Floats:
        """Pixel column, pixel row (downwards) and depth in mm towards the eye, shape (n, 3)."""
        p = np.asarray(points_mm, dtype=np.float64) @ self.basis.T
        out = np.empty_like(p)
        out[:, 0] = self.centre_px[0] + (p[:, 0] - self.centre_mm[0]) * self.scale
        out[:, 1] = self.centre_px[1] - (p[:, 1] - self.centre_mm[1]) * self.scale
        out[:, 2] = p[:, 2]
        return out


def looking(from_direction: NDArray[np.floating[Any]], up: NDArray[np.floating[Any]]) -> Floats:
    """Rows right, up and towards-the-eye of a view from `from_direction` (3,) with `up` (3,) upright on the
    page.

    When the two are parallel another upright is taken, so any pair of non-zero vectors will do.
    """
    eye = np.asarray(from_direction, dtype=np.float64)
    eye = eye / np.linalg.norm(eye)
    upright = np.asarray(up, dtype=np.float64)
    right = np.cross(upright, eye)
    if np.linalg.norm(right) < 1e-6 * np.linalg.norm(upright):
        right = np.cross(np.array([0.0, 1.0, 0.0]) if abs(eye[1]) < 0.9 else np.array([1.0, 0.0, 0.0]), eye)
    right = right / np.linalg.norm(right)
    return np.stack([right, np.cross(eye, right), eye])


def framed(basis: Floats, points_mm: Floats, width_px: int, height_px: int, margin: float = 0.06) -> Camera:
    """A camera in which all `points_mm` (n, 3) fit into the picture, leaving `margin` of each side free."""
    p = points_mm @ basis.T
    low, high = p[:, :2].min(axis=0), p[:, :2].max(axis=0)
    span = np.maximum(high - low, 1e-9)
    room = 1.0 - 2.0 * margin
    scale = float(min(width_px * room / span[0], height_px * room / span[1]))
    middle = (low + high) / 2.0
    return Camera(basis, scale, (width_px / 2.0, height_px / 2.0), (float(middle[0]), float(middle[1])))


@dataclass(slots=True, eq=False)
class Drawn:
    """A drawn picture before it is averaged down.

    `rgb` (h, w, 3) float 0..255 at twice the size; `depth_mm` (h, w), minus infinity where nothing is; `part`
    (h, w) index of the mesh, -1 for ground; `origin` (h, w) face origin, 255 for ground; `camera` at that
    size.
    """

    rgb: NDArray[np.float32]
    depth_mm: NDArray[np.float32]
    part: NDArray[np.int16]
    origin: NDArray[np.uint8]
    camera: Camera

    def small(self) -> NDArray[np.uint8]:
        """The picture at its wanted size, (h, w, 3) uint8."""
        h, w, _ = self.rgb.shape
        mean = self.rgb.reshape(h // OVERSAMPLE, OVERSAMPLE, w // OVERSAMPLE, OVERSAMPLE, 3).mean(axis=(1, 3))
        return np.asarray(np.clip(mean + 0.5, 0, 255), dtype=np.uint8)


@dataclass(slots=True)
class Scene:
    """Meshes to be drawn together, each with its colours by face origin and a shift in mm."""

    meshes: list[tuple[Mesh, dict[Origin, str], Floats]] = field(default_factory=list)

    def add(self, mesh: Mesh, colours: dict[Origin, str], shift_mm: Floats | None = None) -> None:
        """Put a mesh in, moved by `shift_mm` (3,)."""
        self.meshes.append(
            (mesh, colours, np.zeros(3) if shift_mm is None else np.asarray(shift_mm, dtype=float))
        )

    def points_mm(self) -> Floats:
        """All vertices where they stand, (n, 3) mm."""
        return np.concatenate([m.vertices_mm + s for m, _, s in self.meshes])

    def corners_mm(self) -> Floats:
        """The eight corners of the box round each mesh where it stands, (8 k, 3) mm: enough to frame a
        trial."""
        boxes = [m.bounds_mm + s for m, _, s in self.meshes]
        return np.array(
            [[b[i, 0], b[j, 1], b[k, 2]] for b in boxes for i in (0, 1) for j in (0, 1) for k in (0, 1)]
        )

    def trace(
        self, camera: Camera, width_px: int, height_px: int
    ) -> tuple[Drawn, NDArray[np.int32], list[Floats]]:
        """Find out what is seen at each pixel without shading it: enough to judge a view by.

        `camera` is framed for `width_px` by `height_px`, the wanted size. Returns the picture with empty
        colours, the face at each pixel and the projected vertices of each mesh.
        """
        big = Camera(
            camera.basis,
            camera.scale * OVERSAMPLE,
            (camera.centre_px[0] * OVERSAMPLE, camera.centre_px[1] * OVERSAMPLE),
            camera.centre_mm,
        )
        shape = height_px * OVERSAMPLE, width_px * OVERSAMPLE
        depth = np.full(shape, -np.inf, np.float32)
        face = np.full(shape, -1, np.int32)
        part = np.full(shape, -1, np.int16)
        origin = np.full(shape, 255, np.uint8)
        placed = [big.project(mesh.vertices_mm + shift) for mesh, _, shift in self.meshes]
        for index, (mesh, _, _) in enumerate(self.meshes):
            _raster(placed[index], mesh.faces, depth, face, part, index)
        for index, (mesh, _, _) in enumerate(self.meshes):
            mine = part == index
            origin[mine] = mesh.origin[face[mine]]
        return Drawn(np.zeros((*shape, 3), np.float32), depth, part, origin, big), face, placed

    def draw(self, camera: Camera, width_px: int, height_px: int, ground: str = "#FFFFFF") -> Drawn:
        """Shade everything, darken hollows and draw silhouettes in ink; sizes as in `trace`."""
        drawn, face, placed = self.trace(camera, width_px, height_px)
        drawn.rgb[:] = rgb(ground)
        for index, (mesh, colours, _) in enumerate(self.meshes):
            normals = (corner_normals(mesh) @ drawn.camera.basis.T).astype(np.float32)
            table = np.zeros((256, 3), np.float32)
            for kind, colour in colours.items():
                table[int(kind)] = rgb(colour)
            _shade(
                placed[index],
                mesh.faces,
                normals,
                mesh.origin,
                table,
                face,
                drawn.part,
                index,
                KEY_LIGHT.astype(np.float32),
                FILL_LIGHT.astype(np.float32),
                drawn.rgb,
            )
        _deepen_hollows(drawn)
        _outline(drawn)
        return drawn


def _deepen_hollows(drawn: Drawn) -> None:
    """Darken a little what lies below its surroundings, so that a cavity reads as a cavity."""
    solid = np.isfinite(drawn.depth_mm)
    if not solid.any():
        return
    step = 8
    h, w = drawn.depth_mm.shape
    blocks = h // step, step, w // step, step
    edge = slice(0, h - h % step), slice(0, w - w % step)
    count = solid[edge].reshape(blocks).sum(axis=(1, 3), dtype=np.float32)
    known = np.where(solid, drawn.depth_mm, 0.0)
    total = known[edge].reshape(blocks).sum(axis=(1, 3), dtype=np.float32)
    # Only what is solid counts, so the ground round a piece pulls nothing down.
    around = gaussian_filter(total, 5.0) / (gaussian_filter(count, 5.0) + 1e-3)
    floor = float(drawn.depth_mm[solid].min())
    fine = zoom(around, step, order=1, grid_mode=True, mode="nearest")
    full = np.pad(fine, ((0, h - fine.shape[0]), (0, w - fine.shape[1])), mode="edge")
    reach = 0.18 * (float(drawn.depth_mm[solid].max()) - floor) + 1e-9
    below = np.clip((full - known) / reach, 0.0, 1.0)
    drawn.rgb *= np.where(solid, 1.0 - 0.18 * below, 1.0).astype(np.float32)[..., None]


def _outline(drawn: Drawn) -> None:
    """Dark line where one thing ends: against the ground, another piece, or a step in depth."""
    ink = np.array([58, 60, 62], np.float32)
    depth, part = drawn.depth_mm, drawn.part
    step = 3.5 / drawn.camera.scale * 3.0
    strong = np.zeros(part.shape, bool)
    with np.errstate(invalid="ignore"):
        for axis in (0, 1):
            near = [slice(None), slice(None)]
            far = [slice(None), slice(None)]
            near[axis], far[axis] = slice(1, None), slice(None, -1)
            a, b = tuple(near), tuple(far)
            other = part[a] != part[b]
            jump = np.abs(depth[a] - depth[b]) > step
            edge = other | jump
            strong[a] |= edge
            strong[b] |= edge
    drawn.rgb[strong] = 0.25 * drawn.rgb[strong] + 0.75 * ink


def _raster_loop(corners, faces, depth, face, part, index):  # type: ignore[no-untyped-def]
    height, width = depth.shape
    for f in range(faces.shape[0]):
        ax, ay, az = corners[faces[f, 0], 0], corners[faces[f, 0], 1], corners[faces[f, 0], 2]
        bx, by, bz = corners[faces[f, 1], 0], corners[faces[f, 1], 1], corners[faces[f, 1], 2]
        cx, cy, cz = corners[faces[f, 2], 0], corners[faces[f, 2], 1], corners[faces[f, 2], 2]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        # Rows run downwards, so a face that looks at the eye has a negative area here.
        if area >= -1e-12:
            continue
        x0 = max(0, int(np.floor(min(ax, bx, cx) - 0.5)))
        x1 = min(width - 1, int(np.ceil(max(ax, bx, cx))))
        y0 = max(0, int(np.floor(min(ay, by, cy) - 0.5)))
        y1 = min(height - 1, int(np.ceil(max(ay, by, cy))))
        for y in range(y0, y1 + 1):
            py = y + 0.5
            for x in range(x0, x1 + 1):
                px = x + 0.5
                wa = ((bx - px) * (cy - py) - (by - py) * (cx - px)) / area
                wb = ((cx - px) * (ay - py) - (cy - py) * (ax - px)) / area
                wc = 1.0 - wa - wb
                if wa < -1e-9 or wb < -1e-9 or wc < -1e-9:
                    continue
                z = wa * az + wb * bz + wc * cz
                if z > depth[y, x]:
                    depth[y, x] = z
                    face[y, x] = f
                    part[y, x] = index


def _shade_loop(corners, faces, normals, origins, table, face, part, index, key, fill, picture):  # type: ignore[no-untyped-def]
    height, width = face.shape
    for y in range(height):
        for x in range(width):
            if part[y, x] != index:
                continue
            f = face[y, x]
            ax, ay = corners[faces[f, 0], 0], corners[faces[f, 0], 1]
            bx, by = corners[faces[f, 1], 0], corners[faces[f, 1], 1]
            cx, cy = corners[faces[f, 2], 0], corners[faces[f, 2], 1]
            area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
            px, py = x + 0.5, y + 0.5
            wa = ((bx - px) * (cy - py) - (by - py) * (cx - px)) / area
            wb = ((cx - px) * (ay - py) - (cy - py) * (ax - px)) / area
            wc = 1.0 - wa - wb
            nx = wa * normals[f, 0, 0] + wb * normals[f, 1, 0] + wc * normals[f, 2, 0]
            ny = wa * normals[f, 0, 1] + wb * normals[f, 1, 1] + wc * normals[f, 2, 1]
            nz = wa * normals[f, 0, 2] + wb * normals[f, 1, 2] + wc * normals[f, 2, 2]
            length = np.sqrt(nx * nx + ny * ny + nz * nz) + 1e-9
            nx, ny, nz = nx / length, ny / length, nz / length
            lit = max(0.0, nx * key[0] + ny * key[1] + nz * key[2])
            soft = max(0.0, nx * fill[0] + ny * fill[1] + nz * fill[2])
            level = 0.62 + 0.42 * lit + 0.12 * soft + 0.05 * ny
            o = origins[f]
            # Fill is hatched on the page, not on the surface: the stripes stay even wherever it sits.
            dark = o == 3 and ((x + y) % 26) < 12
            for k in range(3):
                value = table[o, k] * level
                if o == 3 and not dark:
                    value = (0.30 * table[o, k] + 0.70 * 244.0) * min(1.0, 0.25 + level * 0.75)
                picture[y, x, k] = min(255.0, value)


_raster = njit(cache=True, nogil=True)(_raster_loop)
_shade = njit(cache=True, nogil=True)(_shade_loop)
