"""Cases to print: a piece as its case pours it, the case with its parts."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid

CASE_FRAME = "case"
CASES_SCHEMA = "claybed-cases-1"
UP = (0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class Plug:
    """What fills a socket that looks sideways while its piece is poured: its corners (n, 3), where it stands
    on the case's wall, and the unit `axis` in which it points into the plaster.
    """

    points_mm: Floats
    at_mm: Floats
    axis: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Core:
    """What of a neighbour reaches sideways into a piece while that is poured: its `solid` in the case's
    frame, the place `at_mm` on the case's wall where it is screwed on, the unit `axis` that points from there
    into the plaster, square to the wall, and the unit `pull` along which it is drawn out; `screw_deep_mm` how
    deep a screw goes into it, 0 for a core that is too slight and is glued.
    """

    solid: LatticeSolid
    at_mm: Floats
    axis: Floats
    pull: tuple[float, float, float]
    screw_deep_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class FingerSlot:
    """A slot in the back edge of a piece, for fingers to hook under it when it lies on its back.

    `room_mm` (8, 3) corners of what is cut away, on past back and outside: the four at its inner level, then
    the four above; `at_mm` (3,) the middle of the edge it opens, `out` (2,) the way it looks in plan, and its
    sizes at the back.
    """

    room_mm: Floats
    at_mm: Floats
    out: Floats
    deep_mm: float
    wide_mm: float
    tall_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Poured:
    """A mold piece as it is poured in a case: pull up, flat back level and on top, parting side below.

    `solid` in the case's frame, its lowest point at z = 0, `scale` times the size of the plan's;
    `low_outline_mm` and `top_outline_mm` (k, 2) the convex plan of its outside at `low_mm` and at its back
    `top_mm`, corner for corner; `draft_deg` of its outside walls; `rotation` (3, 3) and `shift_mm` (3,) carry
    a point of the block's frame, scaled, into the case's.
    `keys` how many bumps were made smaller; `side_mm2` area of its outside walls, `least_draft_deg` the least
    that any face of them leans, `leaning_share` what of the area leans at least half as much as asked.
    `plugs` fill sockets that look sideways, `cores` what of a neighbour reaches in sideways, and blocks form
    `slots` in the back edge; `solid` is without all of them, `opened` has sockets and room of cores where
    there are any. `pull` the unit vector along which it is drawn, in the case's frame: upwards, or aslant;
    `cut` whether something was laid on it or filled, so that its corners are not the plan's own. `met` tells
    of every edge of the outlines whether another piece stands there, and `given_by` names the neighbours that
    give room to lean there.
    """

    piece: str
    scale: float
    solid: LatticeSolid
    low_outline_mm: Floats
    top_outline_mm: Floats
    low_mm: float
    top_mm: float
    draft_deg: float
    rotation: Floats
    shift_mm: Floats
    keys: int
    side_mm2: float
    least_draft_deg: float
    leaning_share: float
    plugs: tuple[Plug, ...]
    slots: tuple[FingerSlot, ...] = ()
    cores: tuple[Core, ...] = ()
    opened: LatticeSolid | None = None
    pull: tuple[float, float, float] = UP
    cut: bool = False
    met: tuple[bool, ...] = ()
    given_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Sizes that a case is built to, mm: `floor_mm` plastic under the piece's lowest point, `wall_mm`,
    `printer_mm` room of the printer, `clearance_mm` of a groove round its tongue, `grips` whether it is
    lifted by hand-holds; `skin_mm` of solid lines on every surface and `infill_fraction` within, as printed;
    `bolts_apart_mm` the most that bolts of a flange stand apart.
    """

    wall_mm: float
    floor_mm: float
    printer_mm: tuple[float, float, float]
    clearance_mm: float
    grips: bool
    skin_mm: float
    infill_fraction: float
    bolts_apart_mm: float = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class CasePart:
    """A part to print, flat face down: `solid` where it stands in the case, `size_mm` its box (x, y, z), its
    flat face `bed_mm` over the case's underside.
    """

    id: str
    solid: LatticeSolid
    size_mm: tuple[float, float, float]
    bed_mm: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A case: `whole` as it stands bolted together, underside at z = 0, and the `parts` to print.

    `poured` is the piece in it, `floor_mm` above the underside at its lowest. `cuts_x_mm` and `cuts_y_mm` are
    the planes between parts and `levels_mm` the heights of level cuts; `bolts` the bolt holes of upright
    flanges, `level_bolts` those of each level flange, `level_apart_mm` the longest way between two of them
    and `rings_mm` the length of wall around; `crowns` the ids of parts of the model that stand free above a
    level cut, on `pegs`. `cells` counts the pockets in the underside, `grips` the hand-holds; `stay_mm` is
    the longest stretch of wall between corners or flanges, `outer_mm` its box, `body_mm3` the volume of what
    it was cut from, plaster in it, `joints_mm3` what grooves and peg holes take beyond what tongues add.
    """

    poured: Poured
    shape: Shape
    whole: LatticeSolid
    parts: tuple[CasePart, ...]
    cuts_x_mm: tuple[float, ...]
    cuts_y_mm: tuple[float, ...]
    levels_mm: tuple[float, ...]
    bolts: int
    level_bolts: tuple[int, ...]
    level_apart_mm: tuple[float, ...]
    rings_mm: tuple[float, ...]
    crowns: tuple[str, ...]
    pegs: int
    cells: int
    grips: int
    stay_mm: float
    outer_mm: tuple[float, float, float]
    body_mm3: float
    joints_mm3: float


@dataclass(frozen=True, slots=True, eq=False)
class Master:
    """A mold piece printed to pour a case over: `parts` to print on their backs, `dowels` the pairs of holes
    that join them, `outer_mm` its box.
    """

    poured: Poured
    parts: tuple[CasePart, ...]
    dowels: int
    outer_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class CementCase:
    """A case of hard cement, poured over a piece that lies on its back: `solid` turned as it is used, open
    side up; `form_mm` inside of the form around it (x, y, height), `wall_mm` beside and over the piece.
    """

    poured: Poured
    solid: LatticeSolid
    form_mm: tuple[float, float, float]
    wall_mm: float


@dataclass(frozen=True, slots=True)
class Generation:
    """One step from print to working mold.

    `what` is made, `of` which material, `grows_fraction` of its length in setting, `size_ratio` against what
    the plan's own pieces measure once set.
    """

    what: str
    of: str
    grows_fraction: float
    size_ratio: float
