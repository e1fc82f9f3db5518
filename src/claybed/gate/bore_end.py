"""The inner end of a bore on cells: what of it stands on the far side of a thin object, and how much of the
object's own shape lies inside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from claybed.gate.along import practice
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import Cells
from claybed.geometry.voxels import solid_fraction

CELL_MM = 0.5
# A wide bore takes wider cells.
MOST_ACROSS = 80.0
HALF = 0.5
# A section shows the bore where so much of it is filled: its outline is one of many corners.
FILLED_SHARE = 0.9
# So far out of the object a bore is looked at to see how wide it is.
SEEN_MM = 3.0
# A cell half full may have its middle a quarter outside, and how wide a bore is is seen to a tenth.
SLACK_CELLS = 0.35
# Cells beside the bore, by which a section that goes on there is known.
BESIDE = 2
# The girth of a bore is so many cells wide: one all round, however they lie.
GIRTH_CELLS = 1.5
# What fills less of a section of the bore than this is a graze.
LEAST_SHARE = 0.05
EIGHT = np.ones((3, 3), bool)


@dataclass(frozen=True, slots=True, eq=False)
class BoreEnd:
    """The object round the inner end of a bore: `inside` (across, across, along) cells of `cell_mm`, the last
    along at the place where the bore meets the object; the bore widens outwards by `flare_ratio`.
    """

    inside: Cells
    cell_mm: float
    flare_ratio: float

    @property
    def below_mm(self) -> Floats:
        """How far in the middle of each cell lies along the bore, (along,) mm."""
        count = self.inside.shape[2]
        below: Floats = (count - np.arange(count) - 0.5) * self.cell_mm
        return below

    @property
    def off_mm(self) -> Floats:
        """How far cells lie from the bore's middle line, (across, across) mm."""
        count = self.inside.shape[0]
        middle = (np.arange(count) + 0.5 - 0.5 * count) * self.cell_mm
        off: Floats = np.hypot(middle[:, None], middle[None, :])
        return off

    def bore(self, radius_mm: float, depth_mm: float) -> Cells:
        """The cells of a bore that begins `depth_mm` in, `radius_mm` wide there."""
        within = depth_mm - self.below_mm
        cells: Cells = (self.off_mm[:, :, None] <= radius_mm + within * self.flare_ratio) & (within > 0.0)
        return cells


@dataclass(frozen=True, slots=True)
class Taken:
    """What a bore takes of an object's own shape: over `long_mm` of its length, counted along the bore, the
    object does not go on beside it, `volume_ml` in all.
    """

    long_mm: float
    volume_ml: float


def end_cells(
    placed: Mesh, at_mm: Floats, out: Floats, radius_mm: float, depth_mm: float, flare_ratio: float
) -> BoreEnd:
    """The object up to `depth_mm` > 0 inside `at_mm` (3,), where a bore of `radius_mm` at its inner end comes
    out along `out` (3,), unit: on cells of half a millimetre, the first way across level where `out` is.
    """
    aside = np.cross(np.eye(3)[int(np.argmin(np.abs(out)))], out)
    aside /= np.linalg.norm(aside)
    turn = np.stack([aside, np.cross(out, aside), out])
    turned = placed.moved(turn, np.zeros(3), frame="bore")
    wide_mm = radius_mm + depth_mm * flare_ratio
    cell_mm = max(CELL_MM, 2.0 * wide_mm / MOST_ACROSS)
    across = math.ceil(2.0 * wide_mm / cell_mm) + 2 * BESIDE
    along = max(math.ceil(depth_mm / cell_mm), 1)
    low = turn @ at_mm - np.array([0.5 * across * cell_mm, 0.5 * across * cell_mm, along * cell_mm])
    inside: Cells = solid_fraction(turned, low, cell_mm, (across, across, along), lines=2) >= HALF
    return BoreEnd(inside, cell_mm, flare_ratio)


def beyond_ml(end: BoreEnd, radius_mm: float, depth_mm: float) -> float:
    """How much of a bore stands on the far side of what it goes through, ml: in a hole of the object, in its
    inside, or behind a thin wall. What laps over the object's edge, with nothing of it further out, is none.
    """
    covered = np.maximum.accumulate(end.inside[:, :, ::-1], axis=2)[:, :, ::-1]
    beyond = end.bore(radius_mm, depth_mm) & covered & ~end.inside
    return float(beyond.sum()) * end.cell_mm**3 / 1000.0


def taken_by(end: BoreEnd, radius_mm: float, depth_mm: float, *, at_base: bool = False) -> Taken:
    """What of an object a bore takes: sections square to it that lie inside it, or parts of them, and those
    that it laps over: what of the object is in the bore goes on beside less than half of its girth.

    Where the object goes on all round its shape stays to be seen, and the gate is cut off flush. Of a bore
    `at_base` the half above its middle counts, the other runs under the object.
    """
    bore = end.bore(radius_mm, depth_mm)
    half = np.ones(end.off_mm.shape, bool)
    if at_base:
        half[:, : end.inside.shape[1] // 2] = False
    sections, cells = 0, 0
    for k in np.flatnonzero(bore.any(axis=(0, 1))):
        here, within = end.inside[:, :, k], bore[:, :, k]
        wide_mm = radius_mm + (depth_mm - float(end.below_mm[k])) * end.flare_ratio
        girth = ~within & (end.off_mm <= wide_mm + GIRTH_CELLS * end.cell_mm) & half
        taken = here & within
        if float(here[girth].mean()) >= HALF or float(taken.sum()) < LEAST_SHARE * float(within.sum()):
            label, _ = ndimage.label(here, EIGHT)
            taken = here & ~np.isin(label, np.unique(label[~within]))
        sections += bool(taken.any())
        cells += int(taken.sum())
    return Taken(sections * end.cell_mm, cells * end.cell_mm**3 / 1000.0)


def most_taken_mm(bore_mm: float, extent_mm: float) -> float:
    """Over how much of the length of an object, `extent_mm` at its longest side, a bore may take it, mm: a
    rounded end that is cut off flush with the gate. Source: materials/practice (gate_taken_most_ratio,
    gate_taken_most_fraction).
    """
    of_object_mm = practice("gate_taken_most_fraction") * extent_mm
    return min(practice("gate_taken_most_ratio") * bore_mm, of_object_mm)


def lap_mm(end: BoreEnd, radius_mm: float) -> float:
    """How far a bore laps over an object that is too thin for it, mm. Over an edge that goes on beside it, no
    further than of an end may be taken: above and below together that opens about as much as the bore. Of a
    rod, a radius.
    """
    seen = end.inside[:, :, end.below_mm <= radius_mm] & (end.off_mm > radius_mm)[:, :, None]
    most_mm = practice("gate_taken_most_ratio") * 2.0 * radius_mm
    return end.cell_mm * math.floor(most_mm / end.cell_mm) if seen.any() else radius_mm


def begins_mm(end: BoreEnd, radius_mm: float, slot_mm: float) -> float:
    """How deep a bore begins, mm, as `gate.joining` buries it: where it is all inside the object, or where
    that is as thick as `slot_mm` if the other is more than a radius in; as it laps over where neither is.
    """
    round_it = end.off_mm <= radius_mm
    full = round_it.sum(axis=1)
    share = min(1.0, slot_mm / (2.0 * radius_mm))
    thick: float | None = None
    for k in range(end.inside.shape[2] - 1, -1, -1):
        depth_mm = float(end.below_mm[k])
        filled = (end.inside[:, :, k] & round_it).sum(axis=1)
        if bool((filled >= full).all()):
            return depth_mm if thick is None or depth_mm <= radius_mm else thick
        if thick is None and bool((filled >= share * full).all()):
            thick = depth_mm
    return lap_mm(end, radius_mm) if thick is None else thick


def widest_sparing(
    placed: Mesh,
    at_mm: Floats,
    out: Floats,
    bores_mm: Sequence[float],
    slot_mm: float,
    *,
    at_base: bool = False,
) -> tuple[float | None, Taken]:
    """The first of some bores, mm at their inner end, widest first, that takes no more of the object than a
    gate may where it meets it at `at_mm` (3,), None where all take more; and what the first of all takes.

    A cell is kept in hand, since the bore that is cut begins where the mesh has it. `out` and `slot_mm` as in
    `end_cells` and `begins_mm`; a bore `at_base` begins a radius in.
    """
    if not bores_mm:
        return None, Taken(0.0, 0.0)
    radius_mm = 0.5 * bores_mm[0]
    flare = math.tan(math.radians(practice("gate_bore_flare_deg")))
    end = end_cells(placed, at_mm, out, radius_mm, practice("gate_buried_most_ratio") * radius_mm, flare)
    takes: list[Taken] = []
    extent_mm = longest_mm(placed)
    for bore_mm in bores_mm:
        begins = 0.5 * bore_mm if at_base else begins_mm(end, 0.5 * bore_mm, min(slot_mm, bore_mm))
        takes.append(taken_by(end, 0.5 * bore_mm, begins, at_base=at_base))
        if takes[-1].long_mm <= most_taken_mm(bore_mm, extent_mm) - end.cell_mm:
            return bore_mm, takes[0]
    return None, takes[0]


def longest_mm(mesh: Mesh) -> float:
    """The longest side of the box round a mesh, mm."""
    low, high = mesh.bounds_mm
    return float((high - low).max())


def shown_taken_mm(
    model: Mesh, at_mm: Floats, out: Floats, bore_mm: float, *, narrows: bool
) -> tuple[float, float]:
    """Over how much of its length a model with its gate shows nothing but the bore, inwards from where that
    meets the object at `at_mm` (3,), mm: so much of the object's end lies inside it whole. And the cells by
    which that is told, mm.

    `bore_mm` wide there for a bore that `narrows` outwards, else at its inner end; how wide it is elsewhere
    is seen where it has left the object. No more than `taken_by` tells of the object, to a cell: of an end
    beside other parts nothing is seen.
    """
    radius_mm = 0.5 * bore_mm
    most_mm = practice("gate_buried_mm") if narrows else practice("gate_buried_most_ratio") * radius_mm
    flare = 0.0 if narrows else math.tan(math.radians(practice("gate_bore_flare_deg")))
    end = end_cells(model, at_mm + SEEN_MM * out, out, radius_mm, most_mm + SEEN_MM, flare)
    slack_mm = SLACK_CELLS * end.cell_mm
    seen_mm: list[float] = []
    sections = 0
    for k in range(end.inside.shape[2] - 1, -1, -1):
        here, depth_mm = end.inside[:, :, k], float(end.below_mm[k]) - SEEN_MM
        label, _ = ndimage.label(here, EIGHT)
        core = end.off_mm <= 0.5 * radius_mm
        joined = here & np.isin(label, np.unique(label[core & here]))
        if depth_mm < 0.0:
            around_mm = math.sqrt(float(joined.sum()) / math.pi) * end.cell_mm
            seen_mm.append(around_mm + depth_mm * flare)
            continue
        wide_mm = float(np.median(seen_mm)) - depth_mm * flare
        if not narrows and wide_mm < radius_mm - slack_mm:
            break
        bore = end.off_mm <= wide_mm
        if (joined & (end.off_mm > wide_mm + slack_mm)).any() or here[bore].mean() < FILLED_SHARE:
            break
        sections += 1
    return sections * end.cell_mm, end.cell_mm
