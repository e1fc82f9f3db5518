"""Why a plan takes another way than the one its survey puts first, or more pieces than it tells of."""

from __future__ import annotations

from collections.abc import Sequence

from claybed.flow.ways import NOTHING_ML, within_fill
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.finding import Check, Finding
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption, Survey
from claybed.records.tried import Tried
from claybed.survey.limits import fill_limit_ml
from claybed.units import say_length, say_volume
from claybed.wording import against_limit, check_words, count_word


def passed_findings(tried: Sequence[Tried], taken: MoldOption) -> tuple[Finding, ...]:
    """Fewer pieces that were cut before those that were taken, and the way that was left for its plaster;
    none of the latter when it was taken after all, because none holds or with side pieces cut in another
    manner.
    """
    fewer = {t.option.pieces: t for t in reversed(tried) if t.why and t.option.pieces < taken.pieces}
    findings = [_left_more(fewer[count], taken) for count in sorted(fewer)]
    weak = [t for t in tried if t.check is not None]
    others = [t for t in weak if (t.option.pull, t.option.sides) != (taken.pull, taken.sides)]
    holds = bool(tried) and tried[-1].check is None and not tried[-1].why
    if holds and others and others[0] is weak[0] and weak[0].check is not None:
        findings.append(_weak(others, weak[0].check, first=weak[0] is tried[0]))
    return tuple(findings)


def too_much_in_two(
    obj: MeasuredObject, found: Survey, brief: Brief, taken: MoldOption
) -> tuple[Finding, ...]:
    """That two pieces would leave more to fill, or deeper gaps, than is asked of a person, where that is why
    there are more; nothing where their number was asked for.
    """
    two = min((way for way in found.options if way.kind == "two_piece"), key=_fill_ml, default=None)
    if two is None or taken.pieces <= two.pieces or brief.pieces is not None:
        return ()
    why = within_fill(obj, two, brief)
    if not why:
        return ()
    limit = why[why.rindex("(") + 1 : why.rindex(")")]
    return (
        Finding(
            id="two_leave_too_much",
            severity="note",
            where="the mold",
            says=f"Two pieces would leave {say_volume(two.fill_ml)} of oil clay to fill, in gaps up to "
            f"{say_length(two.deepest_mm)} deep: {limit}. So this mold has {count_word(taken.pieces)}.",
            remedy=f"For two ask for --pieces 2 --max-fill {two.fill_ml * 1.05 + 0.1:.1f}ml.",
        ),
    )


def open_block_findings(obj: MeasuredObject, found: Survey, brief: Brief) -> tuple[Finding, ...]:
    """That the object leaves a single block too, once an amount of oil clay is filled that a person may well
    allow: where it is to be pressed, or where the mold wants filling as it is.
    """
    block = found.open_block
    if block is None or brief.mouth or (brief.use != "press" and found.chosen.castable):
        return ()
    times = shelf.value("practice", "open_block_fill_ratio").value
    if block.fill_ml > times * fill_limit_ml(obj.solid_ml, None):
        return ()
    allow_ml = block.fill_ml * 1.05 + 0.1
    return (
        Finding(
            id="open_block",
            severity="note",
            where="",
            says=f"It leaves one open block as well, through its flat face and without a seam, once "
            f"{say_volume(block.fill_ml)} of oil clay fills gaps up to {say_length(block.deepest_mm)} deep.",
            remedy=f"For that ask for --open block --max-fill {allow_ml:.1f}ml.",
        ),
    )


def _fill_ml(way: MoldOption) -> float:
    """What a way leaves to fill, ml."""
    return way.fill_ml


def _left_more(way: Tried, taken: MoldOption) -> Finding:
    """That so few pieces were reckoned to do, and what came of it when they were cut."""
    count = count_word(way.option.pieces).capitalize()
    reckoned = say_volume(way.option.fill_ml) if way.option.fill_ml > NOTHING_ML else "nothing"
    return Finding(
        id="fewer_were_cut",
        severity="note",
        where="the mold",
        says=f"{count} pieces were reckoned to leave {reckoned} to fill. They were cut and left: "
        f"{way.why.rstrip('.')}. So this mold has {count_word(taken.pieces)}.",
        remedy="",
    )


def _weak(ways: Sequence[Tried], check: Check, *, first: bool) -> Finding:
    """That the first of some ways was left for a check, and the others too; `first` when the survey puts it
    first.
    """
    along = ",".join(f"{v:.5g}" for v in ways[0].option.pull)
    measured = against_limit(
        {"measured": check.measured, "limit": check.limit, "unit": check.unit, "sense": check.sense}
    )
    count = len({t.option.pull for t in ways}) - 1
    more = f" So {'was' if count == 1 else 'were'} {count_word(count)} more." if count else ""
    way = "The way that the survey puts first"
    if not first:
        way = f"A way in {count_word(ways[0].option.pieces)} pieces"
    return Finding(
        id="way_passed_over",
        severity="note",
        where="the mold",
        says=f"{way}, along {along} of the file, was cut and left: "
        f"“{check_words(check.id, [check.id])}” does not hold there, {measured}.{more} The way taken "
        "comes after and holds.",
        remedy=f"To plan the other all the same, and see what it takes, say --axis {along}.",
    )
