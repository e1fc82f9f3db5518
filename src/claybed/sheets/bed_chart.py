"""The chart of the bed: outline of the form, seam, stations with their heights, saddles, keys and gate."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np
from shapely.geometry import LineString, Polygon

from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.mesh import Floats
from claybed.geometry.slicing import thinned
from claybed.posing.fillers import bed_loops, filler_loops, plan_line, side_pieces
from claybed.records.assembly import Assembly
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.pose import Pose, Saddle, Station
from claybed.sheets.bench_words import STRICT_MM
from claybed.sheets.fill_marks import fill_marks
from claybed.sheets.label_places import LETTER_WIDTH, Place, Room, along
from claybed.sheets.seam_strips import bare, in_opening

TICK_MM = 4.0
LINE_MM = 0.02
CIRCLE_CORNERS = 96
LETTERS_MM = 4.0
NUMBER_MM, HEIGHT_MM = 3.2, 2.4
# A word is set beside its station, else at the end of a thin line that leads to it.
NUMBER_REACH_MM = (8.0, 10.5, 7.0)
HEIGHT_REACH_MM = (4.5, 6.0, 8.0)
LED_REACH_MM = (11.0, 14.0, 17.0, 20.0, 24.0, 28.0)
LED_TURNS_DEG = (0.0, 20.0, -20.0, 40.0, -40.0, 60.0, -60.0, 80.0, -80.0)
LED_ASIDE_DEG = (25.0, 45.0, 10.0, 65.0, 80.0)
# Words of stations that stand closer than this are led away from each other; their ticks, which would cross
# in a hollow of the seam, are no longer than this share of the way to the next.
CROWDED_MM = 6.0
CROWDED_TICK = 0.3
# A bed card shorter than this has its number at its station alone.
NUMBERED_MM = 28.0
# A line that leads stops short of its word.
SHORT_MM = 0.6
# A cross marks what lies straight above it; its word stands beside it.
CROSS_MM = 1.2
CROSS_REACH_MM = (3.2, 5.0, 7.0)
CROSS_TURNS_DEG = (-90.0, 90.0, 0.0, 180.0, -60.0, 60.0, -120.0, 120.0)


def bed_chart(pose: Pose, assembly: Assembly, us: bool) -> Drawing:
    """The plan at 1:1; `us` writes heights in inches.

    Every station has its number outside the seam and the seam's height inside it, or at the end of a line
    that leads there; the word "bed clay" stands in each opening of the object that the bed fills.
    """
    footprint = assembly.footprint / XY_PER_MM
    low, high = footprint.min(axis=0), footprint.max(axis=0)
    lines = [Line(footprint, "cut", closed=True)]
    labels = [
        Label("front", (0.0, float(low[1]) + 4.0), LETTERS_MM),
        Label("back", (0.0, float(high[1]) - 4.0), LETTERS_MM),
        Label("left", (float(low[0]) + 4.0, 0.0), LETTERS_MM, 90.0),
        Label("right", (float(high[0]) - 4.0, 0.0), LETTERS_MM, 90.0),
    ]
    lines += [Line(thinned(loop[:, :2], LINE_MM), "mark") for loop in bed_loops(assembly)]
    fillers = _fillers(pose, assembly)
    lines += [line for _, line in fillers]
    lines += [Line(thinned(loop[:, :2], LINE_MM), "dash") for loop in filler_loops(assembly)]
    for station in pose.stations:
        at, out = np.array(station.at_mm), np.array(station.out)
        lines.append(Line(np.stack([at, at + out * _tick_mm(station, pose.stations)]), "mark"))
    for saddle in pose.saddles:
        way, through = np.array(saddle.along), np.array(saddle.through_mm)
        ends = np.stack([through - way * saddle.reach_mm[0], through + way * saddle.reach_mm[1]])
        lines.append(Line(ends, "dash"))
    cards = {card.station: float(card.outline[:, 0].max()) for card in pose.bed_cards}
    for station in pose.stations:
        if station.number in cards:
            at, out = np.array(station.at_mm), np.array(station.out)
            begin = at + out * _tick_mm(station, pose.stations)
            lines.append(Line(np.stack([begin, at + out * cards[station.number]]), "dash"))
    for key in pose.keys:
        lines.append(Line(_circle(key.at_mm, key.diameter_mm / 2.0), "mark", closed=True))
    crossed = _crossed(pose)
    lines += [Line(arm, "mark") for at_mm, _ in crossed for arm in _cross(at_mm)]
    room = Room(_round(line) for line in lines)
    for key in pose.keys:
        x, y = key.at_mm
        spots = [(x, y), *((x, y + aside) for aside in (3.0, -3.0, 4.5, -4.5))]
        labels.append(Label("key", room.put("key", 2.6, spots) or key.at_mm, 2.6))
    for label in labels[:4]:
        long_mm = LETTER_WIDTH * label.height_mm * len(label.text)
        if label.turn_deg:
            room.put_over("m", label.height_mm, [label.at_mm], tall_mm=long_mm)
        else:
            room.put_over(label.text, label.height_mm, [label.at_mm])
    for at_mm, text in crossed:
        place = room.put(text, HEIGHT_MM, along(at_mm, (0.0, 1.0), CROSS_REACH_MM, CROSS_TURNS_DEG))
        labels += [] if place is None else [Label(text, place, HEIGHT_MM)]
    labels += [named for letter, line in fillers if (named := _filler_word(letter, line, room)) is not None]
    labels += _openings(pose, room)
    labels += _card_numbers(pose, cards, room)
    drawn = [LineString(_round(line)) for line in lines if line.stroke == "mark"]
    stations, leads, crowded = _station_labels(pose, room, (low, high), drawn, us)
    labels += stations
    lines += leads
    labels += _gate_label(assembly, room)
    labels += [named for saddle in pose.saddles if (named := _beside(saddle, room)) is not None]
    says = "Lay it under the work, form on the outline."
    if pose.stations:
        none = "look in the list of stations" if crowded else "it is that of the stations before and after"
        says += (
            " Numbers are stations; inside the seam stands its height above the board; where none stands, "
            f"{none}."
        )
        if crossed:
            says += " A cross lies straight below the place that it names."
        if fillers:
            says += " The bed ends at the dashed line of a filler."
        if pose.bed_cards:
            says += " Bed cards stand on the dashed lines that run out from their stations."
    return Drawing("chart", "Chart of the bed", says, tuple(lines), tuple(labels))


def _crossed(pose: Pose) -> list[tuple[Place, str]]:
    """What lies straight above a cross on the chart: the highest place, and each place to fill."""
    highest = [(mark.at_mm, "highest") for mark in pose.landmarks if mark.name.startswith("highest")]
    fill = fill_marks([asdict(spot) for spot in pose.fill])
    return [*highest, *((mark.at_mm, f"fill {mark.number}") for mark in fill)]


def _fillers(pose: Pose, assembly: Assembly) -> list[tuple[str, Line]]:
    """The letter of each side piece, and the line on the board in which the face of its filler stands."""
    found = []
    for piece in side_pieces(assembly):
        line = plan_line(piece, assembly, pose.board_mm)
        if line is not None:
            # The pull to the left of the line, so that its word stands beyond it.
            turn = line[1] - line[0]
            outward = -turn[1] * piece.pull[0] + turn[0] * piece.pull[1]
            found.append((piece.id, Line(line if outward > 0.0 else line[::-1], "dash")))
    return found


def _filler_word(letter: str, line: Line, room: Room) -> Label | None:
    """The name of a filler beyond its line, along it."""
    begin, end = line.points
    step = (end - begin) / float(np.linalg.norm(end - begin))
    out = np.array([-step[1], step[0]])
    text = f"filler {letter}"
    half = np.array([LETTER_WIDTH * NUMBER_MM * len(text), NUMBER_MM]) / 2.0
    reach = float(np.abs(out) @ half)
    spots = [
        begin + (end - begin) * share + out * (reach + away)
        for away in (3.0, 7.0)
        for share in (0.5, 0.3, 0.7, 0.15)
    ]
    place = room.put(text, NUMBER_MM, [(float(x), float(y)) for x, y in spots])
    return None if place is None else Label(text, place, NUMBER_MM)


def _cross(at_mm: Place) -> list[Floats]:
    x, y = at_mm
    arms = ((CROSS_MM, CROSS_MM), (CROSS_MM, -CROSS_MM))
    return [np.array([[x - dx, y - dy], [x + dx, y + dy]]) for dx, dy in arms]


def _card_numbers(pose: Pose, cards: Mapping[int, float], room: Room) -> list[Label]:
    """The number of each bed card once more, at the outer end of its line."""
    found = []
    for station in pose.stations:
        if cards.get(station.number, 0.0) < NUMBERED_MM:
            continue
        out = np.array(station.out)
        end = np.array(station.at_mm) + out * cards[station.number]
        spots = [tuple(end - out * reach) for reach in (7.0, 11.0, 15.0)]
        text = str(station.number)
        # On its own dashed line, which is broken there.
        place = room.put_over(text, NUMBER_MM, [(float(x), float(y)) for x, y in spots])
        found += [] if place is None else [Label(text, place, NUMBER_MM)]
    return found


def _openings(pose: Pose, room: Room) -> list[Label]:
    """What fills each opening of the object that a seam line runs round."""
    found = []
    for loop in sorted({station.loop for station in pose.stations}):
        stations = [station for station in pose.stations if station.loop == loop]
        if len(stations) < 3 or not in_opening(stations):
            continue
        middle = Polygon([station.at_mm for station in stations]).representative_point()
        spots = [
            (middle.x + dx, middle.y + dy)
            for dy in (4.0, -4.0, 7.0, -7.0, 0.0)
            for dx in (0.0, 3.0, -3.0, 11.0, -11.0)
        ]
        for text in ("bed clay", "clay"):
            place = room.put(text, 2.2, spots)
            if place is not None:
                found.append(Label(text, place, 2.2))
                break
    return found


def _station_labels(
    pose: Pose, room: Room, within: tuple[Floats, Floats], drawn: Sequence[LineString], us: bool
) -> tuple[list[Label], list[Line], bool]:
    """Numbers outside the seam and heights inside, the lines that lead to those that stand farther off, and
    whether any found no room.

    A line crosses none of those in `drawn` and no line that leads elsewhere, where that can be had. Those
    that the pages name come first: bed cards, the first of each line, and those whose seam may hardly
    stray.
    """
    cards = {card.station for card in pose.bed_cards}
    # Of a level bed the height is told once.
    loops = {s.loop for s in pose.stations if not pose.level or s.loop == 1}
    first = {min(s.number for s in pose.stations if s.loop == loop) for loop in loops}
    strict = {s.number for s in pose.stations if min(s.stray_up_mm, s.stray_down_mm) < STRICT_MM}
    named = cards | first | strict
    order = sorted(pose.stations, key=lambda s: (s.number not in named, s.number))
    alike = _alike(pose.stations, us) - cards - first
    wanted = 2 * len(order) - len(alike)
    labels: list[Label] = []
    leads: list[Line] = []
    waiting: list[tuple[Station, str, float, Place]] = []
    for station in order:
        inward = (-station.out[0], -station.out[1])
        words = [(str(station.number), NUMBER_MM, station.out, NUMBER_REACH_MM)]
        if station.number not in alike:
            words.append((bare(station.seam_mm, us), HEIGHT_MM, inward, HEIGHT_REACH_MM))
        for text, size, way, reaches in words:
            crowded = _nearest_mm(station, pose.stations) < CROWDED_MM
            place = None if crowded else room.put(text, size, along(station.at_mm, way, reaches))
            if place is None:
                waiting.append((station, text, size, way))
            else:
                labels.append(Label(text, place, size))
    for station, text, size, way in waiting:
        tick_mm = _tick_mm(station, pose.stations)
        crossed = [*drawn, *(LineString(lead.points) for lead in leads)]
        begin_mm = tick_mm if way == station.out else -SHORT_MM
        aside, turns_deg = _aside(station, way, pose.stations)
        straight = (way, (*turns_deg, *LED_TURNS_DEG), begin_mm)
        led = None
        if way == station.out:
            led = _led(station, text, size, (aside, turns_deg, begin_mm), room, within, crossed)
        if led is None:
            led = _led(station, text, size, straight, room, within, crossed)
        if led is None:
            led = _led(station, text, size, straight, room, within, ())
        if led is not None:
            labels.append(led[0])
            leads.append(led[1])
    return labels, leads, len(labels) < wanted


def _aside(station: Station, way: Place, stations: Sequence[Station]) -> tuple[Place, Sequence[float]]:
    """Which way a word is led off, and the turns from it, the first ones first.

    Where another station crowds this one on the same line, both are led off square to the line from the
    station before the two to the one after, each turned to its own side, so that their words stand in the
    order round the seam.
    """
    near = min(stations, key=lambda s: (s.number == station.number, _apart_mm(s, station)))
    ends = [
        [s for s in stations if s.loop == station.loop and s.number == 2 * one.number - other.number]
        for one, other in ((station, near), (near, station))
    ]
    if _apart_mm(near, station) >= CROWDED_MM or near.loop != station.loop or not all(ends):
        return way, LED_TURNS_DEG
    to = np.array(ends[0][0].at_mm) - np.array(ends[1][0].at_mm)
    square = np.array([to[1], -to[0]]) / max(float(np.linalg.norm(to)), 1e-9)
    outward = (np.array(station.out) + np.array(near.out)) @ square
    inward = np.array(way) @ np.array(station.out) < 0.0
    led = square * (-1.0 if (outward < 0.0) != inward else 1.0)
    turned = math.copysign(1.0, float(led[0] * to[1] - led[1] * to[0]))
    return (float(led[0]), float(led[1])), tuple(turned * turn for turn in LED_ASIDE_DEG)


def _apart_mm(one: Station, other: Station) -> float:
    return math.dist(one.at_mm, other.at_mm)


def _nearest_mm(station: Station, stations: Sequence[Station]) -> float:
    """How near in plan the next station stands."""
    others = [s for s in stations if s.number != station.number]
    return min((math.dist(station.at_mm, s.at_mm) for s in others), default=math.inf)


def _alike(stations: Sequence[Station], us: bool) -> set[int]:
    """Stations whose seam is as high as at those before and after them on their line."""
    found: set[int] = set()
    for loop in {station.loop for station in stations}:
        line = [station for station in stations if station.loop == loop]
        told = [bare(station.seam_mm, us) for station in line]
        around = in_opening(line)
        for k, station in enumerate(line):
            inner = 0 < k < len(line) - 1
            if (inner or around) and told[k - 1] == told[k] == told[(k + 1) % len(line)]:
                found.add(station.number)
    return found


def _tick_mm(station: Station, stations: Sequence[Station]) -> float:
    """How long the tick of a station is."""
    near_mm = _nearest_mm(station, stations)
    return TICK_MM if near_mm >= CROWDED_MM else min(TICK_MM, CROWDED_TICK * near_mm)


def _led(
    station: Station,
    text: str,
    size: float,
    going: tuple[Place, Sequence[float], float],
    room: Room,
    within: tuple[Floats, Floats],
    crossed: Sequence[LineString],
) -> tuple[Label, Line] | None:
    """A word farther off with the line that leads to it; None where there is no room at all.

    `going` is the way it is led, which turns from that way are tried, and how far out (mm) the line begins;
    it crosses none of `crossed`.
    """
    way, turns_deg, begin_mm = going
    begin = np.array(station.at_mm) + np.array(station.out) * begin_mm
    for place in along(station.at_mm, way, LED_REACH_MM, turns_deg):
        if not (
            np.all(np.array(place) > within[0] + 3.0) and np.all(np.array(place) < within[1] - 3.0)
        ) or not room.free(text, size, place):
            continue
        step = np.array(place) - begin
        length = float(np.linalg.norm(step))
        half = np.array([LETTER_WIDTH * size * len(text) / 2.0, size / 2.0]) + SHORT_MM
        # The line ends where it meets the room round the word.
        stop = length - float(np.min(half / np.maximum(np.abs(step / length), 1e-9)))
        if stop <= SHORT_MM:
            continue
        lead = np.stack([begin, begin + step / length * stop])
        straight = LineString(lead)
        if not any(straight.crosses(line) for line in crossed) and room.lead(lead):
            room.put(text, size, [place])
            return Label(text, place, size), Line(lead, "mark")
    return None


def _gate_label(assembly: Assembly, room: Room) -> list[Label]:
    """The word where slip comes in, when that is at a side."""
    gate = assembly.gate
    (x, y), (a, b, upright) = gate.at_mm[:2], gate.out
    if gate.kind not in ("bore", "mouth") or abs(upright) > 0.5:
        return []
    outer = assembly.footprint / XY_PER_MM
    far_mm = float(((outer - np.array([x, y])) @ np.array([a, b])).max())
    place = room.put(
        "gate plug", 2.6, [(x + a * reach, y + b * reach) for reach in (far_mm - 10.0, far_mm - 15.0)]
    )
    return [] if place is None else [Label("gate plug", place, 2.6)]


def _beside(saddle: Saddle, room: Room) -> Label | None:
    """The name of a saddle beside its line, at the first spot along it that is free."""
    (x, y), (a, b) = saddle.through_mm, saddle.along
    spots = [
        (x + a * reach_mm * share - b * side, y + b * reach_mm * share + a * side)
        for share in (0.6, 0.45, 0.75, 0.3, 0.9)
        for reach_mm in (saddle.reach_mm[1], -saddle.reach_mm[0])
        for side in (5.5, -5.5)
    ]
    place = room.put(saddle.id, LETTERS_MM, spots)
    return None if place is None else Label(saddle.id, place, LETTERS_MM)


def _round(line: Line) -> Floats:
    """The points of a line, a closed one back to its beginning."""
    return np.concatenate([line.points, line.points[:1]]) if line.closed else line.points


def _circle(middle: Sequence[float], radius_mm: float) -> Floats:
    turn = np.arange(CIRCLE_CORNERS) * 2.0 * np.pi / CIRCLE_CORNERS
    ring: Floats = np.stack([np.cos(turn), np.sin(turn)], axis=1) * radius_mm + np.array(middle)
    return ring
