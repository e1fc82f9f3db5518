"""What should lie ready before the first pour: materials with their amounts, then tools."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from claybed.materials import shelf
from claybed.sheets.bench_words import base_size
from claybed.sheets.gate_plug import has_plug
from claybed.sheets.hump_pages import hump_of
from claybed.sheets.pour_words import across, board_counts, bucket_words, from_the_rim, seals
from claybed.units import G_PER_LB, say_length, say_volume
from claybed.wording import clay_words, rough_mass, ruler


def things(plan: Mapping[str, Any], us: bool) -> list[str]:
    """Everything that the steps of a plan take up, each as a few words; amounts are for all pours."""
    return [*_materials(plan, us), *_sides(plan, us), *_tools(plan, us)]


def _materials(plan: Mapping[str, Any], us: bool) -> list[str]:
    plaster = _in_stock(sum(pour["plaster_g"] for pour in plan["pours"]), us)
    found = [f"pottery plaster, {plaster} or more"]
    bed = plan.get("bed")
    coil_mm = sum((pour.get("form") or {}).get("coil_mm") or 0.0 for pour in plan["pours"])
    packing = (plan["pours"][0].get("hold") or {}).get("packing")
    clay_g = (bed["clay_g"] if bed else 0.0) + _coil_g(coil_mm) + (packing["clay_g"] if packing else 0.0)
    found.append(f"water clay, {_in_stock(clay_g, us)}" if clay_g > 0.0 else "water clay")
    if hump := hump_of(plan):
        found.append(f"dry sand, {_in_stock(hump['sand_g'], us)}")
    fill_g = sum(spot["clay_g"] for spot in (plan.get("pose") or {}).get("fill") or [])
    bore = has_plug(plan)
    if fill_g > 0.0 or bore:
        why = [clay_words(fill_g, us=us)] if fill_g > 0.0 else []
        found.append(f"oil clay, {' and '.join([*why, *([_plug(plan, us)] if bore else [])])}, some to spare")
    names: list[str] = []
    for step in (plan.get("release") or {}).get("steps", []):
        name = str(step["what"]).partition(",")[0]
        names.append(f"{name} to seal" if seals(step) else f"{name} for release")
    found += dict.fromkeys(names)
    if not any(name.endswith("to seal") for name in names):
        found.append("shellac or varnish, if it drinks")
    hold = plan["pours"][0].get("hold") or {}
    if plan["object"].get("floats_in_slurry"):
        fitting = [b for b in hold.get("ballast") or [] if b.get("fits") is not False and b.get("needed_ml")]
        or_else = "" if hold.get("room_ml") else ", or a long screw and its driver"
        found += [f"{b['what']}, {say_volume(b['needed_ml'], us=us)}{or_else}" for b in fitting[:1]]
        bore_mm = (plan["mold"].get("gate") or {}).get("bore_mm")
        if fitting and bore_mm and bore:
            found.append(f"drill bit or knife for a hole of {ruler(bore_mm, us)}, bent wire")
    return found


def _coil_g(length_mm: float) -> float:
    """Clay of a round coil, g."""
    across_mm = shelf.value("bench", "coil_thickness_mm").value
    density = shelf.value("clay", "bed_clay_density_g_per_ml").value
    return density * math.pi * across_mm**2 / 4.0 * length_mm / 1000.0


def _in_stock(grams: float, us: bool) -> str:
    """What is bought or fetched: a tenth more for spills, up to the next half kilogram or pound."""
    share = shelf.value("bench", "stock_ratio").value
    step_g = G_PER_LB if us else 500.0
    return rough_mass(math.ceil(share * grams / step_g) * step_g, us=us)


def _plug(plan: Mapping[str, Any], us: bool) -> str:
    spare_ml = plan["mold"]["gate"].get("spare_ml")
    more = " and a skin for the mouth" if plan["mold"]["gate"].get("kind") == "mouth" else ""
    return f"the gate plug ({say_volume(spare_ml, us=us)}){more}" if spare_ml else f"the gate plug{more}"


def _sides(plan: Mapping[str, Any], us: bool) -> list[str]:
    boards: dict[str, int] = {}
    bands: list[str] = []
    for pour in plan["pours"]:
        form = pour.get("form") or {}
        for size, count in board_counts(form, us).items():
            boards[size] = max(count, boards.get(size, 0))
        band = form.get("band")
        if band and band.get("length_mm"):
            bands.append(f"band, {across((band['length_mm'], band['height_mm']), us)}")
    thick = {
        ruler(b["thickness_mm"], us) for p in plan["pours"] for b in (p.get("form") or {}).get("boards") or []
    }
    each = f", {' or '.join(sorted(thick))} thick, varnished" if thick else ""
    found = [
        f"{count} more, {size}" if k else f"{count} boards, {size}{each}"
        for k, (size, count) in enumerate(boards.items())
    ]
    found += dict.fromkeys(bands)
    counts = [len((pour.get("form") or {}).get("straps") or []) for pour in plan["pours"]]
    most = max(counts, default=0) or 1
    if bands:
        found.append(f"{most} strap{'s' if most > 1 else ''} for the band")
    else:
        rim = any(from_the_rim(pour.get("form") or {}) for pour in plan["pours"])
        if thick:
            found += ["4 C-clamps" if rim else f"{4 * most} clamps", "8 bricks"]
        else:
            found.append(f"{4 * most} clamps")
    size = base_size(plan, us)
    return [*found, f"base board, {size} or more"]


def _tools(plan: Mapping[str, Any], us: bool) -> list[str]:
    mixings = [pour.get("mixing") or {} for pour in plan["pours"]]
    pose = plan.get("pose") or {}
    least_l = max(mixing.get("bucket_least_l") or 0.0 for mixing in mixings)
    count = max(len(pour["batches"]) for pour in plan["pours"])
    bucket = "bucket" if count == 1 else f"{count} buckets"
    saddles = pose.get("saddles") or []
    card = f"card, {ruler(saddles[0]['card_mm'], us)} thick" if saddles else "stiff card"
    return [
        f"{bucket}, {bucket_words(least_l, us)} or more" if least_l else bucket,
        "buckets to rinse in",
        "drill with paddle" if mixings[0].get("method") == "drill" else "gloves to mix in",
        "scale, sieve, timer",
        *([card, "glue"] if pose.get("stations") else []),
        *(["thin card that bends"] if pose.get("stations") and not pose.get("level") else []),
        "tape, scissors, knife",
        "pencil, china marker",
        "ruler, square",
        "straightedge, spirit level",
        "soft brush, sponge",
        "rib (a stiff scraper)",
        "nail, rasp, chisel",
        "rubber mallet, wood to pry",
        "stick to dip in",
        *_ball(pose, us),
        "thermometer, newspaper",
        "clear film, clay wire",
        "2 straps of webbing or wire",
        "drying slats, soft mat",
        "white vinegar",
        "fitted mask (FFP2, N95), goggles, gloves",
    ]


def _ball(pose: Mapping[str, Any], us: bool) -> list[str]:
    """What presses keys, beside their card."""
    keys = pose.get("keys") or []
    if not keys:
        return []
    ball_mm = keys[0]["ball_mm"]
    return [f"key card, or a ball of {say_length(ball_mm, us=True) if us else f'{ball_mm:.1f} mm'}"]
