"""Which way the object leaves, and what locks: what the survey hands on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Vector = tuple[float, float, float]
LockClass = Literal["ignore", "scrape", "fill"]
Told = Literal["measured", "reckoned", "cut", "unmade"]


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
    """One way to make the mold: `kind` one_piece, two_piece or several; `pull` in the object's frame; what it
    needs; one sentence. `sides` are the pulls of the further pieces of several, in the order in which they
    open; `places` what still locks then. A seam laid in one plane by filling stands at `plane_mm` along the
    pull, object frame, and takes `plane_fill_ml` of the fill; `places` are all that is filled. Where the
    object stands flat at `base_mm` along the pull, and what lies under that may leave with the last of
    `sides`, one main piece does. Where every wall is to have `draft_deg` of draft, the seam runs at the edge
    of the flat face at `crown_mm` along the pull, and the other main piece, which opens last, `leans`: it
    leaves along that way instead of straight.
    """

    kind: Literal["one_piece", "two_piece", "several"]
    pull: Vector
    fill_ml: float
    deepest_mm: float
    says: str
    sides: tuple[Vector, ...] = ()
    places: tuple[FillPlace, ...] = ()
    plane_mm: float | None = None
    plane_fill_ml: float = 0.0
    base_mm: float | None = None
    leans: Vector | None = None
    crown_mm: float | None = None
    draft_deg: float = 0.0

    @property
    def seat_mm(self) -> float | None:
        """Height along the pull of the flat face at whose edge the seam has to lie; None where it is free."""
        return self.base_mm if self.base_mm is not None else self.crown_mm

    def turned_over(self) -> MoldOption:
        """The same two pieces, the other one first."""
        x, y, z = (0.0 - v for v in self.pull)
        return replace(self, pull=(x, y, z), plane_mm=None if self.plane_mm is None else 0.0 - self.plane_mm)

    @property
    def pieces(self) -> int:
        """How many pieces the mold has."""
        mains = 1 if self.kind == "one_piece" or self.base_mm is not None else 2
        return mains + len(self.sides)


@dataclass(frozen=True, slots=True)
class Trade:
    """What a number of pieces leaves to fill: `pieces`, `fill_ml` of oil clay, `pull` of the main pair and
    `sides` of the further pieces, object frame; `base_mm` as of `MoldOption` where there is one main piece.
    `told` how the fill is known: "reckoned" from the open space before any plaster is cut, or "cut"; "unmade"
    where pieces so were cut and could not be made, with the fill that was reckoned. What two pieces leave is
    "measured" without a cut.
    """

    pieces: int
    fill_ml: float
    pull: Vector
    sides: tuple[Vector, ...]
    base_mm: float | None = None
    told: Told = "reckoned"


@dataclass(frozen=True, slots=True)
class Witness:
    """Spots (object frame, mm) no two of which can leave along one pull: a mold needs at least as many
    pieces.

    `pulls` one way for each spot to leave. They were sought with rays `sampled_deg` apart, those within
    `widened_deg` taken for one, and proved for all directions in `bundles`, of which the narrowest is
    `finest_deg` from its middle to its corner.
    """

    spots_mm: tuple[Vector, ...]
    pulls: tuple[Vector, ...]
    sampled_deg: float
    widened_deg: float
    bundles: int
    finest_deg: float


@dataclass(frozen=True, slots=True)
class Drafted:
    """That a mold whose walls all leave with `draft_deg` of draft takes one piece more than the `Witness`
    beside it has spots; places in the object's frame, mm.

    The spots `companions_mm` leave along the pull of one of its spots or not at all; of the directions that
    free them, none frees the wall at `wall_mm` with that draft (None where they share no direction already).
    `pulls` free every wall with that draft, by samples.
    """

    draft_deg: float
    wall_mm: Vector | None
    companions_mm: tuple[Vector, ...]
    pulls: tuple[Vector, ...]


@dataclass(frozen=True, slots=True)
class Survey:
    """All axes ranked, the options, and the chosen one in detail.

    `options` best first, never empty; `chosen` is options[0]'s score on the full mesh; `places` its patches,
    largest first; `draft` its draft bands; `exact_gap` whether an integer test on the snapped mesh finds any
    gap at all (False = certified free of undercut); `spacing_mm` raster spacing of the full-mesh score.
    `front`, `witness`, `free_pulls` and `drafted` where more than two pieces were looked for: what each count
    leaves to fill, the spots that no two pulls share, the fewest pulls found that free all space when no two
    of them have to be opposite, and what draft asks. `open_block` a single block that it leaves through an
    open face once more is filled than is asked of a person unasked; None when `options` has one.
    """

    options: tuple[MoldOption, ...]
    chosen: AxisScore
    places: tuple[FillPlace, ...]
    draft: tuple[DraftBand, ...]
    candidates: tuple[AxisScore, ...]
    exact_gap: bool
    spacing_mm: float
    front: tuple[Trade, ...] = ()
    witness: Witness | None = None
    free_pulls: tuple[Vector, ...] = ()
    drafted: Drafted | None = None
    open_block: MoldOption | None = None
