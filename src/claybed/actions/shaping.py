"""Object files of simple shapes, drawn outlines, reliefs, and of displaced water alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from claybed.actions.making import extent_of, file_bytes
from claybed.actions.object_files import write_object
from claybed.errors import InputError
from claybed.geometry.mesh import Mesh
from claybed.intake.drawings import Drawing, read_drawing
from claybed.intake.picture import read_grey
from claybed.intake.scale import MM_PER_UNIT
from claybed.making import displacement, outlines, relief, shapes
from claybed.materials import shelf
from claybed.pours.floating import judge_float
from claybed.records.brief import Brief
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile
from claybed.units import say_mass, say_share, say_volume

Progress = Callable[[str, float], None]


def run_shape(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write a simple shape; `payload` has "kind", "sizes_mm", "draft_deg", "corner_mm", "blunt_share",
    "reading_mm", "out" and "name".
    """
    kind, sizes = str(payload["kind"]), list(payload["sizes_mm"])
    form = {key: payload[key] for key in ("draft_deg", "corner_mm", "blunt_share")}
    progress("shaping", 0.0)
    mesh = shapes.made(kind, sizes, **form)
    read_mm = float(payload["reading_mm"])
    off_mm3 = shapes.half_width_mm3(kind, sizes, read_mm, **form) if read_mm else 0.0
    words = " × ".join(f"{size:g} mm" for size in sizes)
    lean = f", sides leaning in by {form['draft_deg']:g}°" if form["draft_deg"] else ""
    known = f", each size good to {read_mm:g} mm" if read_mm else ", taken at its word"
    says = f"{kind.capitalize()} of {words}{lean}{known}."
    inputs: dict[str, float | str] = {
        f"{name}_mm": size for name, size in zip(shapes.SIZES[kind], sizes, strict=True)
    }
    inputs |= {"draft_deg": form["draft_deg"], "corner_mm": form["corner_mm"], "reading_mm": read_mm}
    formula = "prismatoid h / 6 (A0 + 4 Am + A1)"
    if kind in ("sphere", "egg"):
        formula = "π / 6 × diameter² × length"
    return _solid("shape", says, mesh, off_mm3, f"{formula}, of the mesh", inputs, payload)


def run_outline(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write what a drawing makes; `payload` has "path", "how" (revolve or extrude), "unit", "size_mm",
    "line_mm", "axis" or "thick_mm" and "draft_deg", "out" and "name".
    """
    path = Path(payload["path"])
    progress("reading", 0.0)
    drawing = read_drawing(file_bytes(path), path.name)
    factor, words = _scale(drawing, payload, path.name)
    closed = [line.points * factor for line in drawing.lines if line.closed]
    loose = [line.points * factor for line in drawing.lines if not line.closed]
    progress("shaping", 0.0)
    if payload["how"] == "revolve":
        mesh = outlines.revolved(closed, loose, payload["axis"], path.name)
        what = f"Revolved about its {payload['axis']} {'line' if payload['axis'] == 'middle' else 'edge'}"
    else:
        mesh = outlines.extruded(closed, payload["thick_mm"], payload["draft_deg"], path.name)
        what = f"Extruded to {payload['thick_mm']:g} mm with {payload['draft_deg']:g}° of draft"
    line_mm = float(payload["line_mm"])
    known = f", the line good to {line_mm:g} mm" if line_mm else ", the drawing taken at its word"
    inputs: dict[str, float | str] = {"mm_per_unit": factor, "line_mm": line_mm}
    off_mm3 = outlines.traced_half_width_mm3(mesh, line_mm)
    formula = "signed tetrahedra over all faces; interval = surface x line_mm"
    article = "an" if drawing.format_name == "SVG" else "a"
    says = f"{what} from {article} {drawing.format_name} outline{known}. {words}"
    return _solid("outline", says, mesh, off_mm3, formula, inputs, payload)


def run_relief(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write a relief; `payload` has "path", "width_mm", "raised_mm", "base_mm", "smooth_mm", "draft_deg",
    "dark_high", "out" and "name".
    """
    path = Path(payload["path"])
    progress("reading", 0.0)
    grey = read_grey(file_bytes(path), path.name, most_across=relief.FINEST)
    progress("shaping", 0.0)
    sizes = {key: payload[key] for key in ("width_mm", "raised_mm", "base_mm", "smooth_mm", "draft_deg")}
    mesh = relief.relief(1.0 - grey if payload["dark_high"] else grey, **sizes)
    high = "dark" if payload["dark_high"] else "light"
    says = (
        f"Relief {sizes['width_mm']:g} mm wide from a picture: {high} stands up to {sizes['raised_mm']:g} mm "
        f"above a plate of {sizes['base_mm']:g} mm, smoothed over {sizes['smooth_mm']:g} mm."
    )
    formula = "signed tetrahedra over all faces / 1000"
    return _solid("relief", says, mesh, 0.0, formula, dict(sizes), payload)


def run_displaced(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write an object known by displaced water; `payload` has "water_g" or "water_ml", "mass_g",
    "extent_mm" and "reading_g" (each may be None), "out" and "name".
    """
    progress("measuring", 0.0)
    mass_g, extent_mm = payload["mass_g"], payload["extent_mm"]
    found = displacement.displaced(
        water_g=payload["water_g"],
        water_ml=payload["water_ml"],
        mass_g=mass_g,
        extent_mm=extent_mm,
        reading_g=payload["reading_g"],
    )
    share = found.half_width_share
    volume_ml = found.volume_ml
    density = shelf.value("plaster", "water_density_g_per_ml")
    inputs: dict[str, float | str] = {
        key: payload[key] for key in ("water_g", "water_ml", "reading_g") if payload[key] is not None
    }
    inputs |= {
        "water_density_g_per_ml": density.value,
        "open_by_readings_share": found.reading_share,
        "open_by_film_share": found.film_share,
        "open_by_water_share": found.water_share,
    }
    working = Figure(
        "ml",
        "displaced water / density of water; interval = root of squares of what is open",
        "archimedes",
        inputs,
        volume_ml * (1.0 - share),
        volume_ml * (1.0 + share),
    )
    heavy = f" It weighs {found.density_g_per_ml:.2f} g per ml." if found.density_g_per_ml else ""
    obj = ObjectFile(
        name=payload["name"],
        measuring=Measuring(
            "displaced",
            f"It pushes {say_volume(volume_ml)} of water out, good to {say_share(share, 1)}.{heavy}",
            VolumeBand(share, share),
            cannot_tell=(
                "Displaced water tells nothing of shape: which way it leaves, where a seam runs and what "
                "locks stay open, so it can be mixed for and not planned.",
                "If water ran into a hollow, this is the volume of its wall; close the mouth to measure the "
                "outside.",
            ),
        ),
        volume_ml=volume_ml,
        extent_mm=extent_mm,
        mass_g=mass_g,
        findings=(*_floats(volume_ml, mass_g), *_form(extent_mm)),
        working={"/volume_ml": working, **_box_working(extent_mm)},
    )
    progress("writing", 0.0)
    return write_object(obj, Path(payload["out"]))


def _floats(volume_ml: float, mass_g: float | None) -> tuple[Finding, ...]:
    if mass_g is None:
        return ()
    ratio = Brief().consistency
    found = judge_float(volume_ml, mass_g, ratio)
    if not found.floats_in_slurry:
        return (Finding("object_sinks", "note", "in the pour", found.says, ""),)
    return (
        Finding(
            "object_floats",
            "look",
            "in the pour",
            found.says,
            f"Fix it to the board so that it holds {say_mass(found.on_top_g)}, or fill its hollow.",
            Amount(found.lift_in_slurry_g, "g"),
        ),
    )


def _form(extent_mm: tuple[float, float, float] | None) -> tuple[Finding, ...]:
    if extent_mm is None:
        return ()
    inside = displacement.form_mm(extent_mm)
    size = "x".join(f"{side:g}" for side in inside)
    return (
        Finding(
            "form_about_box",
            "note",
            "the form",
            f"With the usual wall all round, a form of {size} mm inside holds it.",
            f"Work out its plaster with --box {size}mm.",
        ),
    )


def _box_working(extent_mm: tuple[float, float, float] | None) -> dict[str, Figure]:
    if extent_mm is None:
        return {}
    return {"/extent_mm": Figure("mm", "the box it just fits into, measured", "asked")}


def _scale(drawing: Drawing, payload: Mapping[str, Any], where: str) -> tuple[float, str]:
    """Millimetres for one unit of a drawing, and how that was known."""
    if payload["size_mm"] is not None:
        every = [line.points for line in drawing.lines]
        longest = max(max(p[:, k].max() for p in every) - min(p[:, k].min() for p in every) for k in (0, 1))
        return payload["size_mm"] / float(longest), f"Scaled to {payload['size_mm']:g} mm on its longer side."
    if payload["unit"] is not None:
        return MM_PER_UNIT[payload["unit"]], f"One unit of the drawing is one {payload['unit']}, as asked."
    if drawing.mm_per_unit is not None:
        return drawing.mm_per_unit, "The drawing states its own unit."
    raise InputError(
        "does not say how long one unit of it is.", where=where, remedy="Give --size 120mm, or --unit mm."
    )


def _solid(
    kind: str,
    says: str,
    mesh: Mesh,
    off_mm3: float,
    formula: str,
    inputs: dict[str, float | str],
    payload: Mapping[str, Any],
) -> dict[str, Any]:
    """Write an object with a mesh whose volume is known to `off_mm3` (95 %)."""
    volume_mm3 = mesh.volume_mm3
    share = off_mm3 / volume_mm3
    if share >= 0.5:
        raise InputError(
            "is too small for how well it is known.", where=payload["name"], remedy="Measure it more finely."
        )
    ends = (None, None)
    if share:
        ends = (volume_mm3 * (1.0 - share) / 1000.0, volume_mm3 * (1.0 + share) / 1000.0)  # type: ignore[assignment]
    obj = ObjectFile(
        name=payload["name"],
        measuring=Measuring(kind, says, VolumeBand(share, share)),
        volume_ml=volume_mm3 / 1000.0,
        mesh=mesh,
        extent_mm=extent_of(mesh),
        mass_g=payload.get("mass_g"),
        steps=(Repair("mesh", len(mesh.faces), 0.0, "mm", f"Drawn with {len(mesh.faces):,} triangles."),),
        working={"/volume_ml": Figure("ml", formula, "geometry", inputs, *ends)},
    )
    return write_object(obj, Path(payload["out"]))
