"""From the closed mold to what stands in each form: levels, columns above the object, clay of the bed."""

from __future__ import annotations

import numpy as np

from claybed.flow.hump_figures import hump_of
from claybed.flow.sideways import SideView, aside, seen_along, stood_along
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.levels import column_above_mm3, volume_above_mm3
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.materials import shelf
from claybed.records.assembly import BLOCK_FRAME, Assembly, Piece
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.poured import Poured
from claybed.records.standing import Keeper, StandingObject, StandingPour

# Cosine between the mouth's way and straight down from which a vessel stands on its rim.
_LOOKS_DOWN = 0.9


def standing_pours(obj: MeasuredObject, assembly: Assembly, poured: Poured) -> tuple[StandingPour, ...]:
    """Each pour as it stands in its form, in pouring order; lengths mm, volumes ml."""
    placed = obj.mesh.vertices_mm @ assembly.to_block.T
    x_mm, y_mm = (float(side) for side in np.ptp(placed[:, :2], axis=0))
    weights = {pour.piece: pour for pour in poured.pours}
    views = {piece.id: seen_along(assembly, piece) for piece in assembly.pieces if aside(piece)}

    girth_mm, flat_mm = _around(assembly) if assembly.shape == "round" else (None, 0.0)

    def plan_mm2(piece: Piece) -> float:
        view = views.get(piece.id)
        return view.own_mm[0] * view.own_mm[1] if view else open_mm2(assembly, up=piece.pull[2] > 0.0)

    return tuple(
        StandingPour(
            piece=piece.id,
            order=piece.order,
            inside_mm=views[piece.id].inside_mm if piece.id in views else inside_mm(assembly),
            footprint_mm2=plan_mm2(piece),
            fill_from_board_mm=weights[piece.id].fill_line_from_board_mm,
            bed_level_mm=_stands_on_mm(assembly, piece, views.get(piece.id)),
            # A side piece takes a part of the object only.
            object_mm=(0.0, 0.0) if piece.id in views else (x_mm, y_mm),
            over_object_ml=views[piece.id].over_object_ml
            if piece.id in views
            else _over_object_ml(assembly, piece),
            volume_ml=piece.solid.volume_mm3 / 1000.0,
            wet_kg=weights[piece.id].wet_kg,
            dry_kg=weights[piece.id].dry_kg,
            aside=piece.id in views,
            opens=piece.opens or piece.order,
            girth_mm=girth_mm,
            flat_mm=flat_mm,
            takes_bed=piece.id == assembly.base,
            rise_mm=views[piece.id].rise_mm if piece.id in views else 0.0,
            deeper_mm=_deeper_mm(
                piece,
                stood_along(piece, assembly) if piece.id in views else piece.pull,
                weights[piece.id].fill_line_from_board_mm
                - _stands_on_mm(assembly, piece, views.get(piece.id)),
            ),
            beside=views[piece.id].beside if piece.id in views else (),
            own_mm=views[piece.id].own_mm if piece.id in views else _beside_fillers_mm(assembly, piece),
        )
        for piece in sorted(assembly.pieces, key=lambda piece: piece.order)
    )


def standing_object(obj: MeasuredObject, assembly: Assembly, fill_ml: float, brief: Brief) -> StandingObject:
    """The object in its mold, with the room inside it for ballast. Reads `hollow_ml` of the brief."""
    if assembly.hump:
        return _vessel_in_bed(obj, assembly, fill_ml, brief)
    room_ml, room_from = brief.hollow_ml, "room inside, as asked"
    if room_ml is None and obj.mouth is not None:
        room_ml, room_from = obj.mouth.closed_ml, "inside below the mouth's surface"
    first = min(assembly.pieces, key=lambda piece: piece.order)
    bed_ml = None
    letters = {piece.id for piece in assembly.pieces if not aside(piece)}
    if assembly.base:
        # The bed is as wide as the piece over it: what side pieces take is kept by fillers.
        under_mm = assembly.level_mm - board_mm(assembly, first)
        model = assembly.model.mesh(BLOCK_FRAME)
        sunk_ml = (model.volume_mm3 - volume_above_mm3(model, assembly.level_mm)) / 1000.0
        bed_ml = open_mm2(assembly, up=True) * under_mm / 1000.0 - sunk_ml
    elif len(assembly.pieces) > 1:
        other = assembly.pieces[1]
        under_ml = open_mm2(assembly, up=first.pull[2] < 0.0) * board_mm(assembly, first) / 1000.0
        bed_ml = other.solid.volume_mm3 / 1000.0 - under_ml
    return StandingObject(
        name=obj.name,
        solid_ml=obj.solid_ml,
        model_ml=assembly.model.volume_mm3 / 1000.0,
        fill_ml=fill_ml,
        mass_g=obj.mass_g,
        room_ml=room_ml,
        room_from=room_from,
        pad_mm=shelf.value("practice", "bed_pad_mm").value,
        bed_ml=bed_ml,
        # Keys of further pieces are in the boards that keep their place, not in the bed.
        keys=tuple(key for key in assembly.keys if key.bump_on in letters),
        first=first.id,
        outer_mm=assembly.outer_mm,
        gate_kind=assembly.gate.kind,
        keepers=tuple(_keeper(assembly, piece) for piece in assembly.pieces if aside(piece)),
        open_down=_open_down(obj, assembly),
    )


def _open_down(obj: MeasuredObject, assembly: Assembly) -> bool:
    """Whether a vessel stands in the form of a single piece with its mouth on the board."""
    if len(assembly.pieces) > 1 or obj.mouth is None:
        return False
    return float((assembly.to_block @ np.array(obj.mouth.up))[2]) < -_LOOKS_DOWN


def _vessel_in_bed(obj: MeasuredObject, assembly: Assembly, fill_ml: float, brief: Brief) -> StandingObject:
    """The vessel that a hump is cast in, with sand and clay round it."""
    hump = hump_of(obj, assembly, brief)
    assert hump is not None
    return StandingObject(
        name=obj.name,
        solid_ml=obj.solid_ml,
        model_ml=assembly.model.volume_mm3 / 1000.0,
        fill_ml=fill_ml,
        mass_g=obj.mass_g,
        room_ml=None,
        room_from="",
        pad_mm=0.0,
        bed_ml=hump.clay_ml.number,
        keys=(),
        first=assembly.pieces[0].id,
        outer_mm=assembly.outer_mm,
        gate_kind=assembly.gate.kind,
        hump=hump,
    )


def _around(assembly: Assembly) -> tuple[float, float]:
    """Girth of a round block and the width of its flat, mm."""
    corners = assembly.footprint / XY_PER_MM
    sides_mm = np.sort(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T))
    # Beside a flat stand two tangents, longer than the sides of the round, shorter than the flat.
    flat_mm = float(sides_mm[-1]) if sides_mm[-1] > 1.15 * sides_mm[-2] else 0.0
    return float(sides_mm.sum()), flat_mm


_OPPOSITE = {"front": "back", "back": "front", "left": "right", "right": "left", "top": "foot", "foot": "top"}


def _keeper(assembly: Assembly, piece: Piece) -> Keeper:
    view = seen_along(assembly, piece)
    aside_ones = {other.id for other in assembly.pieces if aside(other)}
    # A key between two side pieces stands on neither filler: the later one's is hollowed for it.
    own = [k for k in assembly.keys if k.bump_on == piece.id and k.socket_in not in aside_ones]
    x, y, z = piece.pull
    wide = view.own_mm
    thick_at, thin_at = "", ""
    if view.rise_mm > 0.0:
        # The face draws back from the outside towards where the pull leans.
        leans = [("back", "front")[y < 0.0] if abs(x) > abs(y) else ("right", "left")[x < 0.0]]
        shares = [min(abs(x), abs(y)) * max(wide), abs(z) * assembly.height / Z_PER_MM]
        leans.append(("top", "foot")[z < 0.0])
        told = [name for name, share in zip(leans, shares, strict=True) if share > 0.1 * max(shares)]
        thick_at, thin_at = " ".join(told), " ".join(_OPPOSITE[name] for name in told)
    side = ("left", "right")[x > 0.0] if abs(x) > abs(y) else ("front", "back")[y > 0.0]
    return Keeper(
        piece=piece.id,
        order=piece.order,
        side=side,
        thick_mm=view.height_mm - view.interface_mm,
        keys=len(own),
        key_mm=min((key.diameter_mm for key in own), default=0.0),
        key_deep_mm=min((key.depth_mm for key in own), default=0.0),
        plug_mm=view.plug_mm,
        takes_bed=piece.id == assembly.base,
        thin_mm=view.height_mm - view.interface_mm - view.rise_mm if view.rise_mm > 0.0 else None,
        thick_at=thick_at,
        thin_at=thin_at,
        sunk_mm=view.sunk_mm,
        hollows=tuple(
            (k.bump_on, k.diameter_mm, k.depth_mm)
            for k in assembly.keys
            if k.socket_in == piece.id and k.bump_on in aside_ones
        ),
        ends_at=view.beside,
        bridges=piece.bridges,
    )


def open_mm2(assembly: Assembly, *, up: bool) -> float:
    """Plan of the form at the upper (`up`) or lower end of the block, mm², less what side pieces take there.

    Their places are kept by fillers while the main pieces are poured.
    """
    taken = 0.0
    for piece in filter(aside, assembly.pieces):
        flat = _end_mm(assembly, piece, up=up)
        (ax, ay), (bx, by) = (flat[:, 1] - flat[:, 0]).T, (flat[:, 2] - flat[:, 0]).T
        taken += float(np.abs(ax * by - ay * bx).sum()) / 2.0
    return footprint_mm2(assembly) - taken


def _end_mm(assembly: Assembly, piece: Piece, *, up: bool) -> Floats:
    """Triangles of a piece in the block's upper or lower end, in plan, mm (n, 3, 2)."""
    corners = piece.solid.points[piece.solid.faces]
    level = assembly.height if up else 0
    return np.asarray(corners[(corners[:, :, 2] == level).all(axis=1)][:, :, :2] / XY_PER_MM)


def _beside_fillers_mm(assembly: Assembly, piece: Piece) -> tuple[float, float] | None:
    """Sides of the form (x, y) less the fillers that stand along them while a main piece is poured, mm."""
    if assembly.shape != "boxed":
        return None
    left_mm = list(assembly.outer_mm[:2])
    for other in filter(aside, assembly.pieces):
        flat = _end_mm(assembly, other, up=piece.pull[2] > 0.0)
        across = 0 if abs(other.pull[0]) > abs(other.pull[1]) else 1
        left_mm[across] -= float(np.ptp(flat[:, :, across])) if len(flat) else 0.0
    return left_mm[0], left_mm[1]


def board_mm(assembly: Assembly, piece: Piece) -> float:
    """Height of the board that a piece is poured on, mm in the block's frame.

    A second piece is poured turned over, on the block's own end.
    """
    if len(assembly.pieces) == 1 or piece.order > 1:
        return 0.0
    lowest = float(assembly.model.points[:, 2].min()) / Z_PER_MM
    return lowest - shelf.value("practice", "bed_pad_mm").value


def footprint_mm2(assembly: Assembly) -> float:
    """Inside plan of the form, mm²."""
    x, y = (assembly.footprint / XY_PER_MM).T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2.0)


def inside_mm(assembly: Assembly) -> tuple[float, ...]:
    """Inside of the form: boxed (x, y), round (diameter,), mm."""
    return assembly.outer_mm[:2] if assembly.shape == "boxed" else assembly.outer_mm[:1]


def _stands_on_mm(assembly: Assembly, piece: Piece, view: SideView | None) -> float:
    """What the liquid of a pour stands on, mm above its board: under the object that is the board."""
    if view is None:
        return bed_level_mm(assembly, piece)
    return 0.0 if piece.id == assembly.base else view.interface_mm


def _deeper_mm(piece: Piece, up: tuple[float, float, float], depth_mm: float) -> float:
    """How far a piece poured with `up` upwards, `depth_mm` at the sides, reaches deeper, its keys apart."""
    corners = np.unique(piece.solid.faces[piece.solid.origin != int(Origin.KEY)])
    heights_mm: Floats = lattice_mm(piece.solid.points[corners]) @ np.array(up)
    return max(0.0, float(np.ptp(heights_mm)) - depth_mm)


def bed_level_mm(assembly: Assembly, piece: Piece) -> float:
    """What the liquid of a pour stands on at the sides, mm above its board.

    The bed for the first of two, the first piece for the second, the board itself for a single one.
    """
    if assembly.hump:
        return assembly.level_mm
    if len(assembly.pieces) == 1:
        return 0.0
    if piece.order == 1:
        return assembly.level_mm - board_mm(assembly, piece)
    return assembly.height / Z_PER_MM - assembly.level_mm


def _over_object_ml(assembly: Assembly, piece: Piece) -> float:
    """Slurry that stands right above the model up to the fill line, ml."""
    mesh = assembly.model.mesh(BLOCK_FRAME)
    if piece.pull[2] > 0.0:
        return column_above_mm3(mesh, assembly.height / Z_PER_MM) / 1000.0
    turned = Mesh.make(mesh.vertices_mm * [1.0, -1.0, -1.0], mesh.faces, frame=BLOCK_FRAME)
    return column_above_mm3(turned, 0.0) / 1000.0
