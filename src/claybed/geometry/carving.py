"""Booleans between closed solids of one frame, and back to the lattice; each face keeps its origin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.edge_parting import edges_parted, step_aside
from claybed.geometry.halfedges import in_use, match_sides
from claybed.geometry.lattice import UNITS_PER_MM, Lattice, lattice_mm, row_codes
from claybed.geometry.mesh import Bytes, Floats, Origin
from claybed.geometry.slab import LatticeSolid

Solid: TypeAlias = manifold3d.Manifold
Section: TypeAlias = manifold3d.CrossSection
# Corners nearer than this after a cut are drawn together before they are put on the lattice, so that no two
# of them fall on one lattice point.
TIDY_MM = 0.0015
# What tidying may change of a volume, as a share of its whole surface moved so far.
FOLDED_SHARE = 0.001
# A smaller hollow is rounding; less than a speck encloses nothing.
HOLLOW_MM3 = 0.01
SPECK_MM3 = 1e-6
# Loose parts no thicker than this and smaller than this are rounding.
DUST_MM = 0.02
DUST_MM3 = 2.0
# By so much a solid is grown to join what it lies against: less than releases against cut faces are held to.
INTO_MM = 0.002


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A solid in one part: `volume_mm3` and `area_mm2` of its outer surface."""

    solid: Solid
    volume_mm3: float
    area_mm2: float

    @property
    def thickness_mm(self) -> float:
        """Twice volume over surface: the thickness of a wide plate."""
        return 2.0 * self.volume_mm3 / self.area_mm2


class Workbench:
    """Closed solids in millimetres of one frame, cut with one another.

    It remembers where the faces of every solid that was laid on it came from.
    """

    def __init__(self) -> None:
        self._sources: dict[int, Bytes] = {}

    def lay(self, points_mm: Floats, faces: NDArray[np.integer], origin: Bytes) -> Solid:
        """A closed mesh as a solid: `points_mm` (n, 3), `faces` (m, 3) outward, `origin` (m,).

        Raises ArithmeticError when the mesh is not a closed, oriented surface.
        """
        number = manifold3d.Manifold.reserve_ids(1)
        solid = manifold3d.Manifold(
            manifold3d.Mesh64(
                np.array(points_mm, dtype=np.float64, order="C"),
                np.array(faces, dtype=np.uint64, order="C"),
                run_index=np.array([0, 3 * len(faces)], dtype=np.uint64),
                run_original_id=np.array([number], dtype=np.uint32),
                face_id=np.arange(len(faces), dtype=np.uint64),
            )
        )
        if solid.status() != manifold3d.Error.NoError or solid.is_empty():
            raise ArithmeticError(f"a solid cannot be cut with others ({solid.status()})")
        self._sources[number] = np.asarray(origin, np.uint8)
        return solid

    def marked(self, solid: Solid, origin: Origin) -> Solid:
        """A solid whose faces, wherever they came from, all get one origin from now on."""
        out = solid.to_mesh64()
        faces = np.asarray(out.tri_verts)
        return self.lay(
            np.asarray(out.vert_properties)[:, :3], faces, np.full(len(faces), int(origin), np.uint8)
        )

    def as_it_is(self, solid: Solid, origin: Origin) -> Solid:
        """As `marked`, but not laid anew: slivers and folds stay as they are."""
        one = solid.as_original()
        # Cuts number its faces anew, so that one entry stands for all.
        self._sources[one.original_id()] = np.array([int(origin)], np.uint8)
        return one

    def on_lattice(self, solid: Solid, *, heal: bool = False, fixed: Lattice | None = None) -> LatticeSolid:
        """A solid snapped to the lattice, see `snapped`. Raises ArithmeticError when it is empty or was not
        laid here.
        """
        tidy = solid if fixed is not None else solid.simplify(TIDY_MM)
        # It moves faces by no more than that; now and then it folds one over.
        if abs(float(tidy.volume()) - float(solid.volume())) > FOLDED_SHARE * TIDY_MM * solid.surface_area():
            tidy = solid
        return snapped(*self.faces_of(tidy), heal=heal, fixed=fixed)

    def parts(self, solid: Solid) -> list[Part]:
        """Every part of a solid that hangs together, the largest first; none for an empty one."""
        if solid.is_empty():
            return []
        # Laid anew a part would be cleaned of faces without area; where the solid lies folded on itself that
        # takes more than those.
        bodies = solid.decompose()
        if len(bodies) == 1:
            return [Part(solid, float(solid.volume()), float(solid.surface_area()))]
        volume = np.array([body.volume() for body in bodies])
        first = int(np.argmax(volume))
        # A hollow inside a part is a surface of its own, turned inside out: it stays with the largest.
        hollows = [bodies[k] for k in np.flatnonzero(volume < -HOLLOW_MM3).tolist()]
        largest = self.side_by_side([bodies[first], *hollows])
        outer = np.union1d(np.flatnonzero(volume > SPECK_MM3), [first])
        return [
            Part(largest if k == first else bodies[k], float(volume[k]), float(bodies[k].surface_area()))
            for k in outer[np.argsort(-volume[outer], kind="stable")].tolist()
            if volume[k] > 0.0
        ]

    def side_by_side(self, solids: Sequence[Solid]) -> Solid:
        """Solids as one whose surfaces stay as they are, even where they pass through one another; an empty
        one for none.
        """
        if len(solids) < 2:
            return solids[0] if solids else Solid()
        laid = [self.faces_of(solid) for solid in solids]
        first = np.cumsum([0, *(len(points) for points, _, _ in laid)])
        return self.lay(
            np.concatenate([points for points, _, _ in laid]),
            np.concatenate([faces + start for (_, faces, _), start in zip(laid, first, strict=False)]),
            np.concatenate([origin for _, _, origin in laid]),
        )

    def faces_of(self, solid: Solid) -> tuple[Floats, NDArray[np.int64], Bytes]:
        """Corners (n, 3) mm, faces (m, 3) and where each came from (m,). Raises ArithmeticError when the
        solid is empty or was not laid here.
        """
        out = solid.to_mesh64()
        faces = np.asarray(out.tri_verts).astype(np.int64)
        if not len(faces):
            raise ArithmeticError("nothing is left of a solid after cutting")
        origin = np.empty(len(faces), np.uint8)
        # Every solid that a cut ever met has its run, be it empty.
        first, face_id = np.asarray(out.run_index).astype(np.int64) // 3, np.asarray(out.face_id, np.int64)
        for k, number in enumerate(np.asarray(out.run_original_id).tolist()):
            run = slice(first[k], first[k + 1])
            if number not in self._sources:
                raise ArithmeticError("a face of a cut solid has no known origin")
            source = self._sources[number]
            origin[run] = source[face_id[run]] if len(source) > 1 else source
        return np.asarray(out.vert_properties)[:, :3].copy(), faces, origin


def snapped(
    corners_mm: Floats,
    faces: NDArray[np.integer],
    origin: Bytes,
    *,
    heal: bool = False,
    fixed: Lattice | None = None,
) -> LatticeSolid:
    """A closed mesh on the lattice, without faces that lost their area or pairs of faces that fold flat.

    Corners that fall on one lattice point are one from then on. With `heal` only those that an edge joins
    are; others stand a step or two apart, and edges that more than two faces still share are opened by a
    hair, so that surfaces that pass each other do not grow together. Where points (k, 3) are `fixed`, for a
    part that is put back along them, nothing steps aside and no edge is opened yet.
    """
    corner = np.asarray(faces, np.int64)
    snapped_points = np.rint(corners_mm * UNITS_PER_MM).astype(np.int64)
    index = np.arange(len(snapped_points))
    if heal:
        snapped_points, index = _stepped_apart(snapped_points, corner, fixed)
    _, first, number = np.unique(row_codes(snapped_points), return_index=True, return_inverse=True)
    unique = snapped_points[first]
    faces = number.reshape(-1)[index][corner]
    keep = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    faces, origin = faces[keep], origin[keep]
    lone = _unfolded(faces)
    if not lone.all():
        faces, origin = faces[lone], origin[lone]
    live, kept = in_use(faces, len(unique))
    unique = unique[live]
    solid = LatticeSolid(np.ascontiguousarray(unique), kept, _told_by_neighbours(unique, kept, origin))
    return _without_dust(edges_parted(solid) if heal and fixed is None else solid)


def _unfolded(faces: NDArray[np.integer]) -> NDArray[np.bool_]:
    """Which faces (m, 3) are left once every two on the same three corners that look opposite ways, and so
    enclose nothing, are gone. Of three the one that has no opposite stays: its neighbours are closed by it.
    """
    key = np.sort(faces, axis=1)
    _, found, count = np.unique(row_codes(key), return_inverse=True, return_counts=True)
    group = found.reshape(-1)
    keep: NDArray[np.bool_] = count[group] == 1
    many = np.flatnonzero(~keep)
    if not len(many):
        return keep
    first = np.argmin(faces[many], axis=1)
    turn = np.where(
        np.take_along_axis(faces[many], ((first + 1) % 3)[:, None], axis=1)
        < np.take_along_axis(faces[many], ((first + 2) % 3)[:, None], axis=1),
        1,
        -1,
    )[:, 0]
    net = np.bincount(group[many], turn, minlength=len(count))[group[many]]
    own = many[turn == np.sign(net)]
    order = own[np.argsort(group[own], kind="stable")]
    start = np.searchsorted(group[order], group[order])
    left = np.abs(np.bincount(group[many], turn, minlength=len(count)))[group[order]]
    keep[order[np.arange(len(order)) - start < left]] = True
    return keep


def _told_by_neighbours(points: Lattice, faces: NDArray[np.int32], origin: Bytes) -> Bytes:
    """Where faces came from, those without area taken for the neighbour along their longest side: they only
    join the sides of others, and are no part of any surface.
    """
    corner = points[faces]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    flat = np.flatnonzero((np.cross(first, second) == 0).all(axis=1))
    told = np.array(origin, np.uint8)
    if not len(flat):
        return told
    mate = match_sides(faces, len(points)).mate
    length = np.linalg.norm((np.roll(corner[flat], -1, axis=1) - corner[flat]) / UNITS_PER_MM, axis=2)
    side = mate[3 * flat + np.argmax(length, axis=1)]
    known = side >= 0
    told[flat[known]] = told[side[known] // 3]
    return told


def _without_dust(solid: LatticeSolid) -> LatticeSolid:
    """The solid without parts that are thinner than a film of rounding and all but weightless."""
    mate = match_sides(solid.faces, len(solid.points)).mate
    mated = np.flatnonzero(mate >= 0)
    m = len(solid.faces)
    graph = coo_matrix((np.ones(len(mated), np.int8), (mated // 3, mate[mated] // 3)), shape=(m, m))
    count, label = connected_components(graph, directed=False)
    if count == 1:
        return solid
    corner = lattice_mm(solid.points)[solid.faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    volume = np.abs(np.bincount(label, np.einsum("ij,ij->i", corner[:, 0], across) / 6.0))
    area = np.bincount(label, np.linalg.norm(across, axis=1) / 2.0)
    dust = (volume < DUST_MM3) & (2.0 * volume <= DUST_MM * area)
    keep = ~dust[label]
    live, faces = in_use(solid.faces[keep], len(solid.points))
    return LatticeSolid(solid.points[live], faces, solid.origin[keep])


def _stepped_apart(
    points: Lattice, faces: NDArray[np.int64], fixed: Lattice | None
) -> tuple[Lattice, NDArray[np.int64]]:
    """Lattice points (k, 3), no two equal but where they are `fixed`, and each corner's number among them
    (n,).
    """
    n = len(points)
    place = row_codes(points)
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]]])
    ends = ends[place[ends[:, 0]] == place[ends[:, 1]]]
    graph = coo_matrix((np.ones(len(ends), np.int8), ends.T), shape=(n, n))
    count, found = connected_components(graph, directed=False)
    number = found.astype(np.int64)
    own: Lattice = np.zeros((count, 3), np.int64)
    own[number] = points
    _, first, copies = np.unique(row_codes(own), return_index=True, return_counts=True)
    if (copies == 1).all():
        return own, number
    lone = np.zeros(count, bool)
    lone[first] = True
    taken = {tuple(row) for row in own[_beside(own, ~lone)].tolist()}
    held = set() if fixed is None else {tuple(row) for row in fixed.tolist()}
    for k in np.flatnonzero(~lone).tolist():
        if tuple(own[k].tolist()) in held:
            continue
        spot = step_aside(own[k], taken)
        own[k] = spot
        taken.add(spot)
    return own, number


def _beside(points: Lattice, some: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which lattice points (n, 3) may lie within two steps of one of `some` of them (n,); misses none that
    does.
    """
    cell = points >> 2
    around = np.stack(np.meshgrid(*[[-1, 0, 1]] * 3), axis=-1).reshape(-1, 3)
    wanted = (np.unique(cell[some], axis=0)[:, None] + around).reshape(-1, 3)
    codes = row_codes(np.concatenate([cell, wanted]))
    near: NDArray[np.bool_] = np.isin(codes[: len(cell)], codes[len(cell) :])
    return near


def triangles(solid: Solid) -> tuple[Floats, NDArray[np.int64]]:
    """Corners (n, 3) mm and faces (m, 3) of a solid."""
    out = solid.to_mesh64()
    return np.asarray(out.vert_properties)[:, :3].copy(), np.asarray(out.tri_verts).astype(np.int64)


def moved(solid: Solid, rotation: Floats, shift_mm: Floats | Sequence[float] = (0.0, 0.0, 0.0)) -> Solid:
    """A solid turned by `rotation` (3, 3), then shifted."""
    return solid.transform(np.column_stack([rotation, np.asarray(shift_mm, dtype=np.float64)]))


def reaching_in(solid: Solid) -> Solid:
    """A solid grown by a hair, so that no slits are left beside it; but for films, which would fold."""
    steps = INTO_MM * np.concatenate([np.eye(3), -np.eye(3)])
    grown: list[Solid] = []
    parts = solid.decompose()
    for part in parts if all(part.volume() > 0.0 for part in parts) else [solid]:  # a hollow is no part
        grown.append(part)
        if part.volume() > INTO_MM * part.surface_area():
            grown += [part.translate(step.tolist()) for step in steps]
    return manifold3d.Manifold.batch_boolean(grown, manifold3d.OpType.Add) if grown else solid


def prism(outline: Section, low_mm: float, high_mm: float) -> Solid:
    """An upright prism over a plan outline between two levels."""
    return outline.extrude(high_mm - low_mm).translate((0.0, 0.0, low_mm))


def polygon(points_mm: Floats) -> Section:
    """One simple outline (k, 2) as a plan section; the sense of its turn does not matter."""
    return (
        manifold3d.CrossSection([np.ascontiguousarray(points_mm)], manifold3d.FillRule.NonZero)
        if (_twice_area(points_mm) > 0.0)
        else manifold3d.CrossSection([np.ascontiguousarray(points_mm[::-1])], manifold3d.FillRule.NonZero)
    )


def outlines(section: Section) -> tuple[list[Floats], list[Floats]]:
    """Outer outlines and holes of a plan section, each (k, 2) mm."""
    rings = [np.asarray(ring, dtype=np.float64) for ring in section.to_polygons()]
    outer = [ring for ring in rings if _twice_area(ring) > 0.0]
    return outer, [ring for ring in rings if _twice_area(ring) < 0.0]


def bodies(solid: Solid) -> list[tuple[float, float]]:
    """Lowest and highest level (mm) of every part of a solid that hangs together, the largest part first."""
    points, faces = triangles(solid)
    if not len(faces):
        return []
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]]])
    graph = coo_matrix((np.ones(len(ends), np.int8), (ends[:, 0], ends[:, 1])), shape=(len(points),) * 2)
    _, label = connected_components(graph, directed=False)
    found = []
    for part in np.unique(label[faces[:, 0]]).tolist():
        own = faces[label[faces[:, 0]] == part]
        z = points[np.unique(own), 2]
        found.append((len(own), float(z.min()), float(z.max())))
    return [(low, high) for _, low, high in sorted(found, reverse=True)]


def _twice_area(ring: Floats) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def spots(section: Section, spacing_mm: float) -> Floats:
    """Points (n, 2) mm of a square grid that lie inside a plan section."""
    outer, holes = outlines(section)
    if not outer:
        return np.zeros((0, 2))
    area = shapely.union_all([shapely.Polygon(ring) for ring in outer])
    if holes:
        area = area.difference(shapely.union_all([shapely.Polygon(ring) for ring in holes]))
    low_x, low_y, high_x, high_y = area.bounds
    x, y = np.meshgrid(
        np.arange(low_x + spacing_mm / 2.0, high_x, spacing_mm),
        np.arange(low_y + spacing_mm / 2.0, high_y, spacing_mm),
    )
    at = np.stack([x.ravel(), y.ravel()], axis=1)
    inside: Floats = at[shapely.contains_xy(area, at[:, 0], at[:, 1])]
    return inside


def within(points_mm: Floats, ring: Floats, more_mm: float) -> NDArray[np.bool_]:
    """Which plan points (n, 2) lie inside an outline (k, 2) grown by `more_mm`."""
    area = shapely.Polygon(ring).buffer(more_mm)
    inside: NDArray[np.bool_] = shapely.contains_xy(area, points_mm[:, 0], points_mm[:, 1])
    return inside


def cone(at_mm: Sequence[float], low_radius_mm: float, high_radius_mm: float, height_mm: float) -> Solid:
    """An upright round frustum that stands on the point `at_mm` (3,)."""
    return manifold3d.Manifold.cylinder(height_mm, low_radius_mm, high_radius_mm, 32).translate(tuple(at_mm))
