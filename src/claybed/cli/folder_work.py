"""What `claybed cast --map` and `claybed press --patterns` share: work on a plan folder into a new folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from claybed.cli import output
from claybed.errors import InputError

CAST_MAP = "claybed.actions.mapping_casts:run"
PATTERNS = "claybed.actions.slab_patterns:run"


def into_folder(
    target: str, plan: Path | None, out: Path, ask: object, *, option: str, paper: str = "a4"
) -> Mapping[str, Any]:
    """Run a target on a plan folder and write what it makes into the new folder `out`; return its document.

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
        payload = {"plan": plan.absolute(), "out": folder, "ask": ask, "paper": paper}
        document: Mapping[str, Any] = run_job(target, payload, on_progress=meter, where=str(plan))
    return document


def show_map(document: Mapping[str, Any], out: Path) -> None:
    """Print a cast map: one row for each cast, what to look at, where it lies."""
    output.say_table(
        ("Cast", "Thin", "Half has less", "Thick", "Without suction"),
        [
            (
                f"{row['number']}",
                f"{row['thin_mm']:.1f} mm",
                f"{row['median_mm']:.1f} mm",
                f"{row['thick_mm']:.1f} mm",
                f"{row['soaked_cm2']:.0f} cm²",
            )
            for row in document["casts"]
        ],
    )
    output.say_findings(document["findings"])
    output.say(f"Written to {out}.")


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
