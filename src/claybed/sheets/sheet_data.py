"""A plan turned into exactly what stands on the bench sheet: every figure rounded and written once, here.

The template sets type and nothing else. A figure is a list of [number, unit] pairs, so that units can be set
smaller: [["2", "lb"], ["15.3", "oz"]].
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from claybed import wording
from claybed.errors import InputError
from claybed.fill_line import down_words, mark_mm
from claybed.posing.filling import told_least_ml
from claybed.sheets.bench_lists import bench_lists
from claybed.sheets.bench_words import in_plane
from claybed.sheets.cautions import CAUTIONS, DEFER
from claybed.sheets.check_lines import check_line, finding_line, in_short
from claybed.sheets.fill_words import fill_rows
from claybed.sheets.form_drawings import form_drawings
from claybed.sheets.getting_ready import getting_ready
from claybed.sheets.hump_pages import hump_sizes
from claybed.sheets.lying_words import lying
from claybed.sheets.map_lines import map_lines
from claybed.sheets.places import numbered
from claybed.sheets.pour_pages import pour_pages
from claybed.sheets.steps import unparted
from claybed.sheets.ware_page import ware_page
from claybed.sheets.workings import Workings
from claybed.trades import how_told, worth_telling
from claybed.units import say_length, say_mass, say_volume
from claybed.wording import ruler

Written = list[list[str]]
# Lighter than this no bench scale shows it.
CRUMB_G = 0.5
_UNITS = frozenset({"g", "kg", "mm", "ml", "l", "in", "lb", "oz", "fl oz", "qt", "gal"})


def sheet_values(
    plan: Mapping[str, Any],
    *,
    made_on: date,
    version: str,
    pictures: Sequence[str],
    us_units: bool = False,
    cast_map: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """All text and figures of the sheet as plain values.

    `plan` has the keys of plan.json; `pictures` names those at hand, see bench_sheet.PICTURES; `cast_map` is
    the document of a map kept with the plan. Raises InputError when a part of the plan without which nobody
    can pour is missing.
    """
    try:
        values = _values(plan, made_on, version, pictures, us_units)
        return values | {"wall_map": None if cast_map is None else map_lines(cast_map, us_units)}
    except KeyError as error:
        raise InputError(
            f"The plan has no {error.args[0]!r}.",
            where="bench sheet",
            remedy="Write the plan again with claybed plan.",
        ) from error


def written(text: str) -> Written:
    """A figure such as "2 lb 15.3 oz" or "1 3/16 in" in [number, unit] pairs; words without a unit stay
    whole."""
    pairs: Written = []
    number: list[str] = []
    words = text.replace("fl oz", "fl\u00a0oz").split(" ")
    for word in words:
        plain = word.replace("\u00a0", " ")
        if plain in _UNITS:
            pairs.append([" ".join(number), plain])
            number = []
        else:
            number.append(plain)
    if number:
        pairs.append([" ".join(number), ""])
    return pairs


def _values(
    plan: Mapping[str, Any], made_on: date, version: str, pictures: Sequence[str], us: bool
) -> dict[str, Any]:
    found, mold, survey = plan["object"], plan["mold"], plan.get("survey") or {}
    pose = plan.get("pose")
    checks = [check_line(c, plan["checks"], pose, us) for c in plan["checks"]]
    findings = [finding_line(f, pose, us) for f in plan["findings"]]
    pours = [
        _pour(p, k, us) | {"spread": wording.spread_words(plan, k - 1, us=us)}
        for k, p in enumerate(plan["pours"], start=1)
    ]
    workings = Workings(plan)
    for k, pour in enumerate(pours):
        pour["keys"] = {
            key: workings.key(f"/pours/{k}/{name}")
            for key, name in (("water", "water_g"), ("plaster", "plaster_g"), ("line", "fill_line_mm"))
        }
    pages = [unparted(page) for page in pour_pages(plan, workings, us=us)]
    order = {"stop": 0, "look": 1, "note": 2}
    return {
        "name": str(found["name"]),
        "date": made_on.isoformat(),
        "version": version,
        "ready": bool(plan["ready"]),
        "status": _status(plan, checks),
        "stops": _stops(plan, checks, us),
        "object": {
            "size": " × ".join(_bare(v, us) for v in found["extent_mm"]) + (" in" if us else " mm"),
            "volume": written(say_volume(found["volume_ml"], us=us)),
            "says": [wording.in_system(text, us=us) for text in wording.object_sentences(found)],
        },
        "facts": _facts(plan, mold, survey, us),
        "pieces": [_piece(p, plan, us) for p in plan["pieces"]],
        "model_file": str((plan.get("model") or {}).get("file", "")),
        "pours": pours,
        "pages": pages,
        "before": unparted(getting_ready(plan, us=us, workings=workings)),
        "forms": form_drawings(plan, us),
        "bench": bench_lists(plan, us),
        "hump": bool(mold.get("hump")),
        "ware": ware_page(plan, us),
        "workings": workings.rows(),
        "fill": _fill(survey, us),
        "fill_rows": fill_rows(plan, us),
        "lying": lying(plan, us),
        "checks": checks,
        "in_short": in_short(checks),
        "findings": sorted(findings, key=lambda f: order.get(f["severity"], 3)),
        "cautions": [list(c) for c in CAUTIONS],
        "defer": DEFER,
        "pictures": list(pictures),
    }


def _bare(mm: float, us: bool) -> str:
    return ruler(mm, us).rsplit(" ", 1)[0]


def _known(value: Any) -> bool:
    return value is not None and math.isfinite(float(value))


def _status(plan: Mapping[str, Any], checks: Sequence[Mapping[str, Any]]) -> str:
    if plan["ready"]:
        read = " Read the findings first." if plan["findings"] else ""
        return f"All {len(checks)} checks hold.{read}" if checks else read.strip()
    failed = sum(not c["ok"] for c in checks)
    if failed:
        verb = "fails" if failed == 1 else "fail"
        return f"{failed} of {len(checks)} checks {verb}. Do not mix plaster for this plan."
    return "A finding stops it. Do not mix plaster for this plan."


def _stops(plan: Mapping[str, Any], checks: Sequence[Mapping[str, Any]], us: bool) -> list[str]:
    """Why it is not ready, one sentence each; empty when it is."""
    if plan["ready"]:
        return []
    stops = [f for f in plan["findings"] if f["severity"] == "stop"]
    said = [str(f["id"]) for f in stops]
    says = []
    for c in checks:
        if not c["ok"] and not wording.stops_twice(c["id"], said):
            at = f", {c['where']}" if c["where"] else ""
            amount = f"{_with_unit(c, 'measured')}, {c['bound']} {_with_unit(c, 'limit')}"
            says.append(f"{c['words']}{at}: {amount}. {c['remedy']}".strip())
    return says + [wording.in_system(f"{f['says']} {f['remedy']}".strip(), us=us) for f in stops]


def _with_unit(check: Mapping[str, Any], key: str) -> str:
    unit = check["unit"] if key == "measured" else check["limit_unit"]
    text = _flat(check[key])
    return f"{text}{unit}" if unit in ("", "°") else f"{text} {unit}"


def _flat(value: Mapping[str, str]) -> str:
    return f"{value['n']} × 10^{value['e']}" if value["e"] else value["n"]


def _seam_runs(plan: Mapping[str, Any]) -> str:
    """How the seam of the main pieces runs; with side pieces it may be level without lying in a plane."""
    if plan["mold"]["seam_flat"]:
        return "flat, level bed"
    return "level bed" if (plan.get("pose") or {}).get("level") else "rises and falls"


def _facts(
    plan: Mapping[str, Any], mold: Mapping[str, Any], survey: Mapping[str, Any], us: bool
) -> list[list[Any]]:
    outer = mold["outer_mm"]
    unit = "in" if us else "mm"
    if mold["shape"] == "round":
        form = [
            ["Form inside, round", written(f"Ø {ruler(outer[0], us)}")],
            ["Closed mold, height", written(ruler(outer[1], us))],
        ]
    else:
        base = f"{_bare(outer[0], us)} × {_bare(outer[1], us)} {unit}"
        form = [["Form inside", written(base)], ["Closed mold, height", written(ruler(outer[2], us))]]
    facts: list[list[Any]] = [*form, ["Least plaster wall", written(ruler(mold["wall_mm"], us))]]
    if told := hump_sizes(mold, us):
        facts = [form[0], ["Board to fill line", form[1][1]], *([n, written(text)] for n, text in told)]
    if mold["seam_length_mm"] > 0.0:
        facts.append(["Seam, all round", written(ruler(mold["seam_length_mm"], us))])
        if mold.get("seam_flat") is not None:
            facts.append(["The seam", [[_seam_runs(plan), ""]]])
    keys = mold.get("keys") or []
    if keys:
        sizes = {(round(k["diameter_mm"], 1), round(k["depth_mm"], 1)) for k in keys}
        text = f"{len(keys)}"
        if len(sizes) == 1:
            across, depth = next(iter(sizes))
            text += f", Ø {_bare(across, us)} × {ruler(depth, us)}"
        facts.append(["Keys", written(text)])
    gate = mold.get("gate")
    if gate and gate["kind"] == "face":
        facts.append(["Cast or pressed from", [["the open face", ""]]])
    elif gate and gate["kind"] != "none":
        bore, closes = gate.get("bore_mm"), gate.get("closes_at_wall_mm")
        kind = wording.spelled(str(gate["kind"])).lower()
        facts.append([f"Gate, {kind}", written(ruler(bore, us)) if _known(bore) else [["as the object", ""]]])
        if _known(gate.get("spare_ml")) and gate["spare_ml"] > 0:
            facts.append(["Spare above the rim", written(say_volume(gate["spare_ml"], us=us))])
        if _known(closes):
            facts.append(["Gate closes at a wall of", written(say_length(closes, us=us))])
    if survey.get("fill_g"):
        facts.append(["Oil clay to fill", written(wording.clay_words(survey["fill_g"], us=us))])
    front = worth_telling(survey)
    if len(front) > 1:
        left = [_trade(row, us) for row in front]
        facts.append(["To fill, by count of pieces", [[", ".join(left), ""]]])
    tilt = wording.tilt_words(survey.get("tilt_deg"))
    if tilt:
        facts.append(["Level the model within", written(tilt)])
    return facts


def _trade(row: Mapping[str, Any], us: bool) -> str:
    fill_ml = float(row["fill_ml"])
    left, known = say_volume(fill_ml, us=us) if fill_ml > 0.0 else "nothing", how_told(row)
    return f"{row['pieces']}: {left} ({known})" if known else f"{row['pieces']}: {left}"


def _piece(piece: Mapping[str, Any], plan: Mapping[str, Any], us: bool) -> dict[str, Any]:
    pours = plan["pours"]
    made_in = [str(k) for k, pour in enumerate(pours, start=1) if pour["piece"] == piece["id"]]
    return {
        "id": str(piece["id"]),
        "order": str(piece["order"]),
        "pour": made_in[0] if made_in else "",
        "pull": wording.pull_words(piece.get("leaves") or piece["pull"]),
        "volume": written(say_volume(piece["volume_ml"], us=us)),
        "wet": written(say_mass(piece["wet_kg"] * 1000.0, us=us)),
        "dry": written(say_mass(piece["dry_kg"] * 1000.0, us=us)),
        "keys": _keys_on(str(piece["id"]), plan["mold"].get("keys") or []),
        "file": str(piece["file"]),
    }


def _keys_on(piece: str, keys: Sequence[Mapping[str, Any]]) -> str:
    told = [k for k in keys if k.get("bump_on")]
    bumps = sum(str(k["bump_on"]) == piece for k in told)
    # Of two pieces a key is a socket in the other, whether that is named or not.
    sockets = sum(str(k["bump_on"]) != piece and str(k.get("socket_in") or piece) == piece for k in told)
    parts = [(bumps, "bump"), (sockets, "socket")]
    return " and ".join(f"{n} {name}{'' if n == 1 else 's'}" for n, name in parts if n)


def _pour(pour: Mapping[str, Any], number: int, us: bool) -> dict[str, Any]:
    line = pour.get("fill_line") or {"from_board_mm": pour["fill_line_mm"], "from_rim_mm": None}
    waste = pour.get("waste")
    reason = str(pour.get("waste_reason") or "").rstrip(".")
    allowed = ""
    if waste is not None:
        share = f"{waste * 100:.0f} %"
        # The reason names the share itself when it is the usual one for the form.
        reason = reason.removeprefix(share.replace(" ", "")).removeprefix(share).strip()
        joined = f" {reason}." if reason.startswith("for ") else f": {reason}." if reason else "."
        allowed = f"With {share} over{joined}"
    per_mm = pour.get("grams_per_mm")
    rule = pour["common_rule"]
    return {
        "number": str(number),
        "piece": str(pour["piece"]),
        "water": written(say_mass(pour["water_g"], us=us)),
        "plaster": written(say_mass(pour["plaster_g"], us=us)),
        "beside": f"{say_mass(pour['water_g'])} water, {say_mass(pour['plaster_g'])} plaster" if us else "",
        "space": written(say_volume(pour["space_ml"], us=us)),
        "slurry": written(say_volume(pour["slurry_ml"], us=us)),
        "from_board": written(ruler(line["from_board_mm"], us)),
        "from_rim": None if line["from_rim_mm"] is None else written(down_words(line, us)),
        "allowed": allowed,
        "per_mm": None if not per_mm else [_rate(per_mm["water"], us), _rate(per_mm["plaster"], us)],
        "step": "sixteenth of an inch" if us else "millimetre",
        "rule_water": written(say_mass(rule["water_g"], us=us)),
        "rule_plaster": written(say_mass(rule["plaster_g"], us=us)),
        "batches": [
            {
                "number": str(b["number"]),
                "water": written(say_mass(b["water_g"], us=us)),
                "plaster": written(say_mass(b["plaster_g"], us=us)),
                "slurry": written(say_volume(b["slurry_ml"], us=us)),
            }
            for b in pour["batches"]
        ],
    }


def _rate(grams_per_mm: float, us: bool) -> str:
    if not us:
        return f"{grams_per_mm:.1f} g" if grams_per_mm < 100 else f"{grams_per_mm:.0f} g"
    return say_mass(grams_per_mm * mark_mm(us), us=True)


def _fill(survey: Mapping[str, Any], us: bool) -> dict[str, Any]:
    volume, grams = float(survey.get("fill_ml") or 0.0), float(survey.get("fill_g") or 0.0)
    density = grams / volume if volume > 0 else 0.0
    every = survey.get("fill_places") or []
    shown = numbered(every)
    places = [
        {
            "number": str(k),
            "clay": written(wording.clay_words(p["volume_ml"] * density, us=us)),
            "depth": written(say_length(p["depth_mm"], us=us)),
            "act": wording.LOCK_CLASSES.get(str(p["lock_class"]), str(p["lock_class"])),
        }
        for k, p in enumerate(shown, start=1)
    ]
    rest = [p for p in every if p not in shown]
    more = ""
    if rest:
        deepest = say_length(max(float(p["depth_mm"]) for p in rest), us=us)
        count = "one smaller place" if len(rest) == 1 else f"{len(rest)} smaller places"
        more = f"{'And ' if shown else ''}{count} along the seam or under an edge, up to {deepest} deep: "
        more = more[:1].upper() + more[1:] + "smear a little oil clay over the hatched spots."
    return {
        "needed": bool(every) or volume >= told_least_ml(),
        "total": [["a crumb", ""]] if grams < CRUMB_G else written(wording.clay_words(grams, us=us)),
        "volume": [] if volume < told_least_ml() else written(say_volume(volume, us=us)),
        "places": places,
        "finish": wording.fill_finish(in_plane({"survey": survey})),
        "more": more,
    }
