"""Whether fewer pieces would do: claimed only where spots bear witness, else said to be open."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from claybed.flow.ways import NOTHING_ML, options_of, refusal
from claybed.records.brief import Brief, Vector
from claybed.records.finding import Finding
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import Drafted, Survey
from claybed.units import say_volume
from claybed.wording import count_word, in_a_row, spot_mark


def fewest_findings(
    found: Survey, place_of: Callable[[Vector], str], *, made: bool, left: Collection[int] = ()
) -> tuple[Finding, ...]:
    """What is known of the least number of pieces; nothing where no more than two were looked for.

    `place_of` tells a place on the object (mm, object frame) in words; `made` when a mold was cut, in so many
    pieces as the first option has, and its pictures show the spots; `left` counts that were cut and left.
    """
    if not found.front:
        return ()
    whole = {t.pieces for t in found.front if t.fill_ml <= NOTHING_ML and t.told != "unmade"}
    done = min(whole, default=0)
    seen = found.witness
    least = len(seen.spots_mm) if seen else 1
    has = found.options[0].pieces if made else 0
    if seen is None or (least == 2 and not whole):
        if max(has, 0 if made else done) < 3:
            return ()
        says, then = _unwitnessed(has, done, left)
        return (Finding(id="fewest_pieces", severity="note", where="the mold", says=says, remedy=then),)
    named = (
        f", {in_a_row([spot_mark(k) for k in range(least)])} in the picture (ringed where they lie behind),"
        if made
        else ""
    )
    spots = f"{count_word(least).capitalize()} spots{named} never leave along one pull, "
    spots += "slanted ones included"
    says, then = f"{spots}: without fill it takes {count_word(least)} pieces or more.", ""
    if done == least:
        says = f"{spots}: {count_word(least)} pieces are the fewest without fill."
        if has > least and found.options[0].leans is None:
            then = f"This mold has {count_word(has)}{_for_fewer(least, left)}."
    elif found.free_pulls:
        then = _unpaired(found.free_pulls, done)
    elif whole:
        then = f"Found with {count_word(done)}; that fewer would not do has not been shown."
        if 0 < has < done:
            then = (
                f"This mold has {count_word(has)}, and oil clay where they lock; {count_word(done)} "
                "were found that leave nothing to fill. That fewer would not do has not been shown."
            )
    places = [f"{spot_mark(k)} {place_of(at)}" for k, at in enumerate(seen.spots_mm)]
    if found.drafted is not None:
        then = f"{then} {_drafted(found.drafted, least)}{_made_so(found)}".strip()
        if found.drafted.wall_mm is not None:
            places.append(f"{spot_mark(least)} {place_of(found.drafted.wall_mm)}")
    elif made and found.options[0].leans is not None:
        then = f"This mold has {count_word(has)}, so that every wall has {found.options[0].draft_deg:g}° of "
        then += f"draft; that {count_word(has - 1)} would not do with it has not been shown."
    return (
        Finding(
            id="fewest_pieces",
            severity="note",
            where=f"as its file has it: {'; '.join(places)}",
            says=says,
            remedy=then,
            at_mm=seen.spots_mm[0],
        ),
    )


def _unpaired(pulls: Sequence[Vector], made: int) -> str:
    """What is said of pulls that do without two opposite ones; `made` pieces were found with such two, 0 when
    none were.
    """
    count = count_word(len(pulls))
    says = f"Pulled along {in_a_row([_direction(pull) for pull in pulls])} of the file {count} would do, "
    says += "if plaster may slide along upright walls."
    return says + (
        f" With two that leave opposite ways it was found with {count_word(made)}." if made else ""
    )


def _drafted(more: Drafted, least: int) -> str:
    """What is said of a mold whose walls all leave with draft; `least` spots never share a pull."""
    own = in_a_row([spot_mark(k) for k in range(least)])
    if more.wall_mm is None:
        why = f"the walls beside one of {own} do not all have it along one pull"
    else:
        why = f"no pull that the walls beside {own} leave along with it gives it to the wall at "
        why += spot_mark(least)
    return (
        f"With {more.draft_deg:g}° of draft on every wall, so that a piece leaves turned by that much, "
        f"{count_word(least + 1)} are the fewest: {why}."
    )


def _made_so(found: Survey) -> str:
    """Whether the mold gives all walls that draft, or how to ask for one that does, where one was found."""
    ways = [option for option in found.options if option.leans is not None]
    if not ways:
        return ""
    if found.options[0].leans is not None:
        whole = [
            t.pieces
            for t in found.front
            if t.fill_ml <= NOTHING_ML and t.told != "unmade" and t.pieces < ways[0].pieces
        ]
        fewer = f"; without that, plan it with --pieces {min(whole)}" if whole else ""
        return f" This mold has them{fewer}."
    return f" For such a mold plan it with --pieces {ways[0].pieces}."


def uncut_findings(obj: MeasuredObject, found: Survey, brief: Brief) -> tuple[Finding, ...]:
    """What a survey cannot know of ways with side pieces, which only cutting them tells; nothing where a plan
    as asked has no such way, or is refused.
    """
    if refusal(obj, found, brief) is not None:
        return ()
    ways = options_of(obj, found, brief)
    if not any(way.sides for way in ways):
        return ()
    first = ways[0]
    says = "More than two pieces are told from the open space around the object; none has been cut yet."
    remedy = "When claybed plan cuts them, it tells what they do not reach."
    if first.sides:
        left = f" and {say_volume(first.fill_ml)} of oil clay" if first.fill_ml > NOTHING_ML else ""
        says = f"A plan of it would have {count_word(first.pieces)} pieces{left}. {says}"
        two_ml = found.chosen.fill_ml
        if brief.pieces is None and two_ml > first.fill_ml:
            remedy += f" For two pieces ask for --pieces 2 --max-fill {two_ml * 1.05 + 0.1:.1f}ml."
    return (
        Finding(
            id="pieces_not_cut",
            severity="look" if first.sides else "note",
            where="the mold",
            says=says,
            remedy=remedy,
        ),
    )


def _unwitnessed(has: int, least: int, left: Collection[int]) -> tuple[str, str]:
    """What is said of a mold of `has` pieces, 0 when none was made, when no spots bear witness, and what to
    do; `least` pieces were found to leave nothing to fill, 0 when none were.
    """
    count = count_word(has)
    if 0 < least < has:
        fewer = f"{count_word(least)} piece{'' if least == 1 else 's'}"
        says = f"This mold has {count} pieces, and one of {fewer} would leave nothing to fill either."
        then = _for_fewer(least, left)[2:]
        return says, f"{then[:1].upper()}{then[1:]}."
    open_words = "That fewer would not do has not been shown: no spots were found that bear witness."
    if least:
        return f"Nothing to fill was first found with {count_word(least)} pieces.", open_words
    return f"This mold has {count} pieces, and no number was found that leaves nothing to fill.", ""


def _for_fewer(count: int, left: Collection[int]) -> str:
    """How to have a mold of the fewest pieces, `count`; or that they were cut and did not do."""
    if count in left:
        return f"; {count_word(count)} were cut and left"
    return f"; for the fewest, plan it with --pieces {count}"


def _direction(pull: Vector) -> str:
    """A direction in the frame of the object's file: one of its axes, +x to -z, or three numbers."""
    for k, name in enumerate("xyz"):
        if abs(abs(pull[k]) - 1.0) < 1e-6:
            return f"{'+' if pull[k] > 0.0 else '-'}{name}"
    return "(" + ", ".join(f"{round(v, 2) + 0.0:g}" for v in pull) + ")"
