"""Lists for the pages after the bench pages: stations, timetable, lifts, notes, tag."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed import wording
from claybed.sheets.side_words import listed
from claybed.units import say_mass, say_ratio
from claybed.wording import inches_at_most, ruler

# Wider than this, a stray seam is no worry.
MOST_STRAY_MM = 20.0
OVER, MORE_OVER = " is left over: ", " are left over: "
FLAGS = {"none": "", "look": "with care", "stop": "two people"}


def bench_lists(plan: Mapping[str, Any], us: bool) -> dict[str, Any]:
    """Stations, timetable, lifts, notes and the tag as rows of text; empty lists where a plan has none."""
    return {
        "timetable": _timetable(plan, us),
        "days": wording.in_system(str((plan.get("timetable") or {}).get("says") or ""), us=us),
        "lifts": [_lift(lift, us) for lift in plan.get("lifts") or []],
        "notes": _notes(plan, us),
        "stations": _stations(plan.get("pose") or {}, us),
        "unit": "in" if us else "mm",
        "axis": axis_words(plan),
        "tag": _tag(plan, us),
    }


def _timetable(plan: Mapping[str, Any], us: bool) -> list[list[str]]:
    rows = []
    for entry in (plan.get("timetable") or {}).get("entries") or []:
        rows.append(
            [
                clock(entry["start_min"]),
                str(entry["what"]),
                span(entry["hands_min"]),
                span(entry["wait_min"]),
                wording.in_system(str(entry["says"]), us=us),
            ]
        )
    return rows


def clock(minutes: float) -> str:
    """Minutes from the start as hours and minutes, in steps of five; days after the first: "1 d 4 h"."""
    steps = round(minutes / 5.0) * 5
    if steps >= 24 * 60:
        return f"{steps // 1440} d {steps % 1440 // 60} h"
    return f"{steps // 60}:{steps % 60:02d}"


def span(minutes: float) -> str:
    """A length of time: "15 min", "1 h 10 min", "24 h", "5 d"; empty for none."""
    steps = round(minutes / 5.0) * 5 if minutes >= 10.0 else round(minutes)
    if not steps:
        return ""
    if steps >= 48 * 60:
        return f"{steps / 1440:.0f} d"
    if steps < 60:
        return f"{steps} min"
    return f"{steps // 60} h {steps % 60} min" if steps % 60 else f"{steps // 60} h"


def _lift(lift: Mapping[str, Any], us: bool) -> list[str]:
    limit = lift.get("limit_kg")
    return [
        str(lift["what"]),
        wording.rough_mass(lift["load_kg"] * 1000.0, us=us),
        wording.rough_mass(limit * 1000.0, us=us) if limit else "",
        FLAGS.get(str(lift.get("flag")), str(lift.get("flag"))),
        wording.in_system(str(lift.get("why") or ""), us=us),
    ]


def _notes(plan: Mapping[str, Any], us: bool) -> list[str]:
    """What need not stand on the bench pages: pace, leftovers, ballast with its cap; alike for several pours
    it is told once.
    """
    notes: list[str] = []
    told: dict[str, list[str]] = {}
    for pour in plan["pours"]:
        mixing = pour.get("mixing") or {}
        for text in (mixing.get("pace"), mixing.get("leftover_use")):
            if text:
                told.setdefault(str(text), []).append(str(pour["piece"]))
    over: dict[str, list[str]] = {}
    for text, letters in told.items():
        much, left, use = text.partition(OVER)
        if left:
            over.setdefault(use, []).extend(f"{much} of {letter}" for letter in letters)
            continue
        notes.append(f"Pour{'s' if letters[1:] else ''} {listed(letters)}: {text}")
    notes += [f"{listed(much)}{OVER if len(much) == 1 else MORE_OVER}{use}" for use, much in over.items()]
    for pour in plan["pours"]:
        hold = pour.get("hold") or {}
        if hold and plan["object"].get("floats_in_slurry") and pour is plan["pours"][0]:
            sinks = [str(b["says"]).rstrip(".") for b in hold.get("ballast") or []]
            if sinks:
                notes.append(f"Sunk from inside: {'. Or: '.join(sinks)}. {hold['cap']}")
    return [wording.in_system(text, us=us) for text in notes]


def _stations(pose: Mapping[str, Any], us: bool) -> list[list[str]]:
    """One row for each station: number, heights up from the board, heights down from the rim, the band."""
    rows = []
    for s in pose.get("stations") or []:
        heights = [
            ruler(s[key], us).rsplit(" ", 1)[0]
            for key in ("seam_mm", "bed_mm", "seam_down_mm", "bed_down_mm")
        ]
        band = [_band(s[key], us) for key in ("stray_up_mm", "stray_down_mm")]
        rows.append([str(s["number"]), *heights, *band, "" if s["at_form"] else "*"])
    return rows


def _band(mm: float, us: bool) -> str:
    if mm > MOST_STRAY_MM:
        return "any"
    if mm < 0.05:
        return "none"
    return inches_at_most(mm).removesuffix(" in").replace("less than ", "<") if us else f"{mm:.1f}"


def axis_words(plan: Mapping[str, Any]) -> str:
    """What up and down mean on the sheet, and the same in the frame of the object's file."""
    says = "Up and down are told of the block as it stands for the first pour, with its front towards you."
    axis = (plan.get("survey") or {}).get("axis")
    if axis:
        told = ", ".join(f"{float(v):z.3f}".rstrip("0").rstrip(".").replace("-", "−") for v in axis)
        says += f" In the object's own file the first pull is ({told})."
    return says


def _tag(plan: Mapping[str, Any], us: bool) -> dict[str, Any]:
    """What is written on the tag that hangs on the closed mold."""
    pours = plan["pours"]
    consistency = pours[0].get("consistency")
    shares = {t["piece"]: f"{t['dry_share']:.4f}" for t in plan.get("dry_targets") or []}
    return {
        "code": str(plan.get("code") or ""),
        "ratio": say_ratio(consistency) if consistency else "",
        "pieces": [
            [str(p["id"]), say_mass(p["wet_kg"] * 1000.0, us=us), shares.get(p["id"], "")]
            for p in plan["pieces"]
        ],
    }
