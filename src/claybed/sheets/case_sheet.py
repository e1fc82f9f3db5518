"""The case sheet: what to print and how to join it, what to pour and how it comes out; as PDF."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any

from claybed import __version__
from claybed.sheets.typesetting import compiled
from claybed.units import MM_PER_IN, say_length, say_mass, say_temperature, say_volume
from claybed.wording import check_words, in_system


def render_cases(
    document: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    *,
    paper: str = "a4",
    us: bool = False,
    made_on: date | None = None,
) -> bytes:
    """The sheet as PDF bytes: a page for each case, then what holds for all.

    `document` as flow.case_document makes it; `pictures` PNG bytes named parts-A and lifted-A by piece.
    """
    day = made_on if made_on is not None else datetime.now(UTC).astimezone().date()
    values = sheet_values(document, us=us) | {
        "version": __version__,
        "date": day.isoformat(),
        "pictures": sorted(pictures),
    }
    return compiled("cases.typ", values, pictures, paper, day)


def sheet_values(document: Mapping[str, Any], *, us: bool) -> dict[str, Any]:
    """All texts of the sheet, figures written out."""
    printing = document["printing"]
    failed = [check for check in document["checks"] if not check["ok"]]
    ids = [str(check["id"]) for check in document["checks"]]
    return {
        "name": document["name"],
        "ready": document["ready"],
        "route": document["route"],
        "cases": [_case(case, document, us) for case in document["cases"]],
        "settings": [
            ["Plastic", str(printing["plastic"]).upper()],
            ["Solid skin", say_length(printing["skin_mm"], us=us)],
            ["Infill", f"{100 * printing['infill_fraction']:.0f} %"],
            ["Keys smaller, each side", f"{printing['clearance_mm']:.2f} mm"],
            ["Outside leans", f"{printing['draft_deg']:g}°"],
            ["Printer", _sides(printing["printer_mm"], us)],
        ],
        "steps": [
            [
                step["what"],
                step["of"],
                f"{100 * step['grows_fraction']:.2f} %",
                f"{step['size_ratio']:.5f}",
            ]
            for step in document["generations"]
        ],
        "per_day": document.get("working_molds", {}).get("per_day_count"),
        "findings": [
            {
                "severity": one["severity"],
                "where": one["where"],
                "says": in_system(f"{one['says']} {one['remedy']}".strip(), us=us),
            }
            for one in document["findings"]
        ],
        "checks": f"{len(ids) - len(failed)} of {len(ids)} checks hold.",
        "failed": [check_words(str(check["id"]), ids) for check in failed],
        "cautions": list(document["cautions"]),
    }


def _case(case: Mapping[str, Any], document: Mapping[str, Any], us: bool) -> dict[str, Any]:
    pour = case["pour"]
    printed = case["kind"] == "printed case"
    tall = any(part["stands_mm"] for part in case["parts"])
    parts = [
        [
            part["id"],
            _box(part["size_mm"], us).rsplit(" ", 1)[0],
            say_mass(part["plastic_g"], us=us),
            part["takes"],
        ]
        + ([_stands(part, us)] if tall else [])
        for part in case["parts"]
    ]
    return {
        "piece": case["piece"],
        "title": f"Case of piece {case['piece']}"
        if printed
        else f"Printed piece {case['piece']} and its case",
        "parts": parts,
        "heads": ["part", "size in inches" if us else "size in mm", "plastic", "about"]
        + (["stands"] if tall else []),
        "print_title": "The case" if printed else "The print",
        "plastic": say_mass(case["plastic_g"], us=us),
        "takes": case["takes"],
        "print_steps": _print_steps(case, us),
        "pour_rows": _pour_rows(case, us) if printed or "cement_case" not in case else _cement_rows(case, us),
        "pour_steps": _pour_steps(case, us) if printed else _cement_steps(case, us),
        "facts": _facts(case, us),
        "cement": {"rows": _cement_rows(case, us), "steps": _over_block(case, us)}
        if printed and "cement_case" in case
        else None,
        "then": _then(case, pour, us),
    }


def _stands(part: Mapping[str, Any], us: bool) -> str:
    """Where a part stands in a case that is cut by height; nothing for what is set in from above."""
    if "-" in part["id"]:
        return ""
    return f"{_box([part['stands_mm']], us)} up" if part["stands_mm"] else "foot"


def _box(sides_mm: Sequence[float], us: bool) -> str:
    """Lengths of what is printed, as slicers show them: inches in decimals."""
    if us:
        return " × ".join(f"{side / MM_PER_IN:.1f}" for side in sides_mm) + " in"
    return _sides(sides_mm, us)


def _sides(sides_mm: Sequence[float], us: bool) -> str:
    """Lengths of a box, the unit once in metric."""
    if us:
        return " × ".join(say_length(side, us=True).removesuffix(" in") for side in sides_mm) + " in"
    return " × ".join(f"{side:.0f}" for side in sides_mm) + " mm"


def _print_steps(case: Mapping[str, Any], us: bool) -> list[str]:
    support = "with support under the walls that lean out far" if case.get("support") else "without support"
    steps = [f"Print each part as it lies in its file, flat face down, {support}."]
    sealed = "the side that plaster touches, until layers no longer catch a fingernail"
    if case["kind"] == "printed case":
        # Lacquer does not hold on the jelly and wax of the joints.
        steps.append(f"Sand and seal {sealed}.")
    if case.get("bolts_count"):
        size, hole, crowns = case["bolt_mm"], case["hole_mm"], case["crowns"]
        order = "push the parts together on a flat board and bolt the flanges"
        if any(joint["level"] for joint in case["joints"]):
            order = "bolt the foot together on a flat board, set the upper wall on its ridge and bolt it on"
        steps.append(
            f"Deburr the cut faces. Wipe petroleum jelly along tongues, ridges and faces, {order}: "
            f"{case['bolts_count']} bolts M{size:g} with washers, holes {hole:g} mm. Nuts finger tight, then "
            "a quarter turn."
        )
        if crowns:
            stand, run = (
                ("it stands", "its side runs") if len(crowns) == 1 else ("they stand", "their sides run")
            )
            pegs = f" on {case['pegs_count']} pegs of {case['peg_mm']:g} mm" if case["pegs_count"] else ""
            steps.append(
                f"Glue {_listed(crowns)} where {stand} free on the model{pegs}, so that {run} on into it. "
                "Weigh down until the glue has set: liquid plaster that creeps under lifts."
            )
        steps.append("Wipe the joints inside flush with clay or wax: a gap leaves a fin on the plaster.")
    elif case.get("dowels_count"):
        steps.append(
            f"Glue the parts with {case['dowels_count']} pegs of {case['dowel_mm']:g} mm in the holes, on a "
            "flat board. Fill the joints."
        )
    if case["kind"] != "printed case":
        steps.append(f"Sand and seal {sealed}.")
    # Over a block piece a case of cement is poured, which sockets and slots would lock.
    screwed = "bolts_count" in case and "cement_case" not in case
    if case["loose_keys_count"]:
        names = _listed([part["id"] for part in case["parts"] if "-key" in part["id"]])
        steps.append(
            f"Screw the loose keys ({names}) to the wall from outside, an M4 screw each, where the picture "
            "shows them: they make the sockets."
            if screwed
            else f"Keep the loose keys ({names}) for the finished case: stick each to its wall with wax, "
            "where the plan has a key."
        )
    if case["cores"]:
        steps.append(_set_cores(case["cores"], screwed=screwed))
    if case["slots"]:
        names = _listed([part["id"] for part in case["parts"] if "-slot" in part["id"]])
        steps.append(
            f"Set {names} against the wall inside the rim, the wide face level with it, and screw each from "
            "outside with two M4 screws: they form the finger slots."
            if screwed
            else f"Keep {names} for the finished case: stick each to its wall with wax and clamp it there, "
            "the wide face level with the rim. They form the finger slots of every working mold."
        )
    return steps


def _set_cores(cores: Sequence[Mapping[str, Any]], *, screwed: bool) -> str:
    names = [str(core["id"]) for core in cores]
    if not screwed:
        return f"Keep {_listed(names)} for the finished case: stick each to its wall with wax, where it fits."
    held = [str(core["id"]) for core in cores if core["screwed"]]
    said = f"Screw {_listed(held)} to the wall from outside with an M4 screw each" if held else ""
    stuck = [name for name in names if name not in held]
    if stuck:
        said += f"{'; stick' if said else 'Stick'} {_listed(stuck)} to the wall with wax"
    return f"{said}, where it fits: a core makes room for what another piece fills, and comes out last."


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _pour_rows(case: Mapping[str, Any], us: bool) -> list[list[str]]:
    pour = case["pour"]
    return [
        ["Water", say_mass(pour["water_g"], us=us)],
        ["Plaster", say_mass(pour["plaster_g"], us=us)],
        ["Batches", _batches(pour, "plaster_g", us)],
        ["Fill to", "the rim"],
        ["Piece, wet", say_mass(pour["wet_g"], us=us)],
    ]


def _batches(mix: Mapping[str, Any], powder: str, us: bool) -> str:
    """How many equal batches, and what each takes of water and powder where there is more than one."""
    count = int(mix["batches_count"])
    if count < 2:
        return f"{count}"
    each = " + ".join(say_mass(mix[name] / count, us=us) for name in ("water_g", powder))
    return f"{count}, each {each}"


def _cement_rows(case: Mapping[str, Any], us: bool) -> list[list[str]]:
    cement = case["cement_case"]
    height = say_length(cement["form_mm"][2], us=us)
    return [
        ["Water", say_mass(cement["water_g"], us=us)],
        ["Hard cement", say_mass(cement["cement_g"], us=us)],
        ["Batches", _batches(cement, "cement_g", us)],
        ["Form inside", _sides(cement["form_mm"][:2], us)],
        ["Fill to", height],
        ["Case, wet", say_mass(1000.0 * cement["wet_kg"], us=us)],
    ]


def _pour_steps(case: Mapping[str, Any], us: bool) -> list[str]:
    steps = [
        "Stand the case level, its foot sealed to the board with clay. Soap it, wipe it dry, and soap again.",
        "Pour into the lowest corner without a stop, tap the walls, fill to the rim.",
        "When it stiffens, strike it off level with the rim: that is the flat back of the piece.",
        f"Its middle reaches about {say_temperature(case['peak_celsius'], us=us)}. Wait until it has "
        "cooled to the hand, an hour or more.",
    ]
    # Over a block piece a case of cement is poured: its sockets, cores and slots come with the working molds.
    whole = "cement_case" in case
    steps += [] if whole else _unscrewed(case)
    with_two = " with two people" if case["two_people"] else ""
    out = f"Turn it over onto foam{with_two}, and tap the underside"
    if any(not joint["level"] for joint in case.get("joints", ())):
        out = f"Slacken the upright flanges, then turn it over onto foam{with_two} and tap the underside"
    if case["grips_count"]:
        out += "; carry it by the hand-holds, never by the rim"
    steps.append(f"{out}. Do not lever plastic against the seam.")
    if case["drawn_aslant_deg"] > 0.0:
        aside_mm = 100.0 * math.tan(math.radians(case["drawn_aslant_deg"]))
        steps.append(
            f"Case and piece part aslant: for every {say_length(100.0, us=us)} the piece moves "
            f"{say_length(aside_mm, us=us)} towards where its walls lean out most."
        )
    steps += [] if whole else _taken_along(case)
    if case["slots"] and not whole:
        steps.append(
            f"Lying on its back, {say_mass(case['pour']['wet_g'], us=us)} wet, the piece is lifted by the "
            f"finger slots with both hands, close to the body{', or by two people' if with_two else ''}."
        )
    return steps


def _unscrewed(case: Mapping[str, Any]) -> list[str]:
    """What is taken out before a case is turned."""
    held = [str(core["id"]) for core in case["cores"] if core["screwed"]]
    held = ["the loose keys", *held] if case["loose_keys_count"] else held
    steps = [f"Take out the screws of {_listed(held)}."] if held else []
    if case["slots"]:
        steps.append("Take out the screws of the slot blocks and draw the blocks straight up.")
    return steps


def _taken_along(case: Mapping[str, Any]) -> list[str]:
    """What is still in the plaster once the piece is out of its case."""
    along = ["the loose keys"] if case["loose_keys_count"] else []
    along += [str(core["id"]) for core in case["cores"]]
    if not along:
        return []
    return [
        f"Draw {_listed(along)} out of the piece's side, each straight: the plaster has taken them along."
    ]


def _cement_steps(case: Mapping[str, Any], us: bool) -> list[str]:
    return [
        "Lay the printed piece on its back on a flat board, screwed or glued down, its edge sealed with "
        "clay.",
        f"It would lift with {say_mass(case['hold_down_g'], us=us)} if cement crept under it.",
        "Stand the form around it, the same distance from it on all sides. Soap print and form twice.",
        "Pour the cement beside the piece, not onto it; strike it off level with the fill line.",
        f"Its middle reaches about {say_temperature(case['peak_celsius'], us=us)}: let it cool before you "
        "turn it over and draw the print.",
        "Dry the case, seal it, and soap it before each working mold.",
    ]


def _over_block(case: Mapping[str, Any], us: bool) -> list[str]:
    return [
        "Use the piece from the printed case as the block: soap it until water rolls off.",
        "Lay it on its back on a flat board, its edge sealed with clay, and stand the form around it, as far "
        "from it on all sides.",
        "Pour the cement beside the piece, not onto it; strike it off level with the fill line.",
        "Let it cool, turn it over, and draw the block out upwards. Dry the case, seal it, and soap it "
        f"before each working mold of piece {case['piece']}.",
    ]


def _facts(case: Mapping[str, Any], us: bool) -> list[list[str]]:
    rows = [
        ["Outside", _box(case["outer_mm"], us)],
        ["Plastic", say_mass(case["plastic_g"], us=us)],
        ["Printing", case["takes"]],
    ]
    if "wall_mm" in case:
        rows += [
            ["Wall", say_length(case["wall_mm"], us=us)],
            ["Wall bows", _fine(case["bow_mm"], us)],
            ["Full case", say_mass(1000.0 * case["full_kg"], us=us)],
        ]
        if case["slots"]:
            slot = case["slots"][0]
            size = _box([slot[f"{side}_mm"] for side in ("wide", "deep", "tall")], us)
            rows.append([f"Finger slots ({len(case['slots'])})", size])
        if case["bolts_count"]:
            rows.append(["Pull in a bolt", f"{case['bolt_newtons']:.0f} N"])
            gap_mm = max(one["gap_mm"] for one in case["joints"])
            rows.append(["Joints open by", _fine(gap_mm, us)])
    return rows


def _fine(length_mm: float, us: bool) -> str:
    """A length of which hundredths of a mm matter."""
    if length_mm < 0.005:
        return "under 0.001 in" if us else "under 0.01 mm"
    return f"{length_mm / MM_PER_IN:.3f} in" if us else f"{length_mm:.2f} mm"


def _then(case: Mapping[str, Any], pour: Mapping[str, Any], us: bool) -> str:
    if "cement_case" not in case:
        return ""
    return (
        f"Each working mold of piece {case['piece']} takes {say_mass(pour['water_g'], us=us)} of water and "
        f"{say_mass(pour['plaster_g'], us=us)} of plaster ({say_volume(pour['space_ml'], us=us)}), filled to "
        "the rim of the case."
        + (" Draw the slot blocks straight up before the piece is lifted out." if case["slots"] else "")
    )
