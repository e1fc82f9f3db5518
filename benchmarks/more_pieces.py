"""Molds of three and four pieces against one of two, of the same object, at the same pull.

Run as `python benchmarks/more_pieces.py [--sizes 20000,100000] [--repeats 3]`. Three pieces are those of a
mug with a foot ring and a ring handle: two leave the hollow under the foot to fill, three do not. Four are
those of a cube with blind holes in three faces. The first ratio is of cutting and proving alone, at pulls
that are given. The second adds the survey as it is when no pull is given and so many pieces are asked for; it
is made once for each. The molds take turns; compiling is left out. Seconds are those of the processors, which
a busy machine does not lengthen; the least of the repeats counts. What more pieces may take is four times
what two do.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import replace

# As in the process that the command starts.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import manifold3d
import numpy as np

from claybed.flow.course import plan_all_pours
from claybed.flow.searching import make_mold
from claybed.geometry.mesh import Mesh
from claybed.proof.evidence import prove
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject, MendSummary, UnitReading
from claybed.records.surveyed import MoldOption, Survey
from claybed.survey.surveying import survey

UPRIGHT, LEVEL = (0.0, 0.0, 1.0), (0.0, 1.0, 0.0)
MOST_TIMES = 4.0


def mug(triangles: int) -> Mesh:
    """A solid mug on a foot ring with about this many triangles."""
    sides = max(48, int(np.sqrt(triangles / 4.0)) * 2)
    rows = max(12, triangles // (3 * sides))
    t = np.linspace(0.05, 1.0, rows)
    wall = np.stack([24.3 + 14.0 * np.sin(t * np.pi / 2.0), 3.0 + 87.0 * t], axis=1)
    foot = [[0.0, 4.0], [17.0, 4.0], [19.0, 0.0], [24.0, 0.0], [24.3, 3.0]]
    outline = manifold3d.CrossSection([np.vstack([foot, wall, [[0.0, 90.0]]])])
    body = manifold3d.Manifold.revolve(outline, sides)
    ring = manifold3d.CrossSection.circle(4.5, max(24, sides // 4)).translate((20.0, 0.0))
    handle = manifold3d.Manifold.revolve(ring, max(48, sides // 2)).rotate((90.0, 0.0, 0.0))
    out = (body + handle.translate((40.0, 0.0, 48.0))).to_mesh64()
    return Mesh.make(np.asarray(out.vert_properties)[:, :3], np.asarray(out.tri_verts), frame="object")


def drilled_cube(triangles: int) -> Mesh:
    """A cube of 60 mm with blind holes in three faces, its faces parted to about this many triangles."""
    cube = manifold3d.Manifold.cube((60.0, 60.0, 60.0), True)
    hole = manifold3d.Manifold.cylinder(16.0, 8.0, 8.0, 96).translate((0.0, 0.0, 15.0))
    for turn in ((0.0, 0.0, 0.0), (-90.0, 0.0, 0.0), (0.0, 90.0, 0.0)):
        cube = cube - hole.rotate(turn)
    out = cube.refine_to_length(60.0 * np.sqrt(15.0 / triangles)).to_mesh64()
    return Mesh.make(np.asarray(out.vert_properties)[:, :3], np.asarray(out.tri_verts), frame="object")


def thing(mesh: Mesh, name: str = "mug") -> MeasuredObject:
    """An object as intake hands it on."""
    x, y, z = (float(v) for v in np.ptp(mesh.vertices_mm, axis=0))
    return MeasuredObject(
        name=name,
        mesh=mesh,
        unit=UnitReading("mm", 1.0, "asked", ""),
        solid_ml=mesh.volume_mm3 / 1000.0,
        area_cm2=mesh.area_mm2 / 100.0,
        extent_mm=(x, y, z),
        repairs=(),
        mend=MendSummary(0.0, 0.0),
        mouth=None,
        mass_g=None,
        volume_rel_95=0.0,
        findings=(),
    )


def run(obj: MeasuredObject, found: Survey, option: MoldOption, brief: Brief) -> tuple[float, float, int]:
    """Processor seconds to cut, to prove, and how many checks fail."""

    def quiet(step: str, part: float) -> None:
        return None

    begun = time.process_time()
    molded = make_mold(obj, replace(found, options=(option,)), brief, progress=quiet)
    cut = time.process_time()
    poured = plan_all_pours(obj, molded.assembly, brief)
    wet_kg = {pour.piece: pour.wet_kg for pour in poured.pours}
    checks = prove(molded.assembly, obj.mesh, brief, wet_kg, progress=quiet)
    return cut - begun, time.process_time() - cut, sum(not check.ok for check in checks)


def compare(obj: MeasuredObject, found: Survey, more: MoldOption, brief: Brief, repeats: int) -> bool:
    """Time both molds in turn, the one of two as it was found, print one line, and say whether both ratios
    are within bounds.
    """
    two = found.options[0]
    count = len(more.sides) + 2
    asked = {n: replace(brief, pieces=n) for n in (2, count)}
    surveys: dict[int, float] = {}
    times: dict[int, list[tuple[float, float, int]]] = {2: [], count: []}
    for n in (2, count):
        begun = time.process_time()
        survey(obj, replace(asked[n], axis=None), progress=lambda step, part: None)
        surveys[n] = time.process_time() - begun
    for _ in range(repeats):
        for n, option in ((2, two), (count, more)):
            times[n].append(run(obj, found, option, asked[n]))
    least = {n: min(cut + proof for cut, proof, _ in rows) for n, rows in times.items()}
    ratio = least[count] / least[2]
    whole = (least[count] + surveys[count]) / (least[2] + surveys[2])
    proof_s = min(proof for _, proof, _ in times[count])
    failed = max(bad for _, _, bad in times[count])
    print(
        f"{obj.name}, {len(obj.mesh.faces)} triangles: two {least[2]:.2f} s, {count} pieces "
        f"{least[count]:.2f} s, {ratio:.2f} times (at most {MOST_TIMES:g}); proof of these {proof_s:.2f} s, "
        f"{failed} checks fail; survey {surveys[2]:.2f} and {surveys[count]:.2f} s, "
        f"with it {whole:.2f} times",
        flush=True,
    )
    return ratio <= MOST_TIMES and whole <= MOST_TIMES


def main() -> int:
    """Time three and four pieces against two, one line for each size."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("--sizes", default="20000,100000")
    words.add_argument("--repeats", type=int, default=3)
    asked = words.parse_args()
    fine = True
    for make, name, pull, sides in (
        (mug, "mug", LEVEL, ((0.0, 0.0, -1.0),)),
        (drilled_cube, "drilled cube", (1.0, 0.0, 0.0), ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0))),
    ):
        brief = Brief(axis=pull, max_fill_ml=1000.0, up=UPRIGHT)
        more = MoldOption("several", pull, 0.0, 0.0, "", sides=sides)
        for size in (0, *(int(text) for text in asked.sizes.split(","))):
            obj = thing(make(size or 5000), name)
            found = survey(obj, replace(brief, pieces=2), progress=lambda step, part: None)
            if size:
                fine &= compare(obj, found, more, brief, asked.repeats)
            else:
                for option in (found.options[0], more):
                    run(obj, found, option, replace(brief, pieces=2 + len(option.sides)))
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
