"""Does anything the studio owns go round the block: its boards around a box, its bands around a round."""

from __future__ import annotations

import math
from dataclasses import dataclass

from claybed.errors import CannotError
from claybed.geometry.enclosing import band_around, boards_around
from claybed.materials import shelf
from claybed.records.brief import Brief


@dataclass(frozen=True, slots=True)
class Around:
    """A block that is to be enclosed, mm.

    `object_mm` as it lies in it (x, y along its sides, z along the pull); `diameter_mm` of a round block with
    the wall `wall_mm`; `pieces` 1 or 2.
    """

    object_mm: tuple[float, float, float]
    diameter_mm: float
    wall_mm: float
    pieces: int

    def box_mm(self, wall_mm: float) -> tuple[float, float]:
        """Sides of the box with a wall."""
        return ruled(self.object_mm[0] + 2.0 * wall_mm), ruled(self.object_mm[1] + 2.0 * wall_mm)

    def form_mm(self, wall_mm: float) -> float:
        """Least height of the form with a wall.

        The higher of the two pours: on the bed (pad, object, wall) or on the first piece (wall, object,
        wall); one piece stands on the board. Source: materials/practice (bed_pad_mm, freeboard_mm).
        """
        pad_mm, freeboard_mm = (
            shelf.value("practice", name).value for name in ("bed_pad_mm", "freeboard_mm")
        )
        below_mm = 0.0 if self.pieces == 1 else max(wall_mm, pad_mm)
        return ruled(self.object_mm[2] + wall_mm + below_mm) + freeboard_mm


def owned_shape(wished: str, around: Around, brief: Brief) -> str:
    """The shape that the studio can hold: the wished one, or the other when the brief leaves it open.

    Reads `shape`, `boards` and `bands`. Raises CannotError with the nearest board or band that would do,
    and the wall with which the boards at hand would.
    """
    boxed = (
        boards_around(
            around.box_mm(around.wall_mm), around.form_mm(around.wall_mm), brief.boards, reach_mm=_reach_mm()
        )
        is not None
    )
    turns = shelf.value("boards", "band_turns_least_count").value
    band = band_around(
        around.diameter_mm, around.form_mm(around.wall_mm), brief.bands, turns_least_count=turns
    )
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
    height = f"{math.ceil(around.form_mm(around.wall_mm))} mm"
    if wished == "boxed":
        x_mm, y_mm = around.box_mm(around.wall_mm)
        return f"no boards close a block of {x_mm:g} × {y_mm:g} mm to a height of {height}."
    return f"no band goes {turns:g} times round a block of {around.diameter_mm:g} mm at a height of {height}."


def _remedy(wished: str, around: Around, brief: Brief, turns: float, other_fits: bool) -> str:
    if brief.shape != "auto" and other_fits:
        return f"Ask for --shape {'round' if wished == 'boxed' else 'boxed'}, which fits what you own."
    thinner_mm = _thinner_wall_mm(around, brief)
    wall = f"Ask for --wall {thinner_mm:g}mm, which fits your boards, or get" if thinner_mm else "Get"
    height = math.ceil(around.form_mm(around.wall_mm))
    if wished == "round" and not brief.boards:
        return f"{wall} a band of {math.ceil(turns * math.pi * around.diameter_mm)} × {height} mm or more."
    thick_mm = max(
        (board.thickness_mm for board in brief.boards),
        default=shelf.value("boards", "board_thickness_mm").value,
    )
    length = math.ceil(max(around.box_mm(around.wall_mm)) + thick_mm + _reach_mm())
    return f"{wall} four boards of {length} × {height} mm or more."


def _thinner_wall_mm(around: Around, brief: Brief) -> float:
    """The thickest wall, in whole mm, with which the boards at hand close the block; 0 when none does."""
    least_mm = shelf.value("practice", "wall_least_mm").value
    wall_mm = math.ceil(around.wall_mm) - 1.0
    while wall_mm >= least_mm:
        if boards_around(around.box_mm(wall_mm), around.form_mm(wall_mm), brief.boards, reach_mm=_reach_mm()):
            return wall_mm
        wall_mm -= 1.0
    return 0.0


def ruled(length_mm: float) -> float:
    """A length rounded up to a whole step of the ruler that boards are set with, mm.

    Source: materials/practice (ruler_step_mm).
    """
    step_mm = shelf.value("practice", "ruler_step_mm").value
    return math.ceil(length_mm / step_mm - 1e-6) * step_mm


def _reach_mm() -> float:
    return shelf.value("practice", "clamp_reach_mm").value
