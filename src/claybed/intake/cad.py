"""STEP, through an optional library; the surfaces are cut into triangles here."""

from __future__ import annotations

import importlib
import io
import tempfile
from pathlib import Path

import numpy as np
import trimesh

from claybed.errors import InputError
from claybed.intake.gltf import placed
from claybed.intake.guard import Sniffed, read_bytes
from claybed.intake.skin import Skin, is_closed
from claybed.intake.soup import Points, Soup, Triples
from claybed.intake.weld import weld_equal, weld_near
from claybed.records.finding import Finding

CHORD_MM = 0.02
TURN_RAD = 0.1


def read_step(file: Sniffed) -> Soup:
    """Read a STEP file as triangles no farther than `CHORD_MM` from its surfaces; in mm, z up as in the
    file.

    Raises InputError when the library is missing or can make nothing of the file.
    """
    read_bytes(file)
    try:
        cascadio = importlib.import_module("cascadio")
    except ImportError as reason:
        raise InputError(
            "is a STEP file, and the library that reads STEP is not installed.",
            where=file.where,
            remedy="Install it from the folder of claybed: pip install '.[cad]'",
        ) from reason
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "solid.glb"
        cascadio.step_to_glb(str(file.path), str(out), tol_linear=CHORD_MM, tol_angular=TURN_RAD)
        data = out.read_bytes() if out.is_file() else b""
    if not data:
        raise InputError(
            "is a damaged STEP file, or one without solids.", where=file.where, remedy="Export it again."
        )
    scene = trimesh.load(io.BytesIO(data), file_type="glb", process=False, skip_materials=True)
    vertices, faces = placed(scene)
    if len(faces) == 0 or not _whole(vertices * 1000.0, faces):
        raise InputError(
            "is a STEP file whose surfaces could not all be cut into triangles.",
            where=file.where,
            remedy="Export the object as STL or 3MF from the CAD program instead.",
        )
    says = (
        f"The STEP surfaces were cut into triangles at most {CHORD_MM} mm off; "
        "compare size and volume with your CAD program."
    )
    return Soup(
        vertices * 1000.0,
        faces,
        "STEP",
        "mm",
        (
            Finding(
                "step_tessellated",
                "look",
                "the whole object",
                says,
                "Compare the volume with the CAD program.",
            ),
        ),
    )


def _whole(vertices_mm: Points, faces: Triples) -> bool:
    """Whether the triangles close: a surface the library gave up on leaves its place open without a word."""
    skin, _, _ = weld_near(Skin.of(*weld_equal(vertices_mm, faces)))
    kept = skin.faces[(skin.faces != np.roll(skin.faces, -1, axis=1)).all(axis=1)]
    return is_closed(kept, len(skin.vertices))
