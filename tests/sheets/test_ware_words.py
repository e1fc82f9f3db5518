"""The ware page says which piece comes off before the clay lets go by itself."""

from __future__ import annotations

from claybed.sheets.ware_page import in_order, off_first


def test_a_piece_that_the_clay_grips_comes_off_first() -> None:
    """One gripped piece is named; where the clay draws away everywhere nothing is said."""
    assert [
        ("take piece B off first" in text) for text in off_first({"piece": "B", "within_minutes": 59.0})
    ] == [True]
    assert off_first({"piece": "", "within_minutes": None}) == off_first(None) == []


def test_ware_that_no_piece_lets_go_of_comes_out_in_time() -> None:
    """Of an open mold, and of two pieces that are both gripped, nothing comes off first and nothing waits."""
    grip = {"piece": "A", "within_minutes": 59.0, "gripped": ["A"]}
    for gripped, opening, whom in ((["A"], ["A"], "the plaster"), (["A", "B"], ["A", "B"], "pieces A and B")):
        (told,) = off_first(grip | {"gripped": gripped}, opening)
        assert (
            f"grips {whom} as it shrinks" in told
            and "take the ware out as soon as the clay keeps its shape, within about 59 min" in told
        )
        assert "first" not in told and "wait" not in told
    (told,) = off_first(grip, ["A", "B"], since="closing")
    assert "take piece A off first" in told and "59 min after closing" in told and "B may wait" in told


def test_more_than_two_pieces_come_off_in_their_own_order() -> None:
    """What the clay grips is off in time within the order that does not lock; nothing else is told first."""
    grip = {"piece": "A", "within_minutes": 59.0, "gripped": ["A"]}
    (told,) = off_first(grip, ["C", "A", "B"])
    assert (
        "C, then A, as soon as the clay keeps its shape, so that piece A is off within about 59 min" in told
    )
    assert "first" not in told and told.endswith("B may wait.")
    (told,) = off_first(grip | {"gripped": ["A", "B"]}, ["C", "A", "B"])
    assert "grips pieces A and B" in told and "C, then A, then B, as soon" in told
    assert "the ware is out of piece B within" in told and "wait" not in told
    (told,) = off_first(grip | {"piece": "C", "gripped": ["C"]}, ["C", "A", "B"])
    assert (
        "at piece C, which comes first" in told
        and "piece C is off within" in told
        and told.endswith("A and B may wait.")
    )


def test_nothing_is_waited_for_once_all_of_the_mold_is_off_in_time() -> None:
    """A last step that waits until the clay lets go by itself would undo the one before it."""
    steps = ("Pour.", "Open it fully when the clay has drawn away.")
    grip = {"piece": "B", "within_minutes": 59.0, "gripped": ["A", "B"]}
    assert in_order(steps, None, ["A", "B"], "pouring out") == list(steps)
    one = in_order(steps, grip | {"gripped": ["B"]}, ["A", "B"], "pouring out")
    assert one[-1] == steps[-1] and "B off first" in one[-2]
    for opening in (["A", "B"], ["C", "A", "B"]):
        every = in_order(steps, grip, opening, "pouring out")
        assert every[:1] == ["Pour."] and "59 min" in every[-1] and len(every) == 2
