"""The pose of the first pour: from a closed mold to what a ruler, a pencil and two cards can set up."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from claybed.geometry.lattice import Z_PER_MM
from claybed.geometry.mesh import Floats, Mesh
from claybed.materials import shelf
from claybed.posing.bed_cards import card_mm, standing
from claybed.posing.fillers import side_pieces
from claybed.posing.landmarks import landmarks
from claybed.posing.saddles import saddle_pair
from claybed.posing.stations import (
    SeamLine,
    Solids,
    at,
    bed_profile,
    places_on,
    seam_lines,
    stray_band,
)
from claybed.posing.steep import steep_places
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.pose import BedCard, FillSpot, Landmark, Pose, PressedKey, Saddle, Station
from claybed.records.surveyed import FillPlace, Vector

# What fits a plane this well is flat, as of a seam.
BED_LEVEL_MM = 0.2
# How far from its own station a card may be near the seam.
OWN_MM = 12.0
# The share of the stations that a pose need not suit.
NEARLY_ALL = 0.1


def set_pose(
    assembly: Assembly,
    mesh: Mesh,
    up: Vector,
    places: Sequence[FillPlace],
    *,
    board_mm: float,
    rim_mm: float,
    tilt_deg: float | None,
    numbers: Sequence[int] = (),
) -> Pose:
    """The pose of an object (`mesh` in its own frame, `up` as it stands) in its mold.

    `places` are the patches to fill or scrape, in the object's frame; `numbers` the number each carries in
    pictures, none when it is empty; `board_mm` height of the first pour's board in the block's frame,
    `rim_mm` of the form's rim above it. Heights come from the plan's own solids, cut exactly.
    """
    placed = mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    one = len(assembly.pieces) == 1
    # Keys of side pieces are on the fillers that keep their place, not on the bed.
    lock_mm = shelf.value("practice", "lock_ignore_mm").value
    lines = () if one else seam_lines(assembly, placed)
    least_mm = shelf.value("bench", "station_line_least_mm").value
    worth = [line for line in lines if line.length_mm >= least_mm]
    short = [line for line in lines if line.length_mm < least_mm]
    stations: tuple[Station, ...] = ()
    saddles: tuple[Saddle, ...] = ()
    cards: tuple[BedCard, ...] = ()
    if not one:
        solids = Solids.of(assembly)
        flat_mm = assembly.level_mm if assembly.base else None
        stations, cards = _stations(worth, solids, board_mm, rim_mm, lock_mm, flat_mm)
        card_mm = shelf.value("practice", "saddle_card_mm").value
        saddles = saddle_pair(solids, _centre(placed), board_mm, card_mm)
    return Pose(
        board_mm=board_mm,
        rim_mm=rim_mm,
        pad_mm=_pad_mm(float(placed.vertices_mm[:, 2].min()) - board_mm),
        stray_lock_mm=lock_mm,
        tilt_deg=tilt_deg,
        near_mm=_near_mm(placed, tilt_deg, stations),
        on_board=one,
        level=one or assembly.seam_flat or bool(assembly.base) or _bed_level(assembly, lines, stations),
        stations=stations,
        steep=steep_places(worth, stations, board_mm),
        saddles=saddles,
        landmarks=_landmarks(assembly, placed, up, board_mm),
        bed_cards=cards,
        keys=_bed_keys(assembly, board_mm),
        fill=tuple(
            _spot(place, number, assembly, board_mm)
            for place, number in zip(places, numbers or [0] * len(places), strict=True)
        ),
        short_lines=len(short),
        short_mm=sum(line.length_mm for line in short),
    )


def _near_mm(placed: Mesh, tilt_deg: float | None, stations: Sequence[Station]) -> float:
    """How far off a height may be read: as usual, or less: what the lean that locks lifts the object's end,
    or how far the seam may stray at nearly all stations, since it is drawn in this pose.
    """
    most_mm = shelf.value("bench", "pose_near_mm").value
    if tilt_deg:
        half_mm = float(np.ptp(placed.vertices_mm[:, :2], axis=0).max()) / 2.0
        most_mm = min(most_mm, math.tan(math.radians(tilt_deg)) * half_mm)
    stray = [min(station.stray_up_mm, station.stray_down_mm) for station in stations]
    if stray:
        most_mm = min(most_mm, float(np.quantile(stray, NEARLY_ALL)))
    return max(shelf.value("bench", "pose_near_least_mm").value, most_mm)


def _pad_mm(gap_mm: float) -> float:
    """Clay under the lowest place: the gap to the board, nothing when only rounding put it below.

    The board follows the solids, which lie on the lattice; the object itself does not. What lies deeper than
    one step of the lattice is no rounding, and is handed on for the schema to refuse.
    """
    return 0.0 if -1.0 / Z_PER_MM <= gap_mm < 0.0 else gap_mm


def _stations(
    lines: Sequence[SeamLine],
    solids: Solids,
    board_mm: float,
    rim_mm: float,
    lock_mm: float,
    flat_mm: float | None,
) -> tuple[tuple[Station, ...], tuple[BedCard, ...]]:
    """Stations along seam lines, and cards of the bed; where it is level at `flat_mm`, none are needed."""
    stations: list[Station] = []
    cards: list[BedCard] = []
    for loop, line in enumerate(lines, start=1):
        for along_mm in places_on(line):
            point, direction = at(line, float(along_mm))
            out, profile = bed_profile(solids, point, direction)
            if flat_mm is not None:
                profile = np.column_stack([profile[:, 0], np.full(len(profile), flat_mm)])
            up_mm, down_mm = stray_band(solids, point, out, lock_mm)
            reach, height = profile[-1]
            seam_mm, bed_mm = float(point[2]) - board_mm, float(height) - board_mm
            end = point[:2] + out * reach
            number = len(stations) + 1
            stations.append(
                Station(
                    number=number,
                    loop=loop,
                    along_mm=float(along_mm),
                    at_mm=(float(point[0]), float(point[1])),
                    seam_mm=seam_mm,
                    out=(float(out[0]), float(out[1])),
                    form_at_mm=(float(end[0]), float(end[1])),
                    at_form=_on_outside(solids, end),
                    bed_mm=bed_mm,
                    seam_down_mm=rim_mm - seam_mm,
                    bed_down_mm=rim_mm - bed_mm,
                    stray_up_mm=up_mm,
                    stray_down_mm=down_mm,
                )
            )
            if (
                float(np.ptp(profile[:, 1])) > shelf.value("bench", "bed_flat_mm").value
                and reach > shelf.value("bench", "bed_card_least_mm").value
                and _clear(point, end, lines)
            ):
                foot = np.array([[0.0, 0.0], [reach, 0.0]])
                top = profile[::-1] - np.array([0.0, board_mm])
                cards.append(BedCard(number, np.concatenate([foot, top])))
    return tuple(stations), standing(cards, stations, lines)


def _clear(point: Floats, end: Floats, lines: Sequence[SeamLine]) -> bool:
    """Whether a card from a seam point (3,) mm straight to `end` (2,) keeps clear of the seam beyond its own
    place.
    """
    along = np.linspace(point[:2], end, 40)
    beyond = along[np.linalg.norm(along - point[:2], axis=1) > OWN_MM]
    seam = np.concatenate([line.points[:, :2] for line in lines])
    away = np.linalg.norm(beyond[:, None] - seam[None], axis=2)
    return not away.size or float(away.min()) > card_mm("beside_mm")


def _on_outside(solids: Solids, place: Floats) -> bool:
    """Whether a plan place (2,) mm lies on the rim of the first piece's own extent: the form's inside, or
    the face of a filler that stands there.
    """
    plan = solids.bed_points[:, :2]
    low, high = plan.min(axis=0), plan.max(axis=0)
    boxed = bool(np.any(np.abs(place - low) < 0.1) or np.any(np.abs(place - high) < 0.1))
    radius = float(np.linalg.norm(plan, axis=1).max())
    # A round form is a polygon of many corners: its sides lie within half a millimetre of the circle.
    return boxed or radius - float(np.linalg.norm(place)) < max(0.5, 0.01 * radius)


def _centre(placed: Mesh) -> Floats:
    """Plan (2,) mm of the solid's centre of mass."""
    corners = placed.corners_mm
    six = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    middle: Floats = (six[:, None] * corners.sum(axis=1)).sum(axis=0) / (4.0 * six.sum())
    return middle[:2]


def _landmarks(assembly: Assembly, placed: Mesh, up: Vector, board_mm: float) -> tuple[Landmark, ...]:
    turned = assembly.to_block @ (np.asarray(up) / np.linalg.norm(up))
    has_gate = assembly.gate.kind in ("bore", "mouth")
    gate_out = np.array(assembly.gate.out) if has_gate else None
    return landmarks(placed.vertices_mm, placed.faces, board_mm, turned, gate_out)


def _bed_level(assembly: Assembly, lines: Sequence[SeamLine], stations: Sequence[Station]) -> bool:
    """Whether the bed of a mold with side pieces is one level plane, though its other seams are not."""
    if not side_pieces(assembly) or not stations:
        return False
    seam = np.concatenate([line.points[:, 2] for line in lines])
    off = np.array([station.bed_mm - station.seam_mm for station in stations])
    return float(np.ptp(seam)) < BED_LEVEL_MM and float(np.abs(off).max()) < BED_LEVEL_MM


def _bed_keys(assembly: Assembly, board_mm: float) -> tuple[PressedKey, ...]:
    """The keys that are pressed into the bed; those of side pieces are stuck on their fillers."""
    aside = {piece.id for piece in side_pieces(assembly)}
    return tuple(
        _key(key.at_mm, key.diameter_mm, key.depth_mm, board_mm)
        for key in assembly.keys
        if key.bump_on not in aside
    )


def _key(
    at_mm: tuple[float, float, float], diameter_mm: float, depth_mm: float, board_mm: float
) -> PressedKey:
    """The ball whose cap of this diameter and depth the key is: (r^2 + h^2) / h across."""
    radius_mm = diameter_mm / 2.0
    ball_mm = (radius_mm**2 + depth_mm**2) / depth_mm
    return PressedKey((at_mm[0], at_mm[1]), diameter_mm, depth_mm, ball_mm, at_mm[2] - board_mm)


def _spot(place: FillPlace, number: int, assembly: Assembly, board_mm: float) -> FillSpot:
    x, y, z = (float(v) for v in assembly.to_block @ np.array(place.at_mm) + assembly.shift_mm)
    density = shelf.value("clay", "oil_clay_density_g_per_ml").value
    return FillSpot(
        number=number,
        lock_class=place.lock_class,
        at_mm=(x, y),
        height_mm=z - board_mm,
        depth_mm=place.depth_mm,
        volume_ml=place.volume_ml,
        clay_g=place.volume_ml * density,
    )
