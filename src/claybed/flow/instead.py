"""What may be made in place of a number of pieces that is refused: each is cut before a refusal names it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from claybed.flow.made_fill import allowed_ml
from claybed.flow.ways import NOTHING_ML
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import Survey
from claybed.survey.limits import fill_limit_ml
from claybed.wording import check_words

# Cut side pieces may leave half more than the samples tell.
MORE_LEFT = 1.5
MADE = "such a mold was made, and all its checks hold"


def proposals(obj: MeasuredObject, survey: Survey, brief: Brief) -> list[tuple[Brief, str]]:
    """Other wishes than the count of pieces that was asked for and needs too much fill, and what to type for
    each, nearest to what was asked first: the same with its fill allowed, the next count that is reckoned to
    do, two with their fill.
    """
    count = brief.pieces or 0
    same = [option for option in survey.options if option.pieces == count]
    ways = []
    if same:
        reckoned_ml = same[0].fill_ml * (MORE_LEFT if same[0].sides else 1.0)
        ways.append(replace(brief, max_fill_ml=allowed_ml(reckoned_ml)))
    ways += [more for more in (next_count(obj, survey, brief),) if more is not None]
    if count > 2:
        ways.append(replace(brief, pieces=2, max_fill_ml=allowed_ml(survey.chosen.fill_ml)))
    return [(way, typed(way, brief)) for way in ways]


def next_count(obj: MeasuredObject, survey: Survey, brief: Brief) -> Brief | None:
    """The wish for the next count of pieces above the one asked for that is reckoned to need no more fill
    than may be asked of a person; None where no such count is told, or no count was asked for.
    """
    if brief.pieces is None:
        return None
    most_ml = max(fill_limit_ml(obj.solid_ml, brief.max_fill_ml), NOTHING_ML)
    more = [t.pieces for t in survey.front if t.pieces > max(brief.pieces, 2) and t.fill_ml <= most_ml]
    return replace(brief, pieces=min(more)) if more else None


def typed(way: Brief, brief: Brief) -> str:
    """What to type for one wish in place of another."""
    words = [] if way.pieces == brief.pieces else [f"--pieces {way.pieces}"]
    if way.max_fill_ml != brief.max_fill_ml and way.max_fill_ml is not None:
        words.append(f"--max-fill {way.max_fill_ml:.1f}ml")
    return " ".join(words)


def lacking(words: str, made: bool, fails: Sequence[Check]) -> str:
    """That no mold came of what can be typed, or one that is not ready, in a sentence; empty where it is."""
    if not made:
        return f"With {words} none could be made of the ways that were tried."
    if not fails:
        return ""
    return f"With {words} one was made, but “{check_words(fails[0].id, [fails[0].id])}” does not hold there."
