"""The page of the object as it lies: marks of fill, its table, its sentences and its two pictures."""

from typing import Any

import pytest
from specimen import plan
from test_pictures import ball, near

from claybed.assets.palette import OXIDE
from claybed.sheets.fill_marks import fill_marks
from claybed.sheets.fill_words import fill_rows
from claybed.sheets.lying_pictures import lying
from claybed.sheets.lying_words import lying as words
from claybed.sheets.places import without_axes


def spot(number: int, at_mm: tuple[float, float], height_mm: float, kind: str = "scrape") -> dict[str, Any]:
    """A place to fill as it stands in a plan."""
    return {
        "number": number,
        "lock_class": kind,
        "at_mm": at_mm,
        "height_mm": height_mm,
        "depth_mm": 0.3,
        "clay_g": 2.5 if number else 0.0,
    }


SPOTS = [
    spot(0, (30.0, 12.0), 61.0),
    spot(1, (-9.0, 41.0), 89.0, "fill"),
    spot(0, (31.0, 14.0), 47.0),
    spot(0, (-17.0, 58.0), 83.0),
    spot(0, (0.0, 0.0), 10.0, "ignore"),
]


def test_films_side_by_side_share_a_number_that_follows_the_places() -> None:
    """The one numbered place keeps its number; two films 14 mm apart are one, the next another, and what may
    be ignored none.
    """
    marks = fill_marks(SPOTS)
    assert [(mark.number, mark.spots, mark.film) for mark in marks] == [
        (1, (1,), False),
        (2, (0, 2), True),
        (3, (3,), True),
    ]
    assert (marks[1].low_mm, marks[1].high_mm, marks[1].at_mm) == (47.0, 61.0, (30.5, 13.0))


@pytest.mark.parametrize(
    ("us", "row"),
    [
        (False, ["2", "96 mm", "118 mm", "47 to 61 mm"]),
        (True, ["2", "3 3/4 in", "4 5/8 in", "1 7/8 to 2 3/8 in"]),
    ],
)
def test_the_table_tells_places_from_the_edges_of_the_chart(us: bool, row: list[str]) -> None:
    """A form of 130 by 210 mm inside: x + 65 from its left edge, y + 105 from its front one."""
    asked = {**plan(), "pose": {"fill": SPOTS}}
    asked["mold"] = {**asked["mold"], "outer_mm": [130.0, 210.0, 100.0]}
    rows = fill_rows(asked, us)
    assert rows[1][:4] == row
    assert rows[0][4] != "a film" and rows[1][4] == rows[2][4] == "a film"


def test_a_height_of_the_closed_block_is_told_of_the_board() -> None:
    """104 mm in the block's frame over a board at 28 are 76, and the station that is near is named."""
    pose = {
        "on_board": False,
        "board_mm": 28.0,
        "stations": [{"number": 8, "at_mm": (-37.0, 7.0), "seam_mm": 79.0}],
    }
    where = "piece A, left of the block, 104 mm above the foot of the closed block"
    near, far = (without_axes(where, pose, at) for at in ((-36.6, 7.4, 104.0), (36.6, 7.4, 104.0)))
    assert near == "piece A, left of the block, 76 mm above the board, at station 8"
    assert far == "piece A, left of the block, 76 mm above the board"
    assert without_axes("in the middle of its height, towards +x", pose) == "in the middle of its height"


def test_an_object_without_a_bed_has_no_such_page() -> None:
    """One that stands on the board by itself is not turned."""
    assert words({**plan(), "pose": {"on_board": True}}, us=False) is None


def test_a_place_to_fill_is_ringed_from_its_own_side() -> None:
    """On a ball a spot at its left is ringed and numbered as seen from the left, and not from the right; its
    highest place is named from both, so that neither picture is without words.
    """
    pose = {
        "board_mm": -28.0,
        "fill": [spot(1, (-19.9, 0.0), 28.0, "fill")],
        "stations": [{"number": 1, "at_mm": (0.0, -20.0), "seam_mm": 28.0}],
        "landmarks": [
            {"name": "highest place", "at_mm": (0.0, 0.0), "height_mm": 48.0, "low_mm": 48.0, "high_mm": 48.0}
        ],
    }
    left, right = (
        lying(ball(), [], pose, [], side, width_px=560, height_px=320) for side in ("left", "right")
    )
    assert near(left, OXIDE).sum() > 300
    assert near(right, OXIDE).sum() == 0
    bare = lying(ball(), [], {**pose, "landmarks": []}, [], "right", width_px=560, height_px=320)
    assert right.height > bare.height
