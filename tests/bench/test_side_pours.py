"""A mold of three pieces at the bench: A and B as two halves, C poured on their side when they are closed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from claybed.bench.forms import plan_form
from claybed.bench.planning import plan_bench
from claybed.pours.planning import plan_pours
from claybed.records.bench import Bench
from claybed.records.brief import Brief
from claybed.records.poured import Poured
from claybed.records.standing import Keeper
from claybed.timetable.planning import plan_timetable
from tests.bench.standings import drying, piece_pour, standing, thing

FILLER = Keeper("C", 3, "front", 25.0, 4, 20.0, 8.0)
THREE = (
    standing(opens=2),
    standing(piece="B", order=2, fill_from_board_mm=170.0, bed_level_mm=85.0, opens=3),
    standing(
        piece="C", order=3, inside_mm=(150.0, 160.0), fill_from_board_mm=170.0, bed_level_mm=145.0,
        object_mm=(0.0, 0.0), aside=True, wet_kg=0.9, dry_kg=0.6, opens=1,
    ),
)  # fmt: skip


@pytest.fixture(scope="module")
def three() -> Bench:
    """The ball's mold with a piece of 25 mm at its front."""
    pieces = [piece_pour(piece=letter, order=k) for k, letter in enumerate("ABC", start=1)]
    poured = Poured(plan_pours(pieces, Brief(), 0.0), None, ())
    return plan_bench(THREE, thing(keepers=(FILLER,)), poured, Brief(), plan_key="three")


def test_a_filler_keeps_the_place_of_a_side_piece(three: Bench) -> None:
    """The first form names the filler with its side and keys, the second keeps it, the third has none."""
    first, second, third = (pour.form.how for pour in three.pours)
    assert "to the front" in first and "25 mm thick" in first and "4 keys" in first
    assert "filler of piece C stays" in second
    assert "filler" not in third and "around the closed pieces" in third
    assert "closed pieces" in three.pours[2].form.leaks[-1]


def test_a_plug_is_told_as_one() -> None:
    """Where the side piece has a plug, what keeps its place is told with its depth, and that it widens."""
    plain = plan_form(THREE[0], Brief(), (FILLER,)).how
    plugged = plan_form(THREE[0], Brief(), (replace(FILLER, plug_mm=18.0),)).how
    assert "pocket" in plain and "plug" not in plain
    assert "plug of clay, 18 mm deep" in plugged and "widens" in plugged
    assert "pocket" not in plugged and "gap" not in plugged
    walled = plan_form(THREE[0], Brief(), (replace(FILLER, plug_mm=18.0, bridges=2),)).how
    assert "the 2 gaps across it open" in walled


def test_a_wider_form_takes_no_more_beside_a_filler() -> None:
    """A filler of 25 mm along the front leaves 145 mm of the depth: a millimetre more of the width adds that
    much times the height above the bed, one more of the depth adds the full width times it.
    """
    beside = plan_form(replace(THREE[0], own_mm=(170.0, 145.0)), Brief(), (FILLER,))
    assert beside.per_mm_wider_ml.value == pytest.approx((145.0 * 85.0 / 1000.0, 170.0 * 85.0 / 1000.0))


def test_a_slanted_filler_is_told_as_a_wedge() -> None:
    """Both its thicknesses are told with their ends, and how far the object reaches into it; when the mold
    lies on its side it stands square and its face slopes.
    """
    wedge = replace(FILLER, thick_mm=76.0, thin_mm=57.0, thick_at="left", thin_at="right", sunk_mm=12.0)
    how = plan_form(THREE[0], Brief(), (wedge,)).how
    assert "wedge, 57 mm thick at the right and 76 mm at the left" in how
    assert "reaches 12 mm into it" in how and "template “Filler C”" in how
    assert "wedge" not in plan_form(THREE[0], Brief(), (FILLER,)).how
    pieces = [piece_pour(piece=letter, order=k) for k, letter in enumerate("ABC", start=1)]
    poured = Poured(plan_pours(pieces, Brief(), 0.0), None, ())
    stood = (*THREE[:2], replace(THREE[2], rise_mm=19.0))
    bench = plan_bench(stood, thing(keepers=(wedge,)), poured, Brief(), plan_key="three")
    steps = " ".join(bench.pours[1].after.steps)
    assert "slopes by 19 mm" in steps and "lies level" not in steps


def test_a_later_filler_lies_under_an_earlier_side_piece() -> None:
    """Where two side pieces meet, the first runs over the other's place: its filler ends flush under that
    pour. The second is poured beside the first, which stands up in its form: the form is as wide as the
    block, and what is left to fill is told.
    """
    later = Keeper("D", 4, "right", 35.0, 2, 13.0, 5.0, ends_at=("C",))
    keepers = (FILLER, later)
    first, second = (
        plan_form(
            replace(THREE[2], piece=letter, order=order, beside=beside, own_mm=own_mm), Brief(), keepers
        )
        for letter, order, beside, own_mm in (("C", 3, (), (150.0, 160.0)), ("D", 4, ("C",), (150.0, 125.0)))
    )
    assert (
        "filler of piece D stays in, under this pour" in first.how and "up to the fill line" not in first.how
    )
    assert "150 mm × 125 mm are left to fill" in second.how and "Piece C stands up in it" in second.how
    assert "filler" not in second.how
    assert [board.inside_mm.number for board in second.boards] == [150.0, 160.0]
    assert "ends at the filler of C" in plan_form(THREE[0], Brief(), keepers).how


def test_what_waits_in_its_place_is_tipped_with_the_pieces() -> None:
    """The filler of the fourth piece is strapped in when the third is poured; recesses to pry in are told
    of each joint that opens.
    """
    four = (*THREE, replace(THREE[2], piece="D", order=4, opens=2, beside=("C",), own_mm=(150.0, 125.0)))
    keepers = (FILLER, Keeper("D", 4, "right", 35.0, 2, 13.0, 5.0))
    opens = dict(zip("ABCD", (3, 4, 1, 2), strict=True))
    pieces = [piece_pour(piece=letter, order=k) for k, letter in enumerate("ABCD", start=1)]
    poured = Poured(plan_pours(pieces, Brief(), 0.0), None, ())
    stood = tuple(replace(pour, opens=opens[pour.piece]) for pour in four)
    bench = plan_bench(stood, thing(keepers=keepers), poured, Brief(), plan_key="four")
    steps = [" ".join(pour.after.steps) for pour in bench.pours]
    assert "the filler of D with them" in steps[1] and "with them" not in steps[2]
    assert "places of pieces C and D stays" in steps[0]
    assert "each piece that comes off, C, D and A," in steps[3]


def test_the_bed_is_lifted_off_once(three: Bench) -> None:
    """After A the mold is turned and the bed lifted off; after B it is tipped and the filler taken out."""
    after_a, after_b, after_c = (" ".join(pour.after.steps) for pour in three.pours)
    assert "Lift the bed off" in after_a and "place of piece C stays in" in after_a
    assert "bed" not in after_b and "Turn it over" not in after_b
    assert "tip the mold" in after_b and "Take out the filler" in after_b
    assert "Take out the filler" not in after_c
    assert three.pours[1].after.keys == ()


def test_side_pieces_come_off_first(three: Bench) -> None:
    """The last page says in which order the mold opens, and marks each piece with its own letter."""
    steps = " ".join(three.pours[2].after.steps)
    assert "Piece C comes off first, then A, then B" in steps
    assert "its letter, and: date" in steps


def test_what_is_tipped_weighs_all_that_is_poured(three: Bench) -> None:
    """Before the third pour both halves and the object are moved: 3.4 + 3.4 kg and the object's mass."""
    turned, tipped = (pour.after.flip_kg for pour in three.pours[:2])
    assert turned is not None and tipped is not None and three.bed is not None
    object_kg = float(tipped.figure.inputs["model_kg"])
    assert tipped.number == pytest.approx(6.8 + object_kg)
    (lift,) = [one for one in three.lifts if "A and B" in one.what]
    assert lift.load_kg.number == pytest.approx(tipped.number)


def test_every_pour_is_released(three: Bench) -> None:
    """Plaster is poured on plaster twice: faces, object and form are coated before each pour."""
    for order in (1, 2, 3):
        steps = [step for step in three.release.steps if step.pour.number == order]
        assert any("object" in step.where for step in steps), order
        assert any("boards" in step.where for step in steps), order
    assert any("sockets" in step.where for step in three.release.steps if step.pour.number == 3)
    table = plan_timetable(three, drying(), "slip")
    assert sum(entry.what.endswith(": release") for entry in table.entries) == 3
