"""Whether a solid is hollow ware drawn with its wall, whose outside is what a mold is made of."""

from __future__ import annotations

import numpy as np

from claybed.geometry.mesh import Mesh
from claybed.geometry.proxy import proxy
from claybed.intake.basin import largest_basin
from claybed.intake.hole_places import place_words
from claybed.intake.mouth import SIX_WAYS, WAY_NAMES, holes_of
from claybed.intake.skin import Skin
from claybed.materials import shelf
from claybed.records.brief import Vector
from claybed.records.finding import Amount, Finding
from claybed.units import say_count, say_opening, say_volume

# What a vessel holds is told well enough by so many faces.
FACES = 6000


def hollow_findings(mesh: Mesh, up: Vector) -> tuple[Finding, ...]:
    """What to say of a closed mesh (mm) that holds water standing with `up` upward, or else with one of the
    six axes upward: that its outside can be molded alone.

    Said when it holds more than a share of its own volume. Source: materials/practice
    (hollow_fill_fraction).
    """
    light = proxy(mesh, FACES)
    skin = Skin.of(np.array(light.vertices_mm), light.faces.astype(np.int64))
    least_mm3 = shelf.value("practice", "hollow_fill_fraction").value * mesh.volume_mm3
    asked = np.asarray(up, np.float64) / float(np.linalg.norm(up))
    ways = [("", asked), *((name, np.asarray(way)) for name, way in zip(WAY_NAMES, SIX_WAYS, strict=True))]
    for name, way in ways:
        if name and float(way @ asked) > 1.0 - 1e-9:
            continue
        basin = largest_basin(skin, way)
        if basin is None or basin.held_mm3 <= least_mm3:
            continue
        held_ml = basin.held_mm3 / 1000.0
        stands = f" with {name} upward" if name else ""
        return (
            Finding(
                id="hollow_ware",
                severity="look",
                where="the inside",
                says=f"Standing{stands} it holds {say_volume(held_ml)}, "
                f"{basin.held_mm3 / mesh.volume_mm3:.1f} times its own volume: as it is, plaster would fill "
                "that inside too.",
                remedy="If it is hollow ware, add --mouth: then its outside is molded, and slip or clay "
                "makes the wall. A dish that nowhere narrows towards its rim then leaves one open block, "
                "to press or slump into; or with --open hump its inside is filled, to drape clay over.",
                amount=Amount(held_ml, "ml"),
            ),
        )
    return _pierced(mesh, up)


def _pierced(mesh: Mesh, up: Vector) -> tuple[Finding, ...]:
    """What to say of a vessel that holds nothing because of the holes through its wall."""
    holes = holes_of(Skin.of(np.array(mesh.vertices_mm), mesh.faces.astype(np.int64)), up, "")
    if not holes:
        return ()
    first = f"{say_opening(holes[0].width_mm, holes[0].length_mm)}, {place_words(holes[0])}"
    many = len(holes) > 1
    return (
        Finding(
            id="pierced_ware",
            severity="look",
            where="the inside",
            says=f"It holds no water, but would with {say_count(len(holes), 'hole')} closed "
            f"({'the first ' if many else ''}{first}): as it is, plaster would fill its inside too.",
            remedy="If it is hollow ware, add --close-holes: then its outside is molded, the holes closed "
            "flush, and the plan tells where and how wide to cut them in the leather-hard ware.",
            at_mm=holes[0].at_mm,
        ),
    )
