"""Which way the object leaves, and what locks: what the survey hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Vector = tuple[float, float, float]
LockClass = Literal["ignore", "scrape", "fill"]


@dataclass(frozen=True, slots=True)
class FillPlace:
    """One patch of locked space along an axis.

    `volume_ml` of oil clay that closes it; `depth_mm` how deep it reaches sideways under the object;
    `lock_class` by that depth (materials: lateral depth classes); `at_mm` its middle in the object's frame.
    """

    volume_ml: float
    depth_mm: float
    lock_class: LockClass
    at_mm: Vector


@dataclass(frozen=True, slots=True)
class AxisScore:
    """One axis judged on the depth raster.

    `axis` unit vector in the object's frame; `fill_ml` minimal fill; `fill_g` as oil clay;
    `undercut_area_cm2` of faces that neither direction reaches; `places` how many patches of class fill;
    `deepest_mm` largest sideways depth; `castable` true when no patch is of class fill; `tilt_deg` the tilt
    off this axis at which 0.5 mm locks sideways (None when not evaluated); `why` how the axis came up: asked,
    upright, principal, flat_patch, crossed, revolution, sampled, refined.
    """

    axis: Vector
    fill_ml: float
    fill_g: float
    undercut_area_cm2: float
    places: int
    deepest_mm: float
    castable: bool
    tilt_deg: float | None
    why: str


@dataclass(frozen=True, slots=True)
class DraftBand:
    """Area of the object's faces whose draft lies in a band of degrees off the pull (0 = exactly vertical
    wall).
    """

    from_deg: float
    to_deg: float
    area_cm2: float


@dataclass(frozen=True, slots=True)
class MoldOption:
    """One way to make the mold: `kind` one_piece or two_piece; `pull` in the object's frame; what it needs;
    one sentence.
    """

    kind: Literal["one_piece", "two_piece"]
    pull: Vector
    fill_ml: float
    deepest_mm: float
    says: str


@dataclass(frozen=True, slots=True)
class Survey:
    """All axes ranked, the options, and the chosen one in detail.

    `options` best first, never empty; `chosen` is options[0]'s score on the full mesh; `places` its patches,
    largest first; `draft` its draft bands; `exact_gap` whether an integer test on the snapped mesh finds any
    gap at all (False = certified free of undercut); `spacing_mm` raster spacing of the full-mesh score.
    """

    options: tuple[MoldOption, ...]
    chosen: AxisScore
    places: tuple[FillPlace, ...]
    draft: tuple[DraftBand, ...]
    candidates: tuple[AxisScore, ...]
    exact_gap: bool
    spacing_mm: float
