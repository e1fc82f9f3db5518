"""What `claybed cast --map` and `claybed press --patterns` share: work on a plan folder into a new folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from claybed import units as unit_words
from claybed.cli import output
from claybed.errors import InputError

CAST_MAP = "claybed.actions.mapping_casts:run"
PATTERNS = "claybed.actions.slab_patterns:run"
# A map shows most in the second cast to the sixth.
_WORTH_CASTS = 6


def into_folder(
    target: str, plan: Path | None, out: Path, ask: object, *, option: str, **also: str
) -> Mapping[str, Any]:
    """Run a target on a plan folder and write what it makes into the new folder `out`; return its document.

    `also` goes to the target as it is.

    Raises InputError when no plan folder was named, or `out` is there already.
    """
    from claybed.cli.progress import Meter
    from claybed.jobs.folder import new_folder
    from claybed.jobs.worker import run_job

    if plan is None:
        raise InputError(
            "works on a plan folder.", where=option, remedy="Name the folder that claybed plan wrote."
        )
    with new_folder(out, replace=False) as folder, Meter() as meter:
        payload = {"plan": plan.absolute(), "out": folder, "ask": ask, **also}
        document: Mapping[str, Any] = run_job(target, payload, on_progress=meter, where=str(plan))
    return document


def only_without(option: str, because: str, given: Mapping[str, object]) -> None:
    """Raise InputError for the first of the options `given` that was typed beside `option`, which has no use
    for it.
    """
    for name, value in given.items():
        if value is not None and value != []:
            raise InputError(f"is not used with {option}: {because}.", where=name, remedy="Leave it out.")


def only_with(option: str, given: Mapping[str, object], typed: str = "") -> None:
    """Raise InputError for the first of the options `given` that was typed without `option`, which is `typed`
    like that.
    """
    for name, value in given.items():
        if value is not None:
            raise InputError(
                f"only counts with {option}.",
                where=name,
                remedy=f"Add {typed or f'{option} FOLDER'}, or leave it out.",
            )


def show_map(document: Mapping[str, Any], out: Path, *, us: bool) -> None:
    """Print a cast map: one row for each cast, what to look at, where it lies."""
    rests = "rest" in document
    heads = ("Cast", "Thin", "Half has less", "Thick", "Without suction")
    rows = []
    for row in document["casts"]:
        walls = (unit_words.say_gauged(row[key], us=us) for key in ("thin_mm", "median_mm", "thick_mm"))
        dried = (unit_words.say_volume(row["dried_ml"], us=us),) if rests else ()
        rows.append((f"{row['number']}", *walls, unit_words.say_area(row["soaked_cm2"], us=us), *dried))
    output.say_table((*heads, "Dried before it") if rests else heads, rows)
    if rests:
        stands, open_ = document["rest"]["stands"], unit_words.say_area(document["rest"]["open_cm2"], us=us)
        output.say(f"Between casts it stands {stands}: {open_} of plaster are open to the air.")
    output.say_findings(document["findings"])
    output.say(f"Written to {out}.")


def show_kept(document: Mapping[str, Any], *, us: bool) -> None:
    """Print in one sentence what the map kept with a plan says of its last cast."""
    row = document["casts"][-1]
    thin, median, thick = (
        unit_words.say_gauged(row[key], us=us) for key in ("thin_mm", "median_mm", "thick_mm")
    )
    output.say(
        f"The map kept with this plan: cast {row['number']} after "
        f"{unit_words.say_time(document['asked']['minutes_min'])} has {thin} in thin places, "
        f"{median} at the median, {thick} in thick."
    )


def say_next_of_map(document: Mapping[str, Any], plan: Path | None, out: Path) -> None:
    """Name the next command after a map: more casts, or how the mold dries once plaster lost its suction."""
    count = len(document["casts"])
    soaked = any(row["soaked_cm2"] > 0.0 for row in document["casts"])
    if count < _WORTH_CASTS and not soaked:
        further = out.with_name(f"{out.name}-{_WORTH_CASTS}")
        output.say_next("claybed", "cast", str(plan), "--casts", str(_WORTH_CASTS), "--map", str(further))
    else:
        output.say_next("claybed", "dry", str(plan))


def show_patterns(document: Mapping[str, Any], out: Path) -> None:
    """Print slab patterns: one row each, what to look at, cautions, what to print."""
    output.say_table(
        ("Pattern", "Cut", "Darts", "Stretch"),
        [
            (row["id"], f"{row['copies']}", f"{row['darts']}", f"{100 * row['spread_ratio']:.0f} %")
            for row in document["patterns"]
        ],
    )
    output.say_findings(document["findings"])
    for caution in document["cautions"]:
        output.say(caution)
    output.say(f"Print {out / 'slabs.pdf'} at 100 %.")
