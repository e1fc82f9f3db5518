"""The templates of a plan: saddles, chart of the seam, cards of the bed, key tool, gate plug."""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import ConvexHull

from claybed.geometry.lattice import XY_PER_MM, lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.slicing import thinned
from claybed.records.assembly import Assembly
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.pose import BedCard, Pose, PressedKey, Saddle, Station
from claybed.sheets.label_places import LETTER_WIDTH, Room, along
from claybed.wording import ruler

ENDS = {(1.0, 0.0): ("left", "right"), (0.0, 1.0): ("front", "back")}
TICK_MM = 4.0
HANDLE_MM = 24.0
LINE_MM = 0.02
# Nobody cuts or draws the crumbs of a scan: seam strip and bed are true within this, less than may stray.
BY_HAND_MM = 0.3
CIRCLE_CORNERS = 96
# Below this a card is too narrow to write on.
LETTERS_MM = 4.0


def templates_of(pose: Pose, assembly: Assembly, *, us: bool = False) -> tuple[Drawing, ...]:
    """Every template of a plan at 1:1, in the order of work; `us` writes heights in inches."""
    drawings = [_saddle(saddle, us) for saddle in pose.saddles]
    drawings.append(_chart(pose, assembly, us))
    if not pose.level:
        lines = sorted({station.loop for station in pose.stations})
        drawings += [_strip([s for s in pose.stations if s.loop == k], k, assembly, pose, us) for k in lines]
    drawings += [_bed_card(card, pose, us) for card in pose.bed_cards]
    if pose.keys:
        drawings.append(_key_tool(pose.keys[0], len(pose.keys), us))
    plug = _gate_plug(assembly, us)
    return tuple(drawings if plug is None else [*drawings, plug])


def _saddle(saddle: Saddle, us: bool) -> Drawing:
    left, right = ENDS[saddle.along]
    outline = saddle.outline
    size = min(LETTERS_MM, max(2.0, saddle.least_mm / 3.0))
    level = size * 0.8
    at = float(outline[:, 0].max()) * 0.45
    labels = [
        Label(saddle.id, (at, level), size),
        Label(left, (float(outline[:, 0].min()) + 8.0, level), size * 0.8),
        Label(right, (float(outline[:, 0].max()) - 8.0, level), size * 0.8),
    ]
    slot = f"slot {ruler(saddle.slot_mm, us)} from the {saddle.slot_from}"
    return Drawing(
        id=f"saddle-{saddle.id}",
        title=f"Saddle {saddle.id}",
        says=f"Cut from {ruler(saddle.card_mm, us)} card; stands {left} to {right}; {slot}, as wide as the "
        "card.",
        lines=(Line(outline, "cut", closed=True),),
        labels=tuple(labels),
    )


def _chart(pose: Pose, assembly: Assembly, us: bool) -> Drawing:
    """The plan: inside of the form, seam, stations with their heights, saddles, keys and gate."""
    footprint = assembly.footprint / XY_PER_MM
    low, high = footprint.min(axis=0), footprint.max(axis=0)
    lines = [Line(footprint, "cut", closed=True)]
    labels = [
        Label("front", (0.0, float(low[1]) + 4.0), LETTERS_MM),
        Label("back", (0.0, float(high[1]) - 4.0), LETTERS_MM),
        Label("left", (float(low[0]) + 4.0, 0.0), LETTERS_MM, 90.0),
        Label("right", (float(high[0]) - 4.0, 0.0), LETTERS_MM, 90.0),
    ]
    lines += [Line(thinned(loop[:, :2], LINE_MM), "mark") for loop in assembly.seam_loops]
    for station in pose.stations:
        at, out = np.array(station.at_mm), np.array(station.out)
        lines.append(Line(np.stack([at, at + out * TICK_MM]), "mark"))
    for saddle in pose.saddles:
        way, through = np.array(saddle.along), np.array(saddle.through_mm)
        ends = np.stack([through - way * saddle.reach_mm[0], through + way * saddle.reach_mm[1]])
        lines.append(Line(ends, "dash"))
    for key in pose.keys:
        lines.append(Line(_circle(key.at_mm, key.diameter_mm / 2.0), "mark", closed=True))
    room = Room(_round(line) for line in lines)
    for key in pose.keys:
        room.put("key", 2.6, [key.at_mm])
        labels.append(Label("key", key.at_mm, 2.6))
    for label in labels[:4]:
        room.put(label.text, label.height_mm, [label.at_mm])
    stations, crowded = _station_labels(pose, room, us)
    labels += stations
    labels += _gate_label(assembly, room)
    labels += [named for saddle in pose.saddles if (named := _beside(saddle, room)) is not None]
    says = "Lay it under the work, form on the outline."
    if pose.stations:
        says += " Numbers are stations; inside the seam stands its height above the board."
    if crowded:
        says += " What finds no room here is in the list of stations."
    return Drawing("chart", "Chart of the bed", says, tuple(lines), tuple(labels))


def _station_labels(pose: Pose, room: Room, us: bool) -> tuple[list[Label], bool]:
    """Numbers outside the seam and heights inside, those of the bed cards and of each line's first station
    before the others; and whether any found no room.
    """
    cards = {card.station for card in pose.bed_cards}
    first = {
        min(s.number for s in pose.stations if s.loop == loop) for loop in {s.loop for s in pose.stations}
    }
    order = sorted(pose.stations, key=lambda s: (s.number not in cards | first, s.number))
    labels: list[Label] = []
    for station in order:
        place = room.put(f"{station.number}", 3.2, along(station.at_mm, station.out, (8.0, 10.5, 7.0)))
        labels += [] if place is None else [Label(f"{station.number}", place, 3.2)]
    for station in order:
        inward = (-station.out[0], -station.out[1])
        text = _bare(station.seam_mm, us)
        place = room.put(text, 2.4, along(station.at_mm, inward, (4.5, 6.0, 8.0)))
        labels += [] if place is None else [Label(text, place, 2.4)]
    return labels, len(labels) < 2 * len(order)


def _gate_label(assembly: Assembly, room: Room) -> list[Label]:
    """The word where slip comes in, when that is at a side."""
    gate = assembly.gate
    (x, y), (a, b, upright) = gate.at_mm[:2], gate.out
    if gate.kind not in ("bore", "mouth") or abs(upright) > 0.5:
        return []
    outer = assembly.footprint / XY_PER_MM
    far_mm = float(((outer - np.array([x, y])) @ np.array([a, b])).max())
    place = room.put(
        "gate", 2.6, [(x + a * reach, y + b * reach) for reach in (far_mm - 10.0, far_mm - 15.0)]
    )
    return [] if place is None else [Label("gate", place, 2.6)]


def _beside(saddle: Saddle, room: Room) -> Label | None:
    """The name of a saddle beside its line, at the first spot along it that is free."""
    (x, y), (a, b) = saddle.through_mm, saddle.along
    spots = [
        (x + a * reach_mm * share - b * side, y + b * reach_mm * share + a * side)
        for share in (0.6, 0.45, 0.75, 0.3, 0.9)
        for reach_mm in (saddle.reach_mm[1], -saddle.reach_mm[0])
        for side in (4.0, -4.0)
    ]
    place = room.put(saddle.id, LETTERS_MM, spots)
    return None if place is None else Label(saddle.id, place, LETTERS_MM)


def _strip(stations: list[Station], loop: int, assembly: Assembly, pose: Pose, us: bool) -> Drawing:
    """The seam unrolled: a strip that stands on the board round the object, its upper edge the seam."""
    run, heights, spots = _unrolled(stations, assembly, pose)
    top = thinned(np.stack([run, heights], axis=1), BY_HAND_MM)
    outline = np.concatenate([[[run[0], 0.0], [run[-1], 0.0]], top[::-1]])
    lines = [Line(outline, "cut", closed=True)]
    for station, x in zip(stations, spots, strict=True):
        lines.append(Line(np.array([[x, 0.0], [x, station.seam_mm]]), "mark"))
    room = Room(_round(line) for line in lines)
    labels = []
    for station, x in zip(stations, spots, strict=True):
        for text, y, size in ((str(station.number), 4.0, 3.2), (_bare(station.seam_mm, us), 9.0, 2.4)):
            # Right of its line, else left of it.
            beside = LETTER_WIDTH * size * len(text) / 2.0 + 0.8
            place = room.put(text, size, [(x + beside, y), (x - beside, y)])
            labels += [] if place is None else [Label(text, place, size)]
    name = "" if loop == 1 else f" {loop}"
    return Drawing(
        id=f"seam-strip{f'-{loop}' if loop > 1 else ''}",
        title=f"Seam strip{name}",
        says="Stands on the board round the object, numbers as on the chart; draw along its upper edge.",
        lines=tuple(lines),
        labels=tuple(labels),
    )


def _unrolled(stations: list[Station], assembly: Assembly, pose: Pose) -> tuple[Floats, Floats, list[float]]:
    """Run in plan and height above the board along the seam from the first to the last station, and the run
    of each station.

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
    return along, order[:, 2] - pose.board_mm, spots


def _line_of(places: Floats, assembly: Assembly) -> tuple[Floats, list[int]]:
    """The seam loop nearest to some places, with them put in as corners, and their indices in it."""
    best, least = assembly.seam_loops[0], math.inf
    for loop in assembly.seam_loops:
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


def _bed_card(card: BedCard, pose: Pose, us: bool) -> Drawing:
    station = pose.stations[card.station - 1]
    wide = float(card.outline[:, 0].max())
    end = "the form" if station.at_form else "the object again"
    labels = [Label(f"{card.station}", (wide / 2.0, 6.0), 5.0)]
    labels += [Label("seam", (7.0, 2.5), 2.6)] if wide > 20.0 else []
    return Drawing(
        id=f"bed-card-{card.station}",
        title=f"Bed card {card.station}",
        says=f"Stands on the board at station {card.station}, from the seam to {end}: clay up to its edge, "
        f"{ruler(station.seam_mm, us)} at the seam, {ruler(station.bed_mm, us)} at the end.",
        lines=(Line(_simple(card.outline), "cut", closed=True),),
        labels=tuple(labels),
    )


def _simple(outline: Floats) -> Floats:
    """The card's foot as it is, its top thinned."""
    return np.concatenate([outline[:2], thinned(outline[2:], BY_HAND_MM)])


def _key_tool(key: PressedKey, count: int, us: bool) -> Drawing:
    """A card with a tongue as wide and deep as a key: stood on the bed and turned, it cuts one."""
    ball = key.ball_mm / 2.0
    half = math.asin(min(1.0, key.diameter_mm / 2.0 / ball))
    if key.depth_mm > ball:
        half = math.pi - half
    turn = np.linspace(-half, half, 61)
    tongue = np.stack([ball * np.sin(turn), ball - key.depth_mm - ball * np.cos(turn)], axis=1)
    wide = key.diameter_mm / 2.0 + 10.0
    body = np.array([[wide, 0.0], [wide, HANDLE_MM], [-wide, HANDLE_MM], [-wide, 0.0]])
    middle = np.array([[0.0, -key.depth_mm], [0.0, HANDLE_MM]])
    return Drawing(
        id="key-tool",
        title="Key card",
        says=f"{count} keys: stand it on the bed and turn it, or press a ball of {ruler(key.ball_mm, us)} "
        f"{ruler(key.depth_mm, us)} deep.",
        lines=(Line(np.concatenate([tongue, body]), "cut", closed=True), Line(middle, "dash")),
        labels=(
            Label(f"Ø {ruler(key.diameter_mm, us)}", (0.0, HANDLE_MM - 5.0), 3.0),
            Label(f"{ruler(key.depth_mm, us)} deep", (0.0, HANDLE_MM - 11.0), 3.0),
        ),
    )


def _gate_plug(assembly: Assembly, us: bool) -> Drawing | None:
    """The plug that makes a gate in the side, seen from above; None for any other gate."""
    gate = assembly.gate
    out = np.array(gate.out)
    if gate.kind != "bore" or abs(out[2]) > 0.1:
        return None
    model = assembly.model
    used = np.unique(model.faces[model.origin == int(Origin.GATE)])
    if len(used) < 3:
        return None
    plan = lattice_mm(model.points[used])[:, :2] - np.array(gate.at_mm[:2])
    across = np.array([out[1], -out[0]])
    flat = np.stack([plan @ across, plan @ out[:2]], axis=1)
    outline = flat[ConvexHull(flat).vertices]
    far = float(outline[:, 1].max())
    ends = {name: _width_at(outline, level) for name, level in (("object", 0.5), ("form", far - 0.5))}
    middle = np.array([[0.0, float(outline[:, 1].min())], [0.0, far]])
    return Drawing(
        id="gate-plug",
        title="Gate plug",
        says=f"A round plug of oil clay, wood or plastic, {ruler(ends['object'], us)} across at the object "
        f"and {ruler(ends['form'], us)} at the form, half of it in the bed.",
        lines=(Line(outline, "cut", closed=True), Line(middle, "dash")),
        labels=(
            Label("object", (0.0, float(outline[:, 1].min()) + 4.0), 2.6),
            Label("form", (0.0, far - 4.0), 2.6),
        ),
    )


def _width_at(outline: Floats, level: float) -> float:
    """How wide a convex outline is at a level, mm."""
    ends = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if min(a[1], b[1]) <= level <= max(a[1], b[1]) and abs(b[1] - a[1]) > 1e-9:
            ends.append(float(a[0] + (level - a[1]) / (b[1] - a[1]) * (b[0] - a[0])))
    return max(ends) - min(ends) if len(ends) > 1 else 0.0


def _round(line: Line) -> Floats:
    """The points of a line, a closed one back to its beginning."""
    return np.concatenate([line.points, line.points[:1]]) if line.closed else line.points


def _circle(middle: tuple[float, float], radius_mm: float) -> Floats:
    turn = np.arange(CIRCLE_CORNERS) * 2.0 * np.pi / CIRCLE_CORNERS
    ring: Floats = np.stack([np.cos(turn), np.sin(turn)], axis=1) * radius_mm + np.array(middle)
    return ring


def _bare(mm: float, us: bool) -> str:
    return ruler(mm, us).rsplit(" ", 1)[0]
