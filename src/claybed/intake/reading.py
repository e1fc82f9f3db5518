"""A file in, a measured object out."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from claybed.errors import ClaybedError, InputError
from claybed.intake import cad, gltf, obj, object_file, ply, stl, threemf
from claybed.intake.clean import finite_faces
from claybed.intake.guard import Sniffed, sniff
from claybed.intake.hole_places import holes_findings
from claybed.intake.hollow import hollow_findings
from claybed.intake.mending import Mended, mend
from claybed.intake.mouth import Closed, close_mouth, hollow_reading
from claybed.intake.scale import along, checked_numbers, scaled_reading, unit_of
from claybed.intake.skin import used_points
from claybed.intake.soup import Soup, checked
from claybed.intake.thickness import thin_findings
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject, Repair, UnitReading
from claybed.records.measuring import Measuring, VolumeBand

Progress = Callable[[str, float], None]


def read_object(path: Path, brief: Brief, *, progress: Progress) -> MeasuredObject:
    """Read the file at `path` and make it one closed, outward solid in mm, frame "object".

    `brief` gives unit, height_mm (mm), mouth, close_holes, mass_g (g), body, up and max_triangles;
    `progress(step, part)` is called with "reading", "mending" and "mouth" and a part from 0 to 1.
    Raises InputError for every file or number that cannot be used, and for want of memory.
    """
    where = path.name or str(path)
    try:
        checked_numbers(brief, where)
        progress("reading", 0.0)
        soup = _read(sniff(path), brief)
        progress("reading", 1.0)
        return _measured(soup, brief, path.stem, where, progress)
    except MemoryError as reason:
        raise InputError(
            "needs more memory than a plan may use.", where=where, remedy="Export it coarser."
        ) from reason


def read_triangles(path: Path, most_triangles: int) -> Soup:
    """The bare triangles of the file at `path`, nothing mended, at most `most_triangles` of them.

    Raises InputError for every file that cannot be used.
    """
    return _read(sniff(path), replace(Brief(), max_triangles=most_triangles))


def read_soup(path: Path, brief: Brief) -> Soup:
    """The triangles of the file at `path` as they stand, faces without numbers left out.

    Reads unit and max_triangles of `brief`. Raises InputError for a file that cannot be used.
    """
    where = path.name or str(path)
    checked_numbers(brief, where)
    soup = _read(sniff(path), brief)
    faces, _ = finite_faces(soup, where)
    return replace(soup, faces=faces)


def _read(file: Sniffed, brief: Brief) -> Soup:
    most = brief.max_triangles
    readers: dict[str, Callable[[], Soup]] = {
        "stl": lambda: stl.read_binary(file, most),
        "stl_ascii": lambda: stl.read_ascii(file, most),
        "obj": lambda: obj.read_obj(file, most),
        "ply": lambda: ply.read_ply(file, most),
        "glb": lambda: gltf.read_gltf(file, most),
        "gltf": lambda: gltf.read_gltf(file, most),
        "3mf": lambda: threemf.read_3mf(file, most),
        "step": lambda: cad.read_step(file),
        "claybed": lambda: object_file.read_object_file(file, most),
    }
    # Parsers complain to the log about damage that is reported here in one sentence instead.
    quiet = logging.getLogger("trimesh")
    level = quiet.level
    quiet.setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            return checked(readers[file.kind](), file.where, most)
    except (ClaybedError, MemoryError):
        raise
    except Exception as reason:  # outside parsers raise whatever their damage leads to
        detail = str(reason).splitlines()[0][:80] if str(reason) else type(reason).__name__
        raise InputError(
            f"cannot be read as {file.kind.partition('_')[0].upper()}: {detail}.",
            where=file.where,
            remedy="Export it again.",
        ) from reason
    finally:
        quiet.setLevel(level)


def _measured(soup: Soup, brief: Brief, name: str, where: str, progress: Progress) -> MeasuredObject:
    faces, dropped = finite_faces(soup, where)
    soup = replace(soup, faces=faces)
    unit = unit_of(soup, brief, where)
    factor = 1.0
    if brief.height_mm is not None:
        used = soup.vertices[used_points(faces, len(soup.vertices))]
        factor = _to_height(along(used, brief.up) * unit.mm_per_unit, brief.height_mm, where)
    mended, closed = _solid(soup, unit, factor, brief, where, progress)
    if brief.height_mm is not None:
        up = closed.reading.up if closed is not None else brief.up
        rest = _to_height(along(mended.skin.vertices, up), brief.height_mm, where)
        if abs(rest - 1.0) > 1e-9:
            # Scraps, other bodies or another way up changed what "height" is: do it once more at the right
            # size.
            factor *= rest
            mended, closed = _solid(soup, unit, factor, brief, where, progress)
        unit = scaled_reading(unit, brief.height_mm, factor)
    mesh = (closed.skin if closed is not None else mended.skin).mesh()
    x, y, z = (float(s) for s in np.ptp(mesh.vertices_mm, axis=0))
    inside = closed.findings if closed is not None else hollow_findings(mesh, brief.up)
    if closed is not None and brief.close_holes:
        inside += holes_findings(closed.holes)
    known = {finding.id for finding in soup.findings}
    inside = tuple(finding for finding in inside if finding.id not in known)
    band = _band_of(soup.measuring, closed is not None)
    repairs: tuple[Repair, ...] = ((dropped,) if dropped else ()) + mended.repairs
    return MeasuredObject(
        name=name,
        mesh=mesh,
        unit=unit,
        solid_ml=mesh.volume_mm3 / 1000.0,
        area_cm2=mesh.area_mm2 / 100.0,
        extent_mm=(x, y, z),
        repairs=repairs,
        mend=mended.summary,
        mouth=closed.reading if closed is not None and not brief.hump else None,
        mass_g=brief.mass_g if brief.mass_g is not None else soup.mass_g,
        volume_rel_95=max(band.smaller_share, band.larger_share),
        findings=soup.findings + mended.findings + thin_findings(mesh, where) + inside,
        uneven=band if band.smaller_share != band.larger_share else None,
        measuring=soup.measuring,
        hollow=None if closed is None or not brief.hump else hollow_reading(mended.skin, closed.reading),
        holes=closed.holes if closed is not None else (),
    )


def _band_of(measuring: Measuring | None, mouth_closed: bool) -> VolumeBand:
    """The interval of the volume that an object file states; a mesh file is taken at its word."""
    if measuring is None:
        return VolumeBand()
    return measuring.closed_band if mouth_closed and measuring.closed_band else measuring.band


def _solid(
    soup: Soup, unit: UnitReading, factor: float, brief: Brief, where: str, progress: Progress
) -> tuple[Mended, Closed | None]:
    mended = mend(soup.vertices * (unit.mm_per_unit * factor), soup.faces, brief.body, where, progress)
    if not brief.mouth and not brief.hump and not brief.close_holes:
        return mended, None
    progress("mouth", 0.0)
    closed = close_mouth(mended.skin, brief.up, where, inside=brief.hump, holes=brief.close_holes)
    progress("mouth", 1.0)
    return mended, closed


def _to_height(now_mm: float, wanted_mm: float, where: str) -> float:
    if not (np.isfinite(now_mm) and now_mm > 0):
        raise InputError("has no height along up.", where=where, remedy="Check --up.")
    return wanted_mm / now_mm
