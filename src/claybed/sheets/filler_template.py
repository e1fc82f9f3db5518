"""The template of a side piece's filler: its face at 1:1 with the object's line, keys and plug."""

from __future__ import annotations

import numpy as np
from shapely import unary_union
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import polygonize

from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.slicing import cut_segments, thinned
from claybed.posing.fillers import ON_MM, OVER_LEVEL_MM, face_level_mm, filler_loops, side_pieces
from claybed.records.assembly import Assembly, BlockKey, Piece
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.pose import Pose
from claybed.sheets.label_places import Room
from claybed.wording import ruler

# Sections are taken this far from the face itself, so that its own flat is not cut along.
OFF_MM = 0.3
# What is smaller in a section is a crumb of it.
CRUMB_MM2 = 4.0
# A plug no deeper than this is the object's own unevenness, smeared with clay.
PLUG_LEAST_MM = 1.0
LINE_MM = 0.05
LETTERS_MM, WORD_MM = 4.0, 3.0
# What a name keeps clear of, above and below it together with its letters.
CLEAR_MM = 9.0
# The width of a key keeps off the dashed lines beside it, where there is room to.
KEY_CLEAR_MM = 4.5
CROSS_MM = 2.0
CIRCLE_CORNERS = 72
CORNERS_JOIN_MM = 1e-3


def filler_templates(pose: Pose, assembly: Assembly, us: bool) -> list[Drawing]:
    """The face of each filler as seen from the object, foot down; none for a mold without side pieces.

    Solid: where the face is cut along its outline; marks: where the object, keys and plugs stand on it; a
    plug's narrow end and the base board of the first pour are dashed.
    """
    found = [_template(piece, pose, assembly, us) for piece in side_pieces(assembly)]
    return [drawing for drawing in found if drawing is not None]


class _View:
    """The face of a filler as seen from the object: x to the right, y up from the block's underside, mm."""

    def __init__(self, piece: Piece, level_mm: float) -> None:
        self.pull = np.array(piece.pull)
        across = np.cross(self.pull, [0.0, 0.0, 1.0])
        self.right = across / np.linalg.norm(across)
        self.up = np.cross(self.right, self.pull)
        self.level_mm = level_mm

    def flat(self, points_mm: Floats) -> Floats:
        """Points (n, 3) mm of the block's frame as they lie on the face (n, 2)."""
        # Measured along the face from where it meets the block's underside.
        foot = self.level_mm * float(self.pull @ self.up) if abs(self.pull[2]) < 1e-12 else self._foot_mm()
        return np.stack([points_mm @ self.right, points_mm @ self.up - foot], axis=1)

    def _foot_mm(self) -> float:
        # A point of the face at height 0: level x pull / the pull's share in plan.
        share = float(np.linalg.norm(self.pull[:2]))
        at = np.array([*(self.pull[:2] * self.level_mm / share**2), 0.0])
        return float(at @ self.up)

    def section(self, piece: Piece, off_mm: float) -> list[Polygon]:
        """The areas of a piece in the plane `off_mm` beyond the face, largest first."""
        points = lattice_mm(piece.solid.points)
        through = self.pull * (self.level_mm + off_mm)
        ends = cut_segments(points, piece.solid.faces, through, self.pull)
        if not len(ends):
            return []
        flat = self.flat(ends.reshape(-1, 3)).reshape(-1, 2, 2)
        lines = [LineString(pair) for pair in np.round(flat / CORNERS_JOIN_MM) * CORNERS_JOIN_MM]
        areas = list(polygonize(unary_union([line for line in lines if line.length > 0.0])))
        # Even-odd: what lies inside an odd number of outlines is the piece.
        return sorted((a for a in areas if a.area > CRUMB_MM2), key=lambda a: -a.area)


def _template(piece: Piece, pose: Pose, assembly: Assembly, us: bool) -> Drawing | None:
    level_mm = face_level_mm(piece, assembly)
    if level_mm is None:
        return None
    view = _View(piece, level_mm)
    areas = view.section(piece, OFF_MM)
    if not areas:
        return None
    outline = np.array(unary_union(areas).convex_hull.exterior.coords)[:-1]
    keys = [key for key in assembly.keys if key.bump_on == piece.id]
    # What goes into a later side piece is no key of clay here, but a hollow in that one's filler.
    later = {other.id for other in side_pieces(assembly)}
    beside = [key for key in keys if key.socket_in in later]
    lines = [Line(thinned(np.concatenate([outline, outline[:1]]), LINE_MM), "cut")]
    lines += _rings(view, piece, assembly)
    plug_mm, plugs = _plugs(view, piece, keys, assembly)
    lines += plugs
    placed = view.flat(np.array([key.at_mm for key in keys]).reshape(-1, 3))
    for key, (x, y) in zip(keys, placed, strict=True):
        ring = _circle((x, y), key.diameter_mm / 2.0)
        lines.append(Line(ring, "dash" if key in beside else "mark", closed=True))
        lines += [
            Line(np.array([[x - CROSS_MM, y], [x + CROSS_MM, y]]), "mark"),
            Line(np.array([[x, y - CROSS_MM], [x, y + CROSS_MM]]), "mark"),
        ]
    (left, low), (right, high) = outline.min(axis=0), outline.max(axis=0)
    board = np.array([[left, pose.board_mm / view.up[2]], [right, pose.board_mm / view.up[2]]])
    lines.append(Line(board, "dash"))
    room = Room(_round(line) for line in lines)
    labels = _edge_labels(view, (float(left), float(right), float(low), float(high)), room)
    for key, (x, y) in zip(keys, placed, strict=True):
        text = f"Ø {ruler(key.diameter_mm, us)}"
        beyond = key.diameter_mm / 2.0 + 3.0
        spots = [(x, y + beyond), (x, y - beyond), (x - 18.0, y), (x + 18.0, y)]
        place = room.put(text, WORD_MM, spots, tall_mm=KEY_CLEAR_MM) or room.put(text, WORD_MM, spots)
        labels += [] if place is None else [Label(text, place, WORD_MM)]
    middle = float((left + right) / 2.0)
    for text, at in (
        (f"Filler {piece.id}", float(high) - 14.0),
        ("base board, first pour", float(board[0, 1]) + 3.0),
    ):
        spots = [
            (middle + aside, at + up) for up in (0.0, -6.0, -12.0, -18.0) for aside in (0.0, 30.0, -30.0)
        ]
        place = room.put(text, WORD_MM, spots, tall_mm=CLEAR_MM)
        labels += [] if place is None else [Label(text, place, WORD_MM)]
    return Drawing(
        id=f"filler-{piece.id}",
        title=f"Filler {piece.id}",
        says=_says([key for key in keys if key not in beside], beside, plug_mm, piece.bridges, us),
        lines=tuple(lines),
        labels=tuple(labels),
    )


def _says(keys: list[BlockKey], beside: list[BlockKey], plug_mm: float, bridges: int, us: bool) -> str:
    says = "The filler's face as seen from the object, upright as drawn. Marked line: the object."
    if keys:
        deep = ruler(min(key.depth_mm for key in keys), us)
        count = f"{len(keys)} key{'' if len(keys) == 1 else 's'}"
        says += f" Prick the crosses: {count} of clay, {deep} high, as wide as the circles."
    if beside:
        into = " and ".join(sorted({key.socket_in for key in beside}))
        says += (
            f" Dashed circles: leave them out here; hollow the filler of {into} there for the pour of this."
        )
    if plug_mm > PLUG_LEAST_MM:
        says += f" Plug: {ruler(plug_mm, us)} out of the face, from its marked outline to the dashed one."
    if bridges:
        says += f" Leave {bridges} gap{'' if bridges == 1 else 's'} across the plug open for plaster."
    return says + (
        " Under the dashed line it is filled up with clay, and a key that crosses it made whole, once the "
        "mold is turned over."
    )


def _rings(view: _View, piece: Piece, assembly: Assembly) -> list[Line]:
    """The lines in which the object meets this filler. Of one that runs on over another filler its own part
    is drawn, closed along the edge where both fillers meet.
    """
    found = []
    beside = [one for one in side_pieces(assembly) if one.id != piece.id]
    planes = [(np.array(one.pull), face_level_mm(one, assembly)) for one in beside]
    for loop in filler_loops(assembly):
        off = np.abs(loop @ view.pull - view.level_mm) >= ON_MM
        if np.array_equal(loop[0], loop[-1]) and off.any():
            first = int(np.argmax(off))
            loop = np.concatenate([loop[first:-1], loop[: first + 1]])
        mine = np.abs(loop @ view.pull - view.level_mm) < ON_MM
        theirs = [np.abs(loop @ pull - level) < ON_MM for pull, level in planes if level is not None]
        if not any((on & ~mine).any() for on in theirs):
            if mine.mean() > 0.5:
                found.append(Line(thinned(view.flat(loop), LINE_MM), "mark"))
            continue
        own = mine[1:] & mine[:-1]
        ends = np.flatnonzero(np.diff(np.r_[False, own, False].astype(np.int8)))
        for begin, end in zip(ends[::2], ends[1::2], strict=True):
            part = loop[begin : end + 1]
            if any(on[begin] and on[end] for on in theirs):
                part = np.concatenate([part, part[:1]])
            found.append(Line(thinned(view.flat(part), LINE_MM), "mark"))
    return found


def _plugs(view: _View, piece: Piece, keys: list[BlockKey], assembly: Assembly) -> tuple[float, list[Line]]:
    """How far a plug reaches out of the face (0 for none), mm, and its outlines at face and end."""
    solid = piece.solid
    faces = solid.faces[solid.origin != int(Origin.KEY)]
    if piece.id == assembly.base:  # what it has under the object is no plug
        high = lattice_mm(solid.points)[:, 2] > assembly.level_mm + OVER_LEVEL_MM
        faces = faces[high[faces].all(axis=1)]
    depth_mm = view.level_mm - float((lattice_mm(solid.points)[faces] @ view.pull).min())
    middles = view.flat(np.array([key.at_mm for key in keys]).reshape(-1, 3))
    own = [Point(at).buffer(key.diameter_mm / 2.0) for at, key in zip(middles, keys, strict=True)]
    if depth_mm <= PLUG_LEAST_MM:
        return 0.0, []
    lines: list[Line] = []
    reach_mm = 0.0
    for off_mm, stroke in ((OFF_MM, "mark"), (None, "dash")):
        if off_mm is None and not lines:
            break
        deep = off_mm if off_mm is not None else max(OFF_MM, depth_mm - OFF_MM)
        for area in view.section(piece, -deep):
            below = piece.id == assembly.base and area.centroid.y * view.up[2] < assembly.level_mm
            if below or any(area.representative_point().within(key.buffer(0.5)) for key in own):
                continue
            outline = thinned(np.array(area.exterior.coords), LINE_MM)
            lines.append(Line(outline, "dash" if stroke == "dash" else "mark"))
            reach_mm = depth_mm
    return reach_mm, lines


def _edge_labels(view: _View, box: tuple[float, float, float, float], room: Room) -> list[Label]:
    """Which way up it is, and which side of the form each upright edge stands at."""
    left, right, low, high = box
    names = []
    for way in (-view.right, view.right):
        x, y = float(way[0]), float(way[1])
        names.append(("left", "right")[x > 0.0] if abs(x) > abs(y) else ("front", "back")[y > 0.0])
    middle, half = (left + right) / 2.0, (low + high) / 2.0
    labels = []
    for text, spots in (
        ("up", [(middle, high - 5.0), (middle + 20.0, high - 5.0)]),
        (names[0], [(left + 12.0, half + up) for up in (0.0, 15.0, -15.0, 30.0)]),
        (names[1], [(right - 12.0, half + up) for up in (0.0, 15.0, -15.0, 30.0)]),
    ):
        place = room.put(text, LETTERS_MM, [(float(x), float(y)) for x, y in spots])
        labels += [] if place is None else [Label(text, place, LETTERS_MM)]
    return labels


def _circle(at_mm: tuple[float, float], radius_mm: float) -> Floats:
    turn = np.linspace(0.0, 2.0 * np.pi, CIRCLE_CORNERS, endpoint=False)
    return np.array(at_mm) + radius_mm * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def _round(line: Line) -> Floats:
    return np.concatenate([line.points, line.points[:1]]) if line.closed else line.points
