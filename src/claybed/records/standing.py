"""What stands on the bench before a pour, measured from the closed mold: what the bench stage is given."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.assembly import BlockKey
from claybed.records.hump import Hump


@dataclass(frozen=True, slots=True)
class StandingPour:
    """One pour as it stands in its form, mm and ml.

    `piece` its letter, `order` from 1; `inside_mm` boxed (x, y) or round (diameter,); `footprint_mm2` inside
    plan; `fill_from_board_mm` the fill line; `bed_level_mm` what the liquid stands on at the sides, above the
    board; `object_mm` (x, y) how wide the object is in the form; `over_object_ml` slurry that stands right
    above the object; `wet_kg`, `dry_kg` of the piece; `aside` for a piece poured on the closed others, its
    pull across theirs; `opens` its place in the order of opening; `girth_mm` around a round block (None: a
    true circle) and `flat_mm` the width of its flat where the gate comes out (0: none). `takes_bed` for one
    poured aside that runs under the object as well, where the bed has kept its place; `rise_mm` how much
    higher than `bed_level_mm` the face it is poured on is at its highest, 0 for a level one. `deeper_mm` how
    far the plaster reaches under `bed_level_mm`, keys apart: into the object, or behind it. `beside` are the
    letters of side pieces that stand as high as its fill line in the form, and `own_mm` (x, y) what it takes
    of the inside, less fillers and pieces beside it (None: all of it).
    """

    piece: str
    order: int
    inside_mm: tuple[float, ...]
    footprint_mm2: float
    fill_from_board_mm: float
    bed_level_mm: float
    object_mm: tuple[float, float]
    over_object_ml: float
    volume_ml: float
    wet_kg: float
    dry_kg: float
    aside: bool = False
    opens: int = 0
    girth_mm: float | None = None
    flat_mm: float = 0.0
    takes_bed: bool = False
    rise_mm: float = 0.0
    deeper_mm: float = 0.0
    beside: tuple[str, ...] = ()
    own_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Keeper:
    """What keeps the place of a side piece in the pours before its own.

    `piece` its letter, `order` of its pour, `side` of the form to which it points (front, back, left, right),
    `thick_mm` of the filler there, `keys` that the filler carries, `key_mm` wide and `key_deep_mm` deep;
    `plug_mm` how far the piece's plug reaches in behind it, 0 for none; `takes_bed` as of its pour. Where it
    is a wedge, `thick_mm` holds at its end `thick_at` (a side, top or foot), `thin_mm` at the opposite one,
    `thin_at`. `sunk_mm` is how far the object reaches into it. `hollows` for keys of
    other side pieces that go into this one: letter, diameter and depth (mm) of each. `ends_at` are the pieces
    whose fillers it ends at, since they take the corner between them. `bridges` walls of plaster stand across
    its plug.
    """

    piece: str
    order: int
    side: str
    thick_mm: float
    keys: int
    key_mm: float
    key_deep_mm: float
    plug_mm: float = 0.0
    takes_bed: bool = False
    thin_mm: float | None = None
    thick_at: str = ""
    thin_at: str = ""
    sunk_mm: float = 0.0
    hollows: tuple[tuple[str, float, float], ...] = ()
    ends_at: tuple[str, ...] = ()
    bridges: int = 0


@dataclass(frozen=True, slots=True)
class StandingObject:
    """The object in its mold.

    `solid_ml` of the object, `model_ml` with fill and gate, `fill_ml` of oil clay; `mass_g` when weighed;
    `room_ml` inside it for ballast (None: not known) and `room_from` how that is known; `pad_mm` of clay
    under it and `bed_ml` of clay in the whole bed (None: no bed); `keys` of the mold; `first` the letter of
    the piece that is poured first; `outer_mm` of the closed block; `name` of the object; `keepers` of pieces
    that are poured on the closed others; `hump` where plaster fills the inside of a vessel; `open_down` for a
    vessel that stands on the board with its mouth down.
    """

    name: str
    solid_ml: float
    model_ml: float
    fill_ml: float
    mass_g: float | None
    room_ml: float | None
    room_from: str
    pad_mm: float
    bed_ml: float | None
    keys: tuple[BlockKey, ...]
    first: str
    outer_mm: tuple[float, ...]
    gate_kind: str
    keepers: tuple[Keeper, ...] = ()
    hump: Hump | None = None
    open_down: bool = False
