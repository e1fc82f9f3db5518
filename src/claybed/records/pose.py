"""How the object is set up for the first pour, in numbers a ruler can read.

Heights are above the board of the first pour; plan coordinates are those of the block's frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Outline = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Station:
    """A numbered place on the seam.

    `loop` which seam line it is on, the longest first, from 1; `along_mm` how far round it from the line's
    first station; `at_mm` plan; `seam_mm` the seam's height; `out` the plan direction away from the object;
    `form_at_mm` plan of the place straight out where the bed ends, `at_form` whether that is the inside of
    the form or the object again; `bed_mm` height of the bed there; `seam_down_mm` and `bed_down_mm` the same
    two down from a straightedge on the form's rim; `stray_up_mm` and `stray_down_mm` how far the seam may
    stray before plaster locks.
    """

    number: int
    loop: int
    along_mm: float
    at_mm: tuple[float, float]
    seam_mm: float
    out: tuple[float, float]
    form_at_mm: tuple[float, float]
    at_form: bool
    bed_mm: float
    seam_down_mm: float
    bed_down_mm: float
    stray_up_mm: float
    stray_down_mm: float


@dataclass(frozen=True, slots=True)
class SteepPlace:
    """A place where the seam climbs steeply: the stations nearest to its two ends, `first` and `last` (the
    same where one stands at it), and the seam's height at them, mm.
    """

    first: int
    last: int
    first_mm: float
    last_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Saddle:
    """A card that stands on the board under the object.

    `id` its letters; `through_mm` plan of the crossing and `along` its plan direction; `outline` (n, 2)
    closed, run from the crossing and height, mm, the slot cut in; `slot_from` top or bottom, `slot_mm` its
    depth; `least_mm` the card's least height, `reach_mm` from the crossing to its two ends; `card_mm` the
    card's thickness.
    """

    id: str
    through_mm: tuple[float, float]
    along: tuple[float, float]
    outline: Outline
    slot_from: str
    slot_mm: float
    least_mm: float
    reach_mm: tuple[float, float]
    card_mm: float


@dataclass(frozen=True, slots=True)
class Landmark:
    """A place of the object that can be found again: `height_mm` of its middle, `low_mm` and `high_mm` of the
    spot that looks the same, `flat` whether that spot is a flat face that stands upright.
    """

    name: str
    at_mm: tuple[float, float]
    height_mm: float
    low_mm: float
    high_mm: float
    flat: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class BedCard:
    """The bed's profile straight out from a station: `outline` (n, 2) closed, run from the seam and height,
    mm.
    """

    station: int
    outline: Outline


@dataclass(frozen=True, slots=True)
class PressedKey:
    """A key pressed into the bed: `at_mm` plan, `bed_mm` height of the bed there, and the ball that presses
    it.
    """

    at_mm: tuple[float, float]
    diameter_mm: float
    depth_mm: float
    ball_mm: float
    bed_mm: float


@dataclass(frozen=True, slots=True)
class FillSpot:
    """A place to close or to scrape, `number` as in pictures (0: too small for one); `clay_g` of oil clay."""

    number: int
    lock_class: str
    at_mm: tuple[float, float]
    height_mm: float
    depth_mm: float
    volume_ml: float
    clay_g: float


@dataclass(frozen=True, slots=True)
class Pose:
    """The object as it lies for the first pour.

    `board_mm` height of the board in the block's frame; `rim_mm` height of the form's rim; `pad_mm` clay
    under the lowest place; `stray_lock_mm` the lock at which a stray seam counts; `tilt_deg` how far it may
    lean (None: not known) and `near_mm` how far off a height is near enough; `on_board` whether it lies on
    the board by itself, open face down; `level` whether the bed is one level plane; `short_lines` seam lines
    too short for stations, `short_mm` long together.
    """

    board_mm: float
    rim_mm: float
    pad_mm: float
    stray_lock_mm: float
    tilt_deg: float | None
    near_mm: float
    on_board: bool
    level: bool
    stations: tuple[Station, ...]
    steep: tuple[SteepPlace, ...]
    saddles: tuple[Saddle, ...]
    landmarks: tuple[Landmark, ...]
    bed_cards: tuple[BedCard, ...]
    keys: tuple[PressedKey, ...]
    fill: tuple[FillSpot, ...]
    short_lines: int
    short_mm: float
