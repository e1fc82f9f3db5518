"""An object file from a rough scan."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from claybed.actions.making import extent_of
from claybed.actions.object_files import write_object
from claybed.geometry.mesh import Mesh
from claybed.intake.reading import read_soup
from claybed.intake.scale import unit_of
from claybed.intake.tidying import Tidied, placed, tidy
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.figure import Figure
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile
from claybed.units import say_share

Progress = Callable[[str, float], None]


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write the object that a rough scan shows; return its description.

    `payload` has "path", "brief" (unit, height_mm and max_triangles are read), "wishes", "mass_g", "out" and
    "name". Raises InputError as intake does.
    """
    path, brief = Path(payload["path"]), payload["brief"]
    progress("reading", 0.0)
    soup = read_soup(path, replace(brief, height_mm=None))
    unit = unit_of(soup, brief, path.name)
    made = tidy(soup.vertices * unit.mm_per_unit, soup.faces, payload["wishes"], path.name, progress)
    factor, scale_share = 1.0, shelf.value("measuring", "scan_scale_fraction").value
    if brief.height_mm is not None:
        factor = brief.height_mm / float(np.ptp(made.mesh.vertices_mm[:, 2]))
        scale_share = shelf.value("measuring", "caliper_reading_mm").value / brief.height_mm
    unit_says = f"{unit.says.partition(':')[0].rstrip('.')}."
    obj = _object(made, factor, scale_share, unit_says, payload, brief)
    progress("writing", 0.0)
    return write_object(obj, Path(payload["out"]))


def _object(
    made: Tidied, factor: float, scale_share: float, unit_says: str, payload: Mapping[str, Any], brief: Brief
) -> ObjectFile:
    mesh = made.mesh
    if factor != 1.0:
        mesh = Mesh.make(mesh.vertices_mm * factor, mesh.faces, frame=mesh.frame, origin=mesh.origin)
        unit_says = f"Scaled to the measured height of {brief.height_mm:g} mm."
    volume_mm3 = mesh.volume_mm3
    closing = made.closing_mm3 * factor**3 / volume_mm3
    share = min(math.hypot(3.0 * scale_share, closing), 0.9)
    says = (
        f"A scan, tidied: its scale is taken as good to {say_share(scale_share, 1)}, and two ways of closing "
        f"what was not scanned differ by {say_share(closing, 1)} of the volume. {unit_says}"
    )
    inputs: dict[str, float | str] = {
        "scale_share": scale_share,
        "closing_ml": made.closing_mm3 * factor**3 / 1000.0,
        "not_scanned_cm2": made.mended_mm2 * factor**2 / 100.0,
    }
    working = Figure(
        "ml",
        "signed tetrahedra over all faces; interval = root of squares of three times the scale's share and "
        "the difference of two ways of closing holes",
        "geometry",
        inputs,
        volume_mm3 * (1.0 - share) / 1000.0,
        volume_mm3 * (1.0 + share) / 1000.0,
    )
    cannot: tuple[str, ...] = ()
    if made.mended_mm2 > 0.0:
        unseen_cm2 = made.mended_mm2 * factor**2 / 100.0
        cannot = (f"{unseen_cm2:.3g} cm² of the surface was not scanned; what closes it is a guess.",)
    return ObjectFile(
        name=payload["name"],
        measuring=Measuring("scan", says, VolumeBand(share, share), cannot_tell=cannot),
        volume_ml=volume_mm3 / 1000.0,
        mesh=mesh,
        extent_mm=extent_of(mesh),
        mass_g=payload["mass_g"],
        steps=made.steps,
        findings=placed(made.findings, made.turn, made.shift_mm, factor),
        working={"/volume_ml": working},
    )
