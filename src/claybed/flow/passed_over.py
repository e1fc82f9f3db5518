"""Why a plan takes another way than the one its survey puts first."""

from __future__ import annotations

from collections.abc import Sequence

from claybed.records.finding import Check, Finding
from claybed.records.surveyed import MoldOption
from claybed.wording import against_limit, check_words, count_word

Passed = Sequence[tuple[MoldOption, Check]]


def passed_findings(passed: Passed, taken: MoldOption) -> tuple[Finding, ...]:
    """The way that the survey puts first, when it was cut and left for what did not hold; none when it was
    taken after all, with side pieces cut in another manner.
    """
    others = [(way, check) for way, check in passed if way.pull != taken.pull or way.sides != taken.sides]
    if not others or others[0][0] is not passed[0][0]:  # of ways that all failed the first is taken
        return ()
    way, check = others[0]
    along = ",".join(f"{v:.5g}" for v in way.pull)
    measured = against_limit(
        {"measured": check.measured, "limit": check.limit, "unit": check.unit, "sense": check.sense}
    )
    count = len({one.pull for one, _ in others}) - 1
    more = f" So {'was' if count == 1 else 'were'} {count_word(count)} more." if count else ""
    return (
        Finding(
            id="way_passed_over",
            severity="note",
            where="the mold",
            says=f"The way that the survey puts first, along {along} of the file, was cut and left: "
            f"“{check_words(check.id, [check.id])}” does not hold there, {measured}.{more} The way taken "
            "comes after and holds.",
            remedy=f"To plan the other all the same, and see what it takes, say --axis {along}.",
        ),
    )
