"""A pressing from plain numbers or from a plan folder, with the working of every figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from claybed.actions.plan_folders import figure_of, read_ware_plan
from claybed.errors import InputError
from claybed.flow.ware_document import document_of
from claybed.materials.bodies import body as body_named
from claybed.materials.shelf import Constant
from claybed.ware.advice import press_findings
from claybed.ware.pressing import plan_press, slab_for
from claybed.ware.reckoning import Input


@dataclass(frozen=True, slots=True)
class PressWish:
    """What was told of a pressing: `area_cm2` of clay, `slab_mm` thick, `pieces` slabs, `seam_mm` of joint,
    `block_kg` of a bag, usual `wait_min`, `press_number` in a row, or a `plan` folder.
    """

    area_cm2: float | None = None
    slab_mm: float | None = None
    pieces: int | None = None
    seam_mm: float | None = None
    block_kg: float | None = None
    wait_min: float | None = None
    press_number: int = 1
    body: str | None = None
    studio: str = ""
    plan: Path | None = None


def press_document(wish: PressWish) -> dict[str, Any]:
    """Return a pressing as one plain document, unrounded. Raises InputError when the area is not known."""
    area: Input | None = wish.area_cm2
    seam: Input | None = wish.seam_mm
    pieces, slab = wish.pieces, wish.slab_mm
    usual: Input = slab_for(0.0)
    draped = False
    if wish.plan is not None:
        plan = read_ware_plan(wish.plan)
        draped = bool(plan["mold"].get("hump"))
        if area is None:
            area = _draped_cm2(plan) if draped else figure_of(plan, "/ware/measures/cavity_cm2")
        seam = figure_of(plan, "/ware/measures/seam_mm") if seam is None else seam
        pieces = len(plan["pieces"]) if pieces is None else pieces
        usual = slab_for(max(float(side) for side in plan["object"]["extent_mm"]))
    if area is None:
        raise InputError("a pressing needs its area.", where="press", remedy="Give --area 600cm2, or a plan.")
    press = plan_press(
        area,
        slab_mm=usual if slab is None else slab,
        seam_mm=seam,
        pieces=pieces or 1,
        block_kg=wish.block_kg,
        wait_min=wish.wait_min,
        press_number=wish.press_number,
        body=None if wish.body is None else body_named(wish.body, wish.studio),
    )
    return document_of(press, findings=press_findings(press, draped=draped)) | {"draped": draped}


def _draped_cm2(plan: Mapping[str, Any]) -> Constant:
    """What a slab on a plan's hump takes, cm²: more than the hump's own face, since it lies outside it."""
    bare = figure_of(plan, "/ware/measures/cavity_cm2")
    taken = plan.get("figures", {}).get("/ware/press/clay_g", {}).get("inputs", {}).get("area_cm2")
    return bare if not isinstance(taken, int | float) else replace(bare, value=taken, low=taken, high=taken)
