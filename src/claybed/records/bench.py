"""The plan at the bench: forms, bed, what floats, release, mixing, what comes after, drying and lifting.

Every number carries its working. Field names are the keys of plan.json; texts are sentences for the bench.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from claybed.records.figure import Worked
from claybed.records.finding import Finding


@dataclass(frozen=True, slots=True)
class BoardUse:
    """Boards of one size at one side of the form.

    `set` the studio's name for them, empty when none is owned; `count` how many (2); `inside_mm` the inside
    length they close; `past_corner_mm` what sticks out beyond the next board, for the clamp;
    `force_newtons` of the liquid on one of them; `bow_mm` how far it bends and `bulge_ml` what that takes
    (None when the board is out of the table's proportions).
    """

    set: str
    count: Worked
    length_mm: Worked
    height_mm: Worked
    thickness_mm: Worked
    inside_mm: Worked
    past_corner_mm: Worked
    force_newtons: Worked
    bow_mm: Worked
    bulge_ml: Worked | None


@dataclass(frozen=True, slots=True)
class BandUse:
    """The band of a round form: how often it goes round, how far its end lies over, how hard it is pulled."""

    set: str
    length_mm: Worked
    height_mm: Worked
    turns_count: Worked
    overlap_mm: Worked
    pull_newtons: Worked
    oval_fraction: Worked


@dataclass(frozen=True, slots=True)
class Strap:
    """A strap or clamp line round the form: its height above the board, and what it carries."""

    from_board_mm: Worked
    pull_newtons: Worked


@dataclass(frozen=True, slots=True)
class Form:
    """What holds one pour.

    `inside_mm` boxed (x, y), round (diameter); `object_mm` (x, y) how wide the object is in it;
    `bed_level_mm` height of the bed or of the first piece at the sides, above the board; `depth_mm` of the
    liquid there; `per_mm_wider_ml` more space for a millimetre more of each of `inside_mm`;
    `height_least_mm` of boards or band; `fill_from_board_mm` and `fill_from_rim_mm` to the
    fill line; `coil_mm` of clay that seals the joints; `base_kpa` pressure at the foot of the pour.
    """

    kind: Literal["boards", "band", "case"]
    how: str
    inside_mm: Worked
    object_mm: Worked
    footprint_mm2: Worked
    bed_level_mm: Worked
    depth_mm: Worked
    per_mm_wider_ml: Worked
    height_least_mm: Worked
    freeboard_mm: Worked
    fill_from_board_mm: Worked
    fill_from_rim_mm: Worked
    boards: tuple[BoardUse, ...]
    band: BandUse | None
    straps: tuple[Strap, ...]
    coil_mm: Worked
    base_kpa: Worked
    bow_most_mm: Worked
    stiffen: str
    leaks: tuple[str, ...]
    cautions: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class KeyUse:
    """One key: pressed into the bed (a bump on piece 1) or carved into it (a socket); `tool_mm` the ball."""

    when: Literal["pressed", "carved"]
    at_mm: Worked
    diameter_mm: Worked
    depth_mm: Worked
    tool_mm: Worked


@dataclass(frozen=True, slots=True)
class Bed:
    """The clay bed of the first pour: `pad_mm` under the object, `height_mm` of its flat part, its clay."""

    pad_mm: Worked
    height_mm: Worked
    clay_ml: Worked
    clay_g: Worked
    keys: tuple[KeyUse, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ballast:
    """Something to fill a hollow with: how much of it sinks the object, and whether there is room."""

    what: str
    needed_ml: Worked
    most_g: Worked | None
    fits: bool | None
    says: str


@dataclass(frozen=True, slots=True)
class Packing:
    """Water clay packed into a vessel that stands open face down: how much, and the least that the vessel
    itself must weigh so that it stays down with it.
    """

    clay_g: Worked
    least_g: Worked


@dataclass(frozen=True, slots=True)
class Hold:
    """What moves the object during one pour.

    `sealed_down_g` how hard slurry presses it down while it is sealed; `seeping_up_g` how hard it lifts once
    slurry is under it (None: not weighed), negative when it sinks; `hold_down_g` what to put on it;
    `displaced_g` the slurry that it pushes aside, below which weight it floats (None: it pushes none aside);
    `packing` for a vessel that stands open face down and floats, or may.
    """

    sealed_down_g: Worked
    seeping_up_g: Worked | None
    hold_down_g: Worked | None
    room_ml: Worked | None
    ballast: tuple[Ballast, ...]
    cap: str
    says: str
    displaced_g: Worked | None = None
    packing: Packing | None = None


@dataclass(frozen=True, slots=True)
class ReleaseStep:
    """One coating: for which pour (1, 2), what, where, how many coats and how long between them."""

    pour: Worked
    what: str
    where: str
    coats_count: Worked
    wait_min: Worked
    says: str


@dataclass(frozen=True, slots=True)
class Release:
    """What parts plaster from all that it touches, in the order of work, and what must never meet."""

    steps: tuple[ReleaseStep, ...]
    never: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BucketTimes:
    """One bucket of a pour, in minutes from the first scoop of the pour; `mixer` who mixes it, from 1."""

    number: Worked
    mixer: Worked
    water_g: Worked
    plaster_g: Worked
    sift_at_min: Worked
    slake_at_min: Worked
    mix_at_min: Worked
    pour_at_min: Worked
    done_at_min: Worked


@dataclass(frozen=True, slots=True)
class Mixing:
    """How one pour is mixed.

    `bucket_least_l` the smallest bucket for a batch; `working_min` from first mixing to the last drop, and
    `needed_min` what the timetable takes of it; `peak_celsius` in the middle; `leftover_ml` and
    `leftover_use`.
    """

    method: Literal["drill", "hand"]
    mixers_count: Worked
    bucket_least_l: Worked
    water_celsius: Worked
    working_min: Worked
    needed_min: Worked
    set_min: Worked
    buckets: tuple[BucketTimes, ...]
    pace: str
    peak_celsius: Worked
    thickest_mm: Worked
    heat: str
    leftover_ml: Worked
    leftover_use: str
    rescue: str
    steps: tuple[str, ...]
    too_late: tuple[str, ...]
    cautions: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class After:
    """From the pour to the next: when the form comes off, what is done to the piece, what is carved into it.

    `flip_kg` what is turned over (piece, model, clay of the bed), None when nothing is.
    """

    form_off_min: Worked
    flip_kg: Worked | None
    keys: tuple[KeyUse, ...]
    chamfer_mm: Worked
    pry_mm: Worked
    grooves_count: Worked
    hand_holds: bool
    scratch: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DryTarget:
    """One piece by the scale: multiply its trimmed wet weight by `dry_share`, or take the planned figures."""

    piece: str
    wet_g: Worked
    dry_share: Worked
    dry_g: Worked
    press_ready_g: Worked
    slip_ready_g: Worked
    shelf_dry_g: Worked
    says: str


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift that happens: how heavy, and what the lifting equation recommends.

    `limit_kg` and `index` are None where the equation does not apply, and `why` says so; `flag` by who lifts.
    """

    what: str
    load_kg: Worked
    reach_mm: Worked
    from_mm: Worked
    to_mm: Worked
    limit_kg: Worked | None
    index: Worked | None
    flag: Literal["none", "look", "stop"]
    why: str


@dataclass(frozen=True, slots=True)
class PourBench:
    """Everything at the bench for one pour."""

    piece: str
    form: Form
    hold: Hold
    mixing: Mixing
    after: After


@dataclass(frozen=True, slots=True)
class Bench:
    """What the bench stage hands on; `code` is scratched into the plaster, `bed` is None for one piece."""

    pours: tuple[PourBench, ...]
    bed: Bed | None
    release: Release
    dry_targets: tuple[DryTarget, ...]
    lifts: tuple[Lift, ...]
    code: str
    findings: tuple[Finding, ...]
