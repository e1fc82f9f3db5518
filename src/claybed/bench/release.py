"""What parts plaster from everything it touches: what, where, how many coats, on which pour."""

from __future__ import annotations

from claybed.bench.telling import bench, from_shelf, worked
from claybed.records.bench import Release, ReleaseStep
from claybed.records.brief import Brief

_HABITS = {
    "soap": "mold soap, thinned as its maker says",
    "oil": "a thin film of oil",
    "wax": "paste wax, buffed",
}


def plan_release(brief: Brief, pours: int, *, aside_from: int = 3) -> Release:
    """The coatings of each pour, in the order of work; from `aside_from` on they are poured on the closed
    others. Reads `release`, `porous`, `form` and `hump`.

    Source: practice.
    """
    steps: list[ReleaseStep] = []
    named = "vessel" if brief.hump else "object"
    thing = "the inside of the vessel, up over its rim" if brief.hump else "the object"
    if brief.porous:
        steps.append(
            ReleaseStep(
                pour=worked(1, "-", "the first pour", "practice"),
                what="shellac or varnish",
                where=f"{thing if brief.hump else 'the whole object'}, the day before",
                coats_count=from_shelf("bench", "seal_coats_count", "until it drinks no more"),
                wait_min=worked(
                    60.0 * bench("seal_dry_h"),
                    "min",
                    "dry overnight",
                    "practice",
                    {"seal_dry_h": bench("seal_dry_h")},
                ),
                says="It drinks: seal it until a drop of water stands on it, then release it like anything "
                "else.",
            )
        )
    steps.append(_coat(brief, 1, thing, "Work it into corners with a soft brush, and wipe every pool off."))
    walls = "the inside of the case" if brief.form == "case" else "boards or band, inside"
    if pours == 1 and not brief.hump and brief.form != "case":
        walls += ", and the base board"
    bed = f"The bed needs none. Coat the {named} again where hands took it off."
    steps.append(
        _coat(
            brief,
            1,
            walls,
            bed if pours > 1 or brief.hump else "Pools wiped off.",
        )
    )
    if pours > 1 and aside_from > 2:
        steps.append(
            _coat(
                brief,
                2,
                "the whole parting face of the first piece and every key",
                "Wet the plaster with a sponge first, so that it does not drink the release.",
            )
        )
        steps.append(_coat(brief, 2, "the object, once more", "It stays where it is."))
        steps.append(_coat(brief, 2, walls, "The clay in the joints needs none."))
    for order in range(aside_from, pours + 1):
        steps.append(
            _coat(
                brief,
                order,
                "every face of the other pieces that the new one will touch, and their sockets",
                "Wet the plaster with a sponge first, so that it does not drink the release.",
            )
        )
        steps.append(
            _coat(
                brief, order, "the object where it shows", "Wipe the clay that kept the place off it first."
            )
        )
        steps.append(_coat(brief, order, walls, "Cleaned, set up around the closed pieces, released again."))
    return Release(
        steps=tuple(steps),
        never=(
            "Never two kinds of release on one face: soap over oil or wax curdles and sticks. Oil clay is no "
            f"release: it is coated like the rest of the {named}.",
            "No release on a face that is to drink slip; what is left there is scrubbed off with a damp "
            "sponge.",
            "No talc or silica dust as a parting powder: it harms lungs.",
        ),
        cautions=(
            "Shellac, varnish and spirits burn: brush rather than spray, window open, no flame, heater or "
            "brushed motor on near them, and let them dry before the plaster starts.",
        ),
    )


def _coat(brief: Brief, pour: int, where: str, says: str) -> ReleaseStep:
    soap = brief.release == "soap"
    kind = "soap" if soap else "thin"
    return ReleaseStep(
        pour=worked(pour, "-", "place of the pour in the order of work", "practice"),
        what=_HABITS[brief.release],
        where=where,
        coats_count=from_shelf("bench", f"{kind}_coats_count", "usual"),
        wait_min=from_shelf("bench", f"{kind}_wait_min", "usual, after each coat"),
        says=says,
    )
