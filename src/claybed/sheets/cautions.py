"""What is said of dust, heat, skin, weight, current and drains on every sheet that has to do with plaster."""

from __future__ import annotations

from collections.abc import Sequence

CAUTIONS: Sequence[tuple[str, str]] = (
    (
        "Dust",
        "Plaster powder is fine dust. Wear a fitted dust mask, keep the sack low, and sift the plaster into "
        "the water, never water onto plaster. Wipe up wet; do not sweep dry.",
    ),
    (
        "Heat",
        "Plaster heats while it sets and can burn deeply. Never enclose a hand or any part of a body in "
        "plaster, and never leave a hand in the bucket.",
    ),
    (
        "Eyes and skin",
        "Wear goggles when mixing, scraping or chipping. Rinse plaster off the skin before it sets.",
    ),
    (
        "Lifting",
        "Wet pieces are heavy and slippery, and a closed mold full of slip shifts as you lift it. Read the "
        "weights on page one and take a second person when in doubt.",
    ),
    (
        "Water and electricity",
        "Plug a mixer into a protected outlet, keep hands dry, and unplug it before touching the paddle.",
    ),
    (
        "Drains and waste",
        "No plaster and no rinse water down a drain: it sets in the pipe. Let leftovers set in a flexible "
        "bucket, break them out, and keep plaster scrap apart from other waste.",
    ),
)

DEFER = (
    "These cautions are not complete. The data sheets of your plaster and the rules of your workplace, "
    "school and country come first."
)
