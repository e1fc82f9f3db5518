"""What stands under the pictures of the object as it lies: how it is turned, and how the bed leaves it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed import wording
from claybed.sheets.bench_words import pose_mended, steep_words
from claybed.sheets.fill_marks import fill_marks
from claybed.sheets.side_words import side_letters


def lying(plan: Mapping[str, Any], us: bool) -> dict[str, list[str]] | None:
    """Sentences of that page, those on the bed apart; None for an object without a bed."""
    pose = plan.get("pose") or {}
    stations = pose.get("stations") or []
    if pose.get("on_board") or not stations:
        return None
    cards = "Card S1 stands from left to right, S2 from front to back. " if pose.get("saddles") else ""
    rings = " Rings with numbers: places to fill, a broken ring out of sight." if _filled(pose) else ""
    letters = side_letters(plan)
    dashes = f" Dashes: where the filler of {' or '.join(letters)} meets the object." if letters else ""
    says = [
        "So it lies while the seam is drawn and for the first pour; left, right, front and back are those of "
        f"the chart. {cards}It is turned right when the highest place and the farthest left, right, front "
        "and back all come to their heights at once; turned wrong about its own length, one of "
        "them is off, however well it sits.",
        "Thick line: the seam, with a tick every centimetre and the numbers of the chart's stations; dotted "
        f"where it runs behind.{dashes} Black dots: where heights are read, those in sight.{rings}",
    ]
    says[1:1] = pose_mended(plan)
    bed = (
        []
        if pose.get("level")
        else [
            "Begin at the drawn line. For a finger's width the clay goes straight away from the object, "
            "square to its side there, so that the edge of the plaster gets blunt; beside a bed card its "
            "edge holds.",
            "Then it slopes evenly to the form, down from a high line, up from a low one, never so that it "
            "overhangs.",
        ]
    )
    steep = steep_words(pose, us)
    if steep and bed:
        bed.append(
            f"Where the line climbs steeply (at stations {steep}) the clay beside it is a bank with one "
            "steep face, as tall as the line; two fingers out from the object the face leans back to a slope "
            "that a hand could smooth, and at the form it is gone. The face runs out from the steep part of "
            "the line itself; a card that drops at once stands in it and shows its height."
        )
    return {
        name: [wording.in_system(text, us=us) for text in texts]
        for name, texts in (("says", says), ("bed", bed))
    }


def _filled(pose: Mapping[str, Any]) -> bool:
    return bool(fill_marks(pose.get("fill") or []))
