"""`claybed slip`: what a slip's weight says, and how to change or make a batch."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli import ware_options as ware
from claybed.errors import EXIT_DONE, InputError

_TOLD = "What the slip weighs"
_WANT = "What is wanted"
_text = ask.option


def slip(
    plan: ware.PlanFolder = None,
    sg: Annotated[float | None, _text("--sg", "NUMBER", "Specific gravity: 1.75.", _TOLD)] = None,
    litre_weight: Annotated[
        str | None, _text("--litre-weight", "MASS", "What a litre weighs: 1750g.", _TOLD)
    ] = None,
    pint_weight: Annotated[
        str | None, _text("--pint-weight", "MASS", "What a pint weighs: 35 oz.", _TOLD)
    ] = None,
    pint: Annotated[
        str,
        typer.Option(
            "--pint", metavar="imperial|us", help="Which pint: 20 or 16 fl oz.", rich_help_panel=_TOLD
        ),
    ] = "imperial",
    sample: Annotated[
        str | None, _text("--sample", "MASS in VOLUME", "A small sample: '65g in 50ml'.", _TOLD)
    ] = None,
    clay: Annotated[str | None, _text("--clay", "MASS", "Dry clay of a recipe: 20kg.", _TOLD)] = None,
    water: Annotated[str | None, _text("--water", "AMOUNT", "Its water: 8.4L or 8.4kg.", _TOLD)] = None,
    made: Annotated[
        str | None, _text("--made", "VOLUME", "What the recipe was measured to make.", _TOLD)
    ] = None,
    solids: Annotated[
        float | None, _text("--solids", "NUMBER", "Density of the dry solids (default 2.6).", _TOLD)
    ] = None,
    batch: Annotated[
        str | None, _text("--batch", "VOLUME", "Slip at hand, to be changed: 10L.", _WANT)
    ] = None,
    target: Annotated[
        float | None, _text("--target", "NUMBER", "Specific gravity wanted: 1.75.", _WANT)
    ] = None,
    make: Annotated[str | None, _text("--make", "VOLUME", "Slip to make: 10L.", _WANT)] = None,
    casts: Annotated[
        int | None, _text("--casts", "N", "Slip for so many good casts of the plan.", _WANT)
    ] = None,
    dose: Annotated[str | None, _text("--dose", "SHARE", "Deflocculant over dry clay: 0.4%.", _WANT)] = None,
    deflocculant: Annotated[
        str | None, _text("--deflocculant", "MASS", "Deflocculant in the recipe: 100g.", _TOLD)
    ] = None,
    named: Annotated[str | None, _text("--slip", "NAME", "A slip of your studio file.", ware.CLAY)] = None,
    studio: ware.Studio = None,
    why: ware.Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Work out solids and water of a slip from its weight or recipe, and what changes or makes a batch.

    Entries that contradict each other are refused, with both figures.
    """
    from claybed.actions.slip_weighing import SlipAsk, slip_document

    system = choice(units, SYSTEMS, where="--units")
    if casts is not None:
        ware.counted_from_one(casts, where="--casts")
    made_ml, batch_ml, make_ml = (
        ware.volume(text, where=where)
        for text, where in ((made, "--made"), (batch, "--batch"), (make, "--make"))
    )
    document = slip_document(
        SlipAsk(
            density_ratio=ware.positive(sg, where="--sg"),
            litre_g=ware.mass(litre_weight, where="--litre-weight"),
            pint_g=ware.mass(pint_weight, where="--pint-weight"),
            pint=choice(pint, ("imperial", "us"), where="--pint"),
            sample=None if sample is None else _sample(sample),
            clay_g=ware.mass(clay, where="--clay"),
            water_g=None if water is None else _water_g(water),
            made_l=None if made_ml is None else made_ml / 1000,
            batch_l=None if batch_ml is None else batch_ml / 1000,
            target_ratio=ware.positive(target, where="--target"),
            make_l=None if make_ml is None else make_ml / 1000,
            casts=casts,
            dose_fraction=ware.share(dose, where="--dose"),
            dose_g=ware.mass(deflocculant, where="--deflocculant"),
            solids_ratio=ware.positive(solids, where="--solids"),
            slip=named,
            studio=ware.studio_text(studio),
            plan=plan,
        )
    )
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    show(document, us=system == "us")
    ware.finish(document, why, ("claybed", "cast", "--test-wall", "4mm", "--test-minutes", "5"))
    return EXIT_DONE


def _water_g(text: str) -> float:
    """Water by mass or by volume, in g; a millilitre counts as a gram."""
    found = None
    try:
        found = ware.mass(text, where="--water")
    except InputError:
        found = ware.volume(text, where="--water")
    return float(found or 0.0)


def _sample(text: str) -> tuple[float, float]:
    parts = re.split(r"\s+in\s+|/", text.strip())
    if len(parts) != 2:
        raise InputError(f"“{text}” is no sample.", where="--sample", remedy="Write '65g in 50ml'.")
    grams, ml = ware.mass(parts[0], where="--sample"), ware.volume(parts[1], where="--sample")
    return float(grams or 0.0), float(ml or 1.0)


def show(document: Mapping[str, Any], *, us: bool) -> None:
    """Print the slip in one table, then the change and the batch in sentences."""
    output.say_table(
        ("Slip", ""),
        [
            ("Times the weight of water", f"{document['density_ratio']:.3f}"),
            ("A litre weighs", unit_words.say_mass(document["litre_g"])),
            ("An imperial pint weighs", f"{document['pint_oz']:.1f} oz"),
            ("Water by weight", ware.percent_text(document, "/water_percent")),
            ("Solids by weight", ware.percent_text(document, "/solids_percent")),
            ("Solids by volume", ware.percent_text(document, "/solids_volume_percent")),
            ("Dry clay in a litre", unit_words.say_mass(document["dry_g_per_l"])),
        ],
    )
    change = document.get("change")
    if change:
        target = f"{change['target_ratio']:.3f}"
        if "water_ml" in change:
            added = f"{unit_words.say_volume(change['water_ml'], us=us)} of water"
        else:
            added = f"{unit_words.say_mass(change['clay_g'], us=us)} of dry clay"
        result = unit_words.say_volume(1000 * change["result_l"], us=us)
        output.say(
            f"{added} brings the batch to {target}; it makes {result}. Add most of it, stir, weigh again."
        )
    batch = document.get("batch")
    if batch:
        clay, water, drug = (
            unit_words.say_mass(batch[key], us=us) for key in ("clay_g", "water_g", "deflocculant_g")
        )
        volume = unit_words.say_volume(1000 * batch["slip_l"], us=us)
        output.say(f"{volume} of slip: {clay} of dry clay, {water} of water, {drug} of deflocculant.")
