"""Where a lining is parted so that each part lies flat: gores round an axis, or cuts through the middle."""

from __future__ import annotations

import math

import numpy as np

from claybed.geometry.flattening import (
    defects_sr,
    is_disk,
    loops,
    parts,
    slit,
    split_by_plane,
    spread_out,
)
from claybed.geometry.mesh import Floats
from claybed.patterns.laying import EVEN_ROUNDS, Laid, Surface, curvature_sr, face_areas, lay
from claybed.patterns.merging import merged
from claybed.patterns.wrapping import wrapped

# Parts smaller than this are trimmings of a cut.
LEAST_PART_MM2 = 25.0
MOST_DARTS = 3
# A dart must take off at least this share of the stretch to be worth cutting.
DART_GAIN = 0.1
# A form counts as round when its radius at one height strays by less than this share.
ROUND_SHARE = 0.02
SECTORS = 5
# A foot or a rim that turns by more than this is a joint, not a bend; parts under CRUMB_MM2 are not.
# Less than a hand's breadth is stretched by the thumb.
SMALL_MM2 = 2500.0
CREASE_DEG = 40.0
CRUMB_MM2 = 400.0
MOST_CREASED = 3
GORES = (4, 6, 8, 10, 12)
MOST_SPARE = 4
# Parts with more curvature than the floor allows by this factor are not tried to be joined.
MILNOR_SLACK = 1.25


def floor_ratio(total_sr: float) -> float:
    """Least logarithm of greatest over least stretch of a round cap with so much curvature (0 to below 2 pi).

    log(a / sin a) with the cap's half angle a, 1 - cos a = K / 2 pi (Milnor, "A problem in cartography",
    American Mathematical Monthly 76, 1969; the formula from memory). About K / 6 pi for small K.
    """
    angle = math.acos(max(-1.0, 1.0 - total_sr / (2.0 * math.pi)))
    return 0.0 if angle < 1e-9 else math.log(angle / max(math.sin(angle), 1e-9))


def least_parts(total_sr: float, stretch_fraction: float) -> int:
    """How many parts at least, by curvature alone: K / (6 pi x stretch), rounded up; at least one."""
    return max(1, math.ceil(total_sr / (6.0 * math.pi * stretch_fraction) - 1e-9))


def part_lining(lining: Surface, stretch_fraction: float, most_parts: int) -> list[Laid]:
    """Part a lining until every part's stretch is within `stretch_fraction`, in `most_parts` at most.

    A round form is cut into equal gores, told once; any other through its middle, each time across the part
    that is stretched most, and what lies flat enough together is joined again. Darts are cut only into what
    is still stretched more than asked.
    """
    most_sr = MILNOR_SLACK * 6.0 * math.pi * stretch_fraction
    found: list[Laid] = []
    # Some are joined again, so that a few more may be cut first; not when too many stay apart.
    for spare in (MOST_SPARE, 0):
        groups = _cut_up(lining, stretch_fraction, most_parts + spare)
        found = [one for group in groups for one in merged(group, stretch_fraction, most_sr)]
        if sum(one.copies for one in found) <= most_parts:
            break
    return [_darted(one, stretch_fraction) for one in found]


def _cut_up(lining: Surface, stretch_fraction: float, most_parts: int) -> list[list[Laid]]:
    """A lining in parts, those of each smooth stretch of it together."""
    done: list[list[Laid]] = []
    for part in _at_creases(lining):
        found = wrapped(*part) or _gores(part, stretch_fraction, most_parts)
        done.append([found] if found is not None else [lay(one) for one in _disks([part], most_parts)])
    while sum(one.copies for group in done for one in group) < most_parts:
        group = max(done, key=lambda group: max(_to_split(one, stretch_fraction) for one in group))
        worst = max(group, key=lambda one: _to_split(one, stretch_fraction))
        if _to_split(worst, stretch_fraction) <= 0.0:
            break
        halves = _halved((worst.points_mm, worst.faces))
        if len(halves) < 2:
            break
        group[:] = [one for one in group if one is not worst]
        group += [lay(part) for part in _disks(halves, most_parts)]
    return done


def _to_split(one: Laid, stretch_fraction: float) -> float:
    """How much a part asks to be cut: its stretch too much, by its size; 0 for what is small."""
    area = _area_mm2((one.points_mm, one.faces))
    if one.copies > 1 or area < SMALL_MM2:
        return 0.0
    return max(one.spread_ratio - stretch_fraction, 0.0) * math.sqrt(area)


def _at_creases(lining: Surface) -> list[Surface]:
    """A lining parted where it turns sharply, as at a foot; whole when that would leave crumbs."""
    smooth = [part for part in parts(*lining) if _area_mm2(part) > LEAST_PART_MM2]
    sharp = [part for part in parts(*lining, crease_deg=CREASE_DEG) if _area_mm2(part) > LEAST_PART_MM2]
    kept = sum(_area_mm2(part) for part in sharp) > 0.995 * sum(_area_mm2(part) for part in smooth)
    crumbs = min((_area_mm2(part) for part in sharp), default=0.0) < CRUMB_MM2
    return sharp if kept and not crumbs and len(sharp) <= len(smooth) + MOST_CREASED else smooth


def _disks(surfaces: list[Surface], most: int) -> list[Surface]:
    """Surfaces cut until each has one boundary and no handle."""
    waiting, done = list(surfaces), []
    for _ in range(4 * most + 8):
        if not waiting:
            break
        part = waiting.pop()
        if is_disk(*part):
            done.append(part)
            continue
        rings = loops(part[1])
        through = part[0][rings[1]].mean(axis=0) if len(rings) > 1 else None
        waiting += _halved(part, through)
    return done


def _halved(part: Surface, through_mm: Floats | None = None) -> list[Surface]:
    """A part cut through its middle (or a given place), of two ways the one that leaves less curvature."""
    points, faces = part
    area = face_areas(part)
    middles = points[faces].mean(axis=1)
    centre = (middles * area[:, None]).sum(axis=0) / area.sum()
    _, _, axes = np.linalg.svd((middles - centre) * np.sqrt(area)[:, None], full_matrices=False)
    bent = np.abs(spread_out(defects_sr(points, faces), faces, EVEN_ROUNDS))
    best: list[Surface] = []
    least = math.inf
    for normal in axes[:2]:
        along = points @ normal
        # Through the middle of the clay, and through that of its curvature.
        offsets = [float(centre @ normal), _median(along, bent)]
        for offset in offsets if through_mm is None else [float(through_mm @ normal)]:
            made = _parted(part, offset * normal, normal)
            if len(made) < 2:
                continue
            worst = max(curvature_sr(*p) + 0.05 * (not is_disk(*p)) for p in made)
            if worst < least - 1e-9:
                best, least = made, worst
    return best


def _parted(part: Surface, place_mm: Floats, normal: Floats) -> list[Surface]:
    """What a plane leaves of a part on either side, trimmings left out."""
    cut, new, front = split_by_plane(*part, place_mm, normal)
    return [p for side in (front, ~front) for p in parts(cut, new[side]) if _area_mm2(p) > LEAST_PART_MM2]


def _median(values: Floats, weight: Floats) -> float:
    """The value that half of the weight lies below."""
    order = np.argsort(values)
    below = np.cumsum(weight[order])
    return float(values[order][min(int(np.searchsorted(below, 0.5 * below[-1])), len(values) - 1)])


def _gores(part: Surface, stretch_fraction: float, most: int) -> Laid | None:
    """One of the fewest equal gores of a round form that lie flat enough; None when it is not round."""
    points, faces = part
    ring = loops(faces)
    if not ring or is_flat_enough(part, stretch_fraction):
        return None
    rim = points[ring[0]]
    centre = rim.mean(axis=0)
    _, _, axes = np.linalg.svd(rim - centre)
    axis = axes[2]
    away = points - centre
    height = away @ axis
    radius = np.linalg.norm(away - height[:, None] * axis, axis=1)
    widest = float(radius.max())
    if np.ptp(radius[ring[0]]) > ROUND_SHARE * widest or not _turns_on_itself(away, axis, height, radius):
        return None
    for count in GORES:
        if count > most:
            break
        side = np.cross(axis, axes[0])
        half = math.pi / count
        gore = part
        for sign in (1.0, -1.0):
            turn = sign * half
            normal = sign * (-math.sin(turn) * axes[0] + math.cos(turn) * side)
            cut, new, front = split_by_plane(*gore, centre, -normal)
            kept = [p for p in parts(cut, new[front]) if _area_mm2(p) > LEAST_PART_MM2]
            kept.sort(key=lambda p: -float((p[0].mean(axis=0) - centre) @ axes[0]))
            if not kept:
                return None
            gore = kept[0]
        if not is_disk(*gore):
            return None
        laid = lay(gore, copies=count)
        if laid.spread_ratio <= stretch_fraction:
            return laid
    return None


def is_flat_enough(part: Surface, stretch_fraction: float) -> bool:
    """Whether a part lies flat as it is, within the stretch asked."""
    return is_disk(*part) and lay(part).spread_ratio <= stretch_fraction


def _turns_on_itself(away: Floats, axis: Floats, height: Floats, radius: Floats) -> bool:
    """Whether each of five sectors has the others' profile of height and radius."""
    from scipy.spatial import cKDTree

    profile = np.stack([height, radius], axis=1)
    first = np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.8 else [0.0, 1.0, 0.0])
    second = np.cross(axis, first)
    angle = np.arctan2(away @ second, away @ first)
    sector = np.floor((angle + np.pi) / (2.0 * np.pi) * SECTORS).astype(int) % SECTORS
    spacing = float(np.sqrt(np.ptp(height) * max(float(radius.max()), 1.0) / max(len(height), 1)))
    for k in range(SECTORS):
        if (sector == k).all() or not (sector == k).any():
            return False
        far, _ = cKDTree(profile[sector != k]).query(profile[sector == k])
        back, _ = cKDTree(profile[sector == k]).query(profile[sector != k])
        strays = max(float(np.quantile(far, 0.98)), float(np.quantile(back, 0.9)))
        if strays > ROUND_SHARE * float(radius.max()) + 2.0 * spacing:
            return False
    return True


def _darted(one: Laid, stretch_fraction: float) -> Laid:
    """The part with as few darts as bring its stretch down, each from where curvature is greatest."""
    while one.spread_ratio > stretch_fraction and one.darts < MOST_DARTS:
        defect = np.abs(spread_out(defects_sr(one.points_mm, one.faces), one.faces, EVEN_ROUNDS))
        defect[loops(one.faces)[0]] = 0.0
        slitted = slit(one.points_mm, one.faces, int(np.argmax(defect)))
        if not is_disk(*slitted):
            break
        tried = lay(slitted, one.copies, one.darts + 1)
        if tried.spread_ratio > (1.0 - DART_GAIN) * one.spread_ratio:
            break
        one = tried
    return one


def _area_mm2(part: Surface) -> float:
    return float(face_areas(part).sum())
