"""`claybed press`: clay, slabs, seam and wait of a pressing."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice
from claybed.cli import folder_work, output
from claybed.cli import options as ask
from claybed.cli import ware_options as ware
from claybed.errors import EXIT_DONE

_PRESS = "The pressing"
_PATTERNS = "Slab patterns, of a plan"
_text = ask.option
_made = partial(ask.option, panel=_PRESS)
PAPERS: Final = ("a4", "letter")


def press(
    plan: ware.PlanFolder = None,
    area: Annotated[str | None, _made("--area", "AREA", "Surface that clay covers: 600cm2.")] = None,
    thickness: Annotated[
        str | None, _made("--thickness", "LENGTH", "Of the slab; by size otherwise.")
    ] = None,
    pieces: Annotated[int | None, _made("--slabs", "N", "In how many slabs.")] = None,
    seam: Annotated[str | None, _made("--seam", "LENGTH", "Joint between halves: 500mm.")] = None,
    block: Annotated[str | None, _made("--block", "MASS", "A bag of clay (default 12.5kg).")] = None,
    wait: Annotated[
        float | None, _made("--wait", "MIN", "Your usual wait for a 6 mm slab (default 45).")
    ] = None,
    number: Annotated[
        int,
        typer.Option(
            "--number", metavar="N", help="Which pressing since the mold was dry.", rich_help_panel=_PRESS
        ),
    ] = 1,
    patterns_to: Annotated[
        Path | None, _text("--patterns", "FOLDER", "Slab patterns at 1:1, written here.", _PATTERNS)
    ] = None,
    stretch: Annotated[
        str | None,
        _text(
            "--stretch",
            "SHARE",
            "How much more clay may stretch in one place (default 20%).",
            _PATTERNS,
        ),
    ] = None,
    allowance: Annotated[
        str | None, _text("--allowance", "LENGTH", "Left on at each edge; 0 for none.", _PATTERNS)
    ] = None,
    most: Annotated[
        int | None, _text("--most", "N", "Patterns for one mold piece at most (default 12).", _PATTERNS)
    ] = None,
    paper: Annotated[
        str | None,
        _text("--paper", "|".join(PAPERS), "To print on (default a4; letter with --units us).", _PATTERNS),
    ] = None,
    body: ware.ClayBody = None,
    studio: ware.Studio = None,
    why: ware.Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Work out a pressing: clay, slabs from a bag, coil along the seam, slip for scoring, and the wait."""
    from claybed.actions.pressing import PressWish, press_document

    system = choice(units, SYSTEMS, where="--units")
    if patterns_to is not None:
        from claybed.records.patterns import PatternAsk

        folder_work.only_without("--patterns", "the patterns take area and seam from the plan", {
            "--area": area, "--slabs": pieces, "--seam": seam, "--block": block, "--wait": wait,
            "--body": body, "--studio": studio, "--number": None if number == 1 else number,
        })  # fmt: skip
        usual = "letter" if system == "us" else "a4"
        sheet = usual if paper is None else choice(paper, PAPERS, where="--paper")
        slabs = folder_work.into_folder(
            folder_work.PATTERNS,
            plan,
            patterns_to,
            PatternAsk(
                slab_mm=ware.length(thickness, where="--thickness"),
                allowance_mm=None
                if allowance is None
                else unit_words.length_mm(allowance, where="--allowance"),
                stretch_fraction=ware.share(stretch, where="--stretch"),
                most_pieces=12 if most is None else ware.counted_from_one(most, where="--most"),
            ),
            option="--patterns",
            paper="us-letter" if sheet == "letter" else sheet,
            units=system,
        )
        if as_json:
            output.print_json(slabs)
        else:
            folder_work.show_patterns(slabs, patterns_to)
            if why:
                output.say_working(slabs["figures"])
            output.say_next("claybed", "press", str(plan))
        return EXIT_DONE
    folder_work.only_with("--patterns", {
        "--stretch": stretch, "--allowance": allowance, "--most": most, "--paper": paper,
    })  # fmt: skip
    block_g = ware.mass(block, where="--block")
    document = press_document(
        PressWish(
            area_cm2=ware.area(area, where="--area"),
            slab_mm=ware.length(thickness, where="--thickness"),
            pieces=None if pieces is None else ware.counted_from_one(pieces, where="--slabs"),
            seam_mm=ware.length(seam, where="--seam"),
            block_kg=None if block_g is None else block_g / 1000,
            wait_min=ware.positive(wait, where="--wait"),
            press_number=ware.counted_from_one(number, where="--number"),
            body=body,
            studio=ware.studio_text(studio),
            plan=plan,
        )
    )
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    show(document, us=system == "us")
    ware.finish(document, why, ("claybed", "dry", *((str(plan),) if plan is not None else ("--help",))))
    return EXIT_DONE


def show(document: Mapping[str, Any], *, us: bool) -> None:
    """Print a pressing, a sentence for each thing to get ready."""
    slab = unit_words.say_length(document["slab_mm"], us=us)
    clay = ware.spread_text(document, "/clay_g", lambda g: unit_words.say_mass(g, us=us))
    raw = unit_words.say_mass(document["raw_clay_g"], us=us)
    output.say(f"The piece takes {clay} of clay at {slab}; start with {raw}.")
    area = unit_words.say_area(document["slab_area_cm2"], us=us)
    text = f"Roll {area} of slab, edges included"
    if "slabs_per_block" in document:
        text += f"; a bag gives {document['slabs_per_block']:.0f} such slabs"
    output.say(f"{text}.")
    if "coil_mm" in document:
        coil, grams = (
            unit_words.say_length(document["coil_mm"], us=us),
            unit_words.say_mass(document["coil_g"], us=us),
        )
        slip = unit_words.say_volume(document["scoring_slip_ml"], us=us)
        output.say(f"Joint: {coil} of coil ({grams}), and {slip} of slip for scoring.")
    if document.get("draped"):
        output.say("The plan's ware page tells by when it comes off the hump.")
        return
    wait = ware.spread_text(document, "/wait_minutes", unit_words.say_time)
    output.say(f"Open after about {wait}.")
