"""What is refused before any plaster is cut: which request failed, and what would pass."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from claybed.errors import CannotError
from claybed.flow import molding
from claybed.flow.course import run_survey
from claybed.flow.document import survey_document
from claybed.flow.fewest import uncut_findings
from claybed.flow.searching import make_mold
from claybed.flow.store import NoStore
from claybed.flow.ways import options_of, refusal
from claybed.geometry.mesh import Mesh
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief, KeepOut
from claybed.records.finding import Check, Finding
from claybed.records.surveyed import AxisScore, FillPlace, MoldOption, Survey, Trade
from claybed.survey.surveying import survey
from tests.pieces import solids
from tests.survey.objects import measured

BRICK = measured(solids.box(50.0, 40.0, 30.0), name="brick")
SCORE = AxisScore((0.0, 0.0, 1.0), 0.0, 0.0, 0.0, 1, 3.0, False, 10.0, "asked")
EVERYWHERE = KeepOut((1.0, 0.0, 0.0), -100.0, 100.0)


def quiet(phase: str, part: float) -> None:
    """Take progress and say nothing."""


def locked(fill_ml: float) -> Survey:
    """A survey whose one way needs so much fill."""
    option = MoldOption("two_piece", SCORE.axis, fill_ml, 3.0, "Leaves.")
    score = replace(SCORE, fill_ml=fill_ml)
    return Survey((option,), score, (), (), (score,), True, 0.2)


def with_two(*more: MoldOption) -> Survey:
    """A survey of two pieces that need 30 ml, and of more."""
    found = locked(30.0)
    return replace(found, options=(*found.options, *more))


@pytest.mark.parametrize(
    ("share", "mouth", "told"), [(2.0, False, True), (2.0, True, False), (0.1, False, False)]
)
def test_fill_like_a_hollow_points_to_the_mouth(share: float, mouth: bool, told: bool) -> None:
    """Fill larger than the object itself is its inside; a gap under a handle, or a mouth closed, is not."""
    reason = refusal(BRICK, locked(share * BRICK.solid_ml), Brief(mouth=mouth))
    assert isinstance(reason, CannotError)
    assert ("--mouth" in reason.remedy) is reason.remedy.startswith("If it is open hollow ware") is told
    assert f"--max-fill {share * BRICK.solid_ml * 1.05 + 0.1:.1f}ml" in reason.remedy


@pytest.mark.parametrize("holds", [True, False])
def test_side_pieces_that_do_not_reach_a_hollow_point_to_the_mouth(
    holds: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When side pieces leave more than was found, a vessel that holds water is told of --mouth as well."""
    inside = Finding("hollow_ware", "look", "the inside", "It holds 282 ml.", "Add --mouth.")
    thing = replace(BRICK, findings=(inside,) if holds else ())
    option = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    monkeypatch.setattr(molding, "with_sides", lambda assembly, *cut, **asked: (assembly, 1.7))
    with pytest.raises(CannotError, match="no side pieces were found") as told:
        make_mold(thing, replace(locked(0.0), options=(option,)), Brief(pieces=3), progress=quiet)
    assert "at most 1.0 ml are taken" in told.value.what
    assert ("add --mouth" in told.value.remedy) is holds
    assert told.value.remedy.startswith("If it is open hollow ware") is holds
    assert "llow it with --max-fill 1.9ml" in told.value.remedy


@pytest.mark.parametrize(("leave", "weak"), [(True, False), (False, False), (True, True)])
def test_a_refusal_proposes_only_what_was_seen_to_do(
    leave: bool, weak: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """More fill is proposed when the side pieces that were cut leave and no plaster of theirs is weak; else
    two pieces with theirs, of which a mold was made.
    """
    thin = Check(
        id="tongue", ok=False, measured=1.0, limit=3.0, unit="mm", sense="least", where="piece C", how="",
        remedy="",
    )  # fmt: skip
    option = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    monkeypatch.setattr(molding, "with_sides", lambda assembly, *cut, **asked: (assembly, 1.7))
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: leave)
    with pytest.raises(CannotError, match="no side pieces were found") as told:
        make_mold(
            BRICK,
            with_two(option),
            Brief(pieces=3),
            progress=quiet,
            weak=lambda assembly: (thin,) if weak else (),
        )
    holds = leave and not weak
    assert ("--max-fill 1.9ml" in told.value.remedy) is holds
    assert ("--pieces 2 --max-fill 31.6ml" in told.value.remedy) is not holds
    assert "Two pieces leave 30 ml, up to 3.0 mm deep." in told.value.what


@pytest.mark.parametrize(("held_mm", "cuts"), [(2.0, 1), (0.1, molding.FEW_TRIES)])
def test_what_no_small_move_frees_is_cut_once(
    held_mm: float, cuts: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A side piece held by more than the object is ever moved is told to be held after one cut; held by
    rounding it is tried again, and what the proof finds then decides.
    """
    made = []

    def counted(assembly: object, *cut: object, **asked: object) -> tuple[object, float]:
        made.append(assembly)
        return assembly, 0.0

    option = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    monkeypatch.setattr(molding, "with_sides", counted)
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: False)
    monkeypatch.setattr(molding, "sides_held_mm", lambda assembly: held_mm)
    brief = Brief(pieces=3, keys=False)
    if held_mm > molding.STUCK_MM:
        with pytest.raises(CannotError, match=r"a side piece would be held by 2\.0 mm"):
            make_mold(BRICK, with_two(option), brief, progress=quiet)
    else:
        assert make_mold(BRICK, with_two(option), brief, progress=quiet).option.sides == option.sides
    assert len(made) == cuts


@pytest.mark.parametrize(("slits", "moved_ml", "taken"), [(1, 0.0, -1), (9, 0.0, 0), (1, 4.5, 0)])
def test_a_slit_between_solids_is_tried_again_with_a_small_move(
    slits: int, moved_ml: float, taken: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Solids that do not lie on one another after one cut mostly do after another, in a block made wider by
    the move; where they never do, or leave more to fill than may be once moved, the first mold stands, and
    the proof tells what is wrong with it.
    """
    made = []

    def counted(assembly: object, *cut: object, **asked: object) -> tuple[object, float]:
        made.append(assembly)
        return assembly, 0.0 if len(made) == 1 else moved_ml

    option = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    monkeypatch.setattr(molding, "with_sides", counted)
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: True)
    monkeypatch.setattr(molding, "lies_together", lambda assembly, mesh: len(made) > slits)
    brief = Brief(pieces=3, keys=False, max_fill_ml=3.0)
    molded = make_mold(BRICK, with_two(option), brief, progress=quiet)
    assert len(made) == (slits + 2 if taken else molding.FEW_TRIES)
    assert molded.assembly.pieces == made[taken].pieces
    assert molded.option.fill_ml == 0.0


def uncut(*cut: object, **asked: object) -> None:
    """Side pieces that do not come out of their cuts."""
    raise ArithmeticError("a side piece could not be cut cleanly")


def test_pieces_that_cannot_be_cut_are_refused_with_what_two_leave(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was tried, what two pieces leave and what fewer are reckoned to; the line to type makes a mold,
    and more pieces still are not cut.
    """
    pulls = ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0))
    options = [MoldOption("several", SCORE.axis, 0.4, 1.0, "Leaves.", sides=pulls[:k]) for k in (3, 4)]
    front = (Trade(2, 30.0, SCORE.axis, ()), Trade(3, 9.0, SCORE.axis, pulls[:1]))
    found = replace(with_two(*options), front=front)
    monkeypatch.setattr(molding, "with_sides", uncut)
    with pytest.raises(CannotError, match="could not be cut cleanly") as told:
        make_mold(BRICK, found, Brief(), progress=quiet)
    assert told.value.what.startswith("5 pieces were reckoned to free all but 0.4 ml, but ")
    assert "Two pieces leave 30 ml, up to 3.0 mm deep." in told.value.what
    assert "3 pieces 9.0 ml" in told.value.what
    assert "--pieces 2 --max-fill 31.6ml" in told.value.remedy
    assert make_mold(BRICK, found, Brief(pieces=2, max_fill_ml=31.6), progress=quiet).option.fill_ml == 30.0


def test_more_pieces_than_needed_are_refused_with_the_fewer_that_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where two pieces leave nothing, the refusal of four says so without asking for fill, and they are made;
    a count of which no way was found names them as well.
    """
    pulls = ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
    found = locked(0.0)
    more = replace(
        found, options=(*found.options, MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=pulls))
    )
    monkeypatch.setattr(molding, "with_sides", uncut)
    with pytest.raises(CannotError, match="Two pieces leave nothing to fill") as told:
        make_mold(BRICK, more, Brief(pieces=4), progress=quiet)
    assert "--pieces 2" in told.value.remedy and "--max-fill" not in told.value.remedy
    assert len(make_mold(BRICK, more, Brief(pieces=2), progress=quiet).assembly.pieces) == 2
    none_found = refusal(BRICK, found, Brief(pieces=5))
    assert none_found is not None and none_found.remedy.startswith("By the survey two pieces would do.")
    too_full = refusal(BRICK, locked(30.0), Brief(pieces=5))
    assert too_full is not None and "would do" not in too_full.remedy


def test_a_single_side_piece_that_fails_does_not_end_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four pieces of another pull are tried after three that could not be made."""
    one = MoldOption("several", (0.8, 0.0, 0.6), 0.0, 0.0, "Leaves.", sides=((-0.6, 0.0, 0.8),))
    two = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)))
    tried: list[int] = []
    really = molding.with_sides

    def not_one(assembly: Assembly, *asked: Any, **named: Any) -> tuple[Assembly, float]:
        tried.append(len(asked[2]))
        if tried[-1] == 1:
            return assembly, 1.7
        return really(assembly, *asked, **named)

    monkeypatch.setattr(molding, "with_sides", not_one)
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: len(assembly.pieces) > 2)
    made = make_mold(BRICK, with_two(one, two), Brief(keys=False), progress=quiet)
    assert 1 in tried
    assert made.option.pieces == len(made.assembly.pieces) == 4


def test_no_two_pieces_are_proposed_that_were_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no mold of two pieces comes about either, the refusal does not send a person there."""
    option = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    monkeypatch.setattr(molding, "cut_in_two", uncut)
    with pytest.raises(CannotError, match="could not be cut cleanly") as told:
        make_mold(BRICK, with_two(option), Brief(), progress=quiet)
    assert "--pieces 2" not in str(told.value)


@pytest.mark.parametrize(("left_ml", "told_ml"), [(2.01, 2.0), (2.8, 2.8)])
def test_a_mold_tells_what_its_side_pieces_leave(
    left_ml: float, told_ml: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the pieces as cut leave more than the samples told, that is the figure, in the places as well."""
    place = FillPlace(2.0, 3.0, "fill", (0.0, 0.0, 0.0))
    option = MoldOption("several", SCORE.axis, 2.0, 3.0, "Leaves.", sides=((1.0, 0.0, 0.0),), places=(place,))
    monkeypatch.setattr(molding, "with_sides", lambda assembly, *cut, **asked: (assembly, left_ml))
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: True)
    monkeypatch.setattr(
        molding, "wall", lambda assembly: Check("wall", True, 30.0, 30.0, "mm", "least", "", "", "")
    )
    made = make_mold(BRICK, with_two(option), Brief(pieces=3, max_fill_ml=4.0), progress=quiet)
    assert made.option.fill_ml == pytest.approx(told_ml)
    assert sum(p.volume_ml for p in made.option.places) == pytest.approx(told_ml)


def test_a_limit_that_was_asked_holds_for_the_pieces_as_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Side pieces that leave 2.8 ml where the samples told 2.0 are refused when 2.1 ml were allowed."""
    option = MoldOption("several", SCORE.axis, 2.0, 3.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    monkeypatch.setattr(molding, "with_sides", lambda assembly, *cut, **asked: (assembly, 2.8))
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: True)
    with pytest.raises(CannotError, match=r"2\.8 ml would have to be filled") as told:
        make_mold(BRICK, with_two(option), Brief(pieces=3, max_fill_ml=2.1), progress=quiet)
    assert "--max-fill 3.0ml" in told.value.remedy and "--max-fill allows 2.1 ml" in told.value.what


@pytest.mark.parametrize(("leave", "cut_sides"), [(True, [1, 2]), (False, [1])])
def test_more_pieces_that_leave_more_or_lock_end_the_search(
    leave: bool, cut_sides: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When four pieces leave more than three did, five are not cut, and when three lock, four are not; the
    refusal tells of three.
    """
    left_ml = {1: 1.7, 2: 5.0}
    tried: list[int] = []

    def cut(
        assembly: object, lat: object, layout: object, pulls: tuple[object, ...], **asked: object
    ) -> object:
        tried.append(len(pulls))
        return assembly, left_ml[len(pulls)]

    pulls = ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    options = [
        MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=pulls[: k + 1])
        for k in range(len(pulls))
    ]
    monkeypatch.setattr(molding, "with_sides", cut)
    monkeypatch.setattr(molding, "sides_leave", lambda assembly: leave)
    with pytest.raises(CannotError, match=r"1\.7 ml would have to be filled"):
        make_mold(BRICK, replace(locked(30.0), options=tuple(options)), Brief(), progress=quiet)
    assert tried == cut_sides


@pytest.mark.parametrize("fill_ml", [30.0, 0.0])
def test_a_surface_that_crosses_itself_gets_no_side_pieces(fill_ml: float) -> None:
    """Two boxes through one another enclose 2.3 ml twice: they are refused more pieces, with what two would
    leave, unless two serve.
    """
    box = solids.box(60.0, 40.0, 30.0)
    points = np.concatenate([box.vertices_mm, box.vertices_mm + np.array([45.0, 25.0, 20.0])])
    crossed = Mesh.make(points, np.concatenate([box.faces, box.faces + 8]), frame=box.frame)
    more = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    found = replace(locked(fill_ml), options=(*locked(fill_ml).options, more))
    reason = refusal(measured(crossed), found, Brief())
    if fill_ml == 0.0:
        assert reason is None
        assert all(not option.sides for option in options_of(measured(crossed), found, Brief()))
    else:
        assert reason is not None
        assert "crosses itself" in reason.what
        assert "--pieces 2 --max-fill 31.6ml" in reason.remedy


@pytest.mark.parametrize(("two_ml", "severity"), [(30.0, "look"), (0.5, "note")])
def test_a_survey_says_that_side_pieces_are_not_cut_yet(two_ml: float, severity: str) -> None:
    """Ways with side pieces are told as reckoned, and plainly where a plan would take one; two pieces that
    need no more than is taken unasked come first.
    """
    found = locked(two_ml)
    more = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    (told,) = uncut_findings(BRICK, replace(found, options=(*found.options, more)), Brief())
    assert told.severity == severity
    assert ("would have three pieces" in told.says) is (severity == "look")
    assert ("--pieces 2 --max-fill 31.6ml" in told.remedy) is (severity == "look")
    assert uncut_findings(BRICK, found, Brief()) == ()


def test_the_remedy_of_too_much_fill_is_accepted() -> None:
    """With the fill that the refusal names, nothing is refused."""
    needs = locked(30.0)
    assert refusal(BRICK, needs, Brief(max_fill_ml=30.0 * 1.05 + 0.1)) is None


@pytest.mark.parametrize("brief", [Brief(keep_out=(EVERYWHERE,)), Brief(keep_out=(EVERYWHERE,), pieces=2)])
def test_a_region_that_no_seam_can_avoid_is_named(brief: Brief) -> None:
    """The refusal names the request that failed, by how much at best, and that it is the only hindrance."""
    found = survey(BRICK, replace(brief, axis=(0.0, 0.0, 1.0)), progress=quiet)
    with pytest.raises(CannotError, match=r"does not meet --keep-out: at best \d+ mm of the seam") as told:
        make_mold(BRICK, found, replace(brief, axis=(0.0, 0.0, 1.0)), progress=quiet)
    assert "--flat-seam" not in str(told.value)
    assert "Leave --keep-out out, and it can be made" in told.value.remedy
    assert make_mold(BRICK, found, replace(brief, axis=(0.0, 0.0, 1.0), keep_out=()), progress=quiet)


@pytest.mark.parametrize(("pieces", "refused"), [(1, True), (None, False)])
def test_a_survey_says_whether_its_plan_would_be_refused(pieces: int | None, refused: bool) -> None:
    """A crescent leaves no single block, and says so before it is planned; in two it is not."""
    brief = Brief(pieces=pieces)
    found = run_survey(lambda asked, progress: measured(solids.crescent()), brief, "", NoStore(), quiet)
    document = survey_document(found, brief)
    assert (document["refused"] is not None) is refused
    if refused:
        assert "--mouth" in document["refused"]["remedy"]
        assert "block" in document["refused"]["says"]


@pytest.mark.parametrize(("fill_ml", "passes"), [(0.015, True), (0.1, False)])
def test_no_fill_at_all_lets_a_crumb_pass(fill_ml: float, passes: bool) -> None:
    """--max-fill 0ml refuses what a hand would fill, and not what is the samples' doing."""
    assert (refusal(BRICK, locked(fill_ml), Brief(max_fill_ml=0.0)) is None) is passes


def test_more_pieces_are_looked_for_where_two_need_more_than_is_allowed() -> None:
    """A foot 0.3 mm hollow is scraped in two pieces; with --max-fill 0ml it leaves with a third, unfilled.

    Source: geometry; the hollow holds 0.38 ml, and leaves straight down.
    """
    profile = np.array([[0.0, 0.3], [20.0, 0.3], [20.0, 0.0], [25.0, 0.0], [25.0, 40.0], [0.0, 40.0]])
    vessel = measured(solids.revolved(profile, sides=48), name="vessel")
    level = Brief(axis=(0.0, 1.0, 0.0))
    assert [o.pieces for o in survey(vessel, level, progress=quiet).options] == [2]
    strict = replace(level, max_fill_ml=0.0)
    found = survey(vessel, strict, progress=quiet)
    ways = options_of(vessel, found, strict)
    assert ways[0].pieces == 3 and ways[0].fill_ml <= 0.02
    assert [trade.pieces for trade in found.front][:2] == [2, 3]


def test_another_way_for_two_is_tried_before_a_third_piece() -> None:
    """Where the first way for two leaves weak plaster, the next for two may do: a snail came in four."""
    more = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
    first = locked(0.0)
    other = replace(SCORE, axis=(0.0, 1.0, 0.0), fill_ml=0.0, deepest_mm=0.0)
    found = replace(first, options=(*first.options, more), candidates=(SCORE, other))
    ways = options_of(BRICK, found, Brief())
    assert [way.pieces for way in ways] == [2, 2, 3]
    assert ways[1].pull == other.axis


def test_an_open_block_that_cannot_be_is_not_laid_to_a_count_that_nobody_typed() -> None:
    """A refusal of one open piece names the object, since --open asks for it as well as --pieces."""
    reason = refusal(BRICK, locked(0.0), Brief(pieces=1, use="press"))
    assert isinstance(reason, CannotError)
    assert str(reason).startswith("brick: this object does not leave a single block")
    assert "--pieces" not in str(reason)
