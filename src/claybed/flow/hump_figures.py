"""A hump in figures: the bed round its vessel, the plinth, what the vessel bears, how steep the sides are."""

from __future__ import annotations

import math

import numpy as np

from claybed.bench.telling import weighed, worked
from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.levels import volume_above_mm3
from claybed.geometry.mesh import Mesh, Origin
from claybed.materials import shelf
from claybed.physics.pressure import head_pressure_Pa
from claybed.pours.mixing import slurry_g_per_ml
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.records.hump import Hump
from claybed.records.measured import HollowReading, MeasuredObject
from claybed.units import say_area, say_length


def hump_of(obj: MeasuredObject, assembly: Assembly, brief: Brief) -> Hump | None:
    """The figures of a hump; None for any other mold. Reads `consistency` and `made_of` of the brief.

    Sand reaches up to a layer of clay that is level with the rim. Sources: geometry, practice, hydrostatics.
    """
    hollow = obj.hollow
    if hollow is None or not assembly.hump:
        return None
    ledge_mm, top_mm = assembly.level_mm, float(assembly.outer_mm[-1])
    layer_mm = shelf.value("practice", "hump_bed_clay_mm")
    sand_mm = max(0.0, ledge_mm - layer_mm.value)
    x, y = (assembly.footprint / XY_PER_MM).T
    plan_mm2 = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2.0)
    filling = obj.mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    vessel = hollow.vessel.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    sand_ml = _round_it_ml(filling, vessel, plan_mm2, 0.0, sand_mm)
    clay_ml = _round_it_ml(filling, vessel, plan_mm2, sand_mm, ledge_mm)
    piece_ml = assembly.pieces[0].solid.volume_mm3 / 1000.0
    plinth_ml = plan_mm2 * (top_mm - ledge_mm) / 1000.0
    low_mm = float(filling.vertices_mm[:, 2].min())
    slurry = 1000.0 * slurry_g_per_ml(brief.consistency)
    steep_cm2, sides_cm2 = _steep_cm2(filling)
    plan_given: dict[str, float | str] = {"plan_mm2": plan_mm2}
    return Hump(
        ledge_from_board_mm=worked(ledge_mm, "mm", "highest place of the rim above the board", "geometry"),
        sand_from_board_mm=worked(
            sand_mm,
            "mm",
            "rim above the board - layer of clay",
            "practice",
            {"ledge_from_board_mm": ledge_mm, "hump_bed_clay_mm": layer_mm.value},
        ),
        vessel_mm=worked(hollow.height_mm, "mm", "foot of the vessel to its rim", "geometry"),
        hump_mm=worked(ledge_mm - low_mm, "mm", "ledge to the top of the hump", "geometry"),
        ledge_mm=worked(assembly.wall_mm, "mm", assembly.wall_reason, "practice"),
        plinth_mm=worked(
            top_mm - ledge_mm,
            "mm",
            "fill line - ledge: as wide as the ledge, and up to a whole step of a ruler",
            "practice",
            {"fill_from_board_mm": top_mm, "ledge_from_board_mm": ledge_mm},
        ),
        rise_mm=worked(
            hollow.rim_high_mm - hollow.rim_low_mm, "mm", "highest - lowest place of the rim", "geometry"
        ),
        hollow_ml=worked(piece_ml - plinth_ml, "ml", "volume of the piece - plinth", "geometry"),
        plinth_ml=worked(plinth_ml, "ml", "plan of the form x height of the plinth", "geometry", plan_given),
        sand_ml=worked(
            sand_ml,
            "ml",
            "plan of the form x height of the sand - vessel and its inside",
            "geometry",
            plan_given,
        ),
        sand_g=weighed(
            sand_ml,
            "clay",
            "dry_sand_bulk_density_g_per_ml",
            "sand_ml x bulk density of dry sand",
            called="sand_ml",
        ),
        clay_ml=worked(
            clay_ml, "ml", "plan of the form x layer of clay - vessel and its inside", "geometry", plan_given
        ),
        head_kpa=worked(
            head_pressure_Pa((top_mm - low_mm) / 1000.0, liquid_kg_per_m3=slurry) / 1000.0,
            "kPa",
            "density of the slurry x g x fill line above the deepest place of the inside",
            "hydrostatics",
            {"slurry_kg_per_m3": slurry, "depth_mm": top_mm - low_mm},
        ),
        steep_cm2=worked(
            steep_cm2,
            "cm2",
            "faces of the hump with less draft than hump_draft_least_deg",
            "geometry",
            {"hump_draft_least_deg": shelf.value("practice", "hump_draft_least_deg").value},
        ),
        findings=_findings(hollow, brief, steep_cm2, sides_cm2),
    )


def hump_findings(obj: MeasuredObject, assembly: Assembly, brief: Brief) -> tuple[Finding, ...]:
    """What to mind of a hump; nothing for any other mold."""
    found = hump_of(obj, assembly, brief)
    return () if found is None else found.findings


def _round_it_ml(filling: Mesh, vessel: Mesh, plan_mm2: float, from_mm: float, to_mm: float) -> float:
    """What fits round a vessel between two heights, ml: neither its wall nor its inside."""

    def within_mm3(mesh: Mesh) -> float:
        return volume_above_mm3(mesh, from_mm) - volume_above_mm3(mesh, to_mm)

    # A vessel drawn as one sheet is its own inside.
    thick = abs(vessel.volume_mm3 - filling.volume_mm3) > 1e-9 * filling.volume_mm3
    taken_mm3 = within_mm3(filling) + (within_mm3(vessel) if thick else 0.0)
    return max(0.0, plan_mm2 * (to_mm - from_mm) - taken_mm3) / 1000.0


def _steep_cm2(filling: Mesh) -> tuple[float, float]:
    """Area of the inside with too little draft, and of its sides steeper than one in one, cm²."""
    c = filling.corners_mm[filling.origin != Origin.MOUTH]
    cross = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    twice = np.linalg.norm(cross, axis=1)
    sine = np.abs(cross[:, 2]) / np.maximum(twice, 1e-12)
    least = math.sin(math.radians(shelf.value("practice", "hump_draft_least_deg").value))
    steep = sine < least
    sides = sine < math.sqrt(0.5)
    return float(twice[steep].sum()) / 200.0, float(twice[sides].sum()) / 200.0


def _findings(hollow: HollowReading, brief: Brief, steep_cm2: float, sides_cm2: float) -> tuple[Finding, ...]:
    found = []
    rise_mm = hollow.rim_high_mm - hollow.rim_low_mm
    if rise_mm > shelf.value("practice", "rim_level_mm").value:
        found.append(
            Finding(
                id="rim_uneven",
                severity="look",
                where="the rim",
                says=f"The rim is {say_length(rise_mm)} out of level.",
                remedy="Build its low places up with a strip of clay to the level of the highest, flush with "
                "the inside, before the plaster is poured; ware is trimmed level there.",
                amount=Amount(rise_mm, "mm"),
            )
        )
    if steep_cm2 > shelf.value("practice", "hump_steep_ratio").value * sides_cm2 and steep_cm2 > 1.0:
        least = shelf.value("practice", "hump_draft_least_deg").value
        found.append(
            Finding(
                id="hump_steep",
                severity="look",
                where="the sides of the hump",
                says=f"{say_area(steep_cm2)} of its sides lean by less than {least:g}° towards the plinth.",
                remedy="Clay closes on steep sides as it dries: lift the ware early, ease it with a "
                "thin sheet of damp cloth laid over the hump first, or choose a vessel that opens wider.",
                amount=Amount(steep_cm2, "cm2"),
            )
        )
    if brief.made_of in ("pla", "wax", "oil_clay"):
        found.append(
            Finding(
                id="vessel_softens",
                severity="look",
                where="the vessel",
                says="The vessel softens when it gets warm, and plaster heats up inside it as it sets.",
                remedy="Pack the sand tight against it up to the rim, mix with cool water, and leave it "
                "in the sand until the plaster has cooled.",
            )
        )
    return tuple(found)
