"""The pose: what cards, ruler and pencil set up is where the plan has it."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from claybed.flow.course import board_mm
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.slicing import cut_segments, in_plane, lowest, thinned
from claybed.posing.landmarks import landmarks
from claybed.posing.posing import set_pose
from claybed.posing.saddles import saddle_pair
from claybed.posing.stations import SeamLine, Solids, seam_lines
from claybed.posing.steep import stretches
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Brief
from claybed.records.pose import Pose
from claybed.sheets.bed_chart import bed_chart
from tests.mold.molds import BARE, mold
from tests.pieces import solids

RIM_MM = 200.0


def posed(
    mesh: Mesh, pull: tuple[float, float, float] = (0.0, 0.0, 1.0), brief: Brief = BARE
) -> tuple[Pose, Assembly]:
    """A solid in its mold, and its pose."""
    assembly = mold(mesh, pull, brief).assembly
    board = board_mm(assembly, assembly.pieces[0])
    return (
        set_pose(assembly, mesh, (0.0, 0.0, 1.0), (), board_mm=board, rim_mm=RIM_MM, tilt_deg=None),
        assembly,
    )


def inside_card(pose: Pose, which: int, placed: Mesh) -> tuple[Polygon, Floats]:
    """A saddle as a polygon, and the corners of the object's own section in its plane."""
    saddle = pose.saddles[which]
    along = np.array([*saddle.along, 0.0])
    normal = np.array([-along[1], along[0], 0.0])
    origin = np.array([*saddle.through_mm, pose.board_mm])
    segments = cut_segments(placed.vertices_mm, placed.faces, origin, normal)
    return Polygon(saddle.outline), in_plane(segments, origin, along).reshape(-1, 2)


@pytest.mark.parametrize(("radius_mm", "stray_mm"), [(25.0, 2.2), (50.0, 3.2), (100.0, 4.5)])
def test_a_pencil_may_stray_on_a_ball_as_the_round_allows(radius_mm: float, stray_mm: float) -> None:
    """On a ball of 25, 50 and 100 mm radius 0.1 mm locks at 2.2, 3.2 and 4.5 mm (R - sqrt(R^2 - e^2) = 0.1,
    worked from the formula).
    """
    pose, _ = posed(solids.sphere(radius_mm, subdivisions=6))
    exact = math.sqrt(radius_mm**2 - (radius_mm - 0.1) ** 2)
    assert exact == pytest.approx(stray_mm, abs=0.05)
    assert pose.stations
    for station in pose.stations:
        assert station.stray_up_mm == pytest.approx(exact, rel=0.12)
        assert station.stray_down_mm == pytest.approx(exact, rel=0.12)


def test_a_straight_wall_lets_the_pencil_stray_to_its_ends() -> None:
    """On an upright wall the seam may run anywhere: the two bands add up to the wall's height."""
    pose, _ = posed(solids.cylinder(40.0, 60.0))
    for station in pose.stations:
        assert station.stray_up_mm + station.stray_down_mm == pytest.approx(60.0, abs=0.3)


def test_bed_of_a_ball_is_its_radius_and_the_pad() -> None:
    """A ball of 100 mm lies in a level bed of 50 mm and the pad of 8 (a bed of about 55 to 60 mm, not of the
    whole wall: common practice, no source), and every station says so from both ends.
    """
    pose, assembly = posed(solids.sphere(50.0, subdivisions=5))
    assert pose.level and pose.pad_mm == pytest.approx(8.0, abs=0.1)
    for station in pose.stations:
        assert station.at_form
        assert station.seam_mm == pytest.approx(58.0, abs=0.2)
        assert station.bed_mm == pytest.approx(58.0, abs=0.2)
        assert station.seam_mm + station.seam_down_mm == pytest.approx(RIM_MM)
        assert station.bed_mm + station.bed_down_mm == pytest.approx(RIM_MM)
        assert math.hypot(*station.at_mm) == pytest.approx(50.0, abs=0.2)
    reach = max(math.hypot(*s.form_at_mm) for s in pose.stations)
    assert reach >= min(assembly.outer_mm[:2]) / 2.0 - 0.5


def test_stations_go_once_round() -> None:
    """Stations follow each other round the seam at even distances and cover its whole length."""
    mesh = solids.sphere(50.0, subdivisions=5)
    pose, assembly = posed(mesh)
    line = seam_lines(assembly, mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME))[0]
    assert line.closed and line.length_mm == pytest.approx(2.0 * math.pi * 50.0, rel=0.01)
    steps = np.diff([s.along_mm for s in pose.stations])
    assert np.allclose(steps, line.length_mm / len(pose.stations))
    assert [s.number for s in pose.stations] == list(range(1, len(pose.stations) + 1))
    turns = np.unwrap([math.atan2(s.at_mm[1], s.at_mm[0]) for s in pose.stations])
    assert abs(turns[-1] - turns[0]) == pytest.approx(
        2.0 * math.pi * (1.0 - 1.0 / len(pose.stations)), abs=0.05
    )


def test_gate_takes_no_station() -> None:
    """No station stands on the gate, and the seam beside it begins and ends at the object."""
    mesh = solids.sphere(50.0, subdivisions=5)
    pose, _ = posed(mesh, brief=Brief(keys=False, max_fill_ml=1e6))
    assert pose.stations
    for station in pose.stations:
        assert math.hypot(*station.at_mm) == pytest.approx(50.0, abs=0.3)
        assert station.stray_up_mm > 0.5


@pytest.mark.parametrize("make", [lambda: solids.sphere(50.0), lambda: solids.lumpy_sphere(4000)])
def test_the_object_comes_down_onto_both_saddles(make: object) -> None:
    """No point of the object's section lies inside a card, and each card is touched: it carries the object.

    The cards stay under the bed.
    """
    mesh: Mesh = make()  # type: ignore[operator]
    pose, assembly = posed(mesh)
    placed = mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    assert [s.id for s in pose.saddles] == ["S1", "S2"]
    for which, saddle in enumerate(pose.saddles):
        card, section = inside_card(pose, which, placed)
        assert card.is_valid and saddle.outline[:, 1].min() == 0.0
        ends = [saddle.outline[:, 0].argmin(), saddle.outline[:, 0].argmax()]
        for end in saddle.outline[ends, 0]:
            place = np.array(saddle.through_mm) + end * np.array(saddle.along)
            nearest = min(pose.stations, key=lambda s: math.dist(s.at_mm, place))
            assert saddle.outline[:, 1].max() <= nearest.seam_mm - 1.0
        shrunk = card.buffer(-0.05)
        slot = Polygon([(-2, -1), (2, -1), (2, 300), (-2, 300)])
        solid = shrunk.difference(slot)
        assert not any(solid.contains(point) for point in map(_point, section))
        gap = [card.exterior.distance(_point(p)) for p in section if abs(p[0]) > 3.0]
        assert min(gap) < 0.6


def _point(place: Floats) -> object:
    from shapely.geometry import Point

    return Point(*place)


def test_slots_of_the_saddles_meet() -> None:
    """One slot from the top, one from the bottom, each as wide as the card is thick, together as deep as the
    lower card is tall.
    """
    pose, _ = posed(solids.sphere(50.0, subdivisions=5))
    top, bottom = pose.saddles
    assert (top.slot_from, bottom.slot_from) == ("top", "bottom")
    assert top.slot_mm + bottom.slot_mm == pytest.approx(8.0, abs=0.3)
    for saddle in pose.saddles:
        notch = saddle.outline[np.abs(np.abs(saddle.outline[:, 0]) - saddle.card_mm / 2.0) < 1e-9]
        assert len(notch) >= 4 and np.ptp(notch[:, 0]) == pytest.approx(saddle.card_mm)


def test_a_flat_underside_needs_no_saddle() -> None:
    """A half ball on its flat face rests on the bed: cards would not reach up to anything."""
    half = solids.from_manifold(
        solids.to_manifold(solids.sphere(50.0)).split_by_plane([0.0, 0.0, 1.0], 0.0)[0]
    )
    assembly = mold(half, (0.0, 0.0, 1.0)).assembly
    board = board_mm(assembly, assembly.pieces[0])
    assert saddle_pair(Solids.of(assembly), np.zeros(2), board, 3.0) == ()


def test_landmarks_are_the_object_s_own_extremes() -> None:
    """The highest place of a ball of 50 mm stands 108 mm above the board, its sides 58 mm; there are three or
    more.
    """
    pose, _ = posed(solids.sphere(50.0, subdivisions=5))
    assert len(pose.landmarks) >= 3
    first, *sides = pose.landmarks
    assert first.name.startswith("highest") and first.height_mm == pytest.approx(108.0, abs=0.6)
    for side in sides:
        if side.name.startswith("farthest"):
            assert side.height_mm == pytest.approx(58.0, abs=0.5)
            assert side.low_mm <= side.height_mm <= side.high_mm


def test_a_rising_seam_gives_cards_of_the_bed() -> None:
    """Where the bed is not level, cards run from the seam to the form with the bed's heights at both ends."""
    pose, _ = posed(solids.lumpy_sphere(4000))
    assert not pose.level and pose.bed_cards
    stations = {s.number: s for s in pose.stations}
    lines = []
    for card in pose.bed_cards:
        at, out = np.array(stations[card.station].at_mm), np.array(stations[card.station].out)
        lines.append(LineString([at, at + out * card.outline[:, 0].max()]))
    assert all(a.distance(b) > 4.0 for a, b in itertools.combinations(lines, 2)), "cards stand side by side"
    for card in pose.bed_cards:
        station = stations[card.station]
        assert Polygon(card.outline).is_valid
        top = card.outline[card.outline[:, 1] > 0.0]
        assert top[np.argmin(top[:, 0]), 1] == pytest.approx(station.seam_mm, abs=0.01)
        run = math.dist(station.at_mm, station.form_at_mm)
        if top[:, 0].max() < run - 1.0:
            # Cut short where it would meet another.
            others = [line for line, c in zip(lines, pose.bed_cards, strict=True) if c is not card]
            beyond = LineString([station.at_mm, station.form_at_mm])
            assert min(beyond.distance(line) for line in others) < 6.5
            continue
        assert top[np.argmax(top[:, 0]), 1] == pytest.approx(station.bed_mm, abs=0.01)
        assert top[:, 0].max() == pytest.approx(run, abs=0.01)


def test_a_jump_of_the_seam_is_found_wherever_it_falls() -> None:
    """A line that climbs 20 mm upright, level elsewhere, has one steep stretch with its two levels, also
    where the jump stands at the beginning of a closed line; a gentle slope has none.
    """
    level = [[0.0, 0.0, 50.0], [60.0, 0.0, 50.0], [60.0, 0.0, 70.0], [60.0, 60.0, 70.0]]
    (found,) = stretches(_line(np.array(level), closed=False))
    assert found.from_mm == pytest.approx(60.0, abs=1.5) and found.to_mm == pytest.approx(80.0, abs=1.5)
    assert [found.from_height_mm, found.to_height_mm] == pytest.approx([50.0, 70.0], abs=1.5)
    # Round from the middle of the jump: up, along above, and down a slope of one in one.
    ring = [[0.0, 0.0, 60.0], [0.0, 0.0, 70.0], [40.0, 0.0, 70.0], [40.0, 20.0, 50.0], [0.0, 0.0, 50.0]]
    (found,) = stretches(_line(np.array([*ring, ring[0]]), closed=True))
    assert abs(found.to_height_mm - found.from_height_mm) == pytest.approx(20.0, abs=2.0)
    gentle = np.array([[0.0, 0.0, 50.0], [40.0, 0.0, 90.0]])
    assert stretches(_line(gentle, closed=False)) == []


def _line(points: Floats, *, closed: bool) -> SeamLine:
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
    return SeamLine(points, along, closed)


def test_one_piece_lies_on_the_board() -> None:
    """An object that leaves one block through its open face lies on the board: no seam to draw, no bed, no
    saddle.
    """
    cup = solids.tumbler()
    assembly = mold(cup, (0.0, 0.0, 1.0), one_piece=True).assembly
    pose = set_pose(assembly, cup, (0.0, 0.0, 1.0), (), board_mm=0.0, rim_mm=RIM_MM, tilt_deg=None)
    assert pose.on_board and pose.level
    assert not pose.stations and not pose.saddles and not pose.bed_cards
    assert pose.landmarks


def test_ball_that_presses_a_key() -> None:
    """The ball whose cap is 20 mm wide and 8 deep measures 20.5 mm across: (r^2 + h^2) / h, and cutting it
    at that depth gives the width back.
    """
    pose, _ = posed(solids.sphere(50.0), brief=Brief(gate="none", max_fill_ml=1e6))
    assert len(pose.keys) >= 3
    for key in pose.keys:
        radius = key.ball_mm / 2.0
        width = 2.0 * math.sqrt(radius**2 - (radius - key.depth_mm) ** 2)
        assert width == pytest.approx(key.diameter_mm)
        assert key.bed_mm == pytest.approx(58.0, abs=0.5)


def test_sections_are_exact() -> None:
    """A section of a box is its rectangle, with its floor lowest; thinning keeps to the line."""
    box = solids.box(40.0, 30.0, 20.0)
    low, high = box.bounds_mm
    middle = (low + high) / 2.0
    cut = cut_segments(box.vertices_mm, box.faces, middle, np.array([0.0, 1.0, 0.0]))
    assert np.linalg.norm(cut[:, 1] - cut[:, 0], axis=1).sum() == pytest.approx(2.0 * (40.0 + 20.0))
    flat = in_plane(cut, np.array([middle[0], middle[1], low[2]]), np.array([1.0, 0.0, 0.0]))
    assert lowest(flat, np.array([-19.0, 0.0, 19.0])).tolist() == pytest.approx([0.0, 0.0, 0.0])
    assert np.isinf(lowest(flat, np.array([21.0]))).all()
    assert -lowest(flat * np.array([1.0, -1.0]), np.array([0.0]))[0] == pytest.approx(20.0)
    turn = np.linspace(0.0, math.pi, 400)
    arc = np.stack([50.0 * np.cos(turn), 50.0 * np.sin(turn)], axis=1)
    kept = thinned(arc, 0.02)
    assert len(kept) < 100
    line = Polygon([*kept, (0.0, -1.0)]).exterior
    assert max(line.distance(_point(p)) for p in arc) <= 0.02


def test_a_flat_end_is_told_by_its_edges() -> None:
    """The foot of a rod 80 mm across that lies down is one upright face: its heights run from edge to edge,
    and it is flat; the round sides are not.
    """
    rod = solids.cylinder(40.0, 120.0)
    lying = rod.vertices_mm[:, [0, 2, 1]] * [1.0, 1.0, -1.0]
    found = landmarks(lying, rod.faces, -50.0, np.array([0.0, 1.0, 0.0]), None)
    by_name = {mark.name.partition(":")[0]: mark for mark in found}
    for end in ("farthest front", "farthest back"):
        assert by_name[end].flat
        assert (by_name[end].low_mm, by_name[end].high_mm) == pytest.approx((10.0, 90.0), abs=0.1)
    assert not by_name["farthest left"].flat
    assert by_name["highest place"].height_mm == pytest.approx(90.0, abs=0.5)


def test_near_enough_follows_the_lean_that_locks() -> None:
    """2 mm where nothing is known of the lean (common practice, no source); where half a degree locks, what
    that lifts the end of a ball of 100 mm: tan 0.5 x 50 = 0.44, but never less than can be read off a square.
    """
    ball = solids.sphere(50.0)
    assembly = mold(ball, (0.0, 0.0, 1.0)).assembly
    board = board_mm(assembly, assembly.pieces[0])

    def near_mm(tilt_deg: float | None) -> float:
        up = (0.0, 0.0, 1.0)
        return set_pose(assembly, ball, up, (), board_mm=board, rim_mm=RIM_MM, tilt_deg=tilt_deg).near_mm

    assert near_mm(None) == near_mm(10.0) == 2.0
    assert near_mm(1.5) == pytest.approx(50.0 * math.tan(math.radians(1.5)), abs=0.02)
    assert near_mm(0.5) == 0.5


def test_a_saddle_is_low_in_an_opening() -> None:
    """Under a ring the cards hold it on both sides and are cut down in its opening, where a strip stands over
    them; the chart says that the bed fills it.
    """
    ring = solids.torus(60.0, 20.0, around=64, sides=32)
    assembly = mold(ring, (0.0, 0.0, 1.0), Brief(gate="none", max_fill_ml=1e6)).assembly
    board = board_mm(assembly, assembly.pieces[0])
    pose = set_pose(assembly, ring, (0.0, 0.0, 1.0), (), board_mm=board, rim_mm=RIM_MM, tilt_deg=None)
    for saddle in pose.saddles:
        card, highest = Polygon(saddle.outline), float(saddle.outline[:, 1].max())
        assert card.bounds[0] < -30.0 and card.bounds[2] > 30.0
        for reach in (-20.0, -10.0, 10.0, 20.0):
            upright = card.intersection(LineString([(reach, -1.0), (reach, 200.0)]))
            assert upright.bounds[3] <= max(15.0, 0.6 * highest) < highest
    chart = bed_chart(pose, assembly, us=False)
    words = [label.text for label in chart.labels]
    assert "bed clay" in words
    assert {str(station.number) for station in pose.stations} <= set(words)


def test_lines_to_crowded_stations_do_not_cross() -> None:
    """Where the seam turns inwards the ways out of two stations near each other meet; ticks and the lines to
    their numbers and heights stay apart.
    """
    pose, assembly = posed(solids.sphere(50.0, subdivisions=5))
    middle = np.mean([station.at_mm for station in pose.stations], axis=0)
    meeting = middle + np.array([53.0, 0.0])
    crowded = []
    for number, turn in ((1, -0.03), (2, 0.03)):
        at = middle + 50.0 * np.array([math.cos(turn), math.sin(turn)])
        out = (meeting - at) / np.linalg.norm(meeting - at)
        moved = {
            "number": number,
            "at_mm": (float(at[0]), float(at[1])),
            "out": (float(out[0]), float(out[1])),
        }
        crowded.append(dataclasses.replace(pose.stations[0], seam_mm=40.0 + number, **moved))
    bare = dataclasses.replace(pose, stations=tuple(crowded), bed_cards=(), landmarks=())
    chart = bed_chart(bare, assembly, us=False)
    assert {"1", "2", "41", "42"} <= {label.text for label in chart.labels}
    leads = [
        LineString(line.points) for line in chart.lines if line.stroke == "mark" and len(line.points) == 2
    ]
    assert len(leads) == 6
    assert not any(a.crosses(b) for a, b in itertools.combinations(leads, 2))
