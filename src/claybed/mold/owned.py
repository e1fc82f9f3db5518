"""Does anything the studio owns go round the block: its boards around a box, its bands around a round."""

from __future__ import annotations

import math
from dataclasses import dataclass

from claybed.errors import CannotError
from claybed.geometry.enclosing import band_around, boards_around
from claybed.materials import shelf
from claybed.records.brief import Brief

# Boards are set with a ruler: outer sides are whole multiples of this.
RULER_MM = 5.0


@dataclass(frozen=True, slots=True)
class Around:
    """A block that is to be enclosed: sides of the box, diameter of the round, least height of the form, and
    the wall it has, mm.
    """

    box_mm: tuple[float, float]
    diameter_mm: float
    form_mm: float
    wall_mm: float


def form_height_mm(object_mm: float, wall_mm: float, pieces: int) -> float:
    """Least height of the form, mm, for an object of a height along the pull.

    The higher of the two pours: on the bed (pad, object, wall) or on the first piece (wall, object, wall);
    one piece stands on the board. Source: materials/practice (bed_pad_mm, freeboard_mm).
    """
    below_mm = 0.0 if pieces == 1 else max(wall_mm, shelf.value("practice", "bed_pad_mm").value)
    return object_mm + wall_mm + below_mm + shelf.value("practice", "freeboard_mm").value


def owned_shape(wished: str, around: Around, brief: Brief) -> str:
    """The shape that the studio can hold: the wished one, or the other when the brief leaves it open.

    Reads `shape`, `boards` and `bands`. Raises CannotError with the nearest board or band that would do,
    and the wall with which the boards at hand would.
    """
    boxed = boards_around(around.box_mm, around.form_mm, brief.boards, reach_mm=_reach_mm()) is not None
    turns = shelf.value("boards", "band_turns_least_count").value
    band = band_around(around.diameter_mm, around.form_mm, brief.bands, turns_least_count=turns)
    fits = {"boxed": boxed, "round": band is not None}
    if fits[wished]:
        return wished
    other = "round" if wished == "boxed" else "boxed"
    if brief.shape == "auto" and fits[other]:
        return other
    raise CannotError(
        _what(wished, around, turns),
        where="the studio's boards and bands",
        remedy=_remedy(wished, around, brief, turns, fits[other]),
    )


def _what(wished: str, around: Around, turns: float) -> str:
    height = f"{math.ceil(around.form_mm)} mm"
    if wished == "boxed":
        x_mm, y_mm = around.box_mm
        return f"no boards close a block of {x_mm:g} × {y_mm:g} mm to a height of {height}."
    return f"no band goes {turns:g} times round a block of {around.diameter_mm:g} mm at a height of {height}."


def _remedy(wished: str, around: Around, brief: Brief, turns: float, other_fits: bool) -> str:
    if brief.shape != "auto" and other_fits:
        return f"Ask for --shape {'round' if wished == 'boxed' else 'boxed'}, which fits what you own."
    thinner_mm = _thinner_wall_mm(around, brief)
    wall = f"Ask for --wall {thinner_mm:g}mm, which fits your boards, or get" if thinner_mm else "Get"
    height = math.ceil(around.form_mm)
    if wished == "round" and not brief.boards:
        return f"{wall} a band of {math.ceil(turns * math.pi * around.diameter_mm)} × {height} mm or more."
    thick_mm = max(
        (board.thickness_mm for board in brief.boards),
        default=shelf.value("boards", "board_thickness_mm").value,
    )
    length = math.ceil(max(around.box_mm) + thick_mm + _reach_mm())
    return f"{wall} four boards of {length} × {height} mm or more."


def _thinner_wall_mm(around: Around, brief: Brief) -> float:
    """The thickest wall, in whole mm, with which the boards at hand close the block; 0 when none does."""
    least_mm = shelf.value("practice", "wall_least_mm").value
    wall_mm = math.ceil(around.wall_mm) - 1.0
    while wall_mm >= least_mm:
        less_mm = around.wall_mm - wall_mm
        sides = (_ruled(around.box_mm[0] - 2.0 * less_mm), _ruled(around.box_mm[1] - 2.0 * less_mm))
        # A bed's pad does not shrink with the wall, so the height is taken to lose one wall only.
        if boards_around(sides, around.form_mm - less_mm, brief.boards, reach_mm=_reach_mm()):
            return wall_mm
        wall_mm -= 1.0
    return 0.0


def _ruled(length_mm: float) -> float:
    return math.ceil(length_mm / RULER_MM - 1e-6) * RULER_MM


def _reach_mm() -> float:
    return shelf.value("practice", "clamp_reach_mm").value
