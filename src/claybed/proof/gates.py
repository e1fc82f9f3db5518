"""Whether the mold is open where its gate is: the model reaches the block's outside there."""

from __future__ import annotations

import math

import numpy as np

from claybed.geometry.lattice import lattice_mm
from claybed.proof.adjoining import on_outside
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.finding import Check

# A round bore of flat faces is so much smaller than its circle, and no more.
FLATS_SHARE = 0.95
# Whether a mouth or an open face is wide enough is asked elsewhere; here, whether there is any.
LEAST_MM = 1.0


def gate_open(assembly: Assembly) -> list[Check]:
    """The check that the model's faces in the block's outside are no smaller than the gate's bore; empty for
    a mold without a gate.

    That the way from there to the object is not interrupted is what the model's being one body says.
    """
    gate = assembly.gate
    if gate.kind == "none":
        return []
    model = assembly.model
    corner = lattice_mm(model.points)[model.faces[on_outside(model, assembly)]]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    open_mm2 = float(np.linalg.norm(across, axis=1).sum()) / 2.0
    round_bore = math.isfinite(gate.bore_mm) and gate.bore_mm > 0.0
    limit_mm = FLATS_SHARE * gate.bore_mm if round_bore else LEAST_MM
    wide_mm = math.sqrt(4.0 * open_mm2 / math.pi)
    ok = wide_mm >= limit_mm
    return [
        Check(
            id="gate_open",
            ok=ok,
            measured=wide_mm,
            limit=limit_mm,
            unit="mm",
            sense="least",
            where=f"the gate, {in_words(gate.at_mm, assembly)}",
            how="a circle as large as what of the model lies in the block's outside",
            remedy="" if ok else "Plan again: slip and clay have no way into this mold.",
            at_mm=gate.at_mm,
        )
    ]
