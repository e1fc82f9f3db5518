"""Whether fewer pieces would do: claimed only where spots bear witness, else said to be open."""

from __future__ import annotations

from collections.abc import Callable

from claybed.records.brief import Vector
from claybed.records.finding import Finding
from claybed.records.surveyed import Survey
from claybed.wording import count_word, in_a_row, spot_mark

# Less than this is the samples' doing, as in the survey.
NOTHING_ML = 0.02


def fewest_findings(
    found: Survey, place_of: Callable[[Vector], str], *, pictured: bool
) -> tuple[Finding, ...]:
    """What is known of the least number of pieces; nothing where no more than two were looked for.

    `place_of` tells a place on the object (mm, object frame) in words; `pictured` when the spots are drawn.
    """
    if not found.front:
        return ()
    whole = [trade.pieces for trade in found.front if trade.fill_ml <= NOTHING_ML]
    seen = found.witness
    least = len(seen.spots_mm) if seen else 1
    asked = found.options[0].pieces
    if seen is None or (least == 2 and not whole):
        if asked < 3:
            return ()
        says, then = _unwitnessed(asked, min(whole, default=0))
        return (Finding(id="fewest_pieces", severity="note", where="the mold", says=says, remedy=then),)
    named = (
        f", {in_a_row([spot_mark(k) for k in range(least)])} in the picture (ringed where they lie behind),"
        if pictured
        else ""
    )
    spots = f"{count_word(least).capitalize()} spots{named} never leave along one pull, "
    spots += "slanted ones included"
    if whole and min(whole) == least:
        says, then = f"{spots}: {count_word(least)} pieces are the fewest without fill.", ""
    elif whole and min(whole) > least:
        says = f"{spots}: without fill it takes {count_word(least)} pieces or more."
        then = f"Found with {count_word(min(whole))}; that fewer would not do has not been shown."
    else:
        says, then = f"{spots}: without fill it takes {count_word(least)} pieces or more.", ""
    places = [f"{spot_mark(k)} {place_of(at)}" for k, at in enumerate(seen.spots_mm)]
    return (
        Finding(
            id="fewest_pieces",
            severity="note",
            where="; ".join(places),
            says=says,
            remedy=then,
            at_mm=seen.spots_mm[0],
        ),
    )


def _unwitnessed(made: int, least: int) -> tuple[str, str]:
    """What is said of a mold of `made` pieces when no spots bear witness, and what to do; `least` pieces were
    found to leave nothing to fill, 0 when none were.
    """
    count = count_word(made)
    if 0 < least < made:
        fewer = f"{count_word(least)} piece{'' if least == 1 else 's'}"
        return (
            f"This mold has {count} pieces, and one of {fewer} would leave nothing to fill either.",
            f"For the fewest, plan it with --pieces {least}.",
        )
    open_words = "That fewer would not do has not been shown: no spots were found that bear witness."
    if least:
        return f"Nothing to fill was first found with {count_word(least)} pieces.", open_words
    return f"This mold has {count} pieces, and no number was found that leaves nothing to fill.", ""
