"""The templates of a plan: saddles, chart of the seam, cards of the bed, key tool, gate plug."""

from __future__ import annotations

import math

import numpy as np
from scipy.ndimage import grey_closing, grey_opening

from claybed.geometry.mesh import Floats
from claybed.geometry.slicing import thinned
from claybed.records.assembly import Assembly
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.pose import BedCard, Pose, PressedKey, Saddle
from claybed.sheets.bed_chart import LETTERS_MM, bed_chart
from claybed.sheets.filler_template import filler_templates
from claybed.sheets.gate_template import gate_plug_template
from claybed.sheets.seam_strips import BY_HAND_MM, seam_strips
from claybed.wording import ruler

ENDS = {(1.0, 0.0): ("left", "right"), (0.0, 1.0): ("front", "back")}
HANDLE_MM = 24.0
# Nobody cuts a spike or a notch narrower than this out of card, nor builds it of clay.
SPIKE_MM = 10.0
# Beside the seam the card runs straight from the line to where the clay is even.
AT_SEAM_MM = 4.0
RUN_STEP_MM = 0.25
# A card that ends this far before the bed does is cut short.
SHORTER_MM = 1.0


def templates_of(pose: Pose, assembly: Assembly, *, us: bool = False) -> tuple[Drawing, ...]:
    """Every template of a plan at 1:1, in the order of work; `us` writes heights in inches."""
    drawings = [_saddle(saddle, us) for saddle in pose.saddles]
    drawings.append(bed_chart(pose, assembly, us))
    drawings += seam_strips(pose, assembly, us)
    drawings += [_bed_card(card, pose, us) for card in pose.bed_cards]
    if pose.keys:
        drawings.append(_key_tool(pose.keys[0], len(pose.keys), us))
    drawings += filler_templates(pose, assembly, us)
    plug = gate_plug_template(assembly, us)
    return tuple(drawings if plug is None else [*drawings, plug])


def _saddle(saddle: Saddle, us: bool) -> Drawing:
    left, right = ENDS[saddle.along]
    outline = saddle.outline
    size = min(LETTERS_MM, max(2.0, saddle.least_mm / 3.0))
    level = size * 0.8
    at = float(outline[:, 0].max()) * 0.45
    labels = [
        Label(saddle.id, (at, level), size),
        Label(left, (float(outline[:, 0].min()) + 8.0, level), size * 0.8),
        Label(right, (float(outline[:, 0].max()) - 8.0, level), size * 0.8),
    ]
    slot = f"slot {ruler(saddle.slot_mm, us)} from the {saddle.slot_from}"
    return Drawing(
        id=f"saddle-{saddle.id}",
        title=f"Saddle {saddle.id}",
        says=f"Cut from {ruler(saddle.card_mm, us)} card; stands {left} to {right}; {slot}, as wide as the "
        "card.",
        lines=(Line(outline, "cut", closed=True),),
        labels=tuple(labels),
    )


def _bed_card(card: BedCard, pose: Pose, us: bool) -> Drawing:
    station = pose.stations[card.station - 1]
    wide = float(card.outline[:, 0].max())
    short = wide < math.dist(station.at_mm, station.form_at_mm) - SHORTER_MM
    if short:
        end = "beside another card"
    else:
        end = "the form" if station.at_form else "the object again"
    end_mm = float(card.outline[2, 1]) if short else station.bed_mm
    labels = [Label(f"{card.station}", (wide / 2.0, 10.0), 5.0)]
    labels += [Label("seam", (7.0, 2.5), 2.6)] if wide > 14.0 else []
    return Drawing(
        id=f"bed-card-{card.station}",
        title=f"Bed card {card.station}",
        says=f"Stands on the board at station {card.station}, from the seam to {end}: clay up to its edge, "
        f"{ruler(station.seam_mm, us)} at the seam, {ruler(end_mm, us)} at the end.",
        lines=(Line(without_spikes(card.outline), "cut", closed=True),),
        labels=tuple(labels),
    )


def without_spikes(outline: Floats) -> Floats:
    """The outline (n, 2) mm of a card, its foot as it is, its top without spikes and notches too narrow to
    cut or to build of clay, and thinned.
    """
    top = outline[2:][::-1]
    run = np.linspace(0.0, float(top[-1, 0]), max(2, round(float(top[-1, 0]) / RUN_STEP_MM)) + 1)
    heights = np.interp(run, top[:, 0], top[:, 1])
    size = (round(SPIKE_MM / RUN_STEP_MM),)
    # Run on evenly past both ends, so that a slope that ends there keeps its height.
    beyond = np.pad(heights, size[0], mode="reflect", reflect_type="odd")
    level = grey_closing(grey_opening(beyond, size), size)[size[0] : -size[0]]
    # At the seam the clay meets the pencil line, whatever is cut off beside it.
    at_seam = run < AT_SEAM_MM
    level[at_seam] = np.interp(
        run[at_seam], [0.0, AT_SEAM_MM], [heights[0], float(np.interp(AT_SEAM_MM, run, level))]
    )
    even = np.stack([run, level], axis=1)
    return np.concatenate([outline[:2], thinned(even[::-1], BY_HAND_MM)])


def _key_tool(key: PressedKey, count: int, us: bool) -> Drawing:
    """A card with a tongue as wide and deep as a key: stood on the bed and turned, it cuts one."""
    ball = key.ball_mm / 2.0
    half = math.asin(min(1.0, key.diameter_mm / 2.0 / ball))
    if key.depth_mm > ball:
        half = math.pi - half
    turn = np.linspace(-half, half, 61)
    tongue = np.stack([ball * np.sin(turn), ball - key.depth_mm - ball * np.cos(turn)], axis=1)
    wide = key.diameter_mm / 2.0 + 10.0
    ball_says = ruler(key.ball_mm, us) if us else f"{key.ball_mm:.1f} mm"
    body = np.array([[wide, 0.0], [wide, HANDLE_MM], [-wide, HANDLE_MM], [-wide, 0.0]])
    # The middle is drawn where no words stand.
    middle = np.array([[0.0, -key.depth_mm], [0.0, HANDLE_MM - 14.0]])
    return Drawing(
        id="key-tool",
        title="Key card",
        says=f"{count} keys: stand it on the bed and turn it, or press a ball of {ball_says} "
        f"{ruler(key.depth_mm, us)} deep.",
        lines=(Line(np.concatenate([tongue, body]), "cut", closed=True), Line(middle, "dash")),
        labels=(
            Label(f"Ø {ruler(key.diameter_mm, us)}", (0.0, HANDLE_MM - 5.0), 3.0),
            Label(f"{ruler(key.depth_mm, us)} deep", (0.0, HANDLE_MM - 11.0), 3.0),
        ),
    )
