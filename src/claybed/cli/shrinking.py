"""`claybed shrink`: how large the model must be, and what a model becomes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli import ware_options as ware
from claybed.errors import EXIT_DONE, InputError

_WANTED = "Wanted or given"
_BAR = "A shrinkage bar"
_BOIL = "A boil test"
_text = ask.option


def shrink(
    plan: ware.PlanFolder = None,
    body: ware.ClayBody = None,
    studio: ware.Studio = None,
    total: Annotated[
        str | None, _text("--total", "SHARE", "Shrinkage from mold to fired: 12%.", ware.CLAY)
    ] = None,
    drying: Annotated[
        str | None, _text("--drying", "SHARE", "Shrinkage in drying, on the wet length.", ware.CLAY)
    ] = None,
    firing: Annotated[
        str | None, _text("--firing", "SHARE", "Shrinkage in firing, on the DRY length.", ware.CLAY)
    ] = None,
    expansion: Annotated[
        str | None,
        _text("--expansion", "SHARE", "What the plaster grows in setting: 0.2% (default none).", ware.CLAY),
    ] = None,
    generations: Annotated[
        int,
        typer.Option(
            "--generations",
            metavar="N",
            help="Castings from model to mold: block and case make three.",
            rich_help_panel=ware.CLAY,
        ),
    ] = 1,
    fired: Annotated[str | None, _text("--fired", "LENGTH", "Wanted fired length: 250mm.", _WANTED)] = None,
    model: Annotated[
        str | None, _text("--model", "LENGTH", "Length of a model, or of a found object.", _WANTED)
    ] = None,
    fired_wall: Annotated[str | None, _text("--fired-wall", "LENGTH", "Wanted fired wall.", _WANTED)] = None,
    wet_wall: Annotated[
        str | None, _text("--wet-wall", "LENGTH", "Wall as cast or pressed.", _WANTED)
    ] = None,
    fired_capacity: Annotated[
        str | None, _text("--fired-capacity", "VOLUME", "What the fired piece is to hold: 350ml.", _WANTED)
    ] = None,
    wet_capacity: Annotated[
        str | None, _text("--wet-capacity", "VOLUME", "What the wet piece holds inside its wall.", _WANTED)
    ] = None,
    plastic: Annotated[
        str | None, _text("--plastic", "LENGTH", "Marks on the fresh bar: 150mm.", _BAR)
    ] = None,
    dry: Annotated[str | None, _text("--dry", "LENGTH", "The same when dry.", _BAR)] = None,
    bisque: Annotated[str | None, _text("--bisque", "LENGTH", "The same after bisque.", _BAR)] = None,
    fired_length: Annotated[
        str | None, _text("--fired-length", "LENGTH", "The same when fired.", _BAR)
    ] = None,
    bar: Annotated[
        list[str] | None,
        _text(
            "--bar",
            "P/D/B/F",
            "Several bars: 150/144/141/133 or 150/144/133 or 150/133 mm each; repeat.",
            _BAR,
        ),
    ] = None,
    read_to: Annotated[
        str | None, _text("--read-to", "LENGTH", "How well lengths were read (default 0.5mm).", _BAR)
    ] = None,
    dry_mass: Annotated[str | None, _text("--dry-mass", "MASS", "Fired piece, dry: 100g.", _BOIL)] = None,
    soaked: Annotated[str | None, _text("--soaked", "MASS", "Boiled, soaked, blotted.", _BOIL)] = None,
    suspended: Annotated[str | None, _text("--suspended", "MASS", "Soaked, hanging in water.", _BOIL)] = None,
    why: ware.Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Size a model for a fired piece, or tell what a model becomes.

    Shrinkage comes from a clay body, a total, drying and firing, or bars;
    drying and firing compound. A boil test gives absorption.
    """
    from claybed.actions.shrinking import ShrinkAsk, shrink_document

    system = choice(units, SYSTEMS, where="--units")
    document = shrink_document(
        ShrinkAsk(
            body=body,
            studio=ware.studio_text(studio),
            total_fraction=ware.share(total, where="--total"),
            drying_fraction=ware.share(drying, where="--drying"),
            firing_fraction=ware.share(firing, where="--firing"),
            growth_fraction=ware.share(expansion, where="--expansion") or 0.0,
            castings=ware.counted_from_one(generations, where="--generations"),
            bars=_bars(plastic, dry, bisque, fired_length, bar or []),
            read_to_mm=ware.length(read_to, where="--read-to") or 0.5,
            fired_mm=ware.length(fired, where="--fired"),
            model_mm=ware.length(model, where="--model"),
            fired_wall_mm=ware.length(fired_wall, where="--fired-wall"),
            wet_wall_mm=ware.length(wet_wall, where="--wet-wall"),
            fired_capacity_ml=ware.volume(fired_capacity, where="--fired-capacity"),
            wet_capacity_ml=ware.volume(wet_capacity, where="--wet-capacity"),
            dry_g=ware.mass(dry_mass, where="--dry-mass"),
            soaked_g=ware.mass(soaked, where="--soaked"),
            suspended_g=ware.mass(suspended, where="--suspended"),
            plan=plan,
        )
    )
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    show(document, us=system == "us")
    after = ("claybed", "plan", "--help") if why else ("claybed", "cast", "--help")
    ware.finish(document, why, after)
    return EXIT_DONE


def _bars(
    plastic: str | None, dry: str | None, bisque: str | None, fired: str | None, rows: list[str]
) -> list[tuple[float, float | None, float | None, float]]:
    found: list[tuple[float, float | None, float | None, float]] = []
    if plastic is not None or fired is not None:
        first, last = ware.length(plastic, where="--plastic"), ware.length(fired, where="--fired-length")
        if first is None or last is None:
            raise InputError(
                "a bar needs both ends.", where="--plastic", remedy="Give --plastic and --fired-length."
            )
        found.append((first, ware.length(dry, where="--dry"), ware.length(bisque, where="--bisque"), last))
    elif dry is not None or bisque is not None:
        raise InputError("a bar needs both ends.", where="--dry", remedy="Give --plastic and --fired-length.")
    for row in rows:
        parts = [part.strip() for part in row.split("/")]
        if not 2 <= len(parts) <= 4:
            raise InputError(f"“{row}” is no bar.", where="--bar", remedy="Write 150/144/141/133.")
        lengths = [ware.length(part, where="--bar") for part in parts]
        middle = [*lengths[1:-1], None, None][:2]
        found.append((lengths[0] or 0.0, middle[0], middle[1], lengths[-1] or 0.0))
    return found


def show(document: Mapping[str, Any], *, us: bool) -> None:
    """Print shrinkage, sizes, bar and boil test, one sentence each."""
    if "total_percent" in document:
        clay = f"{output.words(document['clay'])} shrinks" if document.get("clay") else "The clay shrinks"
        parts = [
            f"{word} {ware.percent_text(document, f'/{key}')}"
            for key, word in (("drying_percent", "drying"), ("firing_percent", "firing, on the dry length,"))
            if key in document
        ]
        how = ", which compound" if len(parts) == 2 else ""
        inside = f" ({' and '.join(parts)}{how})" if parts else ""
        output.say(f"{clay} {ware.percent_text(document, '/total_percent')} in length{inside}.")
        if "bisque_percent" in document:
            text = ware.percent_text(document, "/bisque_percent")
            output.say(f"After bisque it had lost {text} of its dry length.")
        factor = ware.spread_text(document, "/oversize_ratio", lambda ratio: f"{ratio:.4f}")
        output.say(f"Make the model {factor} times the fired size.")
    for key, words in (
        ("model_mm", "Model"),
        ("fired_mm", "Fired length"),
        ("wet_wall_mm", "Wall as cast"),
        ("fired_wall_mm", "Fired wall"),
    ):
        if key in document:
            output.say(f"{words} {ware.spread_text(document, f'/{key}', lambda mm: _fine_length(mm, us))}.")
    for key, words in (("wet_capacity_ml", "Inside, wet"), ("fired_capacity_ml", "Holds, fired")):
        if key in document:
            text = ware.spread_text(document, f"/{key}", lambda ml: unit_words.say_volume(ml, us=us))
            output.say(f"{words} {text}.")
    if "becomes" in document:
        sides = [document["becomes"][axis]["fired_mm"] for axis in "xyz"]
        size = " × ".join(unit_words.say_length(side, us=us) for side in sides)
        holds = document["becomes"].get("holds")
        rest = f", and holds {unit_words.say_volume(holds['fired_capacity_ml'], us=us)}" if holds else ""
        output.say(f"The planned object becomes {size} when fired{rest}.")
    if "absorption_percent" in document:
        text = f"The fired piece takes up {document['absorption_percent']:.2f} % of water"
        if "porosity_percent" in document:
            text += f", has {document['porosity_percent']:.2f} % of open pores and a bulk density of "
            text += f"{document['bulk_density_ratio']:.3f}"
        output.say(f"{text}.")


def _fine_length(mm: float, us: bool) -> str:
    """A length as a model maker reads it: tenths of a millimetre, hundredths of a thin wall."""
    if us:
        return unit_words.say_length(mm, us=True)
    return f"{mm:.1f} mm" if mm >= 10 else f"{mm:.2f} mm"
