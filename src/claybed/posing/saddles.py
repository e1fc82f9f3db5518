"""Two crossing cards that hold the object in its pose, each cut to the object's underside."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_dilation

from claybed.geometry.mesh import Floats
from claybed.geometry.slicing import cut_segments, in_plane, lowest, thinned
from claybed.materials import shelf
from claybed.posing.stations import Solids
from claybed.records.pose import Outline, Saddle

STEP_MM = 0.25
# A corner of a card within this of the line that is cut is left out.
LINE_MM = 0.02
# The bed that a card must stay under is that over it, and this far past its ends.
BESIDE_MM = 1.0


def saddle_pair(solids: Solids, centre: Floats, board_mm: float, card_mm: float) -> tuple[Saddle, ...]:
    """Two saddles along the sides of the form, crossing under `centre` (2,) mm, or none when one of the two
    would not reach.

    `board_mm` height of the board in the block's frame; `card_mm` the thickness of the card. Each top edge is
    the lowest of the underside across the card's thickness, so that the object comes down onto it, and stays
    under the bed wherever the card reaches it.
    """
    pair = []
    for name, along in (("S1", np.array([1.0, 0.0])), ("S2", np.array([0.0, 1.0]))):
        top = _top_edge(solids, centre, along, board_mm, card_mm)
        if top is None:
            return ()
        pair.append((name, along, top))
    # Both slots together are as deep as the lower card is tall where they cross.
    crossing_mm = min(float(np.interp(0.0, top[:, 0], top[:, 1])) for _, _, top in pair)
    saddles = []
    for name, along, top in pair:
        from_top = name == "S1"
        here_mm = float(np.interp(0.0, top[:, 0], top[:, 1]))
        slot_mm = here_mm - crossing_mm / 2.0 if from_top else crossing_mm / 2.0
        saddles.append(
            Saddle(
                id=name,
                through_mm=(float(centre[0]), float(centre[1])),
                along=(float(along[0]), float(along[1])),
                outline=_with_slot(top, card_mm, here_mm - slot_mm if from_top else slot_mm, from_top),
                slot_from="top" if from_top else "bottom",
                slot_mm=slot_mm,
                least_mm=float(top[:, 1].min()),
                reach_mm=(float(-top[0, 0]), float(top[-1, 0])),
                card_mm=card_mm,
            )
        )
    return tuple(saddles)


def _top_edge(
    solids: Solids, centre: Floats, along: Floats, board_mm: float, card_mm: float
) -> Outline | None:
    """Run from the crossing and height above the board (n, 2), ends included; None when it reaches too
    little.
    """
    across = np.array([-along[1], along[0]])
    cuts, beds = [], []
    for side in (-0.5, 0.0, 0.5):
        through = np.r_[centre + side * card_mm * across, 0.0]
        segments = cut_segments(solids.model_points, solids.model_faces, through, np.r_[across, 0.0])
        cuts.append(in_plane(segments, through, np.r_[along, 0.0]))
        segments = cut_segments(solids.bed_points, solids.bed_faces, through, np.r_[across, 0.0])
        beds.append(in_plane(segments, through, np.r_[along, 0.0]))
    if not len(cuts[1]):
        return None
    inside, reach = _saddle("inside_mm"), _saddle("reach_least_mm")
    ends = cuts[1][:, :, 0].min() + inside, cuts[1][:, :, 0].max() - inside
    if ends[1] - ends[0] < 2.0 * reach:
        return None
    run = np.linspace(*ends, max(3, round((ends[1] - ends[0]) / STEP_MM) + 1))
    run = np.union1d(run, [-card_mm / 2.0, 0.0, card_mm / 2.0])
    run = run[(run >= ends[0]) & (run <= ends[1])]
    under = np.min([lowest(cut, run) for cut in cuts], axis=0) - board_mm
    bed = np.concatenate(beds)
    beside = inside + BESIDE_MM
    near = (bed[:, :, 0].max(axis=1) > ends[0] - beside) & (bed[:, :, 0].min(axis=1) < ends[1] + beside)
    if not near.any():
        return None
    highest = float(bed[near][:, :, 1].min()) - board_mm - _saddle("under_bed_mm")
    touching = np.flatnonzero(under <= highest)
    if not len(touching) or highest - float(under.min()) < _saddle("rise_least_mm"):
        return None
    horn = _saddle("horn_mm")
    first, last = run[touching[0]] - horn, run[touching[-1]] + horn
    kept = (run >= first) & (run <= last)
    heights = np.minimum(under[kept], highest)
    held = np.isfinite(under[kept]) & (under[kept] <= highest)
    inner = np.arange(len(held))
    ends_held = inner[held][[0, -1]]
    away = round(_saddle("clear_mm") / STEP_MM)
    between = binary_dilation(~held & (inner > ends_held[0]) & (inner < ends_held[1]), iterations=away)
    # In an opening the card holds nothing: low there, it leaves room for a strip that stands over it.
    low = max(_saddle("low_least_mm"), _saddle("low_fraction") * highest)
    heights[between] = np.minimum(heights[between], low)
    top = np.stack([run[kept], heights], axis=1)
    if top[0, 0] > -reach / 2.0 or top[-1, 0] < reach / 2.0:
        return None
    return top


def _saddle(name: str) -> float:
    return shelf.value("bench", f"saddle_{name}").value


def _with_slot(top: Outline, card_mm: float, slot_at_mm: float, from_top: bool) -> Outline:
    """The whole card as a closed outline, counter-clockwise from its lower left corner."""
    half = card_mm / 2.0
    left, right = top[top[:, 0] <= -half], top[top[:, 0] >= half]
    base = [[top[0, 0], 0.0]]
    if from_top:
        base += [[top[-1, 0], 0.0]]
        over = [*thinned(right, LINE_MM)[::-1], [half, slot_at_mm], [-half, slot_at_mm]]
        rest = [*over, *thinned(left, LINE_MM)[::-1]]
    else:
        base += [[-half, 0.0], [-half, slot_at_mm], [half, slot_at_mm], [half, 0.0], [top[-1, 0], 0.0]]
        rest = list(thinned(top, LINE_MM)[::-1])
    return np.array([*base, *rest])
