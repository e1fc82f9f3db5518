"""How much wider than usual a block is made for the keys of side pieces."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from claybed.errors import CannotError
from claybed.flow.cutting import RoomError
from claybed.flow.key_room import Made, wider_still
from claybed.materials import shelf
from claybed.records.brief import Brief

SIDE = (1.0, 0.0, 0.0)
USUAL_MM = shelf.value("practice", "key_room_most_mm").value
MOST_MM = shelf.value("practice", "key_room_sides_most_mm").value


def cut(bumps: str, *, meet: bool = False, left_ml: float = 0.0) -> Any:
    """A mold of two side pieces, C and D, with keys on `bumps`; its main pieces meet or do not."""
    assembly = SimpleNamespace(
        base="",
        contacts=(("A", "B"),) if meet else (("A", "C"), ("B", "C"), ("A", "D"), ("B", "D")),
        pieces=[SimpleNamespace(id=letter, pull=SIDE) for letter in "CD"],
        keys=[SimpleNamespace(bump_on=letter) for letter in bumps],
    )
    return "layout", assembly, 0.0, left_ml


class Attempts:
    """Cuts with so much more wall in turn; the keys of D have room from `from_mm` on."""

    def __init__(self, from_mm: float, left_ml: float = 0.0) -> None:
        self.from_mm, self.left_ml = from_mm, left_ml
        self.asked_mm: list[float] = []

    def __call__(self, room_mm: float, keys_wanted: bool) -> Made:
        """Cut, or find no room."""
        assert keys_wanted
        self.asked_mm.append(room_mm)
        if room_mm < self.from_mm:
            raise RoomError
        made: Made = cut("CD", left_ml=self.left_ml)
        return made


def test_the_narrowest_block_that_keys_all_is_taken() -> None:
    """Steps of 5 mm from the usual most on, and no further than keys need."""
    usual, attempts = cut("C"), Attempts(USUAL_MM + 10.0)
    made = wider_still(usual, attempts, Brief(), 0.1)
    assert made is not None
    assert {key.bump_on for key in made[1].keys} == {"C", "D"}
    assert attempts.asked_mm == [USUAL_MM + 5.0, USUAL_MM + 10.0]


def test_where_no_block_does_the_usual_one_stays() -> None:
    """Nobody carries more plaster for keys that are not there; the last try is the most of practice."""
    usual, attempts = cut("C"), Attempts(MOST_MM + 5.0)
    assert wider_still(usual, attempts, Brief(), 0.1) is usual
    assert attempts.asked_mm[-1] == MOST_MM


def test_what_locks_more_is_not_taken() -> None:
    """A wider block that leaves something to fill is passed over."""
    usual, attempts = cut("C"), Attempts(0.0, left_ml=0.5)
    assert wider_still(usual, attempts, Brief(), 0.1) is usual


def test_main_pieces_that_meet_hold_each_other() -> None:
    """There the usual block is enough, and no wider one is tried."""
    usual, attempts = cut("C", meet=True), Attempts(0.0)
    assert wider_still(usual, attempts, Brief(), 0.1) is usual
    assert attempts.asked_mm == []


def test_a_wider_block_that_cannot_be_cut_leaves_the_usual_one() -> None:
    """It rounds otherwise; what was made stands."""

    def refused(room_mm: float, keys_wanted: bool) -> Made:
        raise CannotError("it cannot be cut.", where="the block", remedy="None.")

    usual = cut("C")
    assert wider_still(usual, refused, Brief(), 0.1) is usual


def test_nothing_made_stays_nothing() -> None:
    """No block at all is for the caller to tell."""
    assert wider_still(None, Attempts(0.0), Brief(), 0.1) is None
