"""The template of the plug that keeps a gate open."""

from __future__ import annotations

import numpy as np
from scipy.spatial import ConvexHull

from claybed.geometry.lattice import Z_PER_MM, lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.records.assembly import Assembly, Gate
from claybed.records.drawing import Drawing, Label, Line
from claybed.sheets.plug_laps import lap_words
from claybed.wording import ruler

# A mouth that is less round than this is told with its height.
OVAL_MM = 1.5


def gate_plug_template(assembly: Assembly, us: bool) -> Drawing | None:
    """The plug that makes a gate: one in the side seen from above, one that stands upright on the object from
    the side. None for any other gate.
    """
    gate = assembly.gate
    out = np.array(gate.out)
    if gate.kind == "bore" and gate.at_object_mm is not None:
        return _upright_plug(gate, assembly.height / Z_PER_MM, us)
    if gate.kind not in ("bore", "mouth") or abs(out[2]) > 0.1:
        return None
    model = assembly.model
    used = np.unique(model.faces[model.origin == int(Origin.GATE)])
    if len(used) < 3:
        return None
    points = lattice_mm(model.points[used]) - np.array(gate.at_mm)
    across = np.array([out[1], -out[0]])
    flat = np.stack([points[:, :2] @ across, points[:, :2] @ out[:2]], axis=1)
    outline = flat[ConvexHull(flat).vertices]
    near, far = float(outline[:, 1].min()), float(outline[:, 1].max())
    first = 0.5 if gate.kind == "bore" else near + 0.5
    object_mm = gate.bore_mm if gate.kind == "bore" else _width_at(outline, first)
    form_mm = _width_at(outline, far - 0.5)
    # The middle is drawn where no words stand.
    middle = np.array([[0.0, near + 6.5], [0.0, far - 6.5]])
    laps = lap_words(gate.laps_mm, us) if gate.kind == "bore" else ""
    size = (
        f"{ruler(object_mm, us)} across at the object, {ruler(form_mm, us)} at the form, "
        f"{ruler(far - near, us)} long"
    )
    if gate.kind == "bore":
        says = (
            f"Round, {size}. {laps} Dashed across: the object's edge."
            if laps
            else f"Round, of oil clay or wood, {size}; fit the narrow end to the object."
        )
    else:
        tall_mm = float(np.ptp(points[np.abs(flat[:, 1] - far) < 0.5, 2]))
        oval = abs(tall_mm - form_mm) > OVAL_MM
        shape = f"Seen from above, as high as the mouth ({ruler(tall_mm, us)})" if oval else "Round"
        says = f"{shape}, of oil clay, {size}. Half of it lies in the bed."
    edge = (Line(np.array([[-object_mm / 2.0, 0.0], [object_mm / 2.0, 0.0]]), "dash"),) if laps else ()
    return Drawing(
        id="gate-plug",
        title="Gate plug",
        says=says,
        lines=(Line(outline, "cut", closed=True), Line(middle, "dash"), *edge),
        labels=(
            Label("object", (0.0, near + 4.0), 2.6),
            Label("form", (0.0, far - 4.0), 2.6),
        ),
    )


def _upright_plug(gate: Gate, top_mm: float, us: bool) -> Drawing:
    """A plug that stands on the object and narrows up to the block's top at `top_mm`, seen from the side."""
    wide_mm, long_mm = gate.at_object_mm or gate.bore_mm, top_mm - gate.at_mm[2]
    foot, end = wide_mm / 2.0, gate.bore_mm / 2.0
    outline = np.array([[-foot, 0.0], [foot, 0.0], [end, long_mm], [-end, long_mm]])
    # The middle is drawn where no words stand.
    middle = np.array([[0.0, 6.5], [0.0, long_mm - 6.5]])
    return Drawing(
        id="gate-plug",
        title="Gate plug",
        says=f"Round, of oil clay or wood, {ruler(wide_mm, us)} across at the object, "
        f"{ruler(gate.bore_mm, us)} at the top, {ruler(long_mm, us)} long; fit the wide end to the object.",
        lines=(Line(outline, "cut", closed=True), Line(middle, "dash")),
        labels=(Label("object", (0.0, 4.0), 2.6), Label("top", (0.0, long_mm - 4.0), 2.6)),
    )


def _width_at(outline: Floats, level: float) -> float:
    """How wide a convex outline is at a level, mm."""
    ends = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if min(a[1], b[1]) <= level <= max(a[1], b[1]) and abs(b[1] - a[1]) > 1e-9:
            ends.append(float(a[0] + (level - a[1]) / (b[1] - a[1]) * (b[0] - a[0])))
    return max(ends) - min(ends) if len(ends) > 1 else 0.0
