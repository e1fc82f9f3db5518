"""A seam that climbs in many places is told, with the number of pieces to compare."""

from __future__ import annotations

from dataclasses import replace

import pytest

from claybed.flow.seam_noticing import climb_findings
from claybed.materials import shelf
from claybed.records.pose import Pose, SteepPlace
from claybed.records.surveyed import AxisScore, Survey, Trade

SCORE = AxisScore((0.0, 0.0, 1.0), 0.0, 0.0, 0.0, 0, 0.0, True, 10.0, "asked")
SURVEY = Survey((), SCORE, (), (), (SCORE,), False, 0.2)
MANY = round(shelf.value("practice", "seam_steep_many_count").value)


def posed(steps: int) -> Pose:
    """A pose with so many steep places of 9 mm, one of them of 26 mm and downwards."""
    steep = [SteepPlace(1, 2, 20.0, 29.0)] * (steps - 1) + [SteepPlace(2, 3, 50.0, 24.0)]
    return Pose(
        board_mm=0.0, rim_mm=100.0, pad_mm=0.0, stray_lock_mm=0.1, tilt_deg=None, near_mm=1.0,
        on_board=False, level=False, stations=(), steep=tuple(steep), saddles=(), landmarks=(), keys=(),
        fill=(), bed_cards=(), short_lines=0, short_mm=0.0,
    )  # fmt: skip


def test_only_many_steep_places_are_told() -> None:
    """One place less than many is carved without a word; the largest step counts, up or down."""
    assert climb_findings(posed(MANY - 1), SURVEY, 2) == ()
    (told,) = climb_findings(posed(MANY), SURVEY, 2)
    assert told.amount is not None and told.amount.value == pytest.approx(26.0)
    assert f"in {MANY} places, by up to 26 mm at once" in told.says


@pytest.mark.parametrize(
    ("pieces", "front", "named"),
    [
        (2, (), "were not looked into"),
        (2, (Trade(3, 0.0, SCORE.axis, ()),), "Three pieces leave nothing to fill either"),
        (2, (Trade(3, 2.0, SCORE.axis, ()),), "compare --pieces 3"),
        (3, (Trade(4, 0.0, SCORE.axis, ()),), "--pieces 4"),
    ],
)
def test_a_piece_more_is_claimed_only_where_it_was_found(
    pieces: int, front: tuple[Trade, ...], named: str
) -> None:
    """That one piece more leaves nothing is said where the survey found it, else it is left open."""
    (told,) = climb_findings(posed(MANY), replace(SURVEY, front=front), pieces)
    assert named in told.remedy
    (last,) = climb_findings(posed(MANY), SURVEY, 3)
    assert "--pieces" not in last.remedy
