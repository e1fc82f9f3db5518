"""Checks and findings of a plan as lines of the sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from claybed import wording
from claybed.sheets.places import without_axes


def scientific(value: float) -> dict[str, str]:
    """A measured value to three figures, as {"n", "e"}: `e` is a power of ten for the very small and large,
    or "".

    Not a finite number gives "not measured".
    """
    if not math.isfinite(value):
        return {"n": "not measured", "e": ""}
    if value == 0.0:
        return {"n": "0", "e": ""}
    power = math.floor(math.log10(abs(value)))
    if -4 < power < 6:
        return {"n": f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}", "e": ""}
    return {"n": f"{value / 10.0**power:.3g}".replace("-", "−"), "e": str(power).replace("-", "−")}


def check_line(
    check: Mapping[str, Any], every: Sequence[Mapping[str, Any]], pose: Mapping[str, Any] | None, us: bool
) -> dict[str, Any]:
    """A check of a plan with its texts and rounded values; `every` are all checks of it."""
    measured, unit = wording.amount(float(check["measured"]), str(check["unit"]), us=us)
    limit, limit_unit = wording.amount(float(check["limit"]), str(check["unit"]), us=us)
    return {
        "id": str(check["id"]),
        "ok": bool(check["ok"]),
        "family": wording.check_family(str(check["id"])),
        "words": wording.check_words(str(check["id"]), [str(c["id"]) for c in every]),
        "measured": scientific(measured),
        "limit": scientific(limit),
        "bound": "at least" if check.get("sense") == "least" else "at most",
        "unit": unit,
        "limit_unit": limit_unit,
        "room": _room(check),
        "where": wording.in_system(without_axes(str(check["where"]), pose, check.get("at_mm")), us=us),
        "how": wording.in_system(str(check.get("how") or ""), us=us),
        "remedy": wording.in_system(str(check.get("remedy") or ""), us=us),
    }


def _room(check: Mapping[str, Any]) -> float:
    """How far a value is from its limit, on the good side; a value that is none counts as no room at all."""
    room = float(check["measured"]) - float(check["limit"])
    room = room if check.get("sense") == "least" else -room
    return room if math.isfinite(room) else -1e9


def in_short(checks: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """One line per failed check, then one per family of those that hold.

    Such a line has the values of its tightest member, `count` says how many there are and `about` what they
    were made on.
    """
    lines = [{**c, "count": 1, "about": ""} for c in checks if not c["ok"]]
    families: dict[str, list[Mapping[str, Any]]] = {}
    for check in checks:
        if check["ok"]:
            families.setdefault(check["family"], []).append(check)
    for family, members in families.items():
        tightest = min(members, key=lambda c: c["room"])
        alone = len(members) == 1
        alike = not alone and all(c["measured"] == tightest["measured"] for c in members)
        lines.append(
            {
                **tightest,
                "words": tightest["words"] if alone else family,
                "count": len(members),
                "where": "each alike" if alike else tightest["where"],
                "about": "" if alone else wording.about(family, [c["words"] for c in members]),
            }
        )
    return lines


def finding_line(finding: Mapping[str, Any], pose: Mapping[str, Any] | None, us: bool) -> dict[str, Any]:
    """A finding of a plan with its place told of what is seen at the bench."""
    says = str(finding.get("says") or wording.spelled(str(finding["id"])))
    says, remedy = (
        wording.in_system(wording.heights_from_board(text, pose), us=us)
        for text in (says, str(finding.get("remedy") or ""))
    )
    marked = finding["id"] == "fewest_pieces" and "picture" in str(finding["says"])
    return {
        "severity": str(finding["severity"]),
        "mark": wording.SEVERITIES.get(str(finding["severity"]), str(finding["severity"])),
        "says": says,
        # Of spots that are marked in a picture the words would say less: they have no axes of the file.
        "where": ""
        if marked
        else wording.in_system(
            without_axes(str(finding.get("where") or ""), pose, finding.get("at_mm")), us=us
        ),
        "remedy": remedy,
        "picture": "seam" if marked else "",
    }
