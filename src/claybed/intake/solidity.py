"""Is it a solid? Three questions that do not share their arithmetic."""

from __future__ import annotations

from dataclasses import dataclass

import igl
import manifold3d
import numpy as np

from claybed.geometry.depth import DepthRaster
from claybed.intake.skin import Skin, edges_of, is_closed
from claybed.intake.soup import Points, Triples
from claybed.units import say_share

LINES = 384
# A surface volume and a volume counted along lines may differ by this part, plus what the lines themselves
# scatter.
AGREE_WITHIN = 0.002
OVERLAP_WITHIN = 0.001


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a skin bounds a solid.

    `closed`: each edge joins two faces. `status`: what the solid kernel says. `volume_mm3` by the divergence
    theorem; `counted_mm3` the space inside, counted along parallel lines; `scatter` the part by which two
    halves of those lines differ; `doubled_mm3` space enclosed more than once or inside out; `ok` all of it
    together; `why` the first thing wrong.
    """

    ok: bool
    closed: bool
    status: str
    volume_mm3: float
    counted_mm3: float
    scatter: float
    doubled_mm3: float
    why: str


def kernel(skin: Skin) -> manifold3d.Manifold:
    """The skin as a solid of the boolean kernel; its `status()` says whether it took it."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            np.ascontiguousarray(skin.vertices, np.float64),
            np.ascontiguousarray(skin.faces).astype(np.uint64),
        )
    )


def skin_of(solid: manifold3d.Manifold) -> tuple[Points, Triples]:
    """Points (n, 3) and faces (m, 3) of a kernel solid."""
    out = solid.to_mesh64()
    vertices = np.array(out.vert_properties[:, :3], np.float64)
    faces = np.array(out.tri_verts, np.int64)
    if len(out.merge_from_vert):
        target = np.arange(len(vertices))
        target[np.array(out.merge_from_vert, np.int64)] = np.array(out.merge_to_vert, np.int64)
        faces = target[faces]
    return vertices, faces


def marked_from(vertices: Points, faces: Triples, old: Skin) -> Skin:
    """A skin whose faces take their origin from the nearest face of `old`."""
    _, nearest, _ = igl.point_mesh_squared_distance(vertices[faces].mean(axis=1), old.vertices, old.faces)
    return Skin(vertices, faces, old.origin[nearest])


def parted(skin: Skin) -> Skin | None:
    """The skin with its points doubled along edges that four or more faces share, none of them moved.

    None when the faces on some edge do not pair up, or the kernel finds no pairing.
    """
    edges = edges_of(skin.faces, len(skin.vertices))
    if not (2 * edges.forward == edges.count).all():
        return None
    solid = kernel(skin)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        return None
    vertices, faces = skin_of(solid)
    return marked_from(vertices, faces, skin) if is_closed(faces, len(vertices)) else None


def judge(skin: Skin, *, known_closed: bool = False) -> Verdict:
    """Put the questions in order of cost and stop at the first no; `known_closed` spares the first."""
    if not known_closed and not is_closed(skin.faces, len(skin.vertices)):
        return Verdict(False, False, "", 0.0, 0.0, 0.0, 0.0, "it is not closed")
    mesh = skin.mesh()
    volume = mesh.volume_mm3
    if volume <= 0:
        return Verdict(False, True, "", volume, 0.0, 0.0, 0.0, "it is inside out")
    status = kernel(skin).status().name
    if status != "NoError":
        return Verdict(False, True, status, volume, 0.0, 0.0, 0.0, f"the solid kernel says {status}")
    counted, doubled, scatter, odd = _count(skin)
    off = abs(volume - counted) / max(counted, 1e-30)
    why = ""
    if odd:
        why = "some lines enter it and never leave"
    elif doubled > OVERLAP_WITHIN * max(counted, 1e-30):
        why = f"{doubled / 1000:.3g} ml of it are enclosed more than once"
    elif off > AGREE_WITHIN + 4 * scatter:
        why = f"its volume is {say_share(off, 2)} off the volume counted along lines"
    return Verdict(not why, True, status, volume, counted, scatter, doubled, why)


def enclosed_mm3(skin: Skin) -> float:
    """Space that a closed skin winds around at all, mm³, whichever way and however often."""
    return _count(skin)[0]


def _count(skin: Skin) -> tuple[float, float, float, int]:
    """Space inside, space wound otherwise than once, scatter, and lines with an odd crossing."""
    # Looking along the shortest side gives the most lines.
    axis = np.zeros(3)
    axis[int(np.ptp(skin.vertices, axis=0).argmin())] = 1.0
    columns = DepthRaster(skin.mesh(), LINES).columns(axis)
    start = columns.start.astype(np.int64)
    sizes = start[1:] - start[:-1]
    line = np.repeat(np.arange(len(sizes)), sizes)
    if len(line) < 2:
        return 0.0, 0.0, 1.0, 0
    step = np.where(columns.side % 2 == 0, 1, -1)
    depth = np.cumsum(step)
    before = np.concatenate([[0], depth])[start[:-1]]
    depth = depth - np.repeat(before, sizes)
    last = np.concatenate([line[1:] != line[:-1], [True]])
    odd = int((depth[last] != 0).sum())
    run = np.where(last[:-1], 0.0, np.diff(columns.z_mm))
    inside = np.where(depth[:-1] != 0, run, 0.0)
    doubled = float(np.where((depth[:-1] > 1) | (depth[:-1] < 0), run, 0.0).sum())
    width = columns.grid.columns
    even = (line[:-1] // width + line[:-1] % width) % 2 == 0
    one, other = float(inside[even].sum()), float(inside[~even].sum())
    pixel = columns.grid.spacing_mm**2
    scatter = abs(one - other) / max(one + other, 1e-30)
    return (one + other) * pixel, doubled * pixel, scatter, odd
