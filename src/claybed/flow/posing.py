"""The pose in a plan: set up from the closed mold, and written with the working of every height."""

from __future__ import annotations

from claybed.flow.course import Course
from claybed.flow.describing import to_act_on
from claybed.flow.ledger import Inputs, Part
from claybed.flow.standing import board_mm
from claybed.materials import shelf
from claybed.posing.filling import numbers_of
from claybed.posing.posing import set_pose
from claybed.records.pose import FillSpot, Pose, Saddle, Station

_SECTION = "section of the plan's own solids"


def pose_of(course: Course, up: tuple[float, float, float]) -> Pose:
    """The pose of a plan's object for its first pour; `up` as it stands, in the object's frame.

    The rim of the form is that of the boards or band which stand there.
    """
    assembly, form = course.molded.assembly, course.bench.pours[0].form
    places = to_act_on(course.survey)
    numbered = numbers_of([place.volume_ml for place in places])
    return set_pose(
        assembly,
        course.obj.mesh,
        up,
        places,
        board_mm=board_mm(assembly, assembly.pieces[0]),
        rim_mm=form.fill_from_board_mm.number + form.fill_from_rim_mm.number,
        tilt_deg=course.survey.chosen.tilt_deg,
        numbers=numbered,
    )


def write_pose(part: Part, pose: Pose) -> None:
    """Write a pose: heights above the board, plan places in the block's frame."""
    part.say(on_board=pose.on_board, level=pose.level)
    part.number("board_mm", pose.board_mm, "mm", "lowest place of the model less the pad", "practice")
    part.number(
        "rim_mm",
        pose.rim_mm,
        "mm",
        "fill line of the first pour and the freeboard above it",
        "practice",
        {"freeboard_mm": shelf.value("practice", "freeboard_mm").value},
    )
    part.number("pad_mm", pose.pad_mm, "mm", "lowest place of the object above the board", "geometry")
    part.number("stray_lock_mm", pose.stray_lock_mm, "mm", "shallower than this nothing locks", "memory")
    part.number(
        "tilt_deg",
        pose.tilt_deg,
        "deg",
        "least tilt off the axis that locks as deep as may be scraped; the largest one tried means more",
        "geometry",
        {"lock_scrape_mm": shelf.value("practice", "lock_scrape_mm").value},
    )
    part.number(
        "near_mm",
        pose.near_mm,
        "mm",
        "usual, or less: tangent of the lean that locks x half the longer side; stray of nearly all stations",
        "practice",
        {"tilt_deg": "not known" if pose.tilt_deg is None else pose.tilt_deg},
    )
    part.number("short_lines", pose.short_lines, "-", "seam lines too short for a station", "geometry")
    part.number("short_mm", pose.short_mm, "mm", "their length together", "geometry")
    part.say(stations=[], steep=[], saddles=[], landmarks=[], keys=[], fill=[], bed_cards=[])
    for station in pose.stations:
        _write_station(part.row("stations"), station, pose)
    for place in pose.steep:
        row = part.row("steep")
        given: Inputs = {
            name: shelf.value("practice", name).value for name in ("seam_steep_ratio", "seam_steep_least_mm")
        }
        for name, number in (("first", place.first), ("last", place.last)):
            row.number(name, number, "-", "station nearest to that end of the steep place", "geometry", given)
        board_at: Inputs = {"board_mm": pose.board_mm}
        for name, height_mm in (("first_mm", place.first_mm), ("last_mm", place.last_mm)):
            formula = "height of the seam there above the board"
            row.number(name, height_mm, "mm", formula, "geometry", board_at)
    for saddle in pose.saddles:
        _write_saddle(part.row("saddles"), saddle)
    for mark in pose.landmarks:
        row = part.row("landmarks")
        row.say(name=mark.name, flat=mark.flat)
        row.number("at_mm", mark.at_mm, "mm", "plan of its middle in the block's frame", "geometry")
        formula = "middle of the spot that reaches farthest, above the board"
        board: Inputs = {"board_mm": pose.board_mm}
        row.number("height_mm", mark.height_mm, "mm", formula, "geometry", board)
        row.number("low_mm", mark.low_mm, "mm", "least height of that spot", "geometry", board)
        row.number("high_mm", mark.high_mm, "mm", "largest height of that spot", "geometry", board)
    for key in pose.keys:
        row = part.row("keys")
        row.number("at_mm", key.at_mm, "mm", "plan of its middle in the block's frame", "geometry")
        row.number("diameter_mm", key.diameter_mm, "mm", "usual for the wall", "practice")
        row.number("depth_mm", key.depth_mm, "mm", "usual for the diameter", "practice")
        row.number(
            "ball_mm",
            key.ball_mm,
            "mm",
            "(r^2 + h^2) / h: the ball whose cap of depth h is 2 r wide",
            "geometry",
            {"diameter_mm": key.diameter_mm, "depth_mm": key.depth_mm},
        )
        row.number("bed_mm", key.bed_mm, "mm", "bed beside the key above the board", "geometry")
    for spot in pose.fill:
        _write_spot(part.row("fill"), spot)
    for card in pose.bed_cards:
        row = part.row("bed_cards")
        row.number("station", card.station, "-", "station it stands at", "geometry")
        row.number("run_mm", float(card.outline[:, 0].max()), "mm", "from the seam out", "geometry")
        row.number("highest_mm", float(card.outline[:, 1].max()), "mm", _SECTION, "geometry")


def _write_station(row: Part, station: Station, pose: Pose) -> None:
    board: Inputs = {"board_mm": pose.board_mm}
    row.number("number", station.number, "-", "place in the order round the seam", "geometry")
    row.number("line", station.loop, "-", "seam line, the longest first", "geometry")
    row.number("along_mm", station.along_mm, "mm", "round the line from its first station", "geometry")
    row.number("at_mm", station.at_mm, "mm", "plan in the block's frame", "geometry")
    row.number("seam_mm", station.seam_mm, "mm", "height of the seam above the board", "geometry", board)
    row.number("form_at_mm", station.form_at_mm, "mm", "plan where the bed ends, straight out", "geometry")
    row.say(at_form=station.at_form)
    row.number(
        "bed_mm",
        station.bed_mm,
        "mm",
        f"height of the bed there above the board, {_SECTION}",
        "geometry",
        board,
    )
    for key, height_mm, value in (
        ("seam_down_mm", station.seam_mm, station.seam_down_mm),
        ("bed_down_mm", station.bed_mm, station.bed_down_mm),
    ):
        given: Inputs = {"rim_mm": pose.rim_mm, "height_mm": height_mm}
        row.number(key, value, "mm", "rim of the form less the height", "geometry", given)
    stray = "height over the seam at which the surface has drawn in by stray_lock_mm, " + _SECTION
    lock: Inputs = {"stray_lock_mm": pose.stray_lock_mm}
    row.number("stray_up_mm", station.stray_up_mm, "mm", stray, "geometry", lock)
    row.number("stray_down_mm", station.stray_down_mm, "mm", stray, "geometry", lock)


def _write_saddle(row: Part, saddle: Saddle) -> None:
    row.say(id=saddle.id, slot_from=saddle.slot_from)
    row.number("through_mm", saddle.through_mm, "mm", "centre of mass in plan, block frame", "geometry")
    row.number("along", saddle.along, "-", "plan direction of the card", "geometry")
    row.number("card_mm", saddle.card_mm, "mm", "thickness the slots are cut to", "practice")
    row.number("slot_mm", saddle.slot_mm, "mm", "half of the lower card's height at the crossing", "geometry")
    row.number("least_mm", saddle.least_mm, "mm", "least height of the card", "geometry")
    row.number("reach_mm", saddle.reach_mm, "mm", "from the crossing to both ends", "geometry")


def _write_spot(row: Part, spot: FillSpot) -> None:
    clay = shelf.value("clay", "oil_clay_density_g_per_ml")
    row.say(lock_class=spot.lock_class)
    row.number("number", spot.number, "-", "number in pictures; 0: too small for one", "geometry")
    row.number("at_mm", spot.at_mm, "mm", "plan of its middle in the block's frame", "geometry")
    row.number("height_mm", spot.height_mm, "mm", "its middle above the board", "geometry")
    row.number("depth_mm", spot.depth_mm, "mm", "how far it reaches sideways", "geometry")
    row.number("volume_ml", spot.volume_ml, "ml", "gaps of this patch", "geometry")
    row.number(
        "clay_g",
        spot.clay_g,
        "g",
        "volume_ml x density of oil clay",
        clay.source,
        {"volume_ml": spot.volume_ml, "oil_clay_density_g_per_ml": clay.value},
        low=spot.volume_ml * clay.low,
        high=spot.volume_ml * clay.high,
    )
