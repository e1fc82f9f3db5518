"""Several closed shells: which one is inside which, which belong together, which stand apart."""

from __future__ import annotations

from dataclasses import dataclass

import igl
import manifold3d
import numpy as np

from claybed.errors import InputError
from claybed.geometry.halfedges import bodies_of as joined_parts
from claybed.geometry.halfedges import match_sides
from claybed.geometry.mesh import Bytes
from claybed.intake.skin import Parts, Skin, parts_of, used_points, volumes_of
from claybed.intake.solidity import kernel, marked_from, skin_of
from claybed.intake.soup import Points
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.units import say_count, say_volume

SCRAP_PART = 0.002  # of the largest shell's volume
MOST_EXACT = 40
_TOUCH = 1e-6  # of the diagonal
_PROBES = 300


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """Bodies standing apart, largest first, and what was done to tell them apart."""

    bodies: tuple[Skin, ...]
    repairs: tuple[Repair, ...]
    findings: tuple[Finding, ...]


@dataclass(slots=True)
class _Shell:
    skin: Skin
    volume_mm3: float
    low: Points
    high: Points
    solid: manifold3d.Manifold | None = None


def outward(skin: Skin, parts: Parts) -> tuple[Skin, Repair | None]:
    """Every one of the `parts` (see `parts_of`) turned so that it encloses a positive volume."""
    count, part = parts
    negative = volumes_of(skin.vertices, skin.faces, part, count) < 0
    if not negative.any():
        return skin, None
    flip = negative[part]
    if negative.all():
        says = "The whole surface was inside out and was turned over."
        return skin.flipped(flip), Repair("flip_all", int(flip.sum()), 0.0, "mm", says)
    says = f"Turned inside out again: {say_count(int(negative.sum()), 'shell')}."
    return skin.flipped(flip), Repair("orient", int(flip.sum()), 0.0, "mm", says)


def bodies_of(skin: Skin, parts: Parts) -> Bodies:
    """Sort closed, outward shells into bodies: inner ones dropped, overlapping united, crumbs dropped."""
    count, part = parts
    if count == 1:
        return Bodies((skin,), (), ())
    volumes = volumes_of(skin.vertices, skin.faces, part, count)
    order = np.argsort(-volumes, kind="stable")
    # Crumbs go before anything exact is asked; a thousandth part of nothing cannot matter to plaster.
    crumbs = order[volumes[order] <= 1e-6 * volumes[order[0]]]
    shells = [
        _shell(skin, part == k, float(volumes[k])) for k in order if volumes[k] > 1e-6 * volumes[order[0]]
    ]
    shells, inner = _without_inner(shells)
    repairs: list[Repair] = []
    if inner:
        total = sum(s.volume_mm3 for s in inner)
        says = f"Dropped {say_count(len(inner), 'shell')} inside the outer one ({say_volume(total / 1000)})."
        repairs.append(Repair("keep_outer", len(inner), total, "mm3", says))
    groups = _groups(shells)
    bodies: list[tuple[float, Skin]] = []
    for group in groups:
        if len(group) == 1:
            bodies.append((group[0].volume_mm3, group[0].skin))
            continue
        joined, volume, repair = _united(group)
        repairs.append(repair)
        bodies.append((volume, joined))
    bodies.sort(key=lambda b: -b[0])
    scrap = [b for b in bodies if b[0] < SCRAP_PART * bodies[0][0]]
    lost = sum(v for v, _ in scrap) + float(volumes[crumbs].sum())
    findings: list[Finding] = []
    if scrap or len(crumbs):
        number = len(scrap) + len(crumbs)
        says = f"Dropped {say_count(number, 'crumb')} beside the object, {say_volume(lost / 1000)} in all."
        repairs.append(Repair("drop_scrap", number, lost, "mm3", says))
        if scrap:
            findings.append(
                Finding(
                    "scrap_dropped",
                    "look",
                    "beside the object",
                    says,
                    "Look whether one of them belongs to the object.",
                    Amount(lost / 1000, "ml"),
                )
            )
    apart = tuple(b for v, b in bodies if v >= SCRAP_PART * bodies[0][0])
    return Bodies(apart, tuple(repairs), tuple(findings))


def picked(bodies: tuple[Skin, ...], body: int | None, where: str) -> Skin:
    """The body asked for (1-based, largest first). Raises InputError when there is a choice and none was
    made.
    """
    sizes = "; ".join(f"{k}: {_extent(b)}" for k, b in enumerate(bodies[:6], 1))
    more = f"; and {len(bodies) - 6} more" if len(bodies) > 6 else ""
    if body is not None:
        if body > len(bodies):
            raise InputError(
                f"there is no body {body}; the file holds {len(bodies)} ({sizes}{more}).",
                where=where,
                remedy=f"Use --body 1 to {len(bodies)}.",
            )
        return bodies[body - 1]
    if len(bodies) > 1:
        raise InputError(
            f"holds {len(bodies)} separate bodies ({sizes}{more}).",
            where=where,
            remedy=f"Pick one with --body 1 to {len(bodies)}.",
        )
    return bodies[0]


def _extent(skin: Skin) -> str:
    x, y, z = np.ptp(skin.vertices[used_points(skin.faces, len(skin.vertices))], axis=0)
    return f"{x:.3g} × {y:.3g} × {z:.3g} mm"


def _shell(skin: Skin, keep: Bytes, volume: float) -> _Shell:
    own = skin.kept(keep.astype(bool)).trimmed()
    return _Shell(own, volume, own.vertices.min(axis=0), own.vertices.max(axis=0))


def _without_inner(shells: list[_Shell]) -> tuple[list[_Shell], list[_Shell]]:
    outer: list[_Shell] = []
    inner: list[_Shell] = []
    for shell in shells:
        holder = next((o for o in outer if _boxed(shell, o) and _share_inside(shell, o) == 1.0), None)
        if holder is not None and len(shells) <= MOST_EXACT:
            rest = _solid(shell) - _solid(holder)
            if rest.volume() > 1e-6 * shell.volume_mm3:
                holder = None
        (inner if holder is not None else outer).append(shell)
    return outer, inner


def _groups(shells: list[_Shell]) -> list[list[_Shell]]:
    group = list(range(len(shells)))
    exact = len(shells) <= MOST_EXACT
    for i, big in enumerate(shells):
        for j in range(i + 1, len(shells)):
            if group[i] != group[j] and _near(big, shells[j]) and _meets(big, shells[j], exact):
                old, new = group[j], group[i]
                group = [new if g == old else g for g in group]
    return [[s for s, g in zip(shells, group, strict=True) if g == k] for k in sorted(set(group))]


def _meets(big: _Shell, small: _Shell, exact: bool) -> bool:
    if _share_inside(small, big) > 0 or _share_inside(big, small) > 0:
        return True
    if not exact:
        return False
    reach = _TOUCH * big.skin.size_mm
    return bool(_solid(big).min_gap(_solid(small), reach * 2) <= reach)


def _united(group: list[_Shell]) -> tuple[Skin, float, Repair]:
    solids = [part for shell in group for part in _parts(shell)]
    solid = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    vertices, faces = skin_of(solid)
    shift = np.concatenate([[0], np.cumsum([len(s.skin.vertices) for s in group])[:-1]])
    before = Skin(
        np.concatenate([s.skin.vertices for s in group]),
        np.concatenate([s.skin.faces + k for s, k in zip(group, shift, strict=True)]),
        np.concatenate([s.skin.origin for s in group]),
    )
    whole = marked_from(vertices, faces, before)
    count, part = parts_of(faces, len(vertices))
    if count > 1:
        positive = volumes_of(vertices, faces, part, count) > 0
        whole = whole.kept(positive[part]).trimmed()
    volume = whole.mesh().volume_mm3
    doubled = max(sum(s.volume_mm3 for s in group) - volume, 0.0)
    says = f"United {len(group)} bodies that run into each other; they shared {say_volume(doubled / 1000)}."
    return whole, volume, Repair("unite", len(group), doubled, "mm3", says)


def _parts(shell: _Shell) -> list[manifold3d.Manifold]:
    """The surfaces of a shell that only points join, each by itself: within one solid, surfaces that run into
    each other would stay as they are. A shell with hollows, or of many parts, is left whole.
    """
    faces = shell.skin.faces
    _, count = joined_parts(match_sides(faces, len(shell.skin.vertices)).mate)
    solid = _solid(shell)
    if not 1 < count <= MOST_EXACT:
        return [solid]
    parts = solid.decompose()
    return parts if all(part.volume() > 0.0 for part in parts) else [solid]


def _boxed(inner: _Shell, outer: _Shell) -> bool:
    return bool((inner.low >= outer.low).all() and (inner.high <= outer.high).all())


def _near(a: _Shell, b: _Shell) -> bool:
    reach = _TOUCH * a.skin.size_mm
    return bool((a.low <= b.high + reach).all() and (b.low <= a.high + reach).all())


def _share_inside(shell: _Shell, other: _Shell) -> float:
    """Part of the shell's points that lie inside the other."""
    step = max(1, len(shell.skin.vertices) // _PROBES)
    probes = np.ascontiguousarray(shell.skin.vertices[::step])
    winding = igl.fast_winding_number(other.skin.vertices, other.skin.faces, probes)
    return float((winding > 0.5).mean())


def _solid(shell: _Shell) -> manifold3d.Manifold:
    if shell.solid is None:
        shell.solid = kernel(shell.skin)
    return shell.solid
