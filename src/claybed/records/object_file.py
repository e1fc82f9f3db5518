"""What one object file holds: an object, how it was measured, and how well it is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from claybed.geometry.mesh import Mesh
from claybed.records.figure import Figure
from claybed.records.finding import Finding
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring

OBJECT_SCHEMA: Final = "claybed-object-1"
# The entries of the archive. The description comes first and lies uncompressed, so that the first bytes of
# the file say what it is.
DESCRIPTION: Final = "object.json"
MESH: Final = "mesh.ply"
SUFFIX: Final = ".claybed"


@dataclass(frozen=True, slots=True, eq=False)
class ObjectFile:
    """An object as it is written to a file. Millimetres, z up.

    `mesh` closed and outward, or None when only volume and weight are known; `volume_ml` what displaces
    plaster; `extent_mm` size along x, y and z, None when unknown; `mass_g` weighed, or None; `steps` what was
    done to get there, in order; `findings` what a person should know of it, wherever it is used; `working`
    figures by JSON pointer ("/volume_ml") that replace the usual ones.
    """

    name: str
    measuring: Measuring
    volume_ml: float
    mesh: Mesh | None = None
    extent_mm: tuple[float, float, float] | None = None
    mass_g: float | None = None
    steps: tuple[Repair, ...] = ()
    findings: tuple[Finding, ...] = ()
    working: Mapping[str, Figure] = field(default_factory=dict)
