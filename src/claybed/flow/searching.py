"""Which way to make a mold is taken: one search over counts of pieces, with one memory of what was cut."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from claybed.errors import CannotError
from claybed.flow.flat_seam import flat_ways
from claybed.flow.instead import MADE, lacking, next_count, proposals, typed
from claybed.flow.keeping_out import KEEP_OUT_LEAST_MM
from claybed.flow.made_fill import SideFillError, UncutError, allowed_ml, side_refusal
from claybed.flow.molding import FEW_SIDES, Molded, Weak, gated
from claybed.flow.side_seams import seam_checks
from claybed.flow.ways import options_of, or_mouth, seam_refusal
from claybed.proof.leaving import sides_leave
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption, Survey, Trade
from claybed.records.tried import Tried
from claybed.units import say_volume
from claybed.wording import count_word

Progress = Callable[[str, float], None]
# The checks of a mold that fail, of all that a plan would ask of it.
Fails = Callable[[Molded], Sequence[Check]]
# So many pieces are made unasked where the plaster of two is weak.
MORE_PIECES = 3
# So many ways are cut of each thing that a refusal may propose: each can take as long as a plan.
FEW_CUTS = 2


def make_mold(
    obj: MeasuredObject,
    survey: Survey,
    brief: Brief,
    *,
    progress: Progress,
    weak: Weak = lambda assembly: (),
    wider: Callable[[Brief], Survey] | None = None,
    fails: Fails = lambda molded: (),
) -> Molded:
    """Make the best mold the brief allows: the options of the survey in turn, then other axes of little fill.

    The next is tried where one leaves more to fill than may be, where a seam runs where it may not, and where
    plaster is `weak` (the checks that fail: a tongue too slender, an edge too sharp). Where two pieces are
    weak whichever way they leave, and nobody asked for them, three are tried: `wider` surveys for a brief
    that asks for so many. The first mold stands when all are weak or have only seams of side pieces where
    none may run. Raises CannotError when more fill is needed than allowed, when the seam cannot keep out or
    be flat as asked, or when the piece count asked for is not to be had; what it proposes instead was made,
    and none of its checks `fails`.
    """
    search = _Search(obj, brief, progress, weak, wider, fails)
    try:
        options = options_of(obj, survey, brief)
    except CannotError as reason:
        raise search.in_place_of(reason, survey) from None
    if brief.flat_seam:
        options = flat_ways(obj, options, brief)
    made = search.first_to_hold(survey, options)
    weak_two = search.standing
    if made is None and weak_two is not None and wider and more_may_hold(weak_two, brief):
        more = replace(brief, pieces=MORE_PIECES)
        found = wider(more)
        left = {trade.pieces: trade.fill_ml for trade in found.front}
        if left.get(MORE_PIECES, 0.0) <= max(weak_two.option.fill_ml, left.get(2, 0.0)):
            three = [option for option in found.options if option.pieces == MORE_PIECES]
            made = search.first_to_hold(found, three, more)
    made = made or search.standing
    if made is None:
        raise search.refusal(survey)
    return replace(
        made,
        survey=replace(made.survey, front=front_as_cut(made.survey.front, search.tried, made.option)),
        tried=tuple(search.tried),
    )


def more_may_hold(molded: Molded, brief: Brief) -> bool:
    """Whether further pieces may be made in place of two that are weak: what was asked leaves that open."""
    asked = brief.pieces is not None or brief.axis is not None or brief.flat_seam
    return not asked and molded.option.kind == "two_piece"


def front_as_cut(
    front: Sequence[Trade], tried: Sequence[Tried], taken: MoldOption | None
) -> tuple[Trade, ...]:
    """The front with what the cuts left to fill in place of what was reckoned: of each count the way `taken`,
    else the one of its ways that was cut with least left.
    """
    return tuple(
        _as_cut(trade, [t for t in tried if t.option.pieces == trade.pieces], taken) for trade in front
    )


def _as_cut(trade: Trade, tried: Sequence[Tried], taken: MoldOption | None) -> Trade:
    if taken is not None and taken.pieces == trade.pieces:
        told = "cut" if taken.sides else trade.told
        return Trade(taken.pieces, taken.fill_ml, taken.pull, taken.sides, taken.base_mm, told)
    cut = [(t.left_ml, k) for k, t in enumerate(tried) if t.left_ml is not None and t.option.sides]
    if cut:
        left_ml, k = min(cut)
        way = tried[k].option
        return Trade(way.pieces, max(left_ml, way.fill_ml), way.pull, way.sides, way.base_mm, "cut")
    if any((t.option.pull, t.option.sides) == (trade.pull, trade.sides) for t in tried if t.option.sides):
        return replace(trade, told="unmade")
    return trade


def _failed(option: MoldOption, reason: CannotError, *, over: bool) -> Tried:
    if not isinstance(reason, SideFillError):
        return Tried(option, over, None, why=reason.what)
    if not reason.leave:
        return Tried(option, over, None, why="the side pieces as they were cut would not leave")
    return Tried(option, over, reason.left_ml, why=f"{say_volume(reason.left_ml)} would have to be filled")


def _told(progress: Progress, way: int, option: MoldOption, step: str, part: float) -> None:
    """Progress that names the way from the second on, so that nobody takes a search for a standstill."""
    pieces = f"{count_word(option.pieces)} piece{'' if option.pieces == 1 else 's'}"
    progress(step if way == 1 else f"{step}, way {way}: {pieces}", part)


class _Search:
    """What was cut so far, and what it taught: ways of more pieces that lock or leave more are passed by.

    `standing` is the first mold that would do but for weak plaster or seams of side pieces.
    """

    def __init__(
        self,
        obj: MeasuredObject,
        brief: Brief,
        progress: Progress,
        weak: Weak,
        wider: Callable[[Brief], Survey] | None,
        fails: Fails,
    ) -> None:
        self.tried: list[Tried] = []
        self.standing: Molded | None = None
        self._obj, self._brief, self._progress, self._weak = obj, brief, progress, weak
        self._wider, self._fails = wider, fails
        self._faults: list[tuple[MoldOption, CannotError]] = []
        self._missed: list[tuple[str, float, str]] = []
        self._held_pulls: list[tuple[float, float, float]] = []
        self._fewer = (0, math.inf)
        self._most = math.inf

    def first_to_hold(
        self,
        survey: Survey,
        options: Sequence[MoldOption],
        brief: Brief | None = None,
        *,
        most_cuts: int | None = None,
    ) -> Molded | None:
        """The first of some ways whose mold holds all that the brief asks; None when none does, or none of
        the first `most_cuts` that are cut.

        Side pieces that part over the object, with plugs, come after those that part on it.
        """
        brief = brief or self._brief
        most = math.inf if most_cuts is None else len(self.tried) + most_cuts
        for option in options:
            for over in (False, True) if option.sides and not option.leans else (False,):
                if len(self.tried) < most and not self._passed_by(option, over):
                    molded = self._cut(survey, option, brief, over=over)
                    if molded is not None:
                        return molded
        return None

    def _passed_by(self, option: MoldOption, over: bool) -> bool:
        way = option.pull, option.sides
        known = any((t.option.pull, t.option.sides, t.over) == (*way, over) for t in self.tried)
        failed = any((o.pull, o.sides) == way for o, _ in self._faults)
        held = bool(option.sides) and option.pull in self._held_pulls
        return known or failed or held or option.pieces > self._most

    def _cut(self, survey: Survey, option: MoldOption, brief: Brief, *, over: bool) -> Molded | None:
        """The mold of one way where it holds; what it was left for is kept."""
        progress = partial(_told, self._progress, len(self.tried) + 1, option)
        try:
            molded = gated(self._obj, option, survey, brief, progress, self._weak, over=over)
            if option.sides and not sides_leave(molded.assembly):
                raise UncutError(
                    "the side pieces as they were cut would not leave.",
                    where=self._obj.name,
                    remedy="Choose another --axis.",
                )
        except CannotError as reason:
            self.tried.append(_failed(option, reason, over=over))
            self._faults.append((option, reason))
            self._learn(option, reason)
            return None
        tried = Tried(option, over, molded.option.fill_ml)
        if molded.keep_out_mm > KEEP_OUT_LEAST_MM:
            says = f"{molded.keep_out_mm:.0f} mm of the seam would run where none may"
            self._missed.append(("--keep-out", molded.keep_out_mm, says))
            self.tried.append(replace(tried, why=says))
            return None
        if brief.flat_seam and not molded.assembly.seam_flat:
            off_mm = molded.assembly.off_plane_mm
            self._missed.append(("--flat-seam", off_mm, f"the seam would be {off_mm:.1f} mm off a plane"))
            self.tried.append(replace(tried, why=self._missed[-1][2]))
            return None
        barred = [c for c in seam_checks(molded.assembly, brief.keep_out) if not c.ok]
        fails = next(iter((*self._weak(molded.assembly), *barred)), None)
        self.tried.append(replace(tried, check=fails))
        if fails is None:
            return molded
        self.standing = self.standing or molded
        return None

    def _learn(self, option: MoldOption, reason: CannotError) -> None:
        # Where side pieces lock, more of them along that pull do as well; where many do, along any.
        if isinstance(reason, SideFillError):
            if not reason.leave:
                self._held_pulls.append(option.pull)
            worse = option.pieces > self._fewer[0] and reason.left_ml >= self._fewer[1]
            if worse or (not reason.leave and len(option.sides) > FEW_SIDES):
                self._most = option.pieces
            self._fewer = min(self._fewer, (option.pieces, reason.left_ml), key=lambda way: way[1])
        elif isinstance(reason, UncutError) and len(option.sides) > FEW_SIDES:
            self._most = option.pieces

    def refusal(self, survey: Survey) -> CannotError:
        """The refusal where no way was had: what was tried, and what can be made instead, which is made to
        see that it can be.
        """
        if self._missed or not self._faults:
            return seam_refusal(self._obj.name, self._missed, self._brief)
        if not isinstance(self._faults[0][1], SideFillError | UncutError):
            return self._faults[0][1]
        two = None
        more = replace(self._brief, pieces=2, max_fill_ml=allowed_ml(survey.chosen.fill_ml))
        try:
            options = options_of(self._obj, survey, more)
            two = self.first_to_hold(survey, options, more) or self.standing
        except CannotError:
            pass
        lacks = [lacking(typed(more, self._brief), True, self._fails(two))] if two else []
        option, two_holds = two.option if two else None, not any(lacks)
        further, untried = "", next_count(self._obj, survey, self._brief)
        if untried is not None and self._wider is not None:
            words = typed(untried, self._brief)
            made, fails = self._made_of(untried, self._wider)
            lacks.append(lacking(words, made is not None, fails))
            if not lacks[-1]:
                further = f"take {count_word(untried.pieces or 0)} pieces with {words}: {MADE}"
        refused = replace(survey, front=front_as_cut(survey.front, self.tried, None))
        return side_refusal(
            self._obj,
            refused,
            self._faults,
            option,
            self._brief,
            two_holds=two_holds,
            further=further,
            lacks=lacks,
        )

    def in_place_of(self, reason: CannotError, survey: Survey) -> CannotError:
        """A refusal of a count of pieces before any was cut, with what to type for a mold that is ready,
        which is made to see it; with what the others lack where none of the few that are made is.

        Of what may be hollow ware none is made: with --mouth its inside is beside the point.
        """
        hollow = or_mouth(self._obj, survey.chosen.fill_ml, self._brief)
        if (self._brief.pieces or 0) < 2 or self._wider is None or hollow:
            return reason
        lacks = []
        for way, words in proposals(self._obj, survey, self._brief):
            made, fails = self._made_of(way, self._wider)
            if made is not None and not fails:
                return CannotError(reason.what, where=reason.where, remedy=f"Say {words}: {MADE}.")
            lacks.append(lacking(words, made is not None, fails))
        told = " ".join([reason.what, *lacks])
        return CannotError(told, where=reason.where, remedy=reason.remedy)

    def _made_of(self, way: Brief, wider: Callable[[Brief], Survey]) -> tuple[Molded | None, Sequence[Check]]:
        """The mold of another wish, of the few ways that are cut first, and which of its checks fail."""
        standing, self.standing = self.standing, None
        try:
            found = wider(way)
            options = options_of(self._obj, found, way)
            made = self.first_to_hold(found, options, way, most_cuts=FEW_CUTS) or self.standing
        except CannotError:
            made = None
        self.standing = standing
        return made, self._fails(made) if made else ()
