"""The profile of a turned object from its outline in one picture.

Each pixel of the outline is a ray that grazes the object. On its way past a given height it comes as near to
the axis as the object can be thick there, so the least distance over all rays is the radius. This is exact
for a turned object in perspective: the width is read where the ray grazes, not in the plane of the axis, and
a rim that shows as an ellipse lies at the height of the ellipse's middle. Above the top, rays that pass over
the far side of the rim leave a cone that nothing fills; the profile ends where that cone begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import minimize_scalar

from claybed.errors import CannotError
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.photos.outline import Outline
from claybed.photos.profile_end import domed, top_of
from claybed.photos.standing import TOUCH_SPREAD_MM

STEPS: Final = 400
CENTRE_SPREAD_MM: Final = shelf.value("measuring", "centred_mm").value
STEEPEST_RAD: Final = float(np.radians(65.0))
_FARTHEST_OFF_MM: Final = 40.0
_SIDES_AGREE_MM: Final = 1.0
_SIDES_AGREE_SHARE: Final = 0.03
_UNEVEN_LEAST_MM: Final = 3.0
_NEAR_FOOT_MM: Final = 4.0
_FOOT_SHARE: Final = 0.93  # of the foot's radius, over which its near edge must be a circle
_DEEPEST_OFF_MM: Final = 20.0
_OFF_DOUBT: Final = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Radius by height of a turned object about an upright axis.

    `height_mm` (n,) rising from 0; `radius_mm` (n,); `left_mm` and `right_mm` (n,) as each side alone says;
    `axis_mm` (2,) where the axis meets the mat, and `axis_spread_mm` how far off it may be along the view;
    `flat_top` whether it ends in a rim or flat top rather than a dome; `disagree_mm` root mean square of half
    the difference of the sides; `uneven` height ranges where one side sticks out and was left out: from, to,
    "left" or "right".
    """

    height_mm: Floats
    radius_mm: Floats
    left_mm: Floats
    right_mm: Floats
    axis_mm: Floats
    axis_spread_mm: float
    flat_top: bool
    disagree_mm: float
    uneven: tuple[tuple[float, float, str], ...]

    @property
    def volume_mm3(self) -> float:
        """Volume of the turned solid, by frustums."""
        r, dz = self.radius_mm, np.diff(self.height_mm)
        return float((np.pi / 3.0 * dz * (r[1:] ** 2 + r[1:] * r[:-1] + r[:-1] ** 2)).sum())


def read_profile(outline: Outline, name: str = "", *, gap_mm: float | None = None) -> Profile:
    """The profile of what `outline` shows, taken as turned about an upright axis near the mat's middle.

    `gap_mm`, 0 or more, is how far it stands before a mat that is upright behind it; None on a lying mat.

    Raises CannotError when the picture was taken from too far above, or nothing turned is to be found.
    """
    camera = outline.camera
    if camera.elevation_rad > STEEPEST_RAD:
        raise CannotError(
            "was taken from above, where the sides of the object do not show.",
            where=name,
            remedy="Take it from lower down, so that the mat looks two or three times as wide as deep.",
        )
    rays = camera.rays(_smoothed(outline.edge_px()[0]))
    eye = camera.eye_mm
    if gap_mm is None:
        axis, spread_mm = _axis(eye, rays, camera.lens.focal_px)
    else:
        axis, spread_mm = _axis_before(eye, rays, gap_mm)
    height = np.linspace(0.0, _passes_at(eye, rays, axis).max(), STEPS)
    left, right = _sides(eye, rays, axis, height)
    pixel_mm = float(np.linalg.norm(eye)) / camera.lens.focal_px
    for side in (left, right):
        _from_above(height, side, 1.5 * pixel_mm)
    radius, uneven = _joined(height, left, right)
    over = _over_the_rim(eye, rays, axis)
    cone = _distance(eye, over, axis, height).min(axis=1)
    slant = abs(float(np.arcsin(np.median(over[:, 2]))))
    top, flat = top_of(height, radius, cone, slant, pixel_mm)
    if top < 8 or radius[:top].max() < 2.0:
        raise CannotError(
            "shows nothing that could be turned about an upright axis.",
            where=name,
            remedy="Take a ring of pictures instead.",
        )
    sure = np.isfinite(radius[:top] + left[:top] + right[:top]) & ~_within(height[:top], uneven)
    apart = left[:top][sure] - right[:top][sure]
    rms = float(np.sqrt(np.mean((apart / 2.0) ** 2))) if len(apart) else float("inf")
    cut = [values[:top].copy() for values in (height, radius, left, right)]
    if flat:  # the last step ends where the wall meets the cone
        meets = float(np.interp(cut[1][-1], cone[::-1], height[::-1]))
        cut[0][-1] = np.clip(meets, height[top - 1], height[top - 1] + 2.0 * height[1])
    else:
        cut = domed(*cut)
    return Profile(cut[0], cut[1], cut[2], cut[3], axis, spread_mm, flat, rms, uneven)


def _smoothed(edge: Floats) -> Floats:
    """A closed edge (n, 2) freed from pixel steps and thinned to what the heights can use."""
    smooth = gaussian_filter1d(edge[:-1], 1.5, axis=0, mode="wrap")
    thinned: Floats = smooth[:: max(1, len(smooth) // 3000)]
    return thinned


def _distance(eye: Floats, rays: Floats, axis: Floats, height: Floats) -> Floats:
    """Distance from the axis of each ray at each height, (heights, rays); infinite behind the eye."""
    rise = np.where(np.abs(rays[:, 2]) < 1e-7, 1e-7, rays[:, 2])
    along = (height[:, None] - eye[2]) / rise
    away = np.hypot(eye[0] + along * rays[:, 0] - axis[0], eye[1] + along * rays[:, 1] - axis[1])
    ahead: Floats = np.where(along > 0.0, away, np.inf)
    return ahead


def _misses(eye: Floats, rays: Floats, axis: Floats) -> Floats:
    """How far each ray (n,) passes the axis in plan: negative to the left of it as the camera sees it."""
    flat = rays[:, :2] / np.maximum(np.linalg.norm(rays[:, :2], axis=1, keepdims=True), 1e-12)
    to = axis - eye[:2]
    miss: Floats = flat[:, 0] * to[1] - flat[:, 1] * to[0]
    return miss


def _passes_at(eye: Floats, rays: Floats, axis: Floats) -> Floats:
    """Height (n,) at which each ray passes the axis."""
    away = float(np.hypot(*(axis - eye[:2])))
    height: Floats = eye[2] + away * rays[:, 2] / np.maximum(np.hypot(rays[:, 0], rays[:, 1]), 1e-9)
    return height


def _sides(eye: Floats, rays: Floats, axis: Floats, height: Floats) -> tuple[Floats, Floats]:
    """Least distance from the axis at each rising height, over rays left of it and right of it."""
    left = _misses(eye, rays, axis) <= 0.0
    out = []
    for side in (rays[left], rays[~left]):
        least = np.full(len(height), np.inf)
        for start in range(0, len(height), 64) if len(side) else ():
            some = slice(start, start + 64)
            least[some] = _distance(eye, side, axis, height[some]).min(axis=1)
        out.append(least)
    low, near = _closest(eye, rays, axis)
    _lower_by_segments(out[0], height, low, near, left & np.roll(left, -1))
    _lower_by_segments(out[1], height, low, near, ~left & ~np.roll(left, -1))
    return out[0], out[1]


def _closest(eye: Floats, rays: Floats, axis: Floats) -> tuple[Floats, Floats]:
    """Height at which each ray comes closest to the axis, and how close."""
    flat = np.maximum(np.hypot(rays[:, 0], rays[:, 1]), 1e-12)
    to = axis - eye[:2]
    along = (rays[:, 0] * to[0] + rays[:, 1] * to[1]) / flat**2
    return eye[2] + along * rays[:, 2], np.abs(_misses(eye, rays, axis))


def _lower_by_segments(
    least: Floats, height: Floats, low: Floats, near: Floats, kept: NDArray[np.bool_]
) -> None:
    """Lower `least` where rays pass level: between two neighbours their closest points are joined by a line.

    A level ray meets no other height than its own, so heights between two of them would go unmeasured.
    """
    if len(height) < 2:
        return
    a, b = low[kept], np.roll(low, -1)[kept]
    ra, rb = near[kept], np.roll(near, -1)[kept]
    step = float(height[1] - height[0])
    first = np.ceil((np.minimum(a, b) - height[0]) / step).astype(int)
    last = np.floor((np.maximum(a, b) - height[0]) / step).astype(int)
    short = np.abs(b - a) < 6.0 * step
    count = np.where(short, np.maximum(last - first + 1, 0), 0)
    which = np.repeat(np.arange(len(a)), count)
    index = first[which] + np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    inside = (index >= 0) & (index < len(height))
    which, index = which[inside], index[inside]
    span = np.where(np.abs(b - a) < 1e-12, 1.0, b - a)
    share = np.clip((height[index] - a[which]) / span[which], 0.0, 1.0)
    np.minimum.at(least, index, ra[which] + share * (rb[which] - ra[which]))


def _axis(eye: Floats, rays: Floats, focal_px: float) -> tuple[Floats, float]:
    """Where the axis meets the mat, and how far off it may be along the view.

    Across the view the two sides must agree over as much of the height as can be; along the view the foot's
    near edge, which lies on the mat, must be a circle about it. A foot that the belly hides says nothing, and
    the axis is taken to stand on the cross.
    """
    view = -eye[:2] / max(float(np.linalg.norm(eye[:2])), 1e-9)
    right = np.array([view[1], -view[0]])
    few = rays[:: max(1, len(rays) // 700)]
    depth, spread = 0.0, CENTRE_SPREAD_MM
    across = across_cross = _across(eye, few, right, view, depth, None)
    circle = False
    for _ in range(4):
        found = _depth(eye, rays, right * across, view, depth, focal_px)
        if found is None:
            return right * across_cross, CENTRE_SPREAD_MM
        depth, spread, circle = found
        across = _across(eye, few, right, view, depth, across)
    if not circle:
        return right * across_cross, CENTRE_SPREAD_MM
    depth, spread = _weighed(depth, spread)
    across = _across(eye, few, right, view, depth, across)
    axis: Floats = right * across + view * depth
    return axis, spread


def _axis_before(eye: Floats, rays: Floats, gap_mm: float) -> tuple[Floats, float]:
    """Where the axis meets the table before an upright mat, the plane y = 0, and its spread along the view.

    It stands off by the gap and the largest radius; that radius is read at the distance it gives. One step
    changes the next by radius over distance of the camera, so a few settle it.
    """
    right, view = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    few = rays[:: max(1, len(rays) // 700)]
    depth, across = -gap_mm - 40.0, None
    for _ in range(6):
        across = _across(eye, few, right, view, depth, across)
        axis = right * across + view * depth
        height = np.linspace(0.02, 0.98, 120) * float(_passes_at(eye, few, axis).max())
        left, other = _sides(eye, few, axis, height)
        radius = _joined(height, left, other)[0]
        widest = float(radius[radius < 1e5].max(initial=0.0))
        settled = abs(-gap_mm - widest - depth) < 0.02
        depth = -gap_mm - widest
        if settled:
            break
    return right * across + view * depth, TOUCH_SPREAD_MM


def _weighed(found_mm: float, spread_mm: float) -> tuple[float, float]:
    """A measured depth and the cross of the mat, each by how well it is known."""
    weights = spread_mm**-2.0, CENTRE_SPREAD_MM**-2.0
    return found_mm * weights[0] / sum(weights), float(sum(weights) ** -0.5)


def _across(
    eye: Floats, rays: Floats, right: Floats, view: Floats, depth_mm: float, near: float | None
) -> float:
    top = float(_passes_at(eye, rays, view * depth_mm).max())
    height = np.linspace(0.02 * top, 0.98 * top, 48)

    def differ(across_mm: float) -> float:
        one, other = _sides(eye, rays, right * across_mm + view * depth_mm, height)
        apart = np.abs(one - other)
        # Where something sticks out on one side the sides differ anyhow; that must not pull the axis.
        return float(np.minimum(np.nan_to_num(apart, nan=4.0, posinf=4.0), 4.0).mean())

    if near is None:
        tries = np.arange(-_FARTHEST_OFF_MM, _FARTHEST_OFF_MM + 0.5, 1.0)
        near = float(tries[int(np.argmin([differ(float(a)) for a in tries]))])
    fine = minimize_scalar(differ, bounds=(near - 1.6, near + 1.6), method="bounded", options={"xatol": 0.01})
    return float(fine.x)


def _depth(
    eye: Floats, rays: Floats, across: Floats, view: Floats, now_mm: float, focal_px: float
) -> tuple[float, float, bool] | None:
    """Depth of the axis from the near edge of the foot, its spread, and whether that edge is a circle on the
    mat; None when no foot shows.
    """
    axis = across + view * now_mm
    # The wall over the foot carried down to the mat, where the edge itself does not count.
    near, up = (
        float(np.min(_sides(eye, rays, axis, np.array([height]))))
        for height in (_NEAR_FOOT_MM, 2.0 * _NEAR_FOOT_MM)
    )
    foot = 2.0 * near - up
    if not 3.0 < foot < 400.0:
        return None
    miss = _misses(eye, rays, axis)
    low = np.full(25, np.inf)
    pick = np.full(25, -1)
    bins = np.floor((miss / foot + _FOOT_SHARE) / (2.0 * _FOOT_SHARE) * 25).astype(int)
    heights = _passes_at(eye, rays, axis)
    for k in np.nonzero((bins >= 0) & (bins < 25) & (rays[:, 2] < -1e-3))[0]:
        if heights[k] < low[bins[k]]:
            low[bins[k]], pick[bins[k]] = heights[k], k
    pick = pick[pick >= 0]
    if len(pick) < 12:
        return None
    along = -eye[2] / rays[pick, 2]
    ground = eye[:2] + along[:, None] * rays[pick, :2]

    def off(depth_mm: float) -> Floats:
        away: Floats = np.linalg.norm(ground - across - view * depth_mm, axis=1) - foot
        return away

    best = minimize_scalar(
        lambda depth: float(np.abs(off(depth)).mean()),
        bounds=(now_mm - _FARTHEST_OFF_MM, now_mm + _FARTHEST_OFF_MM),
        method="bounded",
        options={"xatol": 0.02},
    )
    rms = float(np.sqrt((off(float(best.x)) ** 2).mean()))
    # Half a pixel of the edge, laid down on the mat, moves its near side this far.
    slant = -float(np.median(rays[pick, 2]))
    finest = 0.5 * float(np.linalg.norm(eye)) / focal_px / slant
    # Under a belly the edge is no circle; and a person does not miss the cross by much.
    good = rms <= max(0.3, 0.008 * foot, 0.7 * finest) and abs(float(best.x)) <= _DEEPEST_OFF_MM
    # The farther it would be off the cross, the likelier a belly was taken for a foot.
    return float(best.x), float(np.hypot(max(finest, rms), _OFF_DOUBT * float(best.x))), good


def _from_above(height: Floats, side: Floats, least_mm: float) -> None:
    """Carry the wall down to the mat over the last pixel, which the edge along the mat itself spoils."""
    low = int(np.searchsorted(height, least_mm))
    span = side[low : low + 6]
    if low and len(span) == 6 and np.isfinite(span).all():
        slope, start = np.polyfit(height[low : low + 6], span, 1)
        side[:low] = np.maximum(start + slope * height[:low], 0.0)


def _joined(
    height: Floats, left: Floats, right: Floats
) -> tuple[Floats, tuple[tuple[float, float, str], ...]]:
    """One radius from two sides: their mean where they agree, the lesser where something sticks out."""
    lesser = np.minimum(left, right)
    left, right = (np.where(np.isfinite(side), side, 1e6) for side in (left, right))
    with np.errstate(invalid="ignore"):
        apart = np.abs(left - right)
    odd = ~(apart <= np.maximum(_SIDES_AGREE_MM, _SIDES_AGREE_SHARE * lesser))
    radius = np.where(odd, lesser, (left + right) / 2.0)
    uneven = []
    step = float(height[1] - height[0])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], odd, [False]]).astype(int)))
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if (b - a) * step >= _UNEVEN_LEAST_MM:
            side = "left" if float(np.median(left[a:b] - right[a:b])) > 0.0 else "right"
            uneven.append((float(height[a]), float(height[b - 1]), side))
    return radius, tuple(uneven)


def _within(height: Floats, ranges: tuple[tuple[float, float, str], ...]) -> NDArray[np.bool_]:
    inside = np.zeros(len(height), bool)
    for low, high, _ in ranges:
        inside |= (height >= low) & (height <= high)
    return inside


def _over_the_rim(eye: Floats, rays: Floats, axis: Floats) -> Floats:
    """The rays (n, 3) that nearly meet the axis at the top of the outline."""
    miss = np.abs(_misses(eye, rays, axis))
    near = miss < max(1.0, 0.06 * float(miss.max()))
    heights = np.where(near, _passes_at(eye, rays, axis), -np.inf)
    over: Floats = rays[heights > heights.max() - 0.1 * abs(float(heights.max()))]
    return over
