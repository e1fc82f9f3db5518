"""The bed of the first pour as it should look when it is done, from where the person stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image

from claybed.assets.palette import face_colours
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.scene.smoothing import crease_segments_mm
from claybed.sheets import linework, viewpoint
from claybed.sheets.rendering import Scene, framed, looking

UP = np.array([0.0, 0.0, 1.0])
CLAY = "#B88A68"
WOOD = "#EFE7D6"
BOARD_THICK_MM = 6.0
BASE_ROOM_MM = 22.0
AT_FORM_MM = 0.05
# From the front, a little from the left and well above: keys and openings are seen, and the boards behind.
AZIMUTH_DEG, ELEVATION_DEG = -108.0, 42.0


def bed_done(
    first: Mesh,
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    *,
    board_mm: float,
    rim_mm: float,
    width_px: int = 1000,
    height_px: int = 900,
) -> Image.Image:
    """Object, gate plug and clay bed with its keys on the base board, the form's back and left sides behind.

    `first` is the piece poured first and `model` the object with its gate, both in the block's frame;
    `board_mm` the height of the base board there and `rim_mm` that of the form's rim above it. Raises
    ValueError for a piece without a parting surface.
    """
    bed = _bed(first, board_mm)
    low, high = bed.bounds_mm
    top_mm = min(board_mm + rim_mm, float(model.bounds_mm[1, 2]) + 0.12 * float(np.ptp(bed.bounds_mm[:, 0])))
    scene = Scene()
    clay = dict.fromkeys(face_colours(), CLAY)
    scene.add(bed, clay)
    front = _under_gate(seam_loops_mm, bed, board_mm)
    if front is not None:
        scene.add(front, clay)
    scene.add(_above(model, board_mm), face_colours())
    wood = dict.fromkeys(face_colours(), WOOD)
    base_low = (low[0] - BASE_ROOM_MM, low[1] - BASE_ROOM_MM, board_mm - BOARD_THICK_MM)
    scene.add(box(base_low, (high[0] + BASE_ROOM_MM, high[1] + BASE_ROOM_MM, board_mm)), wood)
    scene.add(
        box((low[0] - BOARD_THICK_MM, high[1], board_mm), (high[0], high[1] + BOARD_THICK_MM, top_mm)), wood
    )
    scene.add(box((high[0], low[1], board_mm), (high[0] + BOARD_THICK_MM, high[1], top_mm)), wood)
    basis = looking(viewpoint.direction(AZIMUTH_DEG, ELEVATION_DEG), UP)
    camera = framed(basis, scene.points_mm(), width_px, height_px, margin=0.03)
    drawn = scene.draw(camera, width_px, height_px)
    image = linework.as_image(drawn)
    for index, (mesh, _, _) in enumerate(scene.meshes):
        linework.draw_creases(image, drawn, crease_segments_mm(mesh), index)
    linework.draw_seam(image, drawn, seam_loops_mm)
    small = linework.shrunk(image)
    label_at = camera.project(np.array([[(low[0] + high[0]) / 2.0, low[1] - BASE_ROOM_MM * 0.55, board_mm]]))[
        0
    ]
    linework.label(small, (float(label_at[0]), float(label_at[1])), "front", max(26, height_px // 15))
    return linework.cropped(small)


def _bed(first: Mesh, board_mm: float) -> Mesh:
    """The parting surface and keys of the first piece from their other side, with walls down to the board."""
    of_bed = np.isin(first.origin, [int(Origin.PARTING), int(Origin.KEY)])
    if not of_bed.any():
        raise ValueError("no parting surface to draw a bed from")
    faces = first.faces[of_bed][:, ::-1]
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    count = len(first.vertices_mm)
    forth, back = edges[:, 0] * count + edges[:, 1], edges[:, 1] * count + edges[:, 0]
    rim = edges[~np.isin(forth, back)]
    corners = first.vertices_mm[rim]
    floor = corners.copy()
    floor[:, :, 2] = board_mm
    k = count + 4 * np.arange(len(rim))
    # Each rim edge a, b with its foot: a wall that looks away from the clay.
    walls = np.concatenate([np.stack([k + 1, k, k + 2], axis=1), np.stack([k + 1, k + 2, k + 3], axis=1)])
    added = np.concatenate([corners, floor], axis=1).reshape(-1, 3)
    vertices = np.concatenate([first.vertices_mm, added])
    every = np.concatenate([faces, walls])
    used, place = np.unique(every, return_inverse=True)
    return Mesh.make(vertices[used], place.reshape(every.shape), frame=first.frame, origin=Origin.PARTING)


def _under_gate(seam_loops_mm: Sequence[Floats], bed: Mesh, board_mm: float) -> Mesh | None:
    """The clay that is seen under the end of a gate plug, where the seam runs along the inside of the "
    "form."""
    low, high = bed.bounds_mm[:, :2]
    middle = (low + high) / 2.0
    walls = []
    for loop in seam_loops_mm:
        at_side = np.abs(np.concatenate([loop[:, :2] - low, loop[:, :2] - high], axis=1)) < AT_FORM_MM
        both = (at_side[:-1] & at_side[1:]).any(axis=1)
        for a, b in zip(loop[:-1][both], loop[1:][both], strict=True):
            # A hair inwards, so that the end of the plug lies before it.
            inwards = np.r_[(middle - (a + b)[:2] / 2.0) * 1e-3, 0.0]
            foot = [np.r_[p[:2], board_mm] + inwards for p in (a, b)]
            walls += [[a + inwards, b + inwards, foot[0]], [b + inwards, foot[1], foot[0]]]
    if not walls:
        return None
    corners = np.array(walls).reshape(-1, 3)
    faces = np.arange(len(corners)).reshape(-1, 3)
    return Mesh.make(corners, np.concatenate([faces, faces[:, ::-1]]), frame=bed.frame)


def _above(model: Mesh, board_mm: float) -> Mesh:
    """The model without faces that lie wholly under the board; its fill is done and looks like the rest."""
    kept = (model.corners_mm[:, :, 2] > board_mm).any(axis=1)
    origin = np.where(model.origin == int(Origin.FILL), int(Origin.OBJECT), model.origin)[kept]
    return Mesh.make(model.vertices_mm, model.faces[kept], frame=model.frame, origin=origin)


def box(low: Sequence[float], high: Sequence[float]) -> Mesh:
    """A block between two corners, mm, its faces outwards."""
    corners = np.array(
        [[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
    )
    faces = np.array(
        [
            [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
            [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
        ]
    )  # fmt: skip
    return Mesh.make(corners, faces, frame="block")
