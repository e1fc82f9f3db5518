"""The plan in 3D as one file: it opens from a memory stick, without a server, and asks the network for
nothing."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

from claybed import __version__
from claybed.assets.palette import CONTOUR, DARK, LIGHT, OXIDE, OXIDE_PALE, SLATE, face_colours, piece_colour
from claybed.assets.vendored import font_base64, licence, three_source
from claybed.errors import InputError
from claybed.geometry.mesh import Floats, Mesh
from claybed.scene import facts
from claybed.scene.plaster_wall import wall_scene
from claybed.scene.wire import Box, packed, thinned
from claybed.wording import from_board

MOST_SEAM_POINTS = 4000


def write_view(
    plan: Mapping[str, Any],
    pieces: Sequence[tuple[str, Mesh]],
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    out_html: Path,
    *,
    us_units: bool = False,
) -> None:
    """Write the view of a plan.

    `plan` has the keys of plan.json, whose `pieces[].pull` move the pieces apart; `pieces` are (letter,
    mesh) and `model` the model, all in the block's frame; `seam_loops_mm` closed curves (n, 3). Above 300 000
    triangles the picture is thinned and says so. `us_units` writes the figures in inches, pounds and quarts.
    Raises InputError when a piece is not in the plan or a mesh is empty.
    """
    text = view(plan, pieces, model, seam_loops_mm, us_units=us_units)
    out_html.write_text(text, encoding="utf-8")


def view(
    plan: Mapping[str, Any],
    pieces: Sequence[tuple[str, Mesh]],
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    *,
    us_units: bool = False,
) -> str:
    """The page as text; arguments and errors as in `write_view`."""
    plan = from_board(plan)
    letters = [letter for letter, _ in pieces]
    scene = scene_data(plan, pieces, model, seam_loops_mm, us_units=us_units)
    folder = files("claybed.scene")
    values = {
        "TITLE": escape(str(plan["object"]["name"])),
        "COLOURS": _style(LIGHT),
        "DARK_COLOURS": _style(DARK),
        "FONT_REGULAR": font_base64("Regular"),
        "FONT_BOLD": font_base64("Bold"),
        "STATUS": facts.status(plan, us=us_units),
        "PARTS": facts.letters(letters) + facts.marks(scene),
        "LEGENDS": facts.legends(scene, us=us_units),
        "TABLES": facts.tables(plan, us=us_units),
        "THINNED": f'<p class="quiet">{escape(scene["thinned"])}</p>' if scene["thinned"] else "",
        "VERSION": escape(__version__),
        "LICENCE": escape(licence("three")),
        # Inside a script element only "<" could end it.
        "SCENE": json.dumps(scene, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c"),
        "THREE": three_source(),
        "SCRIPT": (folder / "view.js").read_text(encoding="utf-8"),
    }
    page = (folder / "view.html").read_text(encoding="utf-8")
    parts = page.split("%%")
    # Every second part is a name: one pass, so that no text from a plan can be taken for a name.
    return "".join(values[part] if k % 2 else part for k, part in enumerate(parts))


def scene_data(
    plan: Mapping[str, Any],
    pieces: Sequence[tuple[str, Mesh]],
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    *,
    us_units: bool = False,
) -> dict[str, Any]:
    """What the script draws: packed meshes, pulls, colours, seam, the plaster's wall and the bed's heights,
    as plain values.
    """
    pulls = {str(p["id"]): [float(v) for v in p.get("leaves") or p["pull"]] for p in plan["pieces"]}
    for letter, mesh in [*pieces, ("model", model)]:
        if not len(mesh.faces):
            raise InputError(
                f"Nothing to show: {letter} has no faces.", where="view", remedy="Write the plan again."
            )
        if letter not in pulls and letter != "model":
            raise InputError(
                f"The plan knows no piece {letter}.", where="view", remedy="Write the plan again."
            )
    whole = [model, *(m for _, m in pieces)]
    shown, fewer = thinned(whole)
    box = Box.around(shown)
    said = ""
    if fewer:
        before, after = (sum(len(m.faces) for m in ms) for ms in (whole, shown))
        said = (
            f"Thinned for viewing from {before} to {after} triangles; the files of the pieces are complete."
        )
    return {
        "low": box.low_mm.tolist(),
        "size": box.size_mm,
        "model": packed(shown[0], box) | {"colours": _table(None)},
        "pieces": [
            packed(mesh, box)
            | {
                "id": letter,
                "pull": pulls[letter],
                "colours": _table(piece_colour(k)),
                "cut": piece_colour(k),
            }
            for k, ((letter, _), mesh) in enumerate(zip(pieces, shown[1:], strict=True))
        ],
        "seam": [_loop(loop) for loop in seam_loops_mm if len(loop) > 1],
        "fill": [OXIDE, OXIDE_PALE],
        "line": SLATE,
        "contour": CONTOUR,
        "wall": facts.told_wall(wall_scene(plan, [m for _, m in pieces], model), us=us_units),
        "heights": facts.heights(plan, us=us_units),
        "thinned": said,
    }


def _loop(loop_mm: Floats) -> list[list[float]]:
    points = np.asarray(loop_mm, dtype=np.float64)
    points = points[:: max(1, len(points) // MOST_SEAM_POINTS)]
    if not np.allclose(points[0], points[-1]):
        points = np.concatenate([points, points[:1]])
    return [[round(float(v), 3) for v in p] for p in points]


def _table(piece: str | None) -> list[str]:
    colours = face_colours(piece)
    return [colours[kind] for kind in sorted(colours)]


def _style(colours: Mapping[str, str]) -> str:
    return "".join(f"--{name}:{value};" for name, value in colours.items())
