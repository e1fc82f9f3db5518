"""Compiling the number kernels, once on a machine, and saying so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from claybed.flow.course import run_course
from claybed.flow.store import NoStore
from claybed.geometry.mesh import Mesh
from claybed.geometry.overlap import kernel_cache
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject, MendSummary, UnitReading

Progress = Callable[[str, float], None]
STEPS = ("survey", "mold", "pours", "proof")


def warm_up(progress: Progress) -> bool:
    """Compile the kernels by planning a small wedge when none are kept yet; return whether it was needed.

    `progress` is told "compiling" and a fraction. The compiled kernels are kept beside the program or in the
    user's cache, so that later runs start at once.
    """
    folder, pattern = kernel_cache()
    if any(Path(folder).glob(pattern)):
        return False
    progress("compiling", 0.0)

    def said(step: str, fraction: float) -> None:
        if step in STEPS:
            progress("compiling", (STEPS.index(step) + fraction) / len(STEPS))

    run_course(lambda brief, tell: _wedge(), Brief(), "", NoStore(), said)
    progress("compiling", 1.0)
    return True


def _wedge() -> MeasuredObject:
    """A block of 60 x 50 x 40 mm that narrows upwards, without a symmetry for axes to tie on."""
    low = [[0.0, 0.0, 0.0], [60.0, 0.0, 0.0], [60.0, 50.0, 0.0], [0.0, 50.0, 0.0]]
    high = [[6.0, 4.0, 40.0], [52.0, 5.0, 40.0], [54.0, 44.0, 40.0], [5.0, 45.0, 38.0]]
    faces = [
        [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
        [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ]  # fmt: skip
    mesh = Mesh.make(np.array([*low, *high]), np.array(faces), frame="object")
    size = np.ptp(mesh.vertices_mm, axis=0)
    return MeasuredObject(
        name="wedge",
        mesh=mesh,
        unit=UnitReading("mm", 1.0, "asked", ""),
        solid_ml=mesh.volume_mm3 / 1000.0,
        area_cm2=mesh.area_mm2 / 100.0,
        extent_mm=(float(size[0]), float(size[1]), float(size[2])),
        repairs=(),
        mend=MendSummary(0.0, 0.0),
        mouth=None,
        mass_g=None,
        volume_rel_95=0.0,
        findings=(),
    )
