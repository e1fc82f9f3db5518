"""Cases of a plan folder: parts to print, cases of cement, figures, and a sheet to print and pour by."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from claybed.actions.plan_file import read_plan
from claybed.actions.plan_solids import named_files, solid_of
from claybed.actions.warming import warm_up
from claybed.cases.finger_slots import former
from claybed.cases.loose_keys import with_sockets
from claybed.cases.standing import in_block
from claybed.cases.vessel import in_case, on_bed
from claybed.errors import InputError
from claybed.flow.case_document import cases_document
from claybed.flow.case_loads import parts_of
from claybed.flow.cases import MadeCase, MadeCases, make_cases
from claybed.geometry.forming import closed, hull, on_lattice
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.rereading import reread
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import stl_bytes
from claybed.geometry.threemf import threemf_bytes
from claybed.materials import shelf
from claybed.records.case_ask import CaseAsk
from claybed.records.cases import CASE_FRAME
from claybed.records.finding import Check
from claybed.sheets.case_pictures import lifted_out, parts_apart
from claybed.sheets.case_sheet import render_cases
from claybed.sheets.pictures import as_png

Progress = Callable[[str, float], None]
# What a slip of the keyboard gives, and no printer or case has.
_LIMITS: Final = (
    ("wall_mm", 1.2, 20.0, "--wall", "Use 1.2 to 20 mm."),
    ("draft_deg", 0.5, 10.0, "--draft", "Use 0.5 to 10 degrees."),
    ("clearance_mm", 0.0, 1.5, "--clearance", "Use 0 to 1.5 mm."),
)
SLOTS: Final = ("auto", "all", "none")
_PRINTER_MM: Final = (60.0, 1500.0)
_VOLUME_SHARE: Final = 1e-6
_DRAWN_MM: Final = 0.05


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Make the cases of the plan folder payload["plan"] in the empty folder payload["out"].

    payload["ask"] is a CaseAsk, payload["paper"] a4 or us-letter, payload["units"] metric or us for words on
    paper. Writes parts/*.stl and *.3mf, pieces/*.stl as they come out of their cases, cases/*.stl of cement,
    cases.pdf, pictures and cases.json; returns what the last one holds. Raises InputError for a folder that
    is no plan or an ask out of range, CannotError when no piece can have a case.
    """
    ask: CaseAsk = payload["ask"]
    check_ask(ask)
    warm_up(progress)
    progress("reading", 0.0)
    document = read_plan(Path(payload["plan"]))
    solids: dict[str, LatticeSolid] = {}
    for name, path in named_files(document, Path(payload["plan"])).items():
        try:
            if name != "model":
                solids[name] = solid_of(path)[0]
        except (OSError, ValueError) as reason:
            raise InputError(
                f"cannot be read ({reason}).", where=str(path), remedy="Put the file back, or plan again."
            ) from reason
    made = make_cases(document, solids, ask, progress)
    progress("writing", 0.0)
    out = Path(payload["out"])
    files = {one.poured.piece: _write_solids(one, out) for one in made.made}
    checks = [*made.checks, *_read_back(made, files, out)]
    result = cases_document(made, document, files, checks, water_celsius=_water_celsius(document))
    progress("writing", 0.4)
    pictures = _pictures(made)
    (out / "pictures").mkdir()
    for name, png in pictures.items():
        (out / "pictures" / f"{name}.png").write_bytes(png)
    paper, us = str(payload.get("paper", "a4")), payload.get("units") == "us"
    (out / "cases.pdf").write_bytes(render_cases(result, pictures, paper=paper, us=us))
    text = json.dumps(result, indent=1, ensure_ascii=False, allow_nan=False)
    (out / "cases.json").write_text(text + "\n", encoding="utf-8")
    progress("writing", 1.0)
    return result


def check_ask(ask: CaseAsk) -> None:
    """Raise InputError for a printer, a wall, a draft or a clearance that no one prints with."""
    low, high = _PRINTER_MM
    if not all(low <= side <= high for side in ask.printer_mm):
        room = " × ".join(f"{side:g}" for side in ask.printer_mm)
        raise InputError(
            f"{room} mm is no room of a printer.",
            where="--printer",
            remedy=f"Use sides of {low:g} to {high:g} mm.",
        )
    for name, least, most, where, remedy in _LIMITS:
        value = getattr(ask, name)
        if value is not None and not least <= value <= most:
            raise InputError(f"{value:g} is out of range.", where=where, remedy=remedy)
    if ask.slots not in SLOTS:
        raise InputError(f"“{ask.slots}” is not known.", where="--slots", remedy=f"Use {', '.join(SLOTS)}.")
    if ask.generations not in (1, 2, 3):
        raise InputError(
            f"{ask.generations} generations are not known here.",
            where="--generations",
            remedy="Use 1, 2 or 3.",
        )


def _pictures(made: MadeCases) -> dict[str, bytes]:
    """PNG pictures by name: the parts of each case apart, and the piece drawn out of it."""
    pictures = {}
    for one in made.made:
        letter = one.poured.piece
        whole = one.case.parts if one.case is not None else one.master.parts if one.master is not None else ()
        parts = [(part.id, part.solid.mesh(CASE_FRAME)) for part in whole]
        blocks, keys = (_set_in(one), _at_walls(one)) if one.case is not None else ([], [])
        pictures[f"parts-{letter}"] = as_png(parts_apart(parts, over=blocks, at_wall=keys))
        drawn = replace(one.poured, solid=with_sockets(one.poured))
        if one.case is not None:
            first = drawn if one.case.poured is one.poured else one.case.poured
            piece = _tidied(in_case(first, one.case.shape.floor_mm)).mesh(CASE_FRAME)
            pictures[f"lifted-{letter}"] = as_png(lifted_out(parts, (letter, piece)))
        elif one.cement_case is not None:
            piece = _tidied(in_case(drawn, one.cement_case.wall_mm)).mesh(CASE_FRAME)
            cement = one.cement_case.solid.mesh(CASE_FRAME)
            pictures[f"lifted-{letter}"] = as_png(lifted_out([("", cement)], (letter, piece)))
    return pictures


def _tidied(solid: LatticeSolid) -> LatticeSolid:
    """A solid to draw: slivers that cutting left, which would show as lines, are joined to their faces."""
    return on_lattice(closed(lattice_mm(solid.points), solid.faces).simplify(_DRAWN_MM))


def _set_in(one: MadeCase) -> list[tuple[str, Mesh]]:
    """The blocks of finger slots and the cores that are set into a case, where they stand in it."""
    assert one.case is not None
    poured = one.case.poured
    solids = [(f"slot{k}", on_lattice(former(poured, slot))) for k, slot in enumerate(poured.slots, start=1)]
    solids += [(f"core{k}", core.solid) for k, core in enumerate(poured.cores, start=1)]
    floor_mm = one.case.shape.floor_mm
    return [
        (f"{poured.piece}-{name}", in_case(replace(poured, solid=solid), floor_mm).mesh(CASE_FRAME))
        for name, solid in solids
    ]


def _at_walls(one: MadeCase) -> list[tuple[str, Mesh, Floats]]:
    """The loose keys of a case where they stand at its walls, and the ways they point."""
    assert one.case is not None
    poured, floor_mm = one.case.poured, one.case.shape.floor_mm
    keys = [(plug, replace(poured, solid=on_lattice(hull(plug.points_mm)))) for plug in poured.plugs]
    return [
        (f"{poured.piece}-key{k}", in_case(key, floor_mm).mesh(CASE_FRAME), plug.axis)
        for k, (plug, key) in enumerate(keys, start=1)
    ]


def _water_celsius(document: Mapping[str, Any]) -> float:
    """The mixing water a plan was made for, else the usual."""
    asked = document["made"]["brief"].get("water_celsius")
    return shelf.value("practice", "mix_water_C").value if asked is None else float(asked)


def _write_solids(made: MadeCase, out: Path) -> dict[str, str]:
    """Write the files of one piece and name them by part."""
    letter, files = made.poured.piece, {}
    for folder in ("parts", "pieces"):
        (out / folder).mkdir(exist_ok=True)
    for part in parts_of(made):
        files[part.id] = f"parts/{part.id}.stl"
        (out / files[part.id]).write_bytes(stl_bytes(on_bed(part)))
        (out / "parts" / f"{part.id}.3mf").write_bytes(threemf_bytes(on_bed(part), title=part.id))
    files["piece"] = f"pieces/{letter}.stl"
    (out / files["piece"]).write_bytes(stl_bytes(in_block(made.poured)))
    if made.cement_case is not None:
        (out / "cases").mkdir(exist_ok=True)
        files["cement_case"] = f"cases/{letter}.stl"
        (out / files["cement_case"]).write_bytes(stl_bytes(made.cement_case.solid))
    return files


def _read_back(made: MadeCases, files: Mapping[str, Mapping[str, str]], out: Path) -> list[Check]:
    """The check of each file, read back with a mesh library that did not write it."""
    checks = []
    for one in made.made:
        named = {part.id: part.solid for part in parts_of(one)}
        if one.cement_case is not None:
            named["cement_case"] = one.cement_case.solid
        for name, solid in named.items():
            file = files[one.poured.piece][name]
            found = reread((out / file).read_bytes())
            off = abs(found.volume_mm3 / solid.volume_mm3 - 1.0)
            ok = found.closed and found.bodies == 1 and off <= _VOLUME_SHARE
            label = f"{name}_{one.poured.piece}" if name == "cement_case" else name
            checks.append(
                Check(
                    id=f"file_closed_{label}",
                    ok=ok,
                    measured=off,
                    limit=_VOLUME_SHARE,
                    unit="of its volume",
                    sense="most",
                    where=file,
                    how="read back by another mesh library: closed, one body, and off by this much",
                    remedy="" if ok else "Make the cases again with another --wall.",
                )
            )
    return checks
