"""From parts laid flat to templates: outline, allowance, which edge meets which, names."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.ops import polylabel

from claybed.geometry.flattening import loops, stretches
from claybed.geometry.mesh import Floats
from claybed.patterns.laying import Laid, face_areas
from claybed.patterns.piecing import floor_ratio
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.patterns import SlabPattern
from claybed.units import say_length

_STEP_MM = 0.5
_MEETS_MM = 0.8
# Shorter runs of an edge are corners.
_LEAST_RUN_MM = 6.0
_MITRE = 2.0
_EDGE_TEXT_MM = 3.0
# Width of a letter over its height, with the gap beside it.
_LETTER_SHARE = 0.62
SEAM = "seam"

Corners = NDArray[np.int64]


def named_patterns(piece: str, laid: list[Laid], allowance_mm: float) -> list[SlabPattern]:
    """The patterns of one mold piece, named after it, largest first, with their joints.

    Joints are told by the pattern met and the ends of the stretch (mm, flat); what meets none lies at the
    seam or the rim of the mold.
    """
    order = sorted(laid, key=lambda one: -float(face_areas((one.points_mm, one.faces)).sum()))
    names = [f"{piece}{k}" for k in range(1, len(order) + 1)]
    rims = [_rim(one) for one in order]
    found = []
    for k, one in enumerate(order):
        rim = rims[k]
        outline = one.laid_mm[rim]
        others = [(names[j], order[j], rims[j]) for j in range(len(order)) if j != k]
        meets = _meets(one, rim, names[k], others)
        area = face_areas((one.points_mm, one.faces))
        stretch = stretches(one.points_mm, one.faces, one.laid_mm)
        exact = float(np.abs(stretch[area > 1e-9] - 1.0).max(initial=0.0)) < 1e-3
        found.append(
            SlabPattern(
                id=names[k],
                copies=one.copies,
                points_mm=one.points_mm,
                faces=one.faces,
                laid_mm=one.laid_mm,
                outline_mm=outline,
                cut_mm=with_allowance(outline, allowance_mm),
                darts=one.darts,
                curvature_sr=one.curvature_sr,
                spread_ratio=one.spread_ratio,
                floor_ratio=floor_ratio(min(one.curvature_sr, 2.0 * math.pi)),
                stretch=stretch.prod(axis=1),
                unrolled=exact,
                joints=meets,
            )
        )
    return found


def with_allowance(outline_mm: Floats, allowance_mm: float) -> Floats:
    """The outline (n, 2) moved outwards by an allowance (0 or more), corners mitred; (k, 2) mm."""
    whole = shapely.make_valid(shapely.Polygon(outline_mm))
    wide = shapely.buffer(whole, allowance_mm, join_style="mitre", mitre_limit=_MITRE)
    if not isinstance(wide, shapely.Polygon):
        wide = max(shapely.get_parts(wide), key=lambda part: float(part.area))
    edge: Floats = shapely.get_coordinates(shapely.simplify(wide.exterior, 0.02))[:-1]
    return edge


def drawings(
    patterns: list[SlabPattern], *, slab_mm: float, allowance_mm: float, us: bool = False
) -> list[Drawing]:
    """One template for each pattern, at 1:1: cut along the outer line, the inner one is the edge itself.

    `us` is for the words on it.
    """
    slab, left_on = say_length(slab_mm, us=us), say_length(allowance_mm, us=us)
    made = []
    for pattern in patterns:
        flat = _Upright(pattern)
        turned = flat(pattern.outline_mm)
        low, high = turned.min(axis=0), turned.max(axis=0)
        size = max(5.0, min(14.0, 0.12 * float(min(high - low))))
        times = f" x {pattern.copies}" if pattern.copies > 1 else ""
        middle = _inside(turned)
        labels = [Label(pattern.id + times, (middle[0], middle[1]), size)]
        runs = [(name, *flat(np.array([begin, end]))) for name, begin, end in pattern.joints]
        # Long edges are named first; a name that would lie on another one moves inside or is left out.
        for name, a, b in sorted(runs, key=lambda run: -float(np.linalg.norm(run[2] - run[1]))):
            labels += _edge_label(name, a, b, turned, allowance_mm, labels)
        lines = [Line(flat(pattern.cut_mm), "cut", closed=True)]
        lines.append(Line(turned, "dash" if allowance_mm > 0.0 else "mark", closed=True))
        lines += [Line(tick, "mark") for tick in _ticks(pattern, flat)]
        says = (
            f"Cut {pattern.copies} from a slab of {slab}"
            if pattern.copies > 1
            else f"Cut from a slab of {slab}"
        )
        more = f"; the broken line is the edge, {left_on} beyond it is for the joint" if allowance_mm else ""
        made.append(
            Drawing(
                id=f"slab-{pattern.id}",
                title=f"Slab pattern {pattern.id}{times}",
                says=f"{says}{more}. This side lies against the plaster.",
                lines=tuple(lines),
                labels=tuple(labels),
            )
        )
    return made


def _rim(one: Laid) -> Corners:
    rim = loops(one.faces)[0]
    x, y = one.laid_mm[rim].T
    turns = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
    return rim if turns > 0.0 else rim[::-1]


def _meets(
    one: Laid, rim: Corners, own: str, others: list[tuple[str, Laid, Corners]]
) -> tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]:
    """Stretches of a rim by what they meet: another pattern, another copy of itself, or nothing."""
    edge = one.points_mm[rim]
    middle = (edge + np.roll(edge, -1, axis=0)) / 2.0
    near = np.full(len(rim), np.inf)
    name = np.full(len(rim), SEAM, dtype=object)
    for other, laid, ring in others:
        places = _dense(laid.points_mm[ring])
        far = np.asarray(cKDTree(places).query(middle)[0])
        better = (far < _MEETS_MM) & (far < near)
        near[better], name[better] = far[better], other
    if one.copies > 1:
        name[_straight_sides(one, rim)] = own
    runs = []
    change = np.flatnonzero(name != np.roll(name, 1))
    starts = change if len(change) else np.array([0])
    for k, start in enumerate(starts):
        stop = starts[(k + 1) % len(starts)] if len(starts) > 1 else start + len(rim)
        stop = stop + len(rim) if stop <= start else stop
        path = one.laid_mm[rim[np.arange(start, stop + 1) % len(rim)]]
        if np.linalg.norm(np.diff(path, axis=0), axis=1).sum() >= _LEAST_RUN_MM:
            a, b = path[0], path[-1]
            half: Floats = path[len(path) // 2]
            ends = (a, b) if np.linalg.norm(b - a) > 1.0 else (half, path[len(path) // 2 - 1])
            runs.append(
                (
                    str(name[start]),
                    (float(ends[0][0]), float(ends[0][1])),
                    (float(ends[1][0]), float(ends[1][1])),
                )
            )
    return tuple(runs)


def _straight_sides(one: Laid, rim: Corners) -> Corners:
    """Edges of a gore's rim that lie in one of its two cutting planes: those that run towards the pole."""
    edge = one.points_mm[rim]
    step = np.roll(edge, -1, axis=0) - edge
    _, _, axes = np.linalg.svd(edge - edge.mean(axis=0))
    along = np.abs(step @ axes[0]) / np.maximum(np.linalg.norm(step, axis=1), 1e-12)
    return np.asarray(along > math.cos(math.radians(50.0)))


def _dense(ring_mm: Floats) -> Floats:
    ahead = np.roll(ring_mm, -1, axis=0)
    count = np.maximum(np.ceil(np.linalg.norm(ahead - ring_mm, axis=1) / _STEP_MM).astype(int), 1)
    which = np.repeat(np.arange(len(ring_mm)), count)
    share = np.concatenate([np.arange(c) / c for c in count])
    return np.asarray(ring_mm[which] + share[:, None] * (ahead - ring_mm)[which])


class _Upright:
    """Turns a pattern so that its narrowest box stands on the page, longer side up."""

    def __init__(self, pattern: SlabPattern) -> None:
        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.MultiPoint(pattern.cut_mm)))
        sides = np.diff(box[:3], axis=0)
        long = sides[int(np.argmax(np.linalg.norm(sides, axis=1)))]
        long = long / np.linalg.norm(long)
        self.turn = np.array([[long[1], -long[0]], [long[0], long[1]]])
        self.low = (pattern.cut_mm @ self.turn.T).min(axis=0)

    def __call__(self, points_mm: Floats) -> Floats:
        return np.asarray(points_mm @ self.turn.T - self.low)


def _inside(outline: Floats) -> Floats:
    place = polylabel(shapely.Polygon(outline).buffer(0.0), 1.0)
    return np.asarray(shapely.get_coordinates(place)[0])


def _edge_label(
    name: str, a: Floats, b: Floats, outline: Floats, allowance_mm: float, others: list[Label]
) -> list[Label]:
    """The name of what an edge meets, along the edge, never upside down: in the allowance, or inside.

    Nothing where it would lie on one of the `others`; the tick still shows the joint.
    """
    along = b - a
    turn = math.degrees(math.atan2(along[1], along[0]))
    turn = turn - 180.0 if turn > 90.0 else turn + 180.0 if turn < -90.0 else turn
    place = int(np.argmin(np.linalg.norm(outline - (a + b) / 2.0, axis=1)))
    step = outline[(place + 1) % len(outline)] - outline[place - 1]
    out = np.array([step[1], -step[0]]) / max(float(np.linalg.norm(step)), 1e-9)
    text = name if name == SEAM else f"to {name}"
    taken = [_box(other) for other in others]
    for far_mm in (0.5 * allowance_mm, -5.0, -10.0) if allowance_mm >= 6.0 else (-5.0, -10.0):
        at = outline[place] + out * far_mm
        label = Label(text, (float(at[0]), float(at[1])), _EDGE_TEXT_MM, turn)
        if not any(_box(label).intersects(box) for box in taken):
            return [label]
    return []


def _box(label: Label) -> shapely.Polygon:
    """The room of a label's text, a little more than its letters, as it lies on the drawing."""
    wide = (_LETTER_SHARE * len(label.text) + 0.3) * label.height_mm
    flat = shapely.box(-wide / 2.0, -0.6 * label.height_mm, wide / 2.0, 0.6 * label.height_mm)
    turn = math.radians(label.turn_deg)
    turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return shapely.Polygon(shapely.get_coordinates(flat) @ turned + np.array(label.at_mm))


def _ticks(pattern: SlabPattern, flat: _Upright) -> list[Floats]:
    """A short tick at the middle of each joint, from the edge inwards."""
    found = []
    for name, begin, end in pattern.joints:
        if name == SEAM:
            continue
        middle = (np.array(begin) + np.array(end)) / 2.0
        near = int(np.argmin(np.linalg.norm(pattern.outline_mm - middle, axis=1)))
        here = pattern.outline_mm[near]
        step = pattern.outline_mm[(near + 1) % len(pattern.outline_mm)] - pattern.outline_mm[near - 1]
        out = np.array([step[1], -step[0]]) / max(float(np.linalg.norm(step)), 1e-9)
        found.append(flat(np.stack([here, here - 4.0 * out])))
    return found
