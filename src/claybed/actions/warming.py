"""Compiling the number kernels, once on a machine, and saying so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from claybed.flow.course import run_course
from claybed.flow.store import NoStore
from claybed.geometry.carving import triangles
from claybed.geometry.forming import box, closed
from claybed.geometry.level_lines import side_kernel_cache
from claybed.geometry.mesh import Mesh
from claybed.geometry.overlap import kernel_cache
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject, MendSummary, UnitReading

Progress = Callable[[str, float], None]
STEPS = ("survey", "mold", "pours", "proof")


def warm_up(progress: Progress, *, more_pieces: bool = False) -> bool:
    """Compile the kernels by planning a small drilled wedge when none are kept yet; return whether it was so.

    With `more_pieces` those that side pieces are cut with as well. `progress` is told "compiling" and a
    fraction that never falls. The compiled kernels are kept beside the program or in the user's cache, so
    that later runs start at once.
    """
    briefs = [] if _kept(kernel_cache()) else [Brief()]
    if more_pieces and not _kept(side_kernel_cache()):
        # With a pull given little has to be looked for.
        briefs.append(Brief(pieces=3, axis=(0.0, 0.0, 1.0)))
    if not briefs:
        return False
    reached = 0.0
    progress("compiling", reached)
    for number, brief in enumerate(briefs):

        def said(step: str, fraction: float, number: int = number) -> None:
            nonlocal reached
            if step in STEPS:
                part = (STEPS.index(step) + fraction) / len(STEPS)
                # A mold that is cut anew begins its step again.
                reached = max(reached, (number + part) / len(briefs))
                progress("compiling", reached)

        run_course(lambda brief, tell: _wedge(), brief, "", NoStore(), said)
    progress("compiling", 1.0)
    return True


def _kept(cache: tuple[str, str]) -> bool:
    folder, pattern = cache
    return any(Path(folder).glob(pattern))


def _wedge() -> MeasuredObject:
    """A block of 60 x 50 x 40 mm that narrows upwards, without a symmetry for axes to tie on; a hole in one
    side locks.
    """
    low = [[0.0, 0.0, 0.0], [60.0, 0.0, 0.0], [60.0, 50.0, 0.0], [0.0, 50.0, 0.0]]
    high = [[6.0, 4.0, 40.0], [52.0, 5.0, 40.0], [54.0, 44.0, 40.0], [5.0, 45.0, 38.0]]
    faces = [
        [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
        [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ]  # fmt: skip
    drilled = closed(np.array([*low, *high]), np.array(faces)) - box([40.0, 20.0, 15.0], [70.0, 28.0, 23.0])
    mesh = Mesh.make(*triangles(drilled), frame="object")
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
