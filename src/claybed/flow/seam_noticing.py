"""What a person should be told of a seam that a bed is slow to carve to."""

from __future__ import annotations

from claybed.flow.ways import NOTHING_ML
from claybed.materials import shelf
from claybed.records.finding import Amount, Finding
from claybed.records.pose import Pose
from claybed.records.surveyed import Survey
from claybed.units import say_length
from claybed.wording import count_word


def climb_findings(pose: Pose, found: Survey, pieces: int) -> tuple[Finding, ...]:
    """That the main seam of a mold of `pieces` climbs in many places, and whether one piece more may have a
    flatter one: claimed to leave nothing to fill only where the survey looked.

    Source: materials/practice (seam_steep_many_count).
    """
    steps_mm = [abs(place.last_mm - place.first_mm) for place in pose.steep]
    if len(steps_mm) < shelf.value("practice", "seam_steep_many_count").value:
        return ()
    more = pieces + 1
    count = f"{count_word(more)} pieces".capitalize()
    remedy = "Before you build that bed, compare another --axis."
    if any(trade.pieces == more and trade.fill_ml <= NOTHING_ML for trade in found.front):
        remedy = f"{count} leave nothing to fill either: compare their seam with --pieces {more}."
    elif pieces == 2:
        remedy = (
            f"Before you build that bed, compare --pieces {more} or another --axis: main pieces that leave "
            f"level, with a piece under the foot, often meet in a flatter seam. {count} were not looked into."
        )
    return (
        Finding(
            id="seam_climbs",
            severity="look",
            where="the bed",
            says=f"The seam goes steeply up or down in {len(steps_mm)} places, by up to "
            f"{say_length(max(steps_mm))} at once, between {len(pose.stations)} stations: such a bed is slow "
            "to carve.",
            remedy=remedy,
            amount=Amount(max(steps_mm), "mm"),
        ),
    )
