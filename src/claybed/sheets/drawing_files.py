"""Drawings as files for a cutter or another program: SVG and DXF, in millimetres at true scale."""

from __future__ import annotations

import io
from xml.sax.saxutils import escape

import numpy as np
from ezdxf import units
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new

from claybed.geometry.mesh import Floats
from claybed.records.drawing import Drawing

ROOM_MM = 5.0
WIDTH_MM = {"cut": 0.35, "mark": 0.18, "dash": 0.18}
DASHES = {"dash": "3 2"}
# Layer names and colour numbers of the DXF: cut black or white, marks blue, dashes green.
LAYERS = {"cut": ("CUT", 7), "mark": ("MARK", 5), "dash": ("DASH", 3)}
TEXT_LAYER = "TEXT"


def extent_mm(drawing: Drawing) -> Floats:
    """Lowest and highest corner (2, 2) mm of a drawing's lines and of the middles of its labels."""
    points = [line.points for line in drawing.lines]
    points += [np.array([label.at_mm]) for label in drawing.labels]
    every = np.concatenate(points)
    return np.stack([every.min(axis=0), every.max(axis=0)])


def svg(drawing: Drawing) -> str:
    """The drawing as SVG text; one user unit is a millimetre."""
    low, high = extent_mm(drawing)
    wide, tall = high - low + 2.0 * ROOM_MM
    left, top = low[0] - ROOM_MM, high[1] + ROOM_MM
    rows = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.4f}mm" height="{tall:.4f}mm" '
        f'viewBox="0 0 {wide:.4f} {tall:.4f}">',
        f"<title>{escape(drawing.title)}</title>",
        f"<desc>{escape(drawing.says)} True scale, millimetres.</desc>",
    ]
    for line in drawing.lines:
        points = " ".join(f"{x - left:.4f},{top - y:.4f}" for x, y in line.points)
        shape = "polygon" if line.closed else "polyline"
        dashes = f' stroke-dasharray="{DASHES[line.stroke]}"' if line.stroke in DASHES else ""
        rows.append(
            f'<{shape} class="{line.stroke}" points="{points}" fill="none" stroke="#000000" '
            f'stroke-width="{WIDTH_MM[line.stroke]}"{dashes}/>'
        )
    for label in drawing.labels:
        x, y = label.at_mm[0] - left, top - label.at_mm[1]
        turned = f' transform="rotate({-label.turn_deg:.3f} {x:.4f} {y:.4f})"' if label.turn_deg else ""
        rows.append(
            f'<text x="{x:.4f}" y="{y:.4f}" font-size="{label.height_mm:.3f}" font-family="sans-serif" '
            f'text-anchor="middle" dominant-baseline="central"{turned}>{escape(label.text)}</text>'
        )
    return "\n".join([*rows, "</svg>", ""])


def dxf(drawing: Drawing) -> str:
    """The drawing as DXF text (R2010), in millimetres, cuts, marks, dashes and words on layers of their
    own.
    """
    document = new("R2010", setup=["linetypes"])
    document.units = units.MM
    for stroke, (name, colour) in LAYERS.items():
        document.layers.add(name, color=colour, linetype="DASHED" if stroke in DASHES else "CONTINUOUS")
    document.layers.add(TEXT_LAYER, color=8)
    space = document.modelspace()
    for line in drawing.lines:
        corners = [(float(x), float(y)) for x, y in line.points]
        space.add_lwpolyline(corners, close=line.closed, dxfattribs={"layer": LAYERS[line.stroke][0]})
    for label in drawing.labels:
        word = space.add_text(
            label.text, height=label.height_mm, rotation=label.turn_deg, dxfattribs={"layer": TEXT_LAYER}
        )
        word.set_placement(label.at_mm, align=TextEntityAlignment.MIDDLE_CENTER)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()
