"""The folder of a plan: solids, pictures, bench sheet, view and plan.json."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from claybed.actions.form_pictures import form_pictures
from claybed.flow.course import Course
from claybed.flow.document import FILES
from claybed.flow.keeping_out import barred_of, regions_of
from claybed.geometry.barred import Barred
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import stl_bytes
from claybed.geometry.threemf import threemf_bytes
from claybed.posing.fillers import bed_loops, filler_loops
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.drawing import Drawing
from claybed.records.measured import MeasuredObject
from claybed.records.pose import Pose, Saddle
from claybed.scene.page import write_view
from claybed.sheets import bench_sheet, lying_pictures, pictures, template_sheet
from claybed.sheets.bed_picture import bed_done
from claybed.sheets.bench_templates import templates_of
from claybed.sheets.hump_picture import hump_section
from claybed.sheets.places import numbered
from claybed.sheets.section import section

Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """What pictures and view draw, in the block's frame; each piece is its letter, mesh and pull.

    `bed_mm` are the heights of the first pour's board in that frame and of the form's rim above it, None for
    an object that lies on the board without a bed; `filled` whether the plan tells of any fill; `pose` that
    part of the document where there is a bed, `bed_loops_mm` the seam that the bed comes up to and
    `filler_loops_mm` where fillers meet the object. Of a hump, `vessel` is what it is cast in, and `hump` the
    heights of ledge and sand and the slab, mm. `barred` is where no seam may run; `holes` the letters and
    rims of those that were closed.
    """

    pieces: tuple[tuple[str, Mesh, Floats], ...]
    model: Mesh
    seam_loops_mm: tuple[Floats, ...]
    fill_places_mm: tuple[Floats, ...]
    witness_mm: tuple[Floats, ...]
    cut_through_mm: list[float] | None
    cut_normal: list[float] | None
    bed_mm: tuple[float, float] | None = None
    filled: bool = True
    pose: Mapping[str, Any] | None = None
    bed_loops_mm: tuple[Floats, ...] = ()
    filler_loops_mm: tuple[Floats, ...] = ()
    vessel: Mesh | None = None
    hump: tuple[float, float, float] | None = None
    barred: Barred = field(default_factory=Barred)
    holes: tuple[tuple[str, Floats], ...] = ()

    @staticmethod
    def of(assembly: Assembly, document: Mapping[str, Any], vessel: Mesh | None = None) -> Shown:
        """Gather it from a mold and its document, whose places are carried into the block's frame; `vessel`
        in the object's own frame, of a hump.
        """
        survey = document["survey"]
        places, spots = (
            tuple(assembly.to_block @ np.array(row["at_mm"]) + assembly.shift_mm for row in rows)
            for rows in (numbered(survey["fill_places"]), _bearing_witness(survey))
        )
        through_mm, normal = _cut_along_gate(assembly)
        pose = document.get("pose") or {"on_board": True}
        hump = document["mold"].get("hump")
        filled = bool(survey["fill_places"])

        def drawn(solid: LatticeSolid) -> Mesh:
            mesh = solid.mesh(BLOCK_FRAME)
            return mesh if filled else _without_fill(mesh)

        return Shown(
            vessel=None
            if vessel is None
            else vessel.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME),
            hump=None
            if hump is None
            else (
                hump["ledge_from_board_mm"],
                hump["sand_from_board_mm"],
                document["ware"]["press"]["slab_mm"],
            ),
            pieces=tuple((p.id, drawn(p.solid), np.array(p.way)) for p in assembly.pieces),
            model=drawn(assembly.model),
            seam_loops_mm=assembly.seam_loops,
            fill_places_mm=places,
            witness_mm=spots,
            cut_through_mm=through_mm,
            cut_normal=normal,
            filled=filled,
            bed_mm=None if pose["on_board"] else (pose["board_mm"], pose["rim_mm"]),
            pose=None if pose["on_board"] else pose,
            bed_loops_mm=() if pose["on_board"] else bed_loops(assembly),
            filler_loops_mm=() if pose["on_board"] else filler_loops(assembly),
            barred=barred_of(regions_of(document)).placed(assembly.to_block, assembly.shift_mm),
        )


def _bearing_witness(survey: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The spots that bear witness for a least number of pieces, that of draft last."""
    spots = list((survey.get("witness") or {}).get("spots", ()))
    wall_mm = (survey.get("drafted") or {}).get("wall_mm")
    return spots if wall_mm is None else [*spots, {"at_mm": wall_mm}]


def _cut_along_gate(assembly: Assembly) -> tuple[list[float] | None, list[float] | None]:
    """A point and the normal of an upright cut that shows a gate in the side, None where there is none."""
    across = np.cross([0.0, 0.0, 1.0], assembly.gate.out)
    length = float(np.linalg.norm(across))
    if assembly.gate.kind not in ("bore", "mouth") or length < 0.5:
        return None, None
    return list(assembly.gate.at_mm), (across / length).tolist()


def write_solids(assembly: Assembly, name: str, folder: Path) -> dict[str, Path]:
    """Write every piece and the model as STL and 3MF into `folder`; return the STL files by their key.

    The key is a piece's letter or "model"; `name` is the object's, for titles. STL coordinates are exact;
    nothing is decimated.
    """
    written: dict[str, Path] = {}
    solids = {piece.id: piece.solid for piece in assembly.pieces} | {"model": assembly.model}
    for key, solid in solids.items():
        holds = "model" if key == "model" else "piece"
        title = f"{name}, model" if key == "model" else f"{name}, mold piece {key}"
        for kind in ("stl", "3mf"):
            path = folder / FILES[holds].format(id=key, kind=kind)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(_solid_bytes(solid, title, kind))
        written[key] = folder / FILES[holds].format(id=key, kind="stl")
    return written


def _solid_bytes(solid: LatticeSolid, title: str, kind: str) -> bytes:
    if kind == "stl":
        return stl_bytes(solid, title=f"claybed, millimetres: {title}")
    return threemf_bytes(solid, title=title)


def write_rest(
    course: Course, document: Mapping[str, Any], pose: Pose, folder: Path, *, units: str, progress: Progress
) -> None:
    """Write pictures, bench sheet, templates, view and plan.json of a finished document into `folder`.

    `units` "us" prints on Letter in US units, anything else on A4 in metric; `progress` is told "writing".
    """
    hollow = course.obj.hollow
    shown = Shown.of(course.molded.assembly, document, None if hollow is None else hollow.vessel)
    assembly = course.molded.assembly
    rims = [
        (mark, rim_mm @ assembly.to_block.T + assembly.shift_mm) for mark, rim_mm in hole_rims(course.obj)
    ]
    shown = replace(shown, holes=tuple(rims))
    us = units == "us"
    drawn = draw(shown, progress, saddles=pose.saddles, us=us)
    drawn |= form_pictures(course, sand_mm=0.0 if shown.hump is None else shown.hump[1])
    (folder / "pictures").mkdir(exist_ok=True)
    for name, png in drawn.items():
        (folder / "pictures" / f"{name}.png").write_bytes(png)
    progress("writing", 0.8)
    (folder / "sheets").mkdir(exist_ok=True)
    bench_sheet.write(
        document,
        drawn,
        folder / "sheets" / "bench-sheet.pdf",
        paper="us-letter" if us else "a4",
        us_units=us,
    )
    write_templates(
        templates_of(pose, course.molded.assembly, us=us), str(document["object"]["name"]), folder, us=us
    )
    progress("writing", 0.9)
    pieces = [(letter, mesh) for letter, mesh, _ in shown.pieces]
    write_view(document, pieces, shown.model, shown.seam_loops_mm, folder / "view.html", us_units=us)
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    (folder / "plan.json").write_text(text + "\n", encoding="utf-8")
    progress("writing", 1.0)


def write_templates(drawings: Sequence[Drawing], name: str, folder: Path, *, us: bool) -> None:
    """Write templates below a plan's folder: `templates` with SVG and DXF, `sheets/templates.pdf` at 1:1.

    `name` is the object's; `us` prints on Letter.
    """
    template_sheet.write_files(drawings, folder / "templates")
    (folder / "sheets").mkdir(exist_ok=True)
    pdf = template_sheet.render(drawings, name, paper="us-letter" if us else "a4")
    (folder / "sheets" / "templates.pdf").write_bytes(pdf)


def hole_rims(obj: MeasuredObject) -> list[tuple[str, Floats]]:
    """The letter of each hole that was closed, and its rim outside (n, 3) in mm, in the object's frame."""
    return [(hole.mark, np.array(hole.rim_mm)) for hole in obj.holes]


def draw(
    shown: Shown, progress: Progress, *, saddles: Sequence[Saddle] = (), us: bool = False
) -> dict[str, bytes]:
    """The pictures of a plan as PNG bytes: seam, exploded, section; where there is a bed, the bed and the
    object as it lies in it on its `saddles`, from both sides; without one, its fill from near.

    `us` writes heights in inches.
    """
    bed = model = shown.model
    if shown.vessel is not None and not shown.filled:
        model = shown.vessel
    drawn = {
        "seam": pictures.as_png(
            pictures.object_with_seam(
                model,
                shown.seam_loops_mm,
                shown.fill_places_mm,
                shown.witness_mm,
                shown.barred,
                holes=shown.holes,
            )
        )
    }
    progress("writing", 0.5)
    drawn["exploded"] = pictures.as_png(pictures.exploded(shown.pieces, model))
    progress("writing", 0.6)
    if shown.hump is not None and shown.vessel is not None:
        ledge_mm, sand_mm, slab_mm = shown.hump
        cut = hump_section(
            shown.pieces[0][1],
            bed,
            shown.vessel,
            ledge_mm=ledge_mm,
            sand_mm=sand_mm,
            slab_mm=slab_mm,
            us=us,
        )
    else:
        cut = section(shown.pieces, model, through_mm=shown.cut_through_mm, normal=shown.cut_normal, us=us)
    drawn["section"] = pictures.as_png(cut)
    if shown.bed_mm is not None:
        board_mm, rim_mm = shown.bed_mm
        first = shown.pieces[0][1]
        bedded = bed_done(first, model, shown.seam_loops_mm, board_mm=board_mm, rim_mm=rim_mm)
        drawn["bed"] = pictures.as_png(bedded)
    if shown.pose is not None:
        for side in lying_pictures.SIDES:
            lies = lying_pictures.lying(
                model, shown.bed_loops_mm, shown.pose, saddles, side, fillers_mm=shown.filler_loops_mm, us=us
            )
            drawn[side] = pictures.as_png(lies)
        return drawn
    near = pictures.fill_close_up(model, shown.fill_places_mm)
    if near is not None:
        drawn["fill"] = pictures.as_png(near)
    beyond = pictures.fill_close_up(model, shown.fill_places_mm, other_side=True)
    if beyond is not None:
        drawn["fill-beyond"] = pictures.as_png(beyond)
    return drawn


def _without_fill(model: Mesh) -> Mesh:
    """A solid with what is filled looking like the rest: too little for anyone to be told of."""
    origin = np.where(model.origin == int(Origin.FILL), int(Origin.OBJECT), model.origin)
    return Mesh.make(model.vertices_mm, model.faces, frame=model.frame, origin=origin)
