"""What a mold with side pieces is asked once it was cut."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from claybed.flow.made_fill import UncutError, as_made
from claybed.geometry.lattice import XY_PER_MM
from claybed.records.brief import Brief
from claybed.records.surveyed import MoldOption
from tests.pieces import solids
from tests.survey.objects import measured

BRICK = measured(solids.box(50.0, 40.0, 30.0), name="brick")
SIDE = (1.0, 0.0, 0.0)
OPTION = MoldOption("several", (0.0, 0.0, 1.0), 0.0, 0.0, "Leaves.", sides=(SIDE,))
SQUARE_MM = np.array([[-40.0, -40.0], [40.0, -40.0], [40.0, 40.0], [-40.0, 40.0]])
TALL = 1000


def cut(taken: float) -> Any:
    """A block 80 mm square; a side piece takes so much of its upper end, all of its width."""
    plan = np.array([SQUARE_MM[:, 0], (SQUARE_MM[:, 1] + 40.0) * taken - 40.0]).T * XY_PER_MM
    points = np.column_stack([np.rint(plan), np.full(4, TALL)]).astype(np.int64)
    solid = SimpleNamespace(points=points, faces=np.array([[0, 1, 2], [0, 2, 3]]))
    up, down = (SimpleNamespace(id=k, pull=(0.0, 0.0, z)) for k, z in (("A", 1.0), ("B", -1.0)))
    return SimpleNamespace(
        pieces=[up, down, SimpleNamespace(id="C", pull=SIDE, solid=solid)],
        height=TALL,
        footprint=np.rint(SQUARE_MM * XY_PER_MM).astype(np.int64),
    )


def test_a_main_piece_shut_in_by_side_pieces_is_no_way_to_make_it() -> None:
    """Plaster goes in at its end of the block: where side pieces take all of that, another way is tried."""
    with pytest.raises(UncutError) as refused:
        as_made(BRICK, OPTION, cut(1.0), 0.0, 0.1, Brief())
    assert "piece A cannot be poured" in refused.value.what
    assert "--axis" in refused.value.remedy


@pytest.mark.parametrize("taken", [0.5, 0.95])
def test_an_end_that_is_open_in_part_can_be_poured(taken: float) -> None:
    """What is left open of the end is enough, however little."""
    assert as_made(BRICK, OPTION, cut(taken), 0.0, 0.1, Brief()) == OPTION
