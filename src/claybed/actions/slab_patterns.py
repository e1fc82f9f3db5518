"""Slab patterns of a plan folder: templates to print or cut, the stretch map, figures."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from claybed.actions.mapping_casts import gate_of, read_mold, up_of
from claybed.errors import InputError
from claybed.flow.slab_patterns import make_patterns, patterns_document, strain_surface
from claybed.materials import shelf
from claybed.records.patterns import PatternAsk
from claybed.sheets.pictures import as_png
from claybed.sheets.template_sheet import render, write_files
from claybed.sheets.wall_map import wall_picture
from claybed.ware.pressing import slab_for

Progress = Callable[[str, float], None]
MOST_PIECES: Final = 40


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Make the slab patterns of the plan folder payload["plan"] in the empty folder payload["out"].

    payload["ask"] is a PatternAsk, payload["paper"] a4 or us-letter, payload["units"] metric or us
    for words on paper. Writes slabs.pdf at 1:1, an SVG and a DXF of each pattern, stretch.png and
    patterns.json; returns what the last one holds. Raises InputError for a folder that is no plan or an ask
    out of range, CannotError when the slab does not fit.
    """
    ask = payload["ask"]
    check_ask(ask)
    progress("reading", 0.0)
    mold = read_mold(Path(payload["plan"]))
    document = mold.document
    letters = [str(piece["id"]) for piece in document["pieces"]]
    usual = slab_for(max(float(side) for side in document["object"]["extent_mm"]))
    figures = {
        "slab_mm": usual.value if ask.slab_mm is None else ask.slab_mm,
        "allowance_mm": _or_shelf(ask.allowance_mm, "slab_joint_allowance_mm"),
        "stretch_fraction": _or_shelf(ask.stretch_fraction, "slab_stretch_fraction"),
    }
    gate_at_mm, bore_mm = gate_of(document)
    up = up_of(mold)
    done = make_patterns(
        list(zip(letters, mold.pieces, strict=True)),
        mold.model,
        mold.on_outside,
        most_pieces=ask.most_pieces,
        gate_at_mm=gate_at_mm,
        bore_mm=bore_mm,
        up=up,
        us=payload.get("units") == "us",
        ledge_mm=(document["mold"].get("hump") or {}).get("ledge_from_board_mm"),
        progress=progress,
        **figures,
    )
    progress("writing", 0.0)
    out, name = Path(payload["out"]), str(document["object"]["name"])
    paper = str(payload.get("paper", "a4"))
    (out / "slabs.pdf").write_bytes(render(done.drawings, name, paper=paper))
    files = {"pdf": "slabs.pdf", "stretch": "stretch.png", "figures": "patterns.json"}
    for path in write_files(done.drawings, out / "templates"):
        files[path.name] = path.relative_to(out).as_posix()
    progress("writing", 0.5)
    surface, thinner, edges = strain_surface(done.patterns)
    picture = wall_picture(
        surface,
        thinner,
        up=np.array([0.0, 0.0, 1.0]) if up is None else up,
        title=f"{name}: how much thinner the slab is pressed, % (below 0: thicker)",
        unit="%",
        limits=(float(np.quantile(thinner, 0.01)), float(np.quantile(thinner, 0.99))),
        edges_mm=edges,
        both_sides=True,
    )
    (out / "stretch.png").write_bytes(as_png(picture))
    result = patterns_document(done, letters, name, files, **figures)
    text = json.dumps(result, indent=1, ensure_ascii=False, allow_nan=False)
    (out / "patterns.json").write_text(text + "\n", encoding="utf-8")
    progress("writing", 1.0)
    return result


def check_ask(ask: PatternAsk) -> None:
    """Raise InputError for a slab, an allowance, a stretch or a count that no one presses."""
    for value, low, high, where, remedy in (
        (ask.slab_mm, 1.0, 40.0, "--thickness", "Use 1 to 40 mm."),
        (ask.allowance_mm, 0.0, 60.0, "--allowance", "Use 0 to 60 mm."),
        (ask.stretch_fraction, 0.01, 0.5, "--stretch", "Use 1 to 50%."),
        (float(ask.most_pieces), 1.0, float(MOST_PIECES), "--most", f"Use 1 to {MOST_PIECES}."),
    ):
        if value is not None and not low <= value <= high:
            raise InputError(f"{value:g} is out of range.", where=where, remedy=remedy)


def _or_shelf(given: float | None, name: str) -> float:
    return shelf.value("practice", name).value if given is None else given
