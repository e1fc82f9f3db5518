"""Whether an object has any thickness to speak of: a sheet that was drawn without one is no body to mold."""

from __future__ import annotations

from claybed.errors import InputError
from claybed.geometry.mesh import Mesh
from claybed.materials import shelf
from claybed.records.finding import Amount, Finding

# Ten steps of the lattice that molds are cut on: a thinner body is lost between its coordinates.
FOIL_MM = 0.01


def thin_findings(mesh: Mesh, where: str) -> tuple[Finding, ...]:
    """What to say of a closed mesh (mm) that is thinner on the mean than ware can be: twice its volume over
    its surface, which is the thickness of a wide plate.

    Raises InputError for one that is thinner than coordinates of a mold can hold. Source:
    materials/practice (ware_thinnest_mm).
    """
    thick_mm = 2.0 * mesh.volume_mm3 / mesh.area_mm2
    if thick_mm < FOIL_MM:
        raise InputError(
            f"is a foil, {thick_mm:.2g} mm thick on the mean: there is no body to mold.",
            where=where,
            remedy="Give the surface a thickness where it was drawn, or check --unit.",
        )
    if thick_mm >= shelf.value("practice", "ware_thinnest_mm").value:
        return ()
    return (
        Finding(
            id="object_thin",
            severity="look",
            where="the whole object",
            says=f"It is {thick_mm:.2g} mm thick on the mean, thinner than any ware.",
            remedy="Check --unit, or give the surface the thickness of its wall where it was drawn.",
            amount=Amount(thick_mm, "mm"),
        ),
    )
