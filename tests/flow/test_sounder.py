"""When a piece more is made than the survey needs: where two would leave weak plaster."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.molding import Molded
from claybed.flow.sounder import sounder_brief
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.surveyed import Trade
from tests.flow.test_noticing import OBJ, OPTION, course, surveyed

TONGUE = Check("tongue", False, 2.1, 3.0, "mm", "least", "piece B", "by hand")
OTHER = replace(OPTION, pull=(0.6, 0.8, 0.0))


def molded(*passed: object) -> Molded:
    """A mold of two pieces along z, with the ways that were cut and left."""
    return replace(course(surveyed()).molded, passed=tuple((way, TONGUE) for way in passed))  # type: ignore[misc]


def test_weak_plaster_in_two_asks_for_three() -> None:
    """The way taken is the first that was left, as none held: three are asked for, all else as before."""
    more = sounder_brief(OBJ, surveyed(), molded(OPTION, OTHER), Brief(ware_wall_mm=5.0))
    assert more == Brief(ware_wall_mm=5.0, pieces=3)


def test_a_mold_that_holds_stays_as_it_is() -> None:
    """Nothing was left, or another way was and this one holds."""
    assert sounder_brief(OBJ, surveyed(), molded(), Brief()) is None
    assert sounder_brief(OBJ, surveyed(), molded(OTHER), Brief()) is None


@pytest.mark.parametrize("brief", [Brief(pieces=2), Brief(axis=OPTION.pull), Brief(flat_seam=True)])
def test_what_was_asked_for_is_kept(brief: Brief) -> None:
    """A count, an axis or a flat seam that was asked for is not gone round."""
    assert sounder_brief(OBJ, surveyed(), molded(OPTION), brief) is None


def test_three_that_leave_more_are_not_asked_for() -> None:
    """Where the survey knows that three leave more to fill than two, two stay."""
    pull = tuple(np.eye(3)[2])
    front = (Trade(2, 0.0, pull, ()), Trade(3, 4.0, pull, ((1.0, 0.0, 0.0),)))
    assert sounder_brief(OBJ, replace(surveyed(), front=front), molded(OPTION), Brief()) is None
