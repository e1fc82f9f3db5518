"""Objects from photos: the mat to print, photos brought, outlines looked at, dragged and accepted."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, File, Form, HTTPException, Request, UploadFile
from starlette.responses import FileResponse, RedirectResponse, Response

from claybed.actions.asking import above_nothing, mass_above_nothing_g
from claybed.errors import InputError
from claybed.jobs.worker import run_job
from claybed.register import keeping
from claybed.register.working import jobs_about
from claybed.units import length_mm
from claybed.web import photo_work
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.rendering import number, page, us_of

router = APIRouter(include_in_schema=False)
_CHUNK: Final = 1 << 20
_BAR_MM: Final = 150.0
Text = Annotated[str, Form(max_length=40)]
# 1500 points, the most that are drawn, of two numbers with a tenth of a pixel.
Line = Annotated[str, Form(max_length=60_000)]


@router.get("/paper/mat-{paper}.pdf")
def mat(paper: Literal["a4", "letter", "a3"], visitor: Looking) -> Response:
    """The mat that an object stands on in photos, as PDF at true scale."""
    with tempfile.TemporaryDirectory(prefix="claybed-") as folder:
        out = Path(folder) / "mat.pdf"
        run_job("claybed.actions.photographing:write_mat", {"paper": paper, "out": out}, where="the mat")
        data = out.read_bytes()
    headers = {"content-disposition": f'inline; filename="mat-{paper}.pdf"', "cache-control": "max-age=3600"}
    return Response(data, media_type="application/pdf", headers=headers)


@router.get("/objects/photos")
def ask(request: Request, studio: InStudio, visitor: Changing) -> Response:
    """How to take photos, and the form that takes them in."""
    values = {"upload_mb": studio.settings.upload_mb, "suffixes": ",".join(photo_work.SUFFIXES)}
    return page(request, "photos.html", values)


@router.post("/objects/photos")
def bring(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    photos: Annotated[list[UploadFile], File()],
    name: Annotated[str, Form(max_length=80)] = "",
    bar: Text = "",
    marker: Text = "",
    height: Text = "",
    mass: Text = "",
    mat: Annotated[Literal["under", "behind"], Form()] = "under",
    gap: Text = "",
    exponent: Text = "",
) -> Response:
    """Keep photos and begin to look at them."""
    unit = "in" if us_of(request) else "mm"
    given = [Path((one.filename or "").replace("\\", "/")).name for one in photos]
    for each in given:
        photo_work.check_name(each)
    photo_work.check_count(len(given))

    def length(text: str, where: str) -> float | None:
        typed_mm = length_mm(text, default_unit=unit, where=where) if text.strip() else None
        return None if typed_mm is None else above_nothing(typed_mm, text, where=where)

    behind = mat == "behind"
    if behind and len(given) != 1:
        raise InputError(
            "a mat that stands behind the object goes with one photo.",
            remedy="Lay the mat under the object for front and side, or for a ring.",
        )
    power = number(exponent, "exponent")
    if power is not None and not 1.0 <= power <= 20.0:
        raise InputError(f"{power:g} is no exponent for a section.", remedy="Use 1 to 20; 2 is an ellipse.")
    asked = {
        "bar_mm": length(bar, "the check bar"),
        "marker_mm": length(marker, "the marker"),
        "height_mm": length(height, "the height"),
        "mass_g": mass_above_nothing_g(mass, where="the weight") if mass.strip() else None,
        "gap_mm": (length_mm(gap, default_unit=unit, where="the gap") if gap.strip() else 0.0)
        if behind
        else None,
        "exponent": 2.0 if power is None else power,
    }
    typed = {"mass_g": mass} if mass.strip() else {}
    with tempfile.TemporaryDirectory(dir=studio.settings.data, prefix=".upload-") as folder:
        files = []
        for k, (one, each) in enumerate(zip(photos, given, strict=True)):
            place = Path(folder) / f"{k:02d}"
            with os.fdopen(os.open(place, os.O_CREAT | os.O_WRONLY, 0o600), "wb") as out:
                while chunk := one.file.read(_CHUNK):
                    out.write(chunk)
            files.append((each, place))
        made = photo_work.take_photos(
            studio, name=name.strip() or Path(given[0]).stem, files=files, asked=asked, typed=typed
        )
    return RedirectResponse(f"/objects/{made}/outline", status_code=303)


@router.get("/objects/{object_id}/outline")
def outline(object_id: str, request: Request, studio: InStudio, visitor: Looking, photo: int = 0) -> Response:
    """The photos of an object with their outlines, to be dragged and accepted; of a ring, `photo` alone."""
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
        job = next((one for one in jobs_about(db, object_id) if one["kind"] == "photos"), None)
    state = photo_work.state_of(studio, thing["id"])
    if job is not None:
        job = studio.board.state(job["id"])
    shown = list(enumerate(state["found"]["pictures"], 1)) if state["found"] else []
    if state["ring"]:
        shown = [(k, one) for k, one in shown if k == photo and one.get("points_px")]
        if photo and not shown:
            raise HTTPException(404, "There is no such picture yet.")
    values: dict[str, Any] = {"thing": thing, "job": job, "bar_mm": _BAR_MM, "shown": shown, **state}
    return page(request, "outline.html", values)


@router.post("/objects/{object_id}/outline")
def correct(
    object_id: str,
    studio: InStudio,
    visitor: Changing,
    line1: Line = "",
    line2: Line = "",
    photo: Annotated[int, Form()] = 0,
) -> Response:
    """Measure with outlines as a person dragged them; empty ones are found anew. Of a ring, that of `photo`
    is line1.
    """
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
    if photo:
        photo_work.give_outline(studio, thing["id"], photo, line1)
    else:
        photo_work.give_outlines(studio, thing["id"], (line1, line2))
    return RedirectResponse(f"/objects/{thing['id']}/outline", status_code=303)


@router.post("/objects/{object_id}/photos")
def choose(
    object_id: str, studio: InStudio, visitor: Changing, used: Annotated[list[int] | None, Form()] = None
) -> Response:
    """Measure anew with these photos of a ring; the others are left out, and can be put back."""
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
    photo_work.choose_photos(studio, thing["id"], set(used or ()))
    return RedirectResponse(f"/objects/{thing['id']}/outline", status_code=303)


@router.post("/objects/{object_id}/accept")
def accept(object_id: str, studio: InStudio, visitor: Changing) -> Response:
    """Take the object as its outlines give it, and begin its survey."""
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
    found = photo_work.state_of(studio, thing["id"])["found"]
    if found is None or found["object"] is None:
        raise InputError(
            "these photos have given no object yet.", remedy="Drag the outline into place, and measure again."
        )
    studio.survey(thing["id"])
    return RedirectResponse(f"/objects/{thing['id']}", status_code=303)


@router.get("/objects/{object_id}/photos/{count}.jpg")
def view(object_id: str, count: int, studio: InStudio, visitor: Looking) -> Response:
    """A photo of an object for the screen, upright."""
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
    place = photo_work.view_of(studio, thing["id"], count)
    if not place.is_file():
        raise HTTPException(404, "There is no such picture yet.")
    return FileResponse(place, media_type="image/jpeg")
