"""What comes off in time where the clay grips, in the order that does not lock."""

from __future__ import annotations

import pytest

from claybed.ware.letting_go import in_time, opening_letters


def test_pieces_come_off_in_the_order_that_a_plan_holds() -> None:
    """By their place in the order of opening, as numbers; a document without pieces has none."""
    rows = [{"id": name, "order": place} for name, place in (("A", 10), ("B", 9), ("C", 1))]
    assert opening_letters({"pieces": rows}) == ("C", "B", "A")
    assert opening_letters({}) == ()


@pytest.mark.parametrize(
    ("opening", "gripped", "told"),
    [
        (
            "CAB",
            "AB",
            "C, then A, then B, as soon as the clay keeps its shape, so that the ware is out of piece B",
        ),
        (
            "CDBA",
            "D",
            "in its own order, C, then D, as soon as the clay keeps its shape, so that piece D is off",
        ),
        ("CAB", "C", "at piece C, which comes first"),
        ("AB", "AB", "take the ware out"),
        ("A", "A", "take the ware out"),
    ],
)
def test_a_gripped_piece_comes_off_in_the_plans_own_order(opening: str, gripped: str, told: str) -> None:
    """More than two pieces lock in any other order, so those before a gripped one are named with it."""
    assert told in in_time({"piece": gripped[0], "gripped": list(gripped)}, list(opening))
