"""A ball of 100 mm in a block of 170 mm, wall 35 mm, worked out by hand: the subject of these tests."""

from __future__ import annotations

import math
from typing import Any

from claybed.pours.planning import plan_pours
from claybed.records.assembly import BlockKey
from claybed.records.brief import Brief
from claybed.records.pour import PiecePour, Pour
from claybed.records.standing import StandingObject, StandingPour
from claybed.records.ware import Drying
from claybed.ware.drying import Room, plan_drying

SIDE_MM, RADIUS_MM, PAD_MM, WALL_MM = 170.0, 50.0, 5.0, 35.0
PLAN_MM2 = SIDE_MM**2
HALF_BALL_ML = 2.0 / 3.0 * math.pi * RADIUS_MM**3 / 1000.0
SPACE_ML = PLAN_MM2 * (RADIUS_MM + WALL_MM) / 1000.0 - HALF_BALL_ML
BED_ML = PLAN_MM2 * (RADIUS_MM + PAD_MM) / 1000.0 - HALF_BALL_ML
# Slurry right above the upper half: a cylinder of the ball's plan less the half ball.
OVER_ML = math.pi * RADIUS_MM**2 * (RADIUS_MM + WALL_MM) / 1000.0 - HALF_BALL_ML


def piece_pour(**changes: Any) -> PiecePour:
    """The first half as the pours take it."""
    asked: dict[str, Any] = {
        "piece": "A", "order": 1, "space_ml": SPACE_ML, "volume_ml": SPACE_ML,
        "fill_line_from_board_mm": PAD_MM + 2.0 * RADIUS_MM + WALL_MM, "fill_line_from_rim_mm": 12.0,
        "footprint_mm2": PLAN_MM2,
    }  # fmt: skip
    return PiecePour(**(asked | changes))


def pour(brief: Brief, **changes: Any) -> Pour:
    """The first half, planned."""
    return plan_pours([piece_pour(**changes)], brief, 0.0)[0]


def standing(**changes: Any) -> StandingPour:
    """The first half in its form."""
    asked: dict[str, Any] = {
        "piece": "A", "order": 1, "inside_mm": (SIDE_MM, SIDE_MM), "footprint_mm2": PLAN_MM2,
        "fill_from_board_mm": PAD_MM + 2.0 * RADIUS_MM + WALL_MM, "bed_level_mm": PAD_MM + RADIUS_MM,
        "object_mm": (100.0, 100.0), "over_object_ml": OVER_ML, "volume_ml": SPACE_ML,
        "wet_kg": 3.4, "dry_kg": 2.28,
    }  # fmt: skip
    return StandingPour(**(asked | changes))


def key(bump_on: str) -> BlockKey:
    """A key of 20 mm, 8 mm deep."""
    return BlockKey((60.0, 60.0, 85.0), 20.0, 8.0, bump_on)


def drying(**changes: object) -> Drying:
    """Both halves of the ball's mold, closed: 6.8 kg wet, the six faces of a block of 170 mm open."""
    asked = {"water_per_100": 100.0 / 1.3, "area_cm2": 6.0 * 17.0**2, "room": Room(), "wet_g": 6800.0}
    return plan_drying(**(asked | changes))  # type: ignore[arg-type]


def thing(**changes: Any) -> StandingObject:
    """The ball, not weighed, with one key to press and one to carve."""
    ball_ml = 2.0 * HALF_BALL_ML
    asked: dict[str, Any] = {
        "name": "ball", "solid_ml": ball_ml, "model_ml": ball_ml, "fill_ml": 0.0, "mass_g": None,
        "room_ml": None, "room_from": "", "pad_mm": PAD_MM, "bed_ml": BED_ML, "keys": (key("A"), key("B")),
        "first": "A", "outer_mm": (SIDE_MM, SIDE_MM, SIDE_MM), "gate_kind": "bore",
    }  # fmt: skip
    return StandingObject(**(asked | changes))
