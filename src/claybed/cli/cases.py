"""`claybed cases`: printed cases for the pieces of a plan, and the block-and-case route."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice, sides_mm
from claybed.cli import options as ask
from claybed.cli import output
from claybed.errors import EXIT_DONE, EXIT_NOT_READY, InputError

TARGET: Final = "claybed.actions.casing:run"
PAPERS: Final = ("a4", "letter")
SLOTS: Final = ("auto", "all", "none")
USUAL_PRINTER: Final = "220x220x250mm"
_PRINT = "The print"
_ROUTE = "Block and case"
_OUTPUT = "What comes out"
_text = ask.option
_made = partial(ask.option, panel=_PRINT)
Folder = Annotated[Path, typer.Argument(help="A folder that claybed plan wrote.", show_default=False)]


def cases(
    plan: Folder,
    printer: Annotated[
        str | None, _made("--printer", "X×Y×Z", "Room of your printer (default 220x220x250mm).")
    ] = None,
    plastic: Annotated[str, _made("--plastic", "NAME", "pla (default), petg, asa or abs.")] = "pla",
    clearance: Annotated[
        str | None,
        _made("--clearance", "LENGTH", "Keys smaller, grooves wider, on each side; by the keys otherwise."),
    ] = None,
    wall: Annotated[
        str | None,
        _made("--wall", "LENGTH", "Wall of the case; the thinnest that bears the pour otherwise."),
    ] = None,
    draft: Annotated[
        float | None, _made("--draft", "DEG", "Lean of the plaster's outside (default 2).")
    ] = None,
    slots: Annotated[
        str,
        _made("--slots", "|".join(SLOTS), "Finger slots: in heavy pieces (auto), all or none."),
    ] = "auto",
    piece: Annotated[str | None, _made("--piece", "LETTER", "Only the case of this piece.")] = None,
    block_and_case: Annotated[
        bool,
        _text("--block-and-case", "", "Print the piece, pour a case of hard cement over it.", _ROUTE),
    ] = False,
    generations: Annotated[
        int | None,
        _text(
            "--generations",
            "1 to 3",
            "Castings from print to working mold; 2 with --block-and-case.",
            _ROUTE,
        ),
    ] = None,
    out: Annotated[
        Path | None,
        _text("--out", "FOLDER", "Where to write (default NAME-cases beside the plan).", _OUTPUT),
    ] = None,
    paper: Annotated[
        str | None,
        _text("--paper", "|".join(PAPERS), "Of the sheet (default a4; letter with --units us).", _OUTPUT),
    ] = None,
    why: Annotated[bool, _text("--why", "", "Say how each figure came about.", _OUTPUT)] = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make a case to print for each piece: poured alone, back up, struck off level with the rim.

    The floor is the piece's parting side, the outside leans so that plaster
    leaves, and bumps are poured smaller than their sockets. Cases too wide or
    too tall for the printer are cut, with flanges to bolt.

    Ends with 4 when a case must not be poured as it stands.
    """
    from claybed.cli.progress import Meter
    from claybed.jobs.folder import new_folder
    from claybed.jobs.worker import run_job
    from claybed.records.case_ask import CaseAsk

    system = choice(units, SYSTEMS, where="--units")
    sheet = (
        ("letter" if system == "us" else "a4") if paper is None else choice(paper, PAPERS, where="--paper")
    )
    if block_and_case and generations == 1:
        raise InputError(
            "a case of cement is one casting more than a printed case.",
            where="--generations",
            remedy="Use 2 or 3 with --block-and-case, or leave one of them out.",
        )
    asked = CaseAsk(
        printer_mm=_printer(USUAL_PRINTER if printer is None else printer),
        plastic=plastic,
        clearance_mm=_length(clearance, "--clearance"),
        wall_mm=_length(wall, "--wall"),
        draft_deg=draft,
        piece=None if piece is None else piece.strip().upper(),
        slots=choice(slots, SLOTS, where="--slots"),
        generations=generations if generations is not None else 2 if block_and_case else 1,
    )
    folder = out if out is not None else plan.absolute().with_name(f"{plan.absolute().stem}-cases")
    with new_folder(folder, replace=True) as made, Meter() as meter:
        payload = {
            "plan": plan.absolute(),
            "out": made,
            "ask": asked,
            "paper": "us-letter" if sheet == "letter" else sheet,
            "units": system,
        }
        document: Mapping[str, Any] = run_job(TARGET, payload, on_progress=meter, where=str(plan))
    if as_json:
        output.print_json(document)
    else:
        show_cases(document, folder, us=system == "us")
        if why:
            output.say_working(document["figures"])
        passes = next((case.get("plastics_that_pass") for case in document["cases"]), None)
        hot = any(one["id"] == "case_softens" and one["severity"] == "stop" for one in document["findings"])
        if hot and passes:
            typed = {
                "--printer": printer, "--clearance": clearance, "--wall": wall, "--draft": draft,
                "--slots": None if slots == "auto" else slots, "--piece": piece, "--generations": generations,
                "--units": None if units == "metric" else units, "--paper": paper, "--out": out,
            }  # fmt: skip
            again = [
                word for name, value in typed.items() if value is not None for word in (name, str(value))
            ]
            again += ["--block-and-case"] if block_and_case else []
            output.say_next("claybed", "cases", str(plan), "--plastic", passes[0], *again)
            return EXIT_NOT_READY
        output.say_next("claybed", "why", str(folder), f"cases.{document['cases'][0]['piece']}.plastic_g")
    return EXIT_DONE if document["ready"] else EXIT_NOT_READY


def _printer(text: str) -> tuple[float, float, float]:
    x_mm, y_mm, z_mm = sides_mm(text, 3, where="--printer")
    return x_mm, y_mm, z_mm


def _length(text: str | None, where: str) -> float | None:
    return None if text is None else unit_words.length_mm(text, where=where)


def show_cases(document: Mapping[str, Any], folder: Path, *, us: bool) -> None:
    """Print the cases: parts to print, weights to mix, what to look at, where it lies."""
    name, plastic = document["name"], str(document["printing"]["plastic"]).upper()
    output.say(f"{name}: {document['route']}; printed in {plastic}.", "bold")
    columns = ("Piece", "Parts", "Largest part", "Plastic", "Printing", "Water", "Plaster", "Full case")
    rows = [_row(case, us) for case in document["cases"]]
    # Of a piece that is printed no case is filled.
    shown = len(columns) if any(row[-1] for row in rows) else len(columns) - 1
    output.say_table(columns[:shown], [row[:shown] for row in rows])
    for case in document["cases"]:
        for sentence in _built(case, us):
            output.say(sentence)
        cement = case.get("cement_case")
        if cement:
            x, y, high = (unit_words.say_length(side, us=us) for side in cement["form_mm"])
            output.say(
                f"Case of piece {case['piece']}: form {x} × {y} inside, filled to {high}; "
                f"{unit_words.say_mass(cement['water_g'], us=us)} of water and "
                f"{unit_words.say_mass(cement['cement_g'], us=us)} of hard cement."
            )
    molds = document.get("working_molds")
    if molds:
        output.say(f"One case gives about {molds['per_day_count']} working molds a day.")
    checks = document["checks"]
    for sentence in output.failed_sentences(checks, us=us):
        output.say(f"Not ready to pour: {sentence}", "bold red")
    held = sum(1 for check in checks if check["ok"])
    if held == len(checks):
        output.say(f"{name}: {output.counted(held, 'check')} hold.", "bold green")
    else:
        output.say(f"{held} of {len(checks)} checks hold.")
    output.say_findings(document["findings"], us=us)
    output.say(f"Written to {folder}. Print {folder / 'cases.pdf'}: how to join, pour and open each case.")


def _built(case: Mapping[str, Any], us: bool) -> list[str]:
    """How a case is held together, what it forms beside the piece and how that leaves, in sentences."""
    said = []
    if case.get("joints"):
        levels = " and ".join(unit_words.say_length(level, us=us) for level in case["levels_mm"])
        height = f", cut by height too, {levels} up" if levels else ""
        bolts = output.counted(case["bolts_count"], "bolt")
        said.append(
            f"Case of piece {case['piece']}: {bolts}{height}; one bears {case['bolt_newtons']:.0f} N at most."
        )
    if case.get("crowns"):
        said.append(f"Glued on, where the model stands free above the cut: {', '.join(case['crowns'])}.")
    if case.get("cores"):
        names = ", ".join(core["id"] for core in case["cores"])
        said.append(f"Set into the wall, and drawn out of the plaster's side after the piece: {names}.")
    if case.get("drawn_aslant_deg"):
        said.append(f"Piece {case['piece']} leaves its case {case['drawn_aslant_deg']:.0f}° aslant.")
    if case.get("slots"):
        slots = output.counted(len(case["slots"]), "finger slot")
        said.append(
            f"Piece {case['piece']} gets {slots} in its back edge, "
            f"with {unit_words.say_length(case['slot_wall_mm'], us=us)} of plaster or more beside them."
        )
    return said


def _sides(sides_mm: Sequence[float], us: bool) -> str:
    """Lengths of a box with the unit once."""
    if us:
        return (
            " × ".join(unit_words.say_length(side, us=True).removesuffix(" in") for side in sides_mm) + " in"
        )
    return " × ".join(f"{side:.0f}" for side in sides_mm) + " mm"


def _row(case: Mapping[str, Any], us: bool) -> tuple[str, ...]:
    largest = max(case["parts"], key=lambda part: part["size_mm"][0] * part["size_mm"][1])
    pour = case["pour"]
    return (
        str(case["piece"]),
        f"{len(case['parts'])}",
        _sides(largest["size_mm"], us),
        unit_words.say_mass(case["plastic_g"], us=us),
        str(case["takes"]),
        unit_words.say_mass(pour["water_g"], us=us),
        unit_words.say_mass(pour["plaster_g"], us=us),
        unit_words.say_mass(1000.0 * case["full_kg"], us=us) if "full_kg" in case else "",
    )
