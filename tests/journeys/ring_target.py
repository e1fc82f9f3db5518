"""Stands in for looking at a ring of photos, so that its pages can be tried without carving each time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from claybed.actions.object_files import write_object
from claybed.actions.photographing import points_of
from claybed.geometry.mesh import Mesh
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile
from tests.pieces.solids import lumpy_sphere

SIZE = (400, 300)


def run(payload: Mapping[str, Any], progress: Callable[[str, float], None]) -> dict[str, Any]:
    """What `outlining.run_ring` gives, with a disc in every photo; the fourth contradicts the others, and the
    fifth shows no mat.
    """
    turn = 2.0 * np.pi * np.arange(90) / 90
    disc = np.column_stack([200.0 + 80.0 * np.cos(turn), 150.0 + 90.0 * np.sin(turn)])
    pictures: list[dict[str, Any]] = []
    for k, path in enumerate(payload["paths"]):
        out, given = payload["taken_out"][k], points_of(payload["outlines"][k])
        why = (
            "was taken out"
            if out
            else {3: "has an outline that shows too much", 4: "shows no mat"}.get(k, "")
        )
        picture: dict[str, Any] = {"name": Path(path).name, "used": not why, "why": why, "found": k != 4}
        if k != 4 and not out:
            image = Image.new("RGB", SIZE, (210, 205, 195))
            ImageDraw.Draw(image).ellipse((120, 60, 280, 240), fill=(120, 80, 60))
            image.save(payload["views"][k], "JPEG")
            points = disc if given is None else given
            picture |= {"size_px": list(SIZE), "points_px": np.round(points, 1).tolist()}
        pictures.append(picture)
    mesh: Mesh = lumpy_sphere(2000)
    made = ObjectFile(
        name=payload["name"],
        measuring=Measuring("hull", "The hull of its outlines.", VolumeBand(0.1, 0.02)),
        volume_ml=mesh.volume_mm3 / 1000.0,
        mesh=mesh,
        extent_mm=tuple(float(side) for side in np.ptp(mesh.vertices_mm, axis=0)),  # type: ignore[arg-type]
    )
    return {"pictures": pictures, "object": write_object(made, Path(payload["out"])), "says": ""}
