"""The clay that lines each mold piece: the middle of a slab against the cavity, parted at the seam."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter, map_coordinates
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

from claybed.errors import CannotError
from claybed.geometry.flattening import Faces, parts, split_by_values
from claybed.geometry.mesh import Bytes, Floats, Mesh
from claybed.geometry.proxy import proxy
from claybed.geometry.refining import refined
from claybed.geometry.voxels import solid_fraction

MOST_FACES = 4_000
_CELLS = 110.0
_FINEST_MM = 0.8
# Evens out the stairs of the cells, in cells.
_BLUR = 1.5
# A wall further from the middle of the clay than this many slabs has none against it.
_OFF_SLAB = 1.0
_SAMPLE_MM = 4.0


def lining_of(
    pieces: list[Mesh],
    model: Mesh,
    slab_mm: float,
    *,
    gate_at_mm: Floats | None = None,
    bore_mm: float | None = None,
    up: Floats | None = None,
    ledge_mm: float | None = None,
) -> list[tuple[Floats, Faces]]:
    """For each mold piece the middle of a slab `slab_mm` thick against its cavity.

    Corners (n, 3) mm and faces (m, 3), outward, about four thousand a piece; open at the seam and where the
    cavity opens. A face belongs to the piece whose plaster is nearest. Slab bridges grooves that are narrower
    than itself. With a gate (`gate_at_mm`, `up` towards its opening) what lies beyond it is left out, with a
    round bore only what is near its axis. With a `ledge_mm` the piece is a hump: the slab lies on what it has
    below that height, and ends there. Raises CannotError when the slab leaves no room in the cavity.
    """
    low = np.min([piece.bounds_mm[0] for piece in pieces], axis=0)
    high = np.max([piece.bounds_mm[1] for piece in pieces], axis=0)
    if ledge_mm is not None:  # the slab lies outside a hump
        low = low - np.array([0.0, 0.0, 2.0 * slab_mm])
    cell_mm = max(float(np.max(np.ptp(model.bounds_mm, axis=0))) / _CELLS, _FINEST_MM)
    counts = np.maximum(np.ceil((high - low) / cell_mm - 1e-9).astype(int), 2)
    shape = (int(counts[0]), int(counts[1]), int(counts[2]))
    cavity = solid_fraction(model, low, cell_mm, shape)
    plaster = [solid_fraction(piece, low, cell_mm, shape) for piece in pieces]
    if ledge_mm is not None:
        # Over the ledge the slab's middle goes on straight, to be cut off there; beside the bed is no wall.
        above = low[2] + (np.arange(shape[2]) + 0.5) * cell_mm > ledge_mm
        cavity = np.ones(shape)
        plaster = [np.where(above, 0.0, one) for one in plaster]
        gate_at_mm, up, bore_mm = np.array([0.0, 0.0, ledge_mm]), np.array([0.0, 0.0, 1.0]), None
    far = [_distance(one, cell_mm) for one in plaster]
    depth = np.where(cavity > 0.02, np.min(far, axis=0), 0.0)
    depth = gaussian_filter(depth, _BLUR, mode="nearest")
    if depth.max() <= slab_mm / 2.0:
        raise CannotError(
            f"a slab of {slab_mm:g} mm fills the whole cavity.",
            where="the mold",
            remedy="Use a thinner slab.",
        )
    corners, faces, _, _ = marching_cubes(depth, slab_mm / 2.0)
    # Cells are told by their corner, values by their middle.
    surface = Mesh.make(low + (corners + 0.5) * cell_mm, faces[:, ::-1].astype(np.int32), frame=model.frame)
    light = proxy(_outward(surface, depth, low, cell_mm), len(pieces) * MOST_FACES)
    points, left = np.asarray(light.vertices_mm), light.faces.astype(np.int64)
    found = []
    for k in range(len(pieces)):
        own_points, own = points, left
        if len(pieces) > 1:
            others = np.min([one for j, one in enumerate(far) if j != k], axis=0)
            nearer = gaussian_filter(others - far[k], _BLUR, mode="nearest")
            value = map_coordinates(nearer, ((points - low) / cell_mm - 0.5).T, order=1, mode="nearest")
            own_points, own, front = split_by_values(points, left, value)
            own = own[front]
        if gate_at_mm is not None and up is not None:
            own_points, own = _without_gate(own_points, own, gate_at_mm, bore_mm, up)
        used, local = np.unique(own, return_inverse=True)
        found.append((own_points[used], local.reshape(-1, 3).astype(np.int64)))
    return [_largest(one) for one in found]


def solid_share(
    model: Mesh,
    on_outside: Bytes,
    linings: list[tuple[Floats, Faces]],
    slab_mm: float,
    *,
    gate_at_mm: Floats | None = None,
    up: Floats | None = None,
) -> tuple[float, Floats | None]:
    """Share of the cavity's wall that no slab lies against, and the place (3,) mm furthest from one.

    There the cavity is narrower than two slabs, and clay fills it. `on_outside` (model faces,) marks
    openings, which are no wall; nor is the gate. The place is None when all of the wall has its slab.
    """
    fine = refined(
        Mesh.make(model.vertices_mm, model.faces, frame=model.frame, origin=on_outside), _SAMPLE_MM
    )
    c = fine.corners_mm
    area = np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1) / 2.0
    middle = c.mean(axis=1)
    wall = fine.origin == 0
    if gate_at_mm is not None and up is not None:
        wall &= (middle - gate_at_mm) @ up < 0.0
    if not wall.any():
        return 0.0, None
    clay = np.concatenate([points[faces].mean(axis=1) for points, faces in linings])
    far, _ = cKDTree(clay).query(middle[wall])
    bare = np.asarray(far) > _OFF_SLAB * slab_mm + _SAMPLE_MM / 2.0
    share = float(area[wall][bare].sum() / area[wall].sum())
    return share, middle[wall][int(np.argmax(far))] if bare.any() else None


def _distance(share: Floats, cell_mm: float) -> Floats:
    """Distance from the plaster to each cell's middle, mm; the wall runs half a cell before the first one."""
    far = distance_transform_edt(share < 0.5) * cell_mm
    return np.asarray(np.where(far > 0.0, far - 0.5 * cell_mm, 0.0))


def _outward(surface: Mesh, depth: Floats, low: Floats, cell_mm: float) -> Mesh:
    """The surface with faces that look towards the plaster, where the depth falls."""
    slope = [np.gradient(depth, axis=k) for k in range(3)]
    c = surface.corners_mm
    normal = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    place = ((c.mean(axis=1) - low) / cell_mm - 0.5).T
    uphill = np.stack(
        [np.asarray(map_coordinates(part, place, order=1, mode="nearest")) for part in slope], axis=1
    )
    if float((uphill * normal).sum()) <= 0.0:
        return surface
    return Mesh.make(surface.vertices_mm, surface.faces[:, ::-1], frame=surface.frame)


def _without_gate(
    points: Floats, faces: Faces, gate_at_mm: Floats, bore_mm: float | None, up: Floats
) -> tuple[Floats, Faces]:
    along = (points - gate_at_mm) @ up
    if bore_mm is None:
        points, faces, beyond = split_by_values(points, faces, along)
        return points, faces[~beyond]
    aside = np.linalg.norm((points - gate_at_mm) - along[:, None] * up, axis=1)
    # A cone round the bore that begins a little inside the object.
    points, faces, beyond = split_by_values(
        points, faces, np.minimum(0.6 * along + 0.5 * bore_mm + 1.0 - aside, along + 0.25 * bore_mm)
    )
    return points, faces[~beyond]


def _largest(surface: tuple[Floats, Faces]) -> tuple[Floats, Faces]:
    """What hangs together with a fiftieth of the largest part's faces or more; specks are left out."""
    found = parts(*surface)
    most = max((len(faces) for _, faces in found), default=0)
    kept = [one for one in found if len(one[1]) * 50 >= most]
    start = np.cumsum([0, *(len(points) for points, _ in kept)])
    points = np.concatenate([points for points, _ in kept]) if kept else surface[0]
    faces = np.concatenate([faces + start[k] for k, (_, faces) in enumerate(kept)]) if kept else surface[1]
    return points, faces
