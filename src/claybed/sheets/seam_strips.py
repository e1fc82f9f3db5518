"""The seam unrolled: strips that stand on the board, each drawn along its upper edge."""

from __future__ import annotations

import math

import numpy as np
from scipy.ndimage import gaussian_filter1d
from shapely.geometry import LineString, Polygon

from claybed.geometry.mesh import Floats
from claybed.geometry.slicing import thinned
from claybed.posing.fillers import bed_loops
from claybed.records.assembly import Assembly
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.pose import Pose, Saddle, Station
from claybed.sheets.label_places import LETTER_WIDTH, Room
from claybed.wording import ruler

# Nobody cuts or draws the crumbs of a scan: seam strip and bed are true within this, less than may stray.
BY_HAND_MM = 0.3
# Crumbs along this much of the seam are evened out, by no more than a share of what may stray.
EVEN_MM = 2.5
STRAY_SHARE = 0.5
MOST_EVENED_MM = 1.0
RUN_STEP_MM = 0.5
# A slot leaves the saddle this much air, and the strip at least this much card above it.
AIR_MM = 1.0
CLOSE_MM = 0.4
OVER_SLOT_MM = 4.0
NUMBER_MM, HEIGHT_MM = 3.2, 2.6
# Number and height begin this far above the strip's foot; where it is crowded, in a higher row.
FOOT_MM = 2.5
MOST_ROWS = 4
# Words of stations nearer than this stand this far aside of their lines.
NEARLY_MM = 3.0
ASIDE_MM = 2.4


def seam_strips(pose: Pose, assembly: Assembly, us: bool) -> list[Drawing]:
    """A strip for each seam line of a seam that rises and falls, none for a level one."""
    if pose.level:
        return []
    loops = sorted({station.loop for station in pose.stations})
    return [
        _strip([s for s in pose.stations if s.loop == loop], loop, len(loops), assembly, pose, us)
        for loop in loops
    ]


def _counter_clockwise(plan: Floats) -> bool:
    """Whether a line (n, 2), closed by its chord, runs against the clock as seen from above."""
    x, y = plan[:, 0], plan[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) > 0.0


def in_opening(stations: list[Station]) -> bool:
    """Whether a seam line runs round an opening of the object: its bed meets the object all round."""
    return bool(stations) and not any(station.at_form for station in stations)


def _strip(
    stations: list[Station], loop: int, count: int, assembly: Assembly, pose: Pose, us: bool
) -> Drawing:
    order, spots = _ordered(stations, assembly, pose)
    inner = in_opening(stations)
    if _counter_clockwise(order[:, :2]) == inner:
        # Print that faces away from the object reads from left to right against the clock, inside an opening
        # with it.
        total = float(np.linalg.norm(np.diff(order[:, :2], axis=0), axis=1).sum())
        order, spots = order[::-1], [total - spot for spot in spots]
    run = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(order[:, :2], axis=0), axis=1))]
    heights = _evened(run, order[:, 2] - pose.board_mm, stations, spots)
    top = thinned(np.stack([run, heights], axis=1), BY_HAND_MM)
    outline = np.concatenate([[[run[0], 0.0], [run[-1], 0.0]], top[::-1]])
    lines = [Line(outline, "cut", closed=True)]
    slots = [
        slot
        for saddle in pose.saddles
        for slot in _slots(saddle, order[:, :2], run)
        if slot[2] < float(np.interp(slot[1], run, heights)) - OVER_SLOT_MM
    ]
    for _, x, high, wide in slots:
        left, right = max(x - wide, 0.0), min(x + wide, float(run[-1]))
        corners = [[left, 0.0], [left, high], [right, high], [right, 0.0]]
        lines.append(Line(np.array(corners), "cut"))
    for x in spots:
        lines.append(Line(np.array([[x, 0.0], [x, float(np.interp(x, run, heights))]]), "mark"))
    beside = [_beside(x, slots) for x in _parted(spots)]
    labels = _labels(stations, [min(max(x, 2.4), float(run[-1]) - 2.4) for x in beside], us)
    room = Room([])
    for name, x, high, _ in slots:
        place = room.put(f"over {name}", 2.6, [(min(max(x, 9.0), float(run[-1]) - 9.0), high + 2.6)])
        labels += [] if place is None else [Label(f"over {name}", place, 2.6)]
    name = "" if count == 1 else f" {loop}"
    return Drawing(
        id=f"seam-strip{f'-{loop}' if loop > 1 else ''}",
        title=f"Seam strip{name}",
        says=_says(stations, slots),
        lines=tuple(lines),
        labels=tuple(labels),
    )


def _parted(spots: list[float]) -> list[float]:
    """Where the words of stations stand: on their lines, those of two that nearly meet on either side."""
    found = list(spots)
    for k in sorted(range(len(spots)), key=lambda k: spots[k])[:-1]:
        later = [n for n in range(len(spots)) if n != k and 0.0 <= spots[n] - spots[k] < NEARLY_MM]
        for n in later[:1]:
            found[k], found[n] = spots[k] - ASIDE_MM, spots[n] + ASIDE_MM
    return found


def _beside(x: float, slots: list[tuple[str, float, float, float]]) -> float:
    """Where the words of a station stand: on its line, or beside the slot that is cut there."""
    for _, at, _, wide in slots:
        if abs(x - at) < wide + 2.0:
            return at + wide + 2.6
    return x


def _says(stations: list[Station], slots: list[tuple[str, float, float, float]]) -> str:
    first, last = stations[0].number, stations[-1].number
    if not in_opening(stations):
        return (
            f"Stands round the outside on the chart's line, print outwards, {first} to {last}; draw along it."
        )
    saddles = " and ".join(dict.fromkeys(name for name, *_ in slots))
    over = f" Its slots go over saddle {saddles}." if saddles else ""
    return (
        f"A ring that stands inside the opening on the chart's line, print inwards, {first} to {last}; draw "
        f"along it.{over}"
    )


def _labels(stations: list[Station], spots: list[float], us: bool) -> list[Label]:
    """Number and height of each station, written up along its line; where two lie close, one above the other.

    A word is as high as it is long here, so that it stands on its own line and on no other's.
    """
    room = Room([])
    labels: list[Label] = []
    for station, x in zip(stations, spots, strict=True):
        number, height = str(station.number), bare(station.seam_mm, us)
        long_mm = [
            size * LETTER_WIDTH * len(text) for text, size in ((number, NUMBER_MM), (height, HEIGHT_MM))
        ]
        block_mm = sum(long_mm) + FOOT_MM
        for row in range(MOST_ROWS):
            foot = FOOT_MM + row * (block_mm + 2.0 * FOOT_MM)
            at = (x, foot + block_mm / 2.0)
            if foot + block_mm > station.seam_mm:
                break
            if room.free("m", NUMBER_MM, at, tall_mm=block_mm):
                room.put("m", NUMBER_MM, [at], tall_mm=block_mm)
                labels.append(Label(number, (x, foot + long_mm[0] / 2.0), NUMBER_MM, 90.0))
                middle = foot + long_mm[0] + FOOT_MM + long_mm[1] / 2.0
                labels.append(Label(height, (x, middle), HEIGHT_MM, 90.0))
                break
    return labels


def _slots(saddle: Saddle, plan: Floats, run: Floats) -> list[tuple[str, float, float, float]]:
    """Where a saddle passes under a strip: its name, the run, the slot's height and half its width."""
    way = np.array(saddle.along)
    across = np.array([-way[1], way[0]])
    away = plan - np.array(saddle.through_mm)
    side, reach = away @ across, away @ way
    card = Polygon(saddle.outline)
    found = []
    for k in np.flatnonzero(side[:-1] * side[1:] < 0.0):
        share = float(side[k] / (side[k] - side[k + 1]))
        u = float(reach[k] + share * (reach[k + 1] - reach[k]))
        if not -saddle.reach_mm[0] < u < saddle.reach_mm[1]:
            continue
        tall = max(_tall(card, u + shift) for shift in (-CLOSE_MM, 0.0, CLOSE_MM))
        if tall > 0.0:
            at = float(run[k] + share * (run[k + 1] - run[k]))
            found.append((saddle.id, at, tall + AIR_MM, saddle.card_mm / 2.0 + AIR_MM / 2.0))
    return found


def _tall(card: Polygon, u: float) -> float:
    cut = card.intersection(LineString([(u, -1.0), (u, 1e4)]))
    return 0.0 if cut.is_empty else float(cut.bounds[3])


def _evened(run: Floats, heights: Floats, stations: list[Station], spots: list[float]) -> Floats:
    """Heights without the crumbs of a scan, moved by no more than a share of what the seam may stray."""
    if run[-1] < 4.0 * EVEN_MM:
        return heights
    even = np.arange(0.0, float(run[-1]) + RUN_STEP_MM, RUN_STEP_MM)
    smooth = gaussian_filter1d(np.interp(even, run, heights), EVEN_MM / RUN_STEP_MM, mode="nearest")
    stray = [min(s.stray_up_mm, s.stray_down_mm) for s in stations]
    order = np.argsort(spots)
    band = np.interp(run, np.array(spots)[order], np.array(stray)[order])
    band = np.minimum(STRAY_SHARE * band, MOST_EVENED_MM)
    moved: Floats = np.clip(np.interp(run, even, smooth), heights - band, heights + band)
    return moved


def _ordered(stations: list[Station], assembly: Assembly, pose: Pose) -> tuple[Floats, list[float]]:
    """The seam (n, 3) mm from the first to the last station, and the run in plan of each station.

    The seam line that the stations stand on is found again as the one nearest to them.
    """
    places = np.array([[*s.at_mm, s.seam_mm + pose.board_mm] for s in stations])
    loop, indices = _line_of(places, assembly)
    closed = bool(np.array_equal(loop[0], loop[-1]))
    start = indices[0]
    if closed:
        forward = indices[1] >= start if len(indices) > 1 else True
        body = loop[:-1]
        order = np.roll(body, -start, axis=0)
        order = np.concatenate([order, order[:1]])
        if not forward and sum(a > b for a, b in zip(indices[1:], indices, strict=False)) < len(indices) / 2:
            order = order[::-1]
    else:
        order = loop[min(indices) : max(indices) + 1]
        if indices[0] > indices[-1]:
            order = order[::-1]
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(order[:, :2], axis=0), axis=1))]
    spots = [float(along[int(np.argmin(np.linalg.norm(order[:-1] - p, axis=1)))]) for p in places]
    if not closed:
        spots = [float(along[int(np.argmin(np.linalg.norm(order - p, axis=1)))]) for p in places]
    return order, spots


def _line_of(places: Floats, assembly: Assembly) -> tuple[Floats, list[int]]:
    """The seam loop nearest to some places, with them put in as corners, and their indices in it."""
    lines = bed_loops(assembly)
    best, least = lines[0], math.inf
    for loop in lines:
        away = max(float(_nearest(loop, place)[2]) for place in places)
        if away < least:
            best, least = loop, away
    inserted = [_nearest(best, place)[:2] for place in places]
    order = sorted(range(len(places)), key=lambda k: inserted[k])
    parts: list[Floats] = []
    indices = [0] * len(places)
    at = 0
    for k in order:
        edge, _ = inserted[k]
        parts += [best[at : edge + 1], places[k : k + 1]]
        at = edge + 1
        indices[k] = sum(len(part) for part in parts) - 1
    return np.concatenate([*parts, best[at:]]), indices


def _nearest(loop: Floats, place: Floats) -> tuple[int, float, float]:
    """The edge of a polyline nearest to a place, how far along it, and the distance."""
    step = np.diff(loop, axis=0)
    length2 = np.maximum((step**2).sum(axis=1), 1e-12)
    share = np.clip(((place - loop[:-1]) * step).sum(axis=1) / length2, 0.0, 1.0)
    away = np.linalg.norm(loop[:-1] + share[:, None] * step - place, axis=1)
    edge = int(np.argmin(away))
    return edge, float(share[edge]), float(away[edge])


def bare(mm: float, us: bool) -> str:
    """A length off a ruler without its unit."""
    return ruler(mm, us).rsplit(" ", 1)[0]
