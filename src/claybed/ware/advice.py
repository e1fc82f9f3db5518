"""What goes wrong in casting, pressing and drying, and the cautions that belong to each step."""

from __future__ import annotations

from claybed.materials import shelf
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.ware import Cast, Press

# Common practice and the sources of the clay.
CHIPS = (
    "A crumb of plaster in clay swells after firing and throws off a chip, weeks later too: throw away "
    "trimmings that touched a chipped edge, and keep plaster tools out of the clay."
)


def cast_findings(cast: Cast, *, k_known: bool) -> tuple[Finding, ...]:
    """What a person should know of a cast: k not measured, a neck that closes, a mold too wet to begin."""
    found = []
    if not k_known:
        found.append(
            Finding(
                id="rate_not_measured",
                severity="look",
                where="casting",
                says="The casting rate is a guess: slips differ tenfold, so the time may be off as much.",
                remedy="Make a test pour: claybed cast --test-wall 4mm --test-minutes 5.",
            )
        )
    for narrow in cast.narrows:
        if narrow.closes_minutes.value <= cast.minutes.value:
            found.append(
                Finding(
                    id="neck_closes",
                    severity="stop",
                    where=f"the {narrow.kind} of {narrow.width_mm.value:.3g} mm",
                    says=f"It is grown shut after {narrow.closes_minutes.value:.3g} minutes, before the slip "
                    "can be poured out.",
                    remedy=f"Make it {narrow.least_mm.value:.0f} mm wide, or cast a thinner wall.",
                    amount=Amount(narrow.closes_minutes.value, "min"),
                )
            )
        elif narrow.width_mm.value < narrow.least_mm.value:
            found.append(
                Finding(
                    id="neck_tight",
                    severity="look",
                    where=f"the {narrow.kind} of {narrow.width_mm.value:.3g} mm",
                    says="Little of it stays open when the wall is cast, so the slip comes out in gulps.",
                    remedy=f"{narrow.least_mm.value:.0f} mm would keep a finger's width open.",
                )
            )
    casts = cast.casts_before_drying
    if casts is not None and casts.value < 1:
        found.append(
            Finding(
                id="mold_too_damp",
                severity="look",
                where="the mold",
                says="The plaster near the cavity cannot take the water of one cast.",
                remedy="Dry it first, or cast a thinner wall.",
            )
        )
    usual = shelf.value("slip", "casts_between_dryings_count")
    if casts is not None and casts.value > 1.5 * usual.high:
        found.append(
            Finding(
                id="casts_above_usual",
                severity="note",
                where="the mold",
                says=f"Studios dry a mold after about {usual.value:.0f} casts; this counts {casts.value:.0f} "
                "from the plaster near the cavity.",
                remedy="Stop when casts come out thin, soft or hard to release.",
            )
        )
    return tuple(found)


def water_finding(percent: float, figure: Figure) -> tuple[Finding, ...]:
    """Where the water in the plaster is known from, when weighings told it; nothing otherwise."""
    if "weighed_at" not in figure.inputs:
        return ()
    return (
        Finding(
            id="water_by_the_scale",
            severity="note",
            where="the plaster before the first cast",
            says=f"It holds {percent:.1f} % of its dry mass in water by the weighing of "
            f"{figure.inputs['weighed_at']} ({figure.inputs['log']}).",
            remedy="If it has dried since, weigh it again, or type what it holds (--moisture).",
            amount=Amount(percent, "percent"),
        ),
    )


def press_findings(press: Press, *, draped: bool = False) -> tuple[Finding, ...]:
    """What a person should know of a pressing, or of clay that is `draped` over a hump."""
    found = [
        Finding("wooden_tools", "note", "pressing", CHIPS, "Wooden tools only; chamfer the mold's edges."),
    ]
    if draped:
        found.append(
            Finding(
                "over_a_hump",
                "note",
                "pressing",
                "Clay shrinks onto a hump and cracks when it is left on.",
                "Lift it as soon as it keeps its shape.",
            )
        )
    else:
        found.append(
            Finding(
                "wait_is_a_guess",
                "note",
                "pressing",
                "The wait depends on how damp the mold is; about 45 minutes is common practice, no source.",
                "Open when the rim has drawn away from the plaster.",
            )
        )
    if press.coil_g is not None:
        found.append(
            Finding(
                "joints_open",
                "note",
                "the seam",
                "Joints open in drying when edges were dry, unscored or only touched.",
                "Bevel, score and slip both edges, leave them a little proud, and press a coil in.",
            )
        )
    return tuple(found)
