"""What a ring of outlines leaves standing, how far off that may be, and which pictures are wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from claybed.errors import CannotError
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.outline_hull import Box, Views, dissent, hull_field, least_dissent, surface_of
from claybed.photos.camera import Camera
from claybed.photos.outline import Outline

Progress = Callable[[str, float], None]

LONGEST_SIDE_STEPS: Final = 190
FINEST_MM: Final = 0.3
_SEARCH_MM: Final = 5.0
_TALLEST_MM: Final = 600.0
_TRIAL_STEPS: Final = 56
_BLAMED_MOST: Final = 0.02  # of all rays of the other pictures
_OWN_MOST: Final = 0.06
_LEAST_LEFT: Final = 5
_SAMPLES: Final = 700


@dataclass(frozen=True, slots=True, eq=False)
class Hull:
    """The hull of outlines, frame "object", mat at z = 0.

    `half_mm3` is the volume that every other view alone leaves; `excess_share` how much a round section of
    these views exceeds its circle; `widest_gap_deg` the widest gap between neighbouring directions of view,
    both ways; `top_slack_mm` how much lower a flat top may lie than the hull's; `spacing_mm` of the grid.
    """

    mesh: Mesh
    half_mm3: float
    excess_share: float
    widest_gap_deg: float
    top_slack_mm: float
    spacing_mm: float


def views_of(outlines: Sequence[Outline]) -> Views:
    """The outlines as maps to carve by."""
    matrices = [
        o.camera.lens.matrix @ np.column_stack([o.camera.rotation, o.camera.shift_mm]) for o in outlines
    ]
    return Views.of([o.distance_px() for o in outlines], matrices, [o.camera.lens.focal_px for o in outlines])


def carve_hull(
    views: Views, cameras: Sequence[Camera], reach_mm: tuple[float, float], *, height_mm: float | None = None,
    steps: int = LONGEST_SIDE_STEPS, progress: Progress = lambda phase, done: None,
) -> Hull:  # fmt: skip
    """Carve the hull of `views` inside `reach_mm` to either side of the mat's middle, from the mat upwards.

    `height_mm` cuts it at a measured height. Raises CannotError when nothing is left.
    """
    progress("carving", 0.0)
    box = _fitted(views, reach_mm, steps)
    if box is None:
        raise _nothing_left()
    field = _bounded(hull_field(views, box), box, height_mm)
    if not (field > 0.0).any():
        raise _nothing_left()
    progress("carving", 0.6)
    mesh = surface_of(field, box)
    half = Box(box.low_mm, 2.0 * box.spacing_mm, (*[(n + 1) // 2 for n in box.count],))  # type: ignore[arg-type]
    order = np.argsort([c.azimuth_rad for c in cameras])
    halves = []
    for part in (0, 1):
        kept = np.zeros(len(cameras), bool)
        kept[order[part::2]] = True
        inside = _bounded(hull_field(views.only(kept), half), half, height_mm)
        halves.append(_volume(inside, half))
    whole = _volume(_bounded(hull_field(views, half), half, height_mm), half)
    progress("carving", 0.9)
    excess, gap_deg = section_excess([c.azimuth_rad for c in cameras])
    slack = 0.0 if height_mm is not None else _top_slack(mesh, cameras)
    return Hull(
        mesh,
        mesh.volume_mm3 * max(1.0, float(np.mean(halves)) / whole),
        excess,
        gap_deg,
        slack,
        box.spacing_mm,
    )


def _nothing_left() -> CannotError:
    return CannotError(
        "the outlines leave nothing that all pictures agree on.",
        where="photos",
        remedy="Take them again without moving the object on the mat.",
    )


def section_excess(azimuths_rad: Sequence[float]) -> tuple[float, float]:
    """How much larger than a circle its hull is, as a share, and the widest gap between views in degrees.

    Each view bounds a level section on two sides, a half turn apart; the polygon of tangents about a circle
    has the area of the sum of tan(gap / 2) over its gaps. With k views spread evenly over a half turn that
    is (2k / pi) tan(pi / 2k) of the circle.
    """
    sides = np.sort(
        np.concatenate([np.asarray(azimuths_rad), np.asarray(azimuths_rad) + np.pi]) % (2 * np.pi)
    )
    gaps = np.diff(np.concatenate([sides, [sides[0] + 2 * np.pi]]))
    widest = float(np.degrees(gaps.max()))
    if gaps.max() > np.pi * 0.98:
        return float("inf"), widest
    return float(np.tan(gaps / 2.0).sum() / np.pi - 1.0), widest


def wrong_pictures(
    views: Views, outlines: Sequence[Outline], reach_mm: tuple[float, float]
) -> list[tuple[int, str]]:
    """Pictures whose outline the others speak against: index and reason, the worst first.

    Every point of a true outline lies on a ray that meets the hull of all the others. An outline that is too
    small is spoken against by the rays of all others, one that is too large by its own rays alone.
    """
    out: list[tuple[int, str]] = []
    active = np.ones(len(outlines), bool)
    box = _fitted(views, reach_mm, _TRIAL_STEPS, agree=max(2, round(0.6 * len(outlines))))
    if box is None:
        return out
    bits = dissent(views, box, 1.2 * box.spacing_mm)
    rays = [_rays_inside(o) for o in outlines]
    far = float(np.linalg.norm(np.asarray(box.count) * box.spacing_mm))
    while active.sum() > max(_LEAST_LEFT, int(0.66 * len(outlines))):
        live = bits & _word(active)
        blame, own, asked = np.zeros(len(outlines)), np.zeros(len(outlines)), np.zeros(len(outlines))
        for i in np.nonzero(active)[0].tolist():
            eye = outlines[i].camera.eye_mm
            middle = float(np.linalg.norm(eye - _middle(box)))
            found = least_dissent(live, box, eye, rays[i], (max(1.0, middle - far), middle + far))
            asked[i] = len(found)
            for word, count in zip(*np.unique(found, return_counts=True), strict=True):
                against = [k for k in range(len(outlines)) if int(word) >> k & 1]
                if against:
                    blame[against] += count / len(against)
                    own[i] += count
        blame[blame < _BLAMED_MOST * np.maximum(asked.sum() - asked, 1.0)] = 0.0
        own[own < _OWN_MOST * np.maximum(asked, 1.0)] = 0.0
        worst = np.where(active, np.maximum(blame, own), 0.0)
        k = int(worst.argmax())
        if worst[k] == 0.0:
            break
        small = blame[k] >= own[k]
        out.append(
            (k, "sees past where all others see the object" if small else "shows more than the others allow")
        )
        active[k] = False
    return out


def _word(active: NDArray[np.bool_]) -> np.uint64:
    return np.uint64(sum(1 << int(k) for k in np.nonzero(active)[0]))


def _rays_inside(outline: Outline) -> Floats:
    rows, columns = np.nonzero(outline.inside >= 0.5)
    step = max(1, len(rows) // _SAMPLES)
    return outline.camera.rays(np.column_stack([columns[::step], rows[::step]]).astype(np.float64))


def _middle(box: Box) -> Floats:
    return np.asarray(box.low_mm) + np.asarray(box.count) * box.spacing_mm / 2.0


def _fitted(views: Views, reach_mm: tuple[float, float], steps: int, agree: int | None = None) -> Box | None:
    """A grid round what is left, or round what at least `agree` views leave; None when nothing is."""
    x, y = reach_mm
    count = (int(2 * x / _SEARCH_MM) + 2, int(2 * y / _SEARCH_MM) + 2, int(_TALLEST_MM / _SEARCH_MM))
    rough = Box((-x, -y, 0.5 * _SEARCH_MM), _SEARCH_MM, count)
    if agree is None:
        inside = hull_field(views, rough) > -_SEARCH_MM
    else:
        bits = dissent(views, rough, _SEARCH_MM)
        against = np.zeros(bits.shape, np.int64)
        for k in range(len(views.start)):
            against += ((bits >> np.uint64(k)) & np.uint64(1)).astype(np.int64)
        inside = len(views.start) - against >= agree
    if not inside.any():
        return None
    low, high = [], []
    for axis in (2, 1, 0):
        hit = np.nonzero(inside.any(axis=tuple(a for a in range(3) if a != axis)))[0]
        low.append(int(hit[0]) - 1)
        high.append(int(hit[-1]) + 1)
    a = np.asarray(rough.low_mm) + np.asarray(low) * _SEARCH_MM
    b = np.asarray(rough.low_mm) + np.asarray(high) * _SEARCH_MM
    a[2] = 0.0
    spacing = max(FINEST_MM, float((b - a).max()) / steps)
    n = np.ceil((b - a) / spacing).astype(int) + 2
    return Box((float(a[0]), float(a[1]), 0.0), spacing, (int(n[0]), int(n[1]), int(n[2])))


def _bounded(field: NDArray[np.float32], box: Box, height_mm: float | None) -> NDArray[np.float32]:
    """The field cut by the mat, and by a measured height."""
    z = box.low_mm[2] + box.spacing_mm * np.arange(field.shape[0], dtype=np.float32)
    bound = z if height_mm is None else np.minimum(z, height_mm - z)
    return np.minimum(field, bound.astype(np.float32)[:, None, None])


def _volume(field: NDArray[np.float32], box: Box) -> float:
    """Volume where the field is positive, cells at the surface by their share, mm³."""
    share = np.clip(field / box.spacing_mm + 0.5, 0.0, 1.0)
    return float(share.sum()) * box.spacing_mm**3


def _top_slack(mesh: Mesh, cameras: Sequence[Camera]) -> float:
    """How much lower a flat top may lie: cameras above it see over it from all sides and leave a cone.

    The cone ends where the hull grows no wider than the lowest camera's slant lets it.
    """
    points = mesh.vertices_mm
    top = float(points[:, 2].max())
    lowest_rad = min(
        float(np.arctan2(c.eye_mm[2] - top, np.hypot(c.eye_mm[0], c.eye_mm[1]))) for c in cameras
    )
    if lowest_rad <= 0.0:
        return 0.0
    steep = float(np.tan(lowest_rad))
    slack = 0.0
    for down in np.linspace(0.0, top, 201)[1:]:
        level = points[np.abs(points[:, 2] - top + down) < top / 200.0, :2]
        radius = float(np.ptp(level, axis=0).max()) / 2.0 if len(level) else 0.0
        if 1.1 * radius * steep >= down:
            slack = float(down)
    return slack
