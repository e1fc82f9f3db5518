"""`claybed plan`: from a model to a folder with everything for the pour."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from claybed import units as unit_words
from claybed.actions.asking import OPTIONS, SYSTEMS, body_words, brief_from, choice, words_of
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli.plan_lines import (
    frames_line,
    gate_line,
    hump_line,
    is_hump,
    spread_lines,
    trade_lines,
    ware_line,
)
from claybed.cli.ware_options import studio_text
from claybed.errors import EXIT_DONE, EXIT_NOT_READY, InputError
from claybed.fill_line import down_words, per_mm_words
from claybed.hole_words import cut_words
from claybed.wording import clay_words, from_board, in_system, pull_words, ruler

TARGET = "claybed.actions.planning:run"
Document = Mapping[str, Any]
# What a survey can be asked as well.
SURVEY_FIELDS = (
    "unit",
    "height_mm",
    "mouth",
    "close_holes",
    "mass_g",
    "body",
    "up",
    "max_triangles",
    "axis",
    "max_fill_ml",
    "pose_tolerance_deg",
    "pieces",
    "open",
)
_LEAST_FILL_ML = 0.05  # a drop: nothing a hand would fill
# A finding that says with names what this check says with a number.
_SAID_BY = {"liftable": "lift_over_limit"}
_NAMED_OPTION = re.compile(r"([Ll]eave )?(--[a-z][a-z-]+)(?: ([\w.,:%-]+))?")
_FLAGS = ("--mouth", "--close-holes", "--flat-seam", "--no-keys", "--porous")


def plan(
    file: ask.File,
    unit: ask.Unit = None,
    height: ask.Height = None,
    mouth: ask.Mouth = None,
    close_holes: ask.CloseHoles = None,
    mass: ask.Mass = None,
    body: ask.BodyOrClay = None,
    up: ask.Up = None,
    max_triangles: ask.MaxTriangles = None,
    axis: ask.Axis = None,
    flat_seam: ask.FlatSeam = None,
    keep_out: ask.KeepOutRegions = None,
    max_fill: ask.MaxFill = None,
    pose_tolerance: ask.PoseTolerance = None,
    pieces: ask.Pieces = None,
    open_mold: ask.Open = None,
    shape: ask.Shape = None,
    use: ask.Use = None,
    wall: ask.Wall = None,
    ware_wall: ask.WareWall = None,
    gate: ask.Gate = None,
    gate_bore: ask.GateBore = None,
    no_keys: ask.NoKeys = None,
    ratio: ask.Ratio = None,
    waste: ask.Waste = None,
    form: ask.Form = None,
    bucket: ask.Bucket = None,
    plaster: ask.Plaster = None,
    lift: ask.Lift = None,
    studio: ask.Studio = None,
    water: ask.Water = None,
    mixing: ask.Mixing = None,
    drills: ask.Drills = None,
    release: ask.Release = None,
    porous: ask.Porous = None,
    hollow: ask.Hollow = None,
    made_of: ask.MadeOf = None,
    second_pour: ask.SecondPour = None,
    lifter: ask.Lifter = None,
    clay: ask.Clay = None,
    fired_height: ask.FiredHeight = None,
    fired_capacity: ask.FiredCapacity = None,
    expansion: ask.Expansion = None,
    generations: ask.Generations = None,
    slip: ask.SlipName = None,
    out: ask.Out = None,
    replace: ask.Replace = False,
    units: ask.UnitsOrKept = None,
    as_json: ask.AsJson = False,
) -> int:
    """Plan the mold of a model: pieces, seam, block, keys, gate, and water and plaster for each pour.

    Writes one folder: pieces, bench sheets, pictures, plan.json. Ends with 4 when it must not be poured yet.
    """
    which_body, clay = body_words(body or [], clay)
    typed: dict[str, Any] = {
        "unit": unit,
        "height_mm": height,
        "mouth": mouth,
        "close_holes": close_holes,
        "mass_g": mass,
        "body": which_body,
        "up": up,
        "max_triangles": max_triangles,
        "axis": axis,
        "flat_seam": flat_seam,
        "keep_out": keep_out or None,
        "max_fill_ml": max_fill,
        "pose_tolerance_deg": pose_tolerance,
        "pieces": pieces,
        "open": open_mold,
        "shape": shape,
        "use": use,
        "wall_mm": wall,
        "ware_wall_mm": ware_wall,
        "gate": gate,
        "gate_bore_mm": gate_bore,
        "keys": None if no_keys is None else not no_keys,
        "consistency": ratio,
        "waste": waste,
        "form": form,
        "bucket_l": bucket,
        "plaster": plaster,
        "lift_kg": lift,
        "water_celsius": water,
        "mixing": mixing,
        "drills": drills,
        "release": release,
        "porous": porous,
        "hollow_ml": hollow,
        "made_of": made_of,
        "second_pour": second_pour,
        "lifter": lifter,
        "clay": clay,
        "slip": slip,
        "fired_height_mm": fired_height,
        "fired_capacity_ml": fired_capacity,
        "expansion_fraction": expansion,
        "generations": generations,
    }
    kept, kept_units = kept_by_studio(studio)
    if clay is not None or slip is not None:
        kept |= {"clays": studio_text(studio)}
    brief = brief_from(typed, kept)
    system = choice(units or kept_units, SYSTEMS, where="--units")
    final = out if out is not None else plan_folder(file)
    document = _make(file, final, replace=replace, brief=brief, units=system)
    if as_json:
        output.print_json(document)
    else:
        show_plan(document, final, us=system == "us")
        output.say_next(*next_words(document, file, final, typed))
    return EXIT_DONE if document["ready"] else EXIT_NOT_READY


def plan_folder(file: Path) -> Path:
    """Return the folder that the plan of a file goes to when none is named, in the working folder.

    The plan of an object file cannot have that file's own name.
    """
    own = file.suffix.casefold() == ".claybed"
    return Path(f"{file.stem}-plan.claybed" if own else f"{file.stem}.claybed")


def kept_by_studio(studio: Path | None) -> tuple[dict[str, Any], str]:
    """Return what the studio's file gives a plan, by field of the brief, and its units; nothing without one.

    Raises InputError for a file that was named and is not there, or cannot be read.
    """
    from claybed.actions.studio_file import kept_fields, read_studio, studio_path

    path = studio_path(studio)
    if path is None:
        return {}, "metric"
    found = read_studio(path)
    return kept_fields(found), found.units


def _make(file: Path, final: Path, *, replace: bool, brief: object, units: str) -> Document:
    from claybed.cli.progress import Meter
    from claybed.jobs.folder import new_folder
    from claybed.jobs.worker import run_job

    with new_folder(final, replace=replace) as folder, Meter() as meter:
        payload = {"path": file.absolute(), "out": folder, "final": final, "brief": brief, "units": units}
        document: Document = run_job(TARGET, payload, on_progress=meter, where=file.name)
    return document


def show_plan(document: Document, final: Path, *, us: bool) -> None:
    """Print a plan: what it is, how it leaves, one table of pours, and what to look at."""
    document = from_board(document)
    output.say(object_line(document, us=us))
    output.say(leaving_line(document, us=us))
    for line in trade_lines(document["survey"], us=us):
        output.say(line)
    mold = document["mold"]
    size = " × ".join(unit_words.say_length(side, us=us) for side in mold["outer_mm"])
    shape = "Round block" if mold["shape"] == "round" else "Block"
    seam_mm = float(mold["seam_length_mm"])
    seam = f"seam {unit_words.say_length(seam_mm, us=us)}" if seam_mm > 0.0 else "no seam"
    wall = f"{shape} {size}, wall {unit_words.say_length(mold['wall_mm'], us=us)}, {seam}."
    output.say(hump_line(mold["hump"], us=us) if mold.get("hump") else wall)
    for line in (gate_line(document, us=us), ware_line(document, us=us), *cut_words(document, us=us)):
        if line:
            output.say(line)
    _pour_table(document, us=us)
    for line in spread_lines(document, us=us):
        output.say(line)
    output.say(frames_line(document))
    ready = bool(document["ready"])
    checks = document["checks"]
    failed = [check for check in checks if not check["ok"]]
    stops = output.stopping(document["findings"])
    for reason in _reasons(checks, stops, us=us) if not ready else ():
        output.say(f"Not ready to pour: {reason}", "bold red")
    if ready:
        output.say(f"Ready to pour: {output.counted(len(checks), 'check')} hold.", "bold green")
    elif failed:
        output.say(f"{len(checks) - len(failed)} of {len(checks)} checks hold.")
    shown = [finding for finding in document["findings"] if ready or finding not in stops]
    output.say_findings(shown, us=us)
    ware_findings = (document.get("ware") or {}).get("findings") or ()
    missed = [finding for finding in ware_findings if finding["id"] == "fired_size_missed"]
    output.say_findings(missed, us=us)
    output.say(f"Written to {final}.")
    sheets = sorted((final / "sheets").glob("*.pdf"))
    if ready and sheets:
        output.say(f"Print {' and '.join(str(sheet) for sheet in sheets)} at 100 %.")


def next_words(document: Document, file: Path, final: Path, typed: Mapping[str, Any]) -> list[str]:
    """Return the command to try next, as words.

    Ready: the cases when they hold the pours, else where the plaster of the first pour comes from. Not ready:
    the same plan with the option that a remedy names, else a survey of the model, which shows what else could
    be asked.
    """
    if document["ready"]:
        if document.get("made", {}).get("brief", {}).get("form") == "case":
            return ["claybed", "cases", str(final)]
        return ["claybed", "why", str(final), f"pours.{document['pours'][0]['piece']}.plaster_g"]
    failed = [check for check in document["checks"] if not check["ok"]]
    stops = output.stopping(document["findings"])
    for one in (*stops, *failed):
        asked = remedied(typed, str(one.get("remedy") or ""))
        if asked is not None:
            return ["claybed", "plan", str(file), *asked, "--out", str(final), "--replace"]
    return ["claybed", "survey", str(file), *words_of({name: typed.get(name) for name in SURVEY_FIELDS})]


def remedied(typed: Mapping[str, Any], remedy: str) -> list[str] | None:
    """Return the options that were typed with the first one that a remedy names, given anew or left out; with
    those that follow it without a word between.

    None when the remedy names no option of a plan, or one without a value that it takes: in "with --gate and
    a direction" no word stands for one.
    """
    first = _NAMED_OPTION.search(remedy)
    if first is None or first[2] not in OPTIONS.values():
        return None
    if first[1]:
        return words_of({name: value for name, value in typed.items() if OPTIONS[name] != first[2]})
    given: dict[str, list[str]] = {}
    named: re.Match[str] | None = first
    while named is not None and named[2] in OPTIONS.values():
        flag = named[2] in _FLAGS
        value = (named[3] or "").rstrip(".,;:")
        if not flag and not _takes(named[2], value):
            break
        given[named[2]] = [named[2], *([] if flag else [value])]
        # What stands right behind an option and its value belongs to it.
        after = remedy[named.end() :]
        named = _NAMED_OPTION.match(after[1:]) if not flag and after.startswith(" --") else None
        remedy = after[1:]
    if not given:
        return None
    kept = words_of({name: value for name, value in typed.items() if OPTIONS[name] not in given})
    return [*kept, *(word for words in given.values() for word in words)]


def _takes(option: str, value: str) -> bool:
    """Whether a value that stands behind an option of a plan is one, as a command would read it."""
    (field,) = (name for name, typed in OPTIONS.items() if typed == option)
    # The command hands on whole numbers as such, and all else as text.
    readings: list[object] = [int(value), value] if value.isdecimal() else [value]
    for reading in readings:
        with contextlib.suppress(InputError, TypeError, AttributeError):
            brief_from({field: reading})
            return bool(value)
    return False


def object_line(document: Document, *, us: bool) -> str:
    """Return one sentence on the object: name, size, volume, and how its unit was known."""
    thing = document["object"]
    size = " × ".join(unit_words.say_length(side, us=us) for side in thing["extent_mm"])
    line = f"{thing['name']}: {size}, {volume_words(document, us=us)}."
    how = thing.get("measured")
    if how:
        return in_system(f"{line} {how['says']}", us=us)
    unit = thing.get("unit")
    says = str(unit.get("says") or "") if isinstance(unit, Mapping) else ""
    return f"{line} {in_system(says, us=us)}".rstrip()


def volume_words(document: Document, *, us: bool) -> str:
    """Return the object's volume with how far it may be off."""
    volume_ml = document["object"]["volume_ml"]
    figure = (document.get("figures") or {}).get("/object/volume_ml") or {}
    off = unit_words.say_spread(
        volume_ml, figure.get("low"), figure.get("high"), lambda ml: unit_words.say_volume(ml, us=us)
    )
    return f"{unit_words.say_volume(volume_ml, us=us)} {off}".rstrip()


def leaving_line(document: Document, *, us: bool) -> str:
    """Return one sentence on how the object leaves and what must be filled first."""
    survey = document["survey"]
    pieces = document.get("pieces") or ()
    options = survey.get("options") or ()
    count = len(pieces) or (1 if options and options[0]["kind"] == "one_piece" else 2)
    parts = f"Leaves {'in ' if count > 1 else 'from '}{output.counted(count, 'piece')}"
    if is_hump(document):
        parts = "Plaster leaves its inside"
    along = f"along {output.direction_text(survey['axis'])} of the file"
    fill_ml, fill_g = float(survey["fill_ml"]), float(survey["fill_g"])
    places = [place for place in survey.get("fill_places") or () if place["lock_class"] == "fill"]
    if survey["castable"] and fill_ml < _LEAST_FILL_ML:
        smeared = [place for place in survey.get("fill_places") or () if place["lock_class"] == "scrape"]
        but = f" but a smear in {output.counted(len(smeared), 'place')}" if smeared else ""
        return f"{parts} {along}, nothing to fill{but}."
    if survey["castable"]:
        locked = unit_words.say_volume(fill_ml, us=us)
        return f"{parts} {along}; {locked} locks, shallow enough to scrape off the first piece."
    if places:  # what is scraped is not pressed in, and is told apart
        closed_ml = sum(float(place["volume_ml"]) for place in places)
        fill_g *= closed_ml / fill_ml if fill_ml > 0.0 else 0.0
        fill_ml = closed_ml
    fill = f"{unit_words.say_volume(fill_ml, us=us)} ({clay_words(fill_g, us=us)})"
    gaps = output.counted(len(places), "gap") if places else "what locks"
    scraped = [place for place in survey.get("fill_places") or () if place["lock_class"] == "scrape"]
    more = f"; {output.counted(len(scraped), 'place')} more to smear or scrape" if scraped else ""
    return f"{parts} {along} once {fill} of oil clay closes {gaps}{more}."


def leaves_words(pull: Sequence[float]) -> str:
    """Return where a piece leaves to, as the sheets tell it: up, down, or sideways with the direction."""
    return pull_words(pull).removeprefix("straight ")


def _pour_table(document: Document, *, us: bool) -> None:
    by_letter = {piece["id"]: piece for piece in document["pieces"]}
    rows = []
    for pour in document["pours"]:
        piece = by_letter[pour["piece"]]
        line = pour.get("fill_line") or {}
        rows.append(
            (
                str(piece["id"]),
                leaves_words(piece.get("leaves") or piece["pull"]),
                unit_words.say_mass(pour["water_g"], us=us),
                unit_words.say_mass(pour["plaster_g"], us=us),
                str(len(pour["batches"])),
                ruler(line.get("from_board_mm", pour["fill_line_mm"]), us),
                down_words(line, us) if "from_rim_mm" in line else "",
                unit_words.say_mass(piece["wet_kg"] * 1000.0, us=us),
                unit_words.say_mass(piece["dry_kg"] * 1000.0, us=us),
            )
        )
    headings = ("Piece", "Leaves", "Water", "Plaster", "Batches", "Fill to", "below rim", "Wet", "Dry")
    output.say_table(headings, rows, left=2)
    if more := per_mm_words(document["pours"], us=us):
        output.say(more)


def _reasons(checks: Sequence[Document], stops: Sequence[Document], *, us: bool) -> list[str]:
    reasons = [output.finding_sentence(finding, us=us) for finding in stops]
    said = {finding["id"] for finding in stops}
    hidden = [check["id"] for check in checks if {check["id"], _SAID_BY.get(str(check["id"]))} & said]
    reasons += output.failed_sentences(checks, us=us, hidden=hidden)
    return reasons or ["a check did not hold."]
