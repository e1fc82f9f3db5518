"""One search over counts of pieces: what it cuts, what it learns of that, and what it hands on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from claybed.errors import CannotError
from claybed.flow import searching
from claybed.flow.made_fill import SideFillError, UncutError
from claybed.flow.molding import Molded
from claybed.flow.searching import front_as_cut, make_mold
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.surveyed import MoldOption, Survey, Trade
from claybed.records.tried import Tried
from tests.flow.test_noticing import OBJ, OPTION, SIDES, course, surveyed

TONGUE = Check("tongue", False, 2.1, 3.0, "mm", "least", "piece B", "by hand")
TURNED = replace(OPTION, pull=(0.6, 0.8, 0.0))
# What becomes of a way, by its pieces and whether its side pieces part over the object: a mold, with its
# weak plaster, or an error.
Fate = Callable[[MoldOption, bool], tuple[Check, ...]]


def several(count: int, fill_ml: float = 0.0) -> MoldOption:
    """A way of so many pieces."""
    return MoldOption("several", OPTION.pull, fill_ml, 0.0, "Leaves.", sides=SIDES[: count - 2])


def with_ways(*options: MoldOption, two_ml: float = 6.0) -> Survey:
    """A survey of these ways; its front has a row for each count."""
    found = surveyed()
    front = [Trade(2, two_ml, OPTION.pull, (), told="measured")]
    front += [Trade(o.pieces, o.fill_ml, o.pull, o.sides) for o in options if o.sides]
    return replace(found, options=options, front=tuple(front), chosen=replace(found.chosen, fill_ml=two_ml))


@pytest.fixture
def cuts(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, bool]]:
    """What is cut, in turn, as (pieces, over); a way comes out as its `fate` says."""
    seen: list[tuple[int, bool]] = []

    def cut(obj: Any, option: MoldOption, survey: Survey, *rest: Any, over: bool) -> Molded:
        seen.append((option.pieces, over))
        rest[1]("mold", 0.1)
        weak = searching.fate(option, over)  # type: ignore[attr-defined]
        molded = replace(course(survey).molded, option=option, survey=survey)
        return replace(molded, assembly=replace(molded.assembly, stance=weak))

    monkeypatch.setattr(searching, "gated", cut)
    monkeypatch.setattr(searching, "seam_checks", lambda assembly, barred: ())
    monkeypatch.setattr(searching, "sides_leave", lambda assembly: assembly.stance != "held")
    return seen


def made(found: Survey, fate: Fate, brief: Brief | None = None, **more: Any) -> Molded:
    """The mold that the search comes to."""
    searching.fate = fate  # type: ignore[attr-defined]
    weak: Any = lambda assembly: assembly.stance  # noqa: E731
    return make_mold(OBJ, found, brief or Brief(), **{"progress": lambda *_: None, "weak": weak, **more})


def leaves(left_ml: float, *, holds: bool = False) -> SideFillError:
    """Side pieces that leave so much."""
    return SideFillError(
        f"{left_ml} ml are left.", where="", remedy="", left_ml=left_ml, leave=True, holds=holds
    )


def fate_of(outcomes: dict[int, Any]) -> Fate:
    """What becomes of each count; holds where nothing is said."""

    def fate(option: MoldOption, over: bool) -> tuple[Check, ...]:
        outcome = outcomes.get(option.pieces, ())
        if isinstance(outcome, Exception):
            raise outcome
        return outcome  # type: ignore[no-any-return]

    return fate


def test_where_a_cut_leaves_more_the_next_count_is_made(cuts: list[tuple[int, bool]]) -> None:
    """Three pieces that leave 6.8 ml are no mold; four are, and the front tells both as they were cut."""
    found = with_ways(several(3, 0.7), several(4))
    molded = made(found, fate_of({3: leaves(6.8)}))
    assert cuts == [(3, False), (4, False)]
    assert molded.option.pieces == 4
    rows = [(row.pieces, row.fill_ml, row.told) for row in molded.survey.front]
    assert rows == [(2, 6.0, "measured"), (3, 6.8, "cut"), (4, 0.0, "cut")]
    assert [(t.option.pieces, t.left_ml, t.why) for t in molded.tried] == [
        (3, 6.8, "6.8 ml would have to be filled"),
        (4, 0.0, ""),
    ]


def test_what_was_never_cut_stays_reckoned(cuts: list[tuple[int, bool]]) -> None:
    """Three hold, so four are not cut, and the front says that what is told of them is reckoned."""
    molded = made(with_ways(several(3, 0.7), several(4)), fate_of({}))
    assert cuts == [(3, False)]
    assert [row.told for row in molded.survey.front] == ["measured", "cut", "reckoned"]


def test_side_pieces_that_hold_one_another_are_no_mold(cuts: list[tuple[int, bool]]) -> None:
    """Three that leave nothing to fill and would not come off are left, and four are made."""
    molded = made(with_ways(several(3), several(4)), fate_of({3: "held"}))
    assert cuts == [(3, False), (4, False)] and molded.option.pieces == 4
    assert (molded.tried[0].left_ml, "would not leave" in molded.tried[0].why) == (None, True)
    assert [row.told for row in molded.survey.front] == ["measured", "unmade", "cut"]


def test_a_count_that_could_not_be_made_is_told_so() -> None:
    """Of ways of one count the one with least left counts; a count of which none opens is told as unmade."""
    front = with_ways(several(3), several(4)).front
    tried = (
        Tried(several(3), False, None, why="it could not be cut"),
        Tried(several(4), False, 3.0, why="3.0 ml"),
        Tried(several(4), True, 2.0, why="2.0 ml"),
    )
    rows = [(row.fill_ml, row.told) for row in front_as_cut(front, tried, None)]
    assert rows == [(6.0, "measured"), (0.0, "unmade"), (2.0, "cut")]


def test_a_refusal_names_every_count_that_was_cut(cuts: list[tuple[int, bool]]) -> None:
    """Three leave 5 ml and would do, four could not be made, and two, made for the refusal, leave 6 ml."""
    found = with_ways(replace(OPTION, fill_ml=6.0), several(3), several(4))
    with pytest.raises(CannotError) as told:
        made(found, fate_of({3: leaves(5.0, holds=True), 4: UncutError("it broke.", where="", remedy="")}))
    assert cuts == [(3, False), (4, False), (2, False)]
    assert "Cut as well: 4 pieces could not be made. Two pieces leave 6.0 ml" in told.value.what
    assert (
        "Allow it with --pieces 3 --max-fill 5.3ml, or take two pieces with --pieces 2" in told.value.remedy
    )


def test_a_refusal_of_a_count_names_those_that_are_reckoned_to_do(cuts: list[tuple[int, bool]]) -> None:
    """Asked for three, four are not cut; that they are reckoned to leave nothing is told as such."""
    found = with_ways(replace(OPTION, fill_ml=6.0), several(3), several(4))
    with pytest.raises(CannotError) as told:
        made(found, fate_of({3: leaves(5.0)}), Brief(pieces=3))
    assert cuts == [(3, False), (2, False)]
    assert "not cut: 4 pieces nothing" in told.value.what


def test_the_next_count_is_made_before_a_refusal_names_it(cuts: list[tuple[int, bool]]) -> None:
    """Asked for three, which leave 5 ml, four are made: they are proposed where all their checks hold, and
    told to lack what fails where one does not; where they cannot be cut nothing is said of them but that.
    """
    found = with_ways(replace(OPTION, fill_ml=6.0), several(3), several(4), several(5))

    def refused(fails: tuple[Check, ...], **of_four: Exception) -> CannotError:
        def lack(molded: Molded) -> tuple[Check, ...]:
            return fails if molded.option.pieces == 4 else ()

        with pytest.raises(CannotError) as told:
            made(
                found,
                fate_of({3: leaves(5.0), 4: of_four.get("four", ())}),
                Brief(pieces=3),
                wider=lambda brief: found,
                fails=lack,
            )
        return told.value

    ready = refused(())
    assert cuts == [(3, False), (2, False), (4, False)]
    assert "take four pieces with --pieces 4: such a mold was made" in ready.remedy
    lacking = refused((TONGUE,))
    assert "--pieces 4" not in lacking.remedy
    assert "With --pieces 4 one was made, but" in lacking.what
    broken = refused((), four=UncutError("it broke.", where="", remedy=""))
    assert "--pieces 4" not in broken.remedy and "With --pieces 4 none could be made" in broken.what


def test_a_count_that_needs_too_much_fill_is_refused_with_what_was_made(cuts: list[tuple[int, bool]]) -> None:
    """Three reckoned to leave 4 ml of 0.5 that are allowed: with half as much more allowed they are cut, and
    named where they are ready; else four; else the refusal stays as it was.
    """
    found = with_ways(replace(OPTION, fill_ml=6.0), several(3, 4.0), several(4, 0.4))
    asked = Brief(pieces=3, max_fill_ml=0.5)

    def refused(lacking: set[int]) -> CannotError:
        cuts.clear()
        with pytest.raises(CannotError) as told:
            made(
                found,
                fate_of({}),
                asked,
                wider=lambda brief: found,
                fails=lambda molded: (TONGUE,) if molded.option.pieces in lacking else (),
            )
        return told.value

    same = refused(set())
    assert cuts == [(3, False)]
    assert same.remedy.startswith("Say --max-fill 6.4ml: such a mold was made")
    four = refused({3})
    assert cuts == [(3, False), (4, False)] and "Say --pieces 4: such" in four.remedy
    none = refused({2, 3, 4})
    assert [count for count, _ in cuts] == [3, 4, 2] and "was made" not in none.remedy
    assert none.what.count("one was made, but") == 3


def test_weak_plaster_in_two_makes_three(cuts: list[tuple[int, bool]]) -> None:
    """Where no way in two holds, three are surveyed and cut in the same search, and tell why."""
    asked: list[Brief] = []

    def wider(brief: Brief) -> Survey:
        asked.append(brief)
        return with_ways(OPTION, several(3), two_ml=0.0)

    molded = made(with_ways(OPTION, TURNED, two_ml=0.0), fate_of({2: (TONGUE,)}), wider=wider)
    assert asked == [Brief(pieces=3)] and cuts == [(2, False), (2, False), (3, False)]
    assert molded.option.pieces == 3
    assert [t.check for t in molded.tried] == [TONGUE, TONGUE, None]
    assert [row.pieces for row in molded.survey.front] == [2, 3]


def test_weak_plaster_in_three_as_well_keeps_two(cuts: list[tuple[int, bool]]) -> None:
    """Where three are as weak, or cannot be had, two stand; parting over the object is tried in between."""
    found = with_ways(OPTION, several(3), two_ml=0.0)
    for outcome in ((TONGUE,), UncutError("it broke.", where="", remedy="")):
        cuts.clear()
        fates = fate_of({2: (TONGUE,), 3: outcome})
        molded = made(with_ways(OPTION, two_ml=0.0), fates, wider=lambda brief: found)
        assert molded.option.pieces == 2 and molded.survey.options[0] is OPTION
        assert cuts[:2] == [(2, False), (3, False)] and ((3, True) in cuts) == isinstance(outcome, tuple)


@pytest.mark.parametrize("brief", [Brief(pieces=2), Brief(axis=OPTION.pull)])
def test_what_was_asked_for_is_kept(brief: Brief, cuts: list[tuple[int, bool]]) -> None:
    """A count or an axis that was asked for is not gone round for weak plaster."""

    def wider(brief: Brief) -> Survey:
        raise AssertionError("nobody asked for three")

    assert made(with_ways(OPTION, two_ml=0.0), fate_of({2: (TONGUE,)}), brief, wider=wider).option is OPTION
    assert cuts == [(2, False)]


def test_three_that_are_known_to_leave_more_are_not_cut(cuts: list[tuple[int, bool]]) -> None:
    """Where three leave more to fill than two do, two stand."""
    found = with_ways(OPTION, several(3, 4.0), two_ml=0.0)
    made(with_ways(OPTION, two_ml=0.0), fate_of({2: (TONGUE,)}), wider=lambda brief: found)
    assert cuts == [(2, False)]


def test_progress_names_the_way_from_the_second_on(cuts: list[tuple[int, bool]]) -> None:
    """Whoever waits sees that another way is being cut, and in how many pieces."""
    steps: list[str] = []
    fate = fate_of({3: leaves(5.0)})
    made(with_ways(several(3), several(4)), fate, progress=lambda step, part: steps.append(step))
    assert cuts == [(3, False), (4, False)]
    assert steps == ["mold", "mold, way 2: four pieces"]
