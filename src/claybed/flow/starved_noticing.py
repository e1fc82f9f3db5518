"""Parts that cast solid behind a way out that is clay before them: a hollow shrinks into each."""

from __future__ import annotations

from claybed.flow.ledger import Part
from claybed.materials import shelf
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.finding import Amount, Finding
from claybed.records.flowed import Flow
from claybed.records.ware import Ware
from claybed.units import say_length, say_volume
from claybed.wording import count_word


def starved_findings(flow: Flow | None, ware: Ware, assembly: Assembly) -> tuple[Finding, ...]:
    """What to say of hollows that shrink into clay where no slip comes after, in one finding.

    Of what is shut in, the share of water that goes into the mold leaves a hollow. Source: mass-balance;
    materials/practice (shrink_hollow_least_ml).
    """
    if flow is None or not flow.starved or ware.cast is None or ware.cast.per_cast is None:
        return ()
    cast = ware.cast.per_cast
    slip_ml = sum(part.slip_ml for part in flow.starved)
    hollow_ml = slip_ml * cast.top_up_ml.value / cast.slip_ml.value
    if hollow_ml < shelf.value("practice", "shrink_hollow_least_ml").value:
        return ()
    first, count = flow.starved[0], len(flow.starved)
    places = "" if count == 1 else f" in {count_word(count)} places, most of it here"
    return (
        Finding(
            id="shrinks_hollow",
            severity="look",
            where=in_words(first.at_mm, assembly),
            says=f"{say_volume(slip_ml)} of slip{places} are cut off from the gate before they are clay: the "
            f"way has grown shut at a wall of {say_length(first.closes_at_wall_mm)}. No topping up reaches "
            "them, and the water that they give to the plaster leaves a hollow of about "
            f"{say_volume(hollow_ml)} inside the clay.",
            remedy="Widen the way there in the model, or put the gate there with --gate; or cast thinner "
            "with --ware-wall, and drain it. Else prick through to the hollow, where it does not show, while "
            "the clay is leather hard, and dry the piece slowly: water shut in turns to steam in the kiln "
            "and bursts it.",
            amount=Amount(hollow_ml, "ml"),
            at_mm=first.at_mm,
        ),
    )


def write_starved(part: Part, flow: Flow) -> None:
    """Write where slip is cut off in what casts solid."""
    part.say(starved=[])
    cells = {"cell_mm": flow.cell_mm}
    for late in flow.starved:
        row = part.row("starved")
        row.number("slip_ml", late.slip_ml, "ml", "slip when its way out is clay", "casting-law", cells)
        row.number("at_mm", late.at_mm, "mm", "last to be clay, block's frame", "geometry")
        closes = "wall on flat plaster at which its way out is clay"
        row.number("closes_at_wall_mm", late.closes_at_wall_mm, "mm", closes, "casting-law", cells)
