"""`claybed prove`: a plan folder put to the proof again, from its own files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from claybed.cli import options as ask
from claybed.cli import output
from claybed.errors import EXIT_DONE, EXIT_NOT_READY
from claybed.wording import check_words

TARGET = "claybed.actions.proving:run"
Folder = Annotated[Path, typer.Argument(help="A folder that claybed plan wrote.", show_default=False)]
Why = Annotated[bool, typer.Option("--why", help="Say of every check what was measured, and how.")]


def prove(folder: Folder, why: Why = False, as_json: ask.AsJson = False) -> int:
    """Check a plan folder again from its files alone, also when pieces were edited elsewhere. Writes nothing.

    Ends with 4 when a check fails, or the plan was not ready for a reason
    that its files do not show: the pieces must not be poured or printed so.
    """
    from claybed.cli.progress import Meter
    from claybed.jobs.worker import run_job

    with Meter() as meter:
        payload = {"path": folder.absolute()}
        document: Mapping[str, Any] = run_job(TARGET, payload, on_progress=meter, where=str(folder))
    if as_json:
        output.print_json(document)
    else:
        show_proof(document, folder, why=why)
    return EXIT_DONE if document["ready"] else EXIT_NOT_READY


def _not_made(document: Mapping[str, Any]) -> str:
    count = int(document.get("not_made_count") or 0)
    if not count:
        return ""
    return (
        f" {output.counted(count, 'check')} more could not be made, since a file is missing or cannot be "
        "read: nothing is known of them."
    )


def show_proof(document: Mapping[str, Any], folder: Path, *, why: bool) -> None:
    """Print what was proved: the solids that were changed, the checks that fail, and how many hold."""
    checks = document["checks"]
    failed = [check for check in checks if not check["ok"]]
    if document["edited"]:
        names = ", ".join("the model" if name == "model" else f"piece {name}" for name in document["edited"])
        output.say(
            f"Changed since the plan was written: {names}. All is held to 0.01 mm instead of the last step."
        )
    if why:
        ids = [str(check["id"]) for check in checks]
        rows = [
            (
                check_words(str(check["id"]), ids),
                "holds" if check["ok"] else "fails",
                f"{check['measured']:.4g} {check['unit']}",
                f"{'at least' if check['sense'] == 'least' else 'at most'} {check['limit']:.4g}",
                str(check["how"]),
            )
            for check in checks
        ]
        output.say_table(("Check", "", "Measured", "Limit", "How"), rows, left=5)
    for sentence in output.failed_sentences(checks, us=False):
        output.say(f"Not ready to pour: {sentence}", "bold red")
    for sentence in output.failed_sentences(document["unrepeated"], us=False):
        output.say(f"Not ready to pour, as it was planned: {sentence}", "bold red")
    for stop in document["stops"]:
        output.say(
            f"Not ready to pour, as it was planned: {stop['says']} {stop['remedy']}".rstrip(), "bold red"
        )
    if failed:
        output.say(f"{len(checks) - len(failed)} of {len(checks)} checks hold.{_not_made(document)}")
    else:
        output.say(f"{document['name']}: {output.counted(len(checks), 'check')} hold.", "bold green")
        if any(str(check["id"]).startswith("file_twin") for check in checks):
            output.say("Proved are the STL files; each 3MF file holds the same solid.")
        output.say(
            "Not repeated: likeness to the object, and what the gate takes of it: it is not in the folder."
        )
    again = list(document.get("not_repeated") or ())
    if again:
        names = ", ".join(f"“{check_words(name, again)}”" for name in again)
        output.say(f"Not judged again, since these files do not show it: {names}.")
    if not why:
        output.say_next("claybed", "prove", str(folder), "--why")
