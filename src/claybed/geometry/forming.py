"""Simple bodies to build a vessel from, and cuts through it by planes; millimetres throughout."""

from __future__ import annotations

import math
from collections.abc import Sequence

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from claybed.geometry.carving import Solid, Workbench, snapped, triangles
from claybed.geometry.halfedges import match_sides
from claybed.geometry.lattice import Lattice, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid

ROD_SIDES = 24
_AT_END_MM = 1e-6


def closed(points_mm: Floats, faces: NDArray[np.integer]) -> Solid:
    """A closed mesh as a solid: `points_mm` (n, 3), `faces` (m, 3) outward.

    Raises ArithmeticError when the mesh is not a closed, oriented surface.
    """
    return Workbench().lay(points_mm, faces, np.zeros(len(faces), np.uint8))


def hull(points_mm: Floats) -> Solid:
    """The convex hull of points (n, 3), at least four that do not lie in one plane."""
    return manifold3d.Manifold.hull_points(np.ascontiguousarray(points_mm, dtype=np.float64))


def box(low_mm: Sequence[float], high_mm: Sequence[float]) -> Solid:
    """An upright box between two opposite corners (3,)."""
    low, high = np.asarray(low_mm, dtype=np.float64), np.asarray(high_mm, dtype=np.float64)
    return manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low))


def rod(start_mm: Sequence[float], end_mm: Sequence[float], radius_mm: float) -> Solid:
    """A round bar from one point (3,) to another, circumscribed, so that what must pass through it passes."""
    start, end = np.asarray(start_mm, dtype=np.float64), np.asarray(end_mm, dtype=np.float64)
    along = (end - start) / np.linalg.norm(end - start)
    seed = np.eye(3)[int(np.argmin(np.abs(along)))]
    right = np.cross(along, seed)
    right /= np.linalg.norm(right)
    turns = np.arange(ROD_SIDES) * 2.0 * np.pi / ROD_SIDES
    reach = radius_mm / math.cos(math.pi / ROD_SIDES)
    ring = reach * (np.outer(np.cos(turns), right) + np.outer(np.sin(turns), np.cross(along, right)))
    return hull(np.concatenate([start + ring, end + ring]))


def united(solids: Sequence[Solid]) -> Solid:
    """All solids as one; empty for none."""
    return manifold3d.Manifold.batch_boolean(list(solids), manifold3d.OpType.Add)


def halved(solid: Solid, normal: Sequence[float], offset_mm: float) -> tuple[Solid, Solid]:
    """What lies behind the plane `normal` . p = `offset_mm`, and what lies before it."""
    before, behind = solid.split_by_plane(tuple(float(v) for v in normal), offset_mm)
    return behind, before


def on_lattice(solid: Solid) -> LatticeSolid:
    """A solid snapped to the lattice; faces that were not cut stay as they were laid."""
    return laid_closed(*triangles(solid))


def laid_closed(points_mm: Floats, faces: NDArray[np.integer]) -> LatticeSolid:
    """A closed mesh, points (n, 3) and faces (m, 3), snapped to the lattice.

    Where corners that come together there would join more than two faces along an edge, they stand a step
    apart.
    """
    origin = np.zeros(len(faces), np.uint8)
    plain = snapped(points_mm, faces, origin)
    sides = match_sides(plain.faces, len(plain.points))
    if not len(sides.lone) and not len(sides.twice):
        return plain
    return snapped(points_mm, faces, origin, heal=True)


def volume_mm3(solid: Solid) -> float:
    """Volume of a solid, mm³."""
    return float(solid.volume())


def bounds_mm(solid: Solid) -> Floats:
    """Lowest and highest corner (2, 3) of a solid."""
    return np.asarray(solid.bounding_box(), dtype=np.float64).reshape(2, 3)


def section(solid: Solid, level_mm: float) -> shapely.Geometry:
    """What a level plane cuts out of a solid, in plan; empty for none."""
    rings = [shapely.Polygon(ring) for ring in solid.slice(level_mm).to_polygons() if len(ring) >= 3]
    # Rings of holes run the other way round: an odd number of rings around a place is solid.
    met: shapely.Geometry = shapely.Polygon()
    for ring in sorted(rings, key=lambda one: -one.area):
        met = shapely.symmetric_difference(met, ring)
    return met


def drawn_on(solid: Solid, normal: Floats, offset_mm: float, way_mm: Floats) -> Solid:
    """What of a solid lies beyond the plane `normal` . p = `offset_mm`, swept along `way_mm` (3,), which must
    lead off the plane the way its unit `normal` (3,) looks, from the plane on: its whole outline seen along
    the way, so that nothing of it stands out beside what is drawn on.
    """
    _, rim = halved(solid, normal.tolist(), offset_mm)
    turn = pull_rotation(normal)
    x, y, tall = (turn @ way_mm).tolist()
    # The way stands upright on the plane: turned, and sheared along it.
    lean = turn.T @ np.array([[1.0, 0.0, x / tall], [0.0, 1.0, y / tall], [0.0, 0.0, 1.0]])
    back = np.linalg.inv(lean)
    seen = rim.transform(np.column_stack([back, -offset_mm * (back @ normal)])).project()
    return manifold3d.Manifold.extrude(seen, tall).transform(np.column_stack([lean, offset_mm * normal]))


def bodies(solid: Solid) -> list[Solid]:
    """The parts of a solid that hang together, crumbs of less than a cubic millimetre left out."""
    return [one for one in solid.decompose() if float(one.volume()) > 1.0]


def grown(outline_mm: Floats, more_mm: float) -> Floats:
    """A convex outline (k, 2) moved outwards by `more_mm` (inwards when below 0), corners kept sharp.

    Raises ArithmeticError when nothing is left of it.
    """
    ring = shapely.buffer(shapely.Polygon(outline_mm), more_mm, join_style="mitre", mitre_limit=10.0)
    if ring.is_empty or ring.geom_type != "Polygon":
        raise ArithmeticError("an outline shrank to nothing")
    corners: Floats = shapely.get_coordinates(ring.exterior)[:-1]
    return corners


def reach_mm(outline_mm: Floats, along: int, at_mm: float) -> tuple[float, float]:
    """Where a line square to an axis crosses a convex outline (k, 2): `along` 0 for x = `at_mm`, 1 for y.

    A line beside the outline is taken to touch its end.
    """
    low, high = outline_mm.min(axis=0), outline_mm.max(axis=0)
    at_mm = float(np.clip(at_mm, low[along] + _AT_END_MM, high[along] - _AT_END_MM))
    ends = np.array([low - 1.0, high + 1.0])
    ends[:, along] = at_mm
    met = shapely.intersection(shapely.LineString(ends), shapely.Polygon(outline_mm))
    across = shapely.get_coordinates(met)
    return float(across[:, 1 - along].min()), float(across[:, 1 - along].max())


def unturned(solid: LatticeSolid, source: LatticeSolid) -> LatticeSolid:
    """A cut solid with the faces of its `source` (looking either way) put back where two of them, side by
    side, had their common edge turned over.

    Cutting keeps whole faces as they are, but turns the common edge of a few pairs of thin ones, and with it
    the surface between four corners that are not in one plane.
    """
    code = _numbered(np.concatenate([solid.points, source.points]))
    here, there = code[: len(solid.points)], code[len(solid.points) :]
    own, known = here[solid.faces], there[source.faces]
    own_key, known_key = _keys(own), _keys(known)
    whole = np.isin(known, here).all(axis=1)
    lost = np.flatnonzero(whole & ~np.isin(known_key, own_key)).tolist()
    fresh = np.flatnonzero(~np.isin(own_key, known_key)).tolist()
    quads = _pairs([(k, frozenset(known[k].tolist())) for k in lost])
    turned = _pairs([(k, frozenset(own[k].tolist())) for k in fresh])
    at = {int(number): k for k, number in enumerate(here.tolist())}
    faces = solid.faces.copy()
    for corners, (one, two) in turned.items():
        if corners not in quads:
            continue
        wound = [_sides(faces[k].tolist()) for k in (one, two)]
        outline = {side for sides in wound for side in sides}
        for k, wanted in zip((one, two), quads[corners], strict=True):
            face = [at[number] for number in known[wanted].tolist()]
            faces[k] = face if _sides(face) & outline else face[::-1]
    return LatticeSolid(solid.points, faces, solid.origin)


def _numbered(points: Lattice) -> NDArray[np.int64]:
    """The same whole number, from 0 on, for points (n, 3) that are equal."""
    order = np.lexsort(points.T)
    ranked = points[order]
    fresh = np.r_[False, (ranked[1:] != ranked[:-1]).any(axis=1)]
    number = np.empty(len(points), np.int64)
    number[order] = np.cumsum(fresh)
    return number


def _keys(faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """One whole number for the three corners of each face (m, 3), in whatever order they stand."""
    low, middle, high = np.sort(faces, axis=1).T
    key: NDArray[np.int64] = (low << 42) + (middle << 21) + high
    return key


def _sides(face: list[int]) -> set[tuple[int, int]]:
    return set(zip(face, face[1:] + face[:1], strict=True))


def _pairs(faces: list[tuple[int, frozenset[int]]]) -> dict[frozenset[int], tuple[int, int]]:
    """Pairs of faces that share an edge, by the four corners of both."""
    by_edge: dict[frozenset[int], list[tuple[int, frozenset[int]]]] = {}
    for k, corners in faces:
        for off in corners:
            by_edge.setdefault(corners - {off}, []).append((k, corners))
    return {
        one | two: (k, m)
        for found in by_edge.values()
        if len(found) == 2
        for (k, one), (m, two) in [(found[0], found[1])]
    }
