"""An object file from what was measured: one function for each way, all written the same way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from claybed.actions.object_files import write_object
from claybed.errors import InputError
from claybed.geometry.mesh import Mesh
from claybed.making.readings import read_form
from claybed.making.turning import Turned, turned
from claybed.records.figure import Figure
from claybed.records.form import Form
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile
from claybed.units import say_share

Progress = Callable[[str, float], None]


def run_turn(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write the object that the readings in a file describe; return its description.

    `payload` has "path" of the readings, "out", "name", "mass_g" or None, and "asked" as
    `making.readings.read_form` takes it. Raises InputError and CannotError as the stage does.
    """
    path = Path(payload["path"])
    progress("reading", 0.0)
    form = read_form(file_bytes(path), path.name, payload["asked"])
    progress("turning", 0.0)
    made = turned(form, path.name)
    obj = _turned_object(made, form, payload["name"], payload["mass_g"])
    progress("writing", 0.0)
    return write_object(obj, Path(payload["out"]))


def file_bytes(path: Path, *, most: int = 200_000_000) -> bytes:
    """The bytes of a file of at most `most` bytes. Raises InputError for one that cannot be read."""
    where = path.name or str(path)
    try:
        if path.is_dir():
            raise InputError("is a folder, not a file.", where=where, remedy="Name the file in it.")
        if not path.is_file():
            raise InputError("there is no such file.", where=where, remedy="Check the path.")
        if path.stat().st_size > most:
            raise InputError(
                f"is {path.stat().st_size / 1e6:,.0f} MB, more than is read here.",
                where=where,
                remedy="Save it smaller.",
            )
        return path.read_bytes()
    except (OSError, ValueError) as reason:
        raise InputError(
            "cannot be opened.", where=where, remedy="Check the path and permissions."
        ) from reason


def extent_of(mesh: Mesh) -> tuple[float, float, float]:
    """Size of a mesh along x, y and z, mm."""
    x, y, z = (float(side) for side in np.ptp(mesh.vertices_mm, axis=0))
    return x, y, z


def _turned_object(made: Turned, form: Form, name: str, mass_g: float | None) -> ObjectFile:
    volume_mm3 = made.mesh.volume_mm3
    share = made.half_width_mm3 / volume_mm3
    closed = made.closed_half_width_mm3 / made.outside_mm3
    count = len(form.outside) + len(form.inside)
    says = (
        f"Measured with calipers: {count} readings, each taken as good to {form.reading_mm:g} mm, leave "
        f"{_percent(made.reading_mm3 / volume_mm3)} of the volume open, and the curve between them "
        f"{_percent(made.between_mm3 / volume_mm3)}."
    )
    inputs: dict[str, float | str] = {
        "readings": float(count),
        "reading_mm": form.reading_mm,
        "open_by_readings_ml": made.reading_mm3 / 1000.0,
        "open_between_readings_ml": made.between_mm3 / 1000.0,
        "section": form.section.kind,
    }
    low, high = ((1.0 + sign * share) * volume_mm3 / 1000.0 for sign in (-1.0, 1.0))
    working = Figure(
        "ml",
        "areas of the level cuts over the height, piecewise cubic between readings; interval = root of "
        "squares of what the readings and what the curve between them leave open",
        "pappus" if form.section.kind == "round" else "geometry",
        inputs,
        low,
        high,
    )
    steps = [Repair("turn", count, 0.0, "mm", _form_words(form))]
    if form.tubes:
        tubes_ml = made.tubes_mm3 / 1000.0
        names = " and ".join(sorted({tube.name for tube in form.tubes}))
        steps.append(
            Repair("sweep", len(form.tubes), made.tubes_mm3, "mm3", f"Added {names}, {tubes_ml:.0f} ml.")
        )
    return ObjectFile(
        name=name,
        measuring=Measuring(
            "calipers",
            says,
            VolumeBand(share, share),
            VolumeBand(closed, closed) if form.inside else None,
            ("Readings say nothing of carving, dents or a form that is out of round between them.",),
        ),
        volume_ml=volume_mm3 / 1000.0,
        mesh=made.mesh,
        extent_mm=extent_of(made.mesh),
        mass_g=mass_g,
        steps=tuple(steps),
        working={"/volume_ml": working},
    )


def _form_words(form: Form) -> str:
    kind = {"round": "round", "oval": "oval", "superellipse": "superellipse", "rectangle": "rectangular"}
    body = f"Turned a {kind[form.section.kind]} form {form.outside[-1].height_mm:g} mm high"
    if form.inside:
        body += f", hollow from {form.inside[0].height_mm:g} mm up, with a {form.lip} lip"
    if form.foot_deep_mm > 0.0:
        body += f", on a foot ring {form.foot_deep_mm:g} mm deep"
    return f"{body}."


def _percent(share: float) -> str:
    return say_share(share, 2 if share < 0.01 else 1)
