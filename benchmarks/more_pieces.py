"""A mold of three pieces against one of two, of the same mug, at the same pull.

Run as `python benchmarks/more_pieces.py [--sizes 20000,100000] [--repeats 3]`. The mug has a foot ring and a
ring handle; two pieces leave the hollow under the foot to fill, three do not. Cutting and proving are timed,
survey and compiling are not; the two take turns. Seconds are those of the processors, which a busy machine
does not lengthen. What a plan of three may take is four times that of two.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from dataclasses import replace

import manifold3d
import numpy as np

from claybed.flow.course import plan_all_pours
from claybed.flow.molding import make_mold
from claybed.geometry.mesh import Mesh
from claybed.proof.evidence import prove
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject, MendSummary, UnitReading
from claybed.records.surveyed import MoldOption
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


def thing(mesh: Mesh) -> MeasuredObject:
    """The mug as intake hands it on."""
    x, y, z = (float(v) for v in np.ptp(mesh.vertices_mm, axis=0))
    return MeasuredObject(
        name="mug",
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


def run(obj: MeasuredObject, found: object, option: MoldOption, brief: Brief) -> tuple[float, float, int]:
    """Processor seconds to cut, to prove, and how many checks fail."""

    def quiet(step: str, part: float) -> None:
        return None

    begun = time.process_time()
    molded = make_mold(obj, replace(found, options=(option,)), brief, progress=quiet)  # type: ignore[type-var]
    cut = time.process_time()
    poured = plan_all_pours(obj, molded.assembly, brief)
    wet_kg = {pour.piece: pour.wet_kg for pour in poured.pours}
    checks = prove(molded.assembly, obj.mesh, brief, wet_kg, progress=quiet)
    return cut - begun, time.process_time() - cut, sum(not check.ok for check in checks)


def main() -> int:
    """Time both and print one line for each size."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("--sizes", default="20000,100000")
    words.add_argument("--repeats", type=int, default=3)
    asked = words.parse_args()
    brief = Brief(axis=LEVEL, max_fill_ml=1000.0, up=UPRIGHT)
    fine = True
    for size in (0, *(int(text) for text in asked.sizes.split(","))):
        obj = thing(mug(size or 5000))
        found = survey(obj, brief, progress=lambda step, part: None)
        two = replace(found.options[0], fill_ml=found.chosen.fill_ml)
        three = MoldOption("several", LEVEL, 0.0, 0.0, "", sides=((0.0, 0.0, -1.0),))
        times: dict[str, list[tuple[float, float, int]]] = {"two": [], "three": []}
        for _ in range(1 if not size else asked.repeats):
            times["two"].append(run(obj, found, two, replace(brief, pieces=2)))
            times["three"].append(run(obj, found, three, replace(brief, pieces=3)))
        if not size:
            continue
        sums = {name: statistics.median(a + b for a, b, _ in rows) for name, rows in times.items()}
        proof_s = statistics.median(b for _, b, _ in times["three"])
        ratio = sums["three"] / sums["two"]
        fine &= ratio <= MOST_TIMES
        failed = max(bad for _, _, bad in times["three"])
        print(
            f"{len(obj.mesh.faces):7d} triangles: two {sums['two']:.2f} s, three {sums['three']:.2f} s, "
            f"{ratio:.2f} times (at most {MOST_TIMES:g}); proof of three {proof_s:.2f} s, "
            f"{failed} checks fail"
        )
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
