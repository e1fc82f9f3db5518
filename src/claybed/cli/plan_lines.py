"""Sentences of a plan on screen: frames, the fired piece, the hump."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed import units as unit_words
from claybed.cli import output
from claybed.trades import how_told, worth_telling
from claybed.units import say_share

Document = Mapping[str, Any]


def is_hump(document: Document) -> bool:
    """Whether a plan or a survey was asked for a hump."""
    return bool((document.get("made") or {}).get("brief", {}).get("hump"))


def hump_line(hump: Mapping[str, Any], *, us: bool) -> str:
    """Return one sentence on a hump and its plinth."""
    tall, ledge, plinth = (
        unit_words.say_length(hump[key], us=us) for key in ("hump_mm", "ledge_mm", "plinth_mm")
    )
    inside = unit_words.say_volume(hump["hollow_ml"], us=us)
    return (
        f"Hump {tall} tall, {inside} of plaster in the vessel, on a plinth {plinth} high that reaches "
        f"{ledge} past the rim."
    )


def gate_line(document: Document, *, us: bool) -> str:
    """Return where slip goes in when that was this program's choice, and how to choose another place."""
    gate = document["mold"].get("gate") or {}
    if gate.get("kind") != "bore":
        return ""
    bore = unit_words.say_length(float(gate["bore_mm"]), us=us)
    out = output.direction_text(gate["out"])
    line = f"Slip goes in by a bore of {bore} that comes out along {out} of the file."
    if gate.get("at_object_mm"):
        return f"{line} It runs through the first piece: {str(gate['reason']).rpartition(': ')[2]}."
    if document["made"]["brief"].get("gate") != "auto":
        return line
    if gate.get("why"):
        if not any(finding["id"] == "gate_placed" for finding in document.get("findings") or ()):
            line = f"{line} {gate['why']}"
        return line
    if not gate.get("another"):
        return line
    return f"{line} For another place, as where the ware is to be open, say --gate {gate['another']}."


def ware_line(document: Document, *, us: bool) -> str:
    """Return one sentence on the fired piece when a clay was named, else nothing."""
    ware = document.get("ware") or {}
    fired = ware.get("fired")
    if not fired:
        return ""
    size = " × ".join(unit_words.say_length(fired[key], us=us) for key in ("x_mm", "y_mm", "z_mm"))
    holds = fired.get("capacity_ml")
    room = f", holding {unit_words.say_volume(holds, us=us)}" if holds else ""
    clay = str(ware["shrinkage"]["clay"]).replace("_", " ")
    wall = unit_words.say_length(fired["wall_mm"], us=us)
    return f"Fired in {clay}: {size}{room}, wall {wall}."


def frames_line(document: Document) -> str:
    """Return one sentence on the two frames: the axis is the object's own, what pieces do is the mold's."""
    axis = output.direction_text(document["survey"]["axis"])
    return (
        f"The axis {axis} is told of the object as it is in the file; which way a piece leaves, of the mold "
        "as it stands for its first pour."
    )


def trade_lines(found: Mapping[str, Any], *, us: bool) -> list[str]:
    """Return what each number of pieces leaves to fill, and how that is known."""
    front = worth_telling(found)
    if len(front) < 2:
        return []
    ways = [f"{row['pieces']} pieces leave {_left(row, us=us)}" for row in front]
    return [f"Pieces against fill: {', '.join(ways)}. Choose with --pieces or --max-fill."]


def _left(row: Mapping[str, Any], *, us: bool) -> str:
    fill_ml, known = float(row["fill_ml"]), how_told(row)
    left = unit_words.say_volume(fill_ml, us=us) if fill_ml > 0.0 else "nothing"
    return f"{left} ({known})" if known else left


def spread_lines(document: Document, *, us: bool) -> list[str]:
    """Return one sentence for each pour whose weights are uncertain because the object's volume is.

    Empty for an object taken at its word: how well plaster itself is known stands in the working.
    """
    band = (document["object"].get("measured") or {}).get("band") or {}
    if not any(band.values()):
        return []
    lines = []
    for place, pour in enumerate(document["pours"]):
        off = [
            unit_words.say_spread(
                pour[key],
                document["figures"][f"/pours/{place}/{key}"]["low"],
                document["figures"][f"/pours/{place}/{key}"]["high"],
                lambda grams: unit_words.say_mass(grams, us=us),
            )
            for key in ("water_g", "plaster_g")
        ]
        lines.append(
            f"Piece {pour['piece']}: water {off[0]} and plaster {off[1]}, as well as object and plaster are "
            f"known; {say_share(pour['waste'], 1)} over is mixed."
        )
    return lines
