"""An object made ready to be looked at in the app: survey, picture, shape, and how it is reached."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from claybed.actions.exporting import hole_rims
from claybed.actions.looked_at import LIGHT, PICTURE, SHAPE
from claybed.actions.planning import known_source, reader_of
from claybed.actions.warming import warm_up
from claybed.errors import InputError
from claybed.flow.course import run_survey
from claybed.flow.document import survey_document
from claybed.geometry.depth import DepthRaster
from claybed.geometry.mesh import Mesh
from claybed.geometry.sighting import Sighting, edge_faces, outline_edges
from claybed.materials import shelf
from claybed.scene.shape_file import packed_bytes, shape_bytes
from claybed.scene.wire import thinned
from claybed.sheets import pictures

Progress = Callable[[str, float], None]
# A hand turns the object live up to here; larger ones are thinned for the screen and planned in full.
MOST_SHOWN: Final = 100_000
_RESOLUTION: Final = 384
_DEEP_MM: Final = 5.0


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Survey the object in a file and write what the page shows of it; return the survey as plain values.

    `payload` has "path" of the file, "brief", and "out", an existing folder that gets shape.bin, light.npz
    and picture.png. Raises InputError as intake and survey do.
    """
    path, out = Path(payload["path"]), Path(payload["out"])
    warm_up(progress)
    progress("reading", 0.0)
    source, store = known_source(path)
    found = run_survey(reader_of(path), payload["brief"], source, store, progress)
    progress("drawing", 0.0)
    mesh, fewer = thinned([found.obj.mesh], MOST_SHOWN)
    (out / SHAPE).write_bytes(shape_bytes(mesh[0]))
    np.savez(out / LIGHT, vertices_mm=mesh[0].vertices_mm, faces=mesh[0].faces, origin=mesh[0].origin)
    progress("drawing", 0.5)
    picture = pictures.object_with_seam(
        mesh[0], [], None, holes=hole_rims(found.obj), width_px=960, height_px=720
    )
    (out / PICTURE).write_bytes(pictures.as_png(picture))
    progress("drawing", 1.0)
    document = survey_document(found, payload["brief"])
    document["shown"] = {"triangles": len(mesh[0].faces), "thinned": fewer}
    return document


def make_turner(payload: Mapping[str, Any]) -> Callable[[Any], bytes]:
    """Get the object in a folder ready, and return what tells how it is reached along any axis.

    `payload` has "folder", in which `run` left light.npz. The answer to an axis (three numbers) is packed as
    in scene.shape_file: `reach` u1 for each face, `seam` u4 pairs of points, and in the header fill_ml,
    fill_g, undercut_cm2 and depth_mm, all on the shape as it is shown. Raises InputError for no direction.
    """
    with np.load(Path(payload["folder"]) / LIGHT, allow_pickle=False) as kept:
        mesh = Mesh.make(kept["vertices_mm"], kept["faces"], frame="object", origin=kept["origin"])
    raster = DepthRaster(mesh, _RESOLUTION)
    edges, sides = edge_faces(mesh)
    sighting = Sighting(mesh)
    clay_g_per_ml = shelf.value("clay", "oil_clay_density_g_per_ml").value
    sighting.reach(raster.columns(np.array([0.0, 0.0, 1.0])), _DEEP_MM)  # compiled before a hand waits for it

    def answer(question: Any) -> bytes:
        axis = np.array([float(value) for value in question])
        length = float(np.linalg.norm(axis)) if axis.shape == (3,) else 0.0
        if not (math.isfinite(length) and length > 1e-9):
            raise InputError(
                "that is no direction.", remedy="Turn the arrow to where the piece is lifted off."
            )
        columns = raster.columns(axis / length)
        reach = sighting.reach(columns, _DEEP_MM)
        fill_ml = columns.score.fill_mm3 / 1000.0
        header = {
            "axis": (axis / length).tolist(),
            "fill_ml": fill_ml,
            "fill_g": fill_ml * clay_g_per_ml,
            "undercut_cm2": columns.score.undercut_mm2 / 100.0,
            "depth_mm": columns.score.depth_mm,
        }
        return packed_bytes(header, {"reach": reach, "seam": outline_edges(reach, edges, sides)})

    return answer
