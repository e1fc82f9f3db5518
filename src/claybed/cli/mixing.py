"""`claybed mix`: water and plaster for a space, without a model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from claybed import units as unit_words
from claybed.actions.asking import (
    SYSTEMS,
    brief_from,
    choice,
    mass_above_nothing_g,
    sides_mm,
    volume_above_nothing_ml,
)
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli.as_built import mix_as_built, weights_off
from claybed.errors import EXIT_DONE, InputError
from claybed.wording import count_word

if TYPE_CHECKING:
    from claybed.actions.mixing import Space

OBJECT_TARGET = "claybed.actions.object_volume:run"
_SPACE = "The space"
_BUILT = "A plan's form, as built"


def mix(
    space: Annotated[
        str | None,
        typer.Option("--space", metavar="VOLUME", help="Space to fill: 10L or 2 qt.", rich_help_panel=_SPACE),
    ] = None,
    box: Annotated[
        str | None,
        typer.Option(
            "--box",
            metavar="L x W x H",
            help="Inside of the boards and height of the pour: 200x150x90mm.",
            rich_help_panel=_SPACE,
        ),
    ] = None,
    round_: Annotated[
        str | None,
        typer.Option(
            "--round",
            metavar="D x H",
            help="Inside diameter of the band and height of the pour: '180mm x 120mm'.",
            rich_help_panel=_SPACE,
        ),
    ] = None,
    object_volume: Annotated[
        str | None,
        typer.Option(
            "--object-volume", metavar="VOLUME", help="Less an object of 750ml.", rich_help_panel=_SPACE
        ),
    ] = None,
    displaced: Annotated[
        str | None,
        typer.Option(
            "--displaced",
            metavar="MASS",
            help="Less an object that pushes out 750g of water.",
            rich_help_panel=_SPACE,
        ),
    ] = None,
    object_: Annotated[
        Path | None,
        typer.Option(
            "--object",
            metavar="FILE",
            help="Less the object in this file: a mesh, or an object file.",
            rich_help_panel=_SPACE,
        ),
    ] = None,
    plan: Annotated[
        Path | None,
        typer.Option(
            "--plan",
            metavar="DIR",
            help="A pour of this plan, for the form as it stands.",
            rich_help_panel=_BUILT,
        ),
    ] = None,
    piece: Annotated[
        str | None,
        typer.Option("--piece", metavar="LETTER", help="Which piece is poured: A.", rich_help_panel=_BUILT),
    ] = None,
    inside: Annotated[
        str | None,
        typer.Option(
            "--inside",
            metavar="L x W",
            help="Inside of the standing form, measured: 174x173mm, or a diameter.",
            rich_help_panel=_BUILT,
        ),
    ] = None,
    line: Annotated[
        str | None,
        typer.Option(
            "--line",
            metavar="LENGTH",
            help="Fill line above the board, measured: 143mm.",
            rich_help_panel=_BUILT,
        ),
    ] = None,
    ratio: ask.Ratio = None,
    waste: ask.Waste = None,
    form: ask.Form = None,
    bucket: ask.Bucket = None,
    why: Annotated[
        bool, typer.Option("--why", help="Print formula, inputs and source of every figure.")
    ] = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Work out water and plaster for a space, and the batches to mix them in."""
    if plan is not None or piece is not None or inside is not None or line is not None:
        others = (space, box, round_, object_volume, displaced, object_, ratio, waste, form, bucket)
        return mix_as_built(
            plan, piece, inside, line, alone=all(other is None for other in others), why=why, units=units,
            as_json=as_json,
        )  # fmt: skip
    from claybed.actions.mixing import Space, mix_document

    brief = brief_from({"consistency": ratio, "waste": waste, "form": form, "bucket_l": bucket})
    system = choice(units, SYSTEMS, where="--units")
    room = Space(
        space_ml=None if space is None else volume_above_nothing_ml(space, where="--space"),
        box_mm=None if box is None else cast("tuple[float, float, float]", sides_mm(box, 3, where="--box")),
        round_mm=None
        if round_ is None
        else cast("tuple[float, float]", sides_mm(round_, 2, where="--round")),
        object_ml=None
        if object_volume is None
        else volume_above_nothing_ml(object_volume, where="--object-volume"),
        displaced_g=None if displaced is None else mass_above_nothing_g(displaced, where="--displaced"),
    )
    if object_ is not None:
        room = _less_object(room, object_)
    document = mix_document(
        room,
        consistency=brief.consistency,
        waste=brief.waste,
        form=brief.form,
        bucket_l=brief.bucket_l,
    )
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    show_mix(document, us=system == "us")
    if why:
        output.say_working(document["figures"])
        output.say_next("claybed", "plan", "--help")
        return EXIT_DONE
    given = {
        "--space": space,
        "--box": box,
        "--round": round_,
        "--object-volume": object_volume,
        "--displaced": displaced,
        "--object": None if object_ is None else str(object_),
        "--ratio": ratio,
        "--waste": waste,
        "--form": form,
        "--bucket": bucket,
    }
    typed = [part for name, text in given.items() if text is not None for part in (name, text)]
    in_units = ("--units", system) if system != "metric" else ()
    output.say_next("claybed", "mix", *typed, *in_units, "--why")
    return EXIT_DONE


def _less_object(room: Space, file: Path) -> Space:
    """The space less the object in a file, with how well that object is known."""
    from claybed.cli.progress import Meter
    from claybed.jobs.worker import run_job
    from claybed.records.brief import Brief

    if room.object_ml is not None or room.displaced_g is not None:
        raise InputError(
            "the object is given twice.",
            where="--object",
            remedy="Use one of --object, --object-volume and --displaced.",
        )
    with Meter() as meter:
        payload = {"path": file.absolute(), "brief": Brief()}
        found = run_job(OBJECT_TARGET, payload, on_progress=meter, where=file.name)
    return replace(
        room,
        object_ml=found["volume_ml"],
        object_low_ml=found["low_ml"],
        object_high_ml=found["high_ml"],
    )


def show_mix(document: Mapping[str, Any], *, us: bool) -> None:
    """Print a mix: the space, one table of batches, and the common rule beside it."""
    slurry = unit_words.say_volume(document["slurry_ml"], us=us)
    water, plaster = (unit_words.say_mass(document[key], us=us) for key in ("water_g", "plaster_g"))
    output.say(
        f"{unit_words.say_volume(document['space_ml'], us=us)} to fill takes {slurry} of slurry: "
        f"{water} of water, {plaster} of plaster."
    )
    if object_spread := _spread(document, us=us):
        output.say(object_spread)
    rows = [
        (
            str(batch["number"]),
            unit_words.say_mass(batch["water_g"], us=us),
            unit_words.say_mass(batch["plaster_g"], us=us),
            unit_words.say_volume(batch["slurry_ml"], us=us),
        )
        for batch in document["batches"]
    ]
    output.say_table(("Batch", "Water", "Plaster", "Makes"), rows)
    output.say(_over_and_batches(document, us=us))
    common = document["common_rule"]
    common_water, common_plaster = (
        unit_words.say_mass(common[key], us=us) for key in ("water_g", "plaster_g")
    )
    output.say(
        f"The common rule, as much water as space, would take {common_water} of water and {common_plaster} "
        f"of plaster: {common['plaster_g'] / document['plaster_g']:.2f} times as much."
    )
    output.say_findings(document["findings"], us=us)


def _over_and_batches(document: Mapping[str, Any], *, us: bool) -> str:
    """One sentence on why more is mixed than the space takes, and why in so many batches."""
    over = document["slurry_ml"] / document["space_ml"] - 1.0
    reason = str(document["figures"]["/slurry_ml"]["inputs"]["waste_reason"])
    bucket_l = float(document["figures"]["/batches/0/number"]["inputs"]["bucket_l"])
    bucket = unit_words.say_volume(bucket_l * 1000.0, us=us)
    count = len(document["batches"])
    batches = f"{count_word(count)} batch{'es' if count > 1 else ''}"
    more = f"{over:.3g}" if over < 0.0005 else f"{100 * over:.3g} %"
    said = "Nothing is mixed beyond the space" if over < 0.0005 else f"{more} more is mixed than the space"
    return f"{said} ({reason}), in {batches}: a bucket takes {bucket} at most."


def _spread(document: Mapping[str, Any], *, us: bool) -> str:
    """One sentence on how far the weights may be off; empty when the space is taken at its word."""
    figures = document["figures"]
    space = figures["/space_ml"]
    if "object_ml" not in space["inputs"] or space["low"] is None:
        return ""
    return weights_off(document, us=us)
