"""`claybed mix --plan`: the weights of a pour for the form as it really stands."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice, length_above_nothing_mm, sides_mm
from claybed.cli import output
from claybed.errors import EXIT_DONE, EXIT_NOT_READY, InputError
from claybed.fill_line import per_mm_words
from claybed.units import say_share
from claybed.wording import in_system

TARGET = "claybed.actions.as_built:run"


def mix_as_built(
    plan: Path | None,
    piece: str | None,
    inside: str | None,
    line: str | None,
    *,
    alone: bool,
    why: bool,
    units: str,
    as_json: bool,
) -> int:
    """Print the corrected weights of one pour; returns 4 when its plaster would be too thin.

    `alone` says that no other space, ratio or bucket was typed. Raises InputError for what does not go
    together.
    """
    from claybed.jobs.worker import run_job

    if plan is None:
        raise InputError(
            "--piece, --inside and --line belong to a plan.",
            where="mix",
            remedy="Name its folder with --plan.",
        )
    if not alone:
        raise InputError(
            "the plan knows its space, ratio and buckets.",
            where="--plan",
            remedy="Leave the other options out, or plan again with them.",
        )
    system = choice(units, SYSTEMS, where="--units")
    sides = None
    if inside is not None:
        count = 2 if any(sign in inside.casefold() for sign in "x×*") else 1
        sides = sides_mm(inside, count, where="--inside")
    payload = {
        "path": plan.absolute(),
        "piece": piece,
        "inside_mm": sides,
        "line_mm": None if line is None else length_above_nothing_mm(line, where="--line"),
    }
    us = system == "us"
    try:
        document: Mapping[str, Any] = run_job(TARGET, payload, on_progress=_quiet, where=str(plan))
    except InputError as reason:
        what, remedy = (in_system(text, us=us) for text in (reason.what, reason.remedy))
        raise InputError(what, where=reason.where, remedy=remedy) from reason
    stops = any(finding["severity"] == "stop" for finding in document["findings"])
    if as_json:
        output.print_json(document)
        return EXIT_NOT_READY if stops else EXIT_DONE
    show_as_built(document, us=us)
    if why:
        output.say_working(document["figures"])
    output.say_next("claybed", "why", str(plan), f"pours.{document['piece']}.plaster_g")
    return EXIT_NOT_READY if stops else EXIT_DONE


def _quiet(step: str, fraction: float) -> None:
    """Reading a plan takes no time that would need a meter."""


def show_as_built(document: Mapping[str, Any], *, us: bool) -> None:
    """Print the corrected weights beside the planned ones, batches, grams for each mm, and findings."""
    sides = " × ".join(unit_words.say_length(side, us=us) for side in document["inside_mm"])
    water, plaster = (unit_words.say_mass(document[key], us=us) for key in ("water_g", "plaster_g"))
    line = unit_words.say_length(document["line_mm"], us=us)
    more = float(document["more_fraction"])
    against = (
        f"{say_share(abs(more), 1)} {'more' if more >= 0.0 else 'less'} than planned"
        if abs(more) >= 5e-4
        else "as planned"
    )
    output.say(
        f"Piece {document['piece']}, {sides} inside, filled to {line}: {water} of water, {plaster} of "
        f"plaster, {against}."
    )
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
    output.say(per_mm_words([document], us=us))
    space = document["figures"]["/space_ml"]
    if space["low"] is not None:
        output.say(weights_off(document, us=us))
    output.say_findings(document["findings"], us=us)


def weights_off(document: Mapping[str, Any], *, us: bool) -> str:
    """One sentence on how far water and plaster of a mix may be off; its figures must have their ends."""
    figures = document["figures"]
    off = [
        unit_words.say_spread(
            document[key],
            figures[f"/{key}"]["low"],
            figures[f"/{key}"]["high"],
            lambda grams: unit_words.say_mass(grams, us=us),
        )
        for key in ("water_g", "plaster_g")
    ]
    return f"Water {off[0]}, plaster {off[1]}, as well as object and plaster are known."
