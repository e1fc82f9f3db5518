"""The shelf of objects, and the page of one: what it is, which way it leaves, and the plans made of it."""

from __future__ import annotations

import math
import os
import re
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, File, Form, HTTPException, Request, UploadFile
from starlette.responses import FileResponse, RedirectResponse, Response

from claybed.actions.asking import direction
from claybed.actions.looked_at import PICTURE, SHAPE
from claybed.errors import InputError
from claybed.records.tidying import Wishes
from claybed.register import keeping
from claybed.register.working import jobs_about
from claybed.units import ML_PER_US_FL_OZ, MM_PER_IN, length_mm
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.first_page import shelf
from claybed.web.rendering import page, us_of, with_units
from claybed.web.studio import KINDS
from claybed.web.troubles import TROUBLES

router = APIRouter()
_CHUNK = 1 << 20
_MADE = (".claybed", ".step", ".stp")
# The form that an object's box is told to fit into, as its finding says it.
_FORM: Final = re.compile(r"a form of ([\d.]+)x([\d.]+)x([\d.]+) mm")
Text = Annotated[str, Form(max_length=80)]


router.add_route("/", shelf, methods=["GET"], include_in_schema=False)


@router.get("/objects/new", include_in_schema=False)
def new(request: Request, studio: InStudio, visitor: Changing) -> Response:
    """The form that takes a file in."""
    kinds = ",".join(KINDS)
    return page(request, "object_new.html", {"kinds": kinds, "upload_mb": studio.settings.upload_mb})


@router.post("/objects", include_in_schema=False)
def take_in(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    file: Annotated[UploadFile, File()],
    name: Text = "",
    height: Text = "",
    mass: Text = "",
    unit: Text = "",
    mouth: Annotated[bool, Form()] = False,
    close_holes: Annotated[bool, Form()] = False,
    body: Text = "",
    up: Text = "",
    rough: Annotated[bool, Form()] = False,
    keep_table: Annotated[bool, Form()] = False,
    keep_scraps: Annotated[bool, Form()] = False,
    smooth: Text = "",
) -> Response:
    """Keep an uploaded file as an object and begin its survey."""
    given = Path((file.filename or "").replace("\\", "/")).name
    suffix = Path(given).suffix.casefold()
    if suffix not in KINDS:
        raise InputError(
            f"a file named “{given[:60]}” cannot be an object.",
            remedy=f"Choose a file that ends in {', '.join(KINDS)}.",
        )
    asked = _facts(request, height, mass, unit, mouth, close_holes, body, up)
    if rough and suffix in _MADE:
        raise InputError(
            f"a {suffix} file is no rough scan.",
            remedy="Take the tick off, or choose another file.",
        )
    wishes = _wishes(request, asked, keep_table, keep_scraps, smooth) if rough else None
    handle, place = tempfile.mkstemp(dir=studio.settings.data, prefix=".upload-")
    part = Path(place)
    try:
        with os.fdopen(handle, "wb") as out:
            while chunk := file.file.read(_CHUNK):
                out.write(chunk)
        object_id, _ = studio.take_in(
            name=name or Path(given).stem,
            how="file",
            file=part,
            suffix=suffix,
            typed=asked,
            rough=wishes,
        )
    finally:
        part.unlink(missing_ok=True)
    return RedirectResponse(f"/objects/{object_id}", status_code=303)


@router.get("/objects/{object_id}", include_in_schema=False)
def one(object_id: str, request: Request, studio: InStudio, visitor: Looking) -> Response:
    """The page of one object."""
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
        found = keeping.plans(db, object_id)
        job = next(iter(jobs_about(db, object_id)), None)
    if job is not None:
        job = studio.board.state(job["id"])
    told = studio.told(object_id)
    if told is not None:
        values: dict[str, Any] = {"thing": thing, "told": told, "mix": _mix_address(told, us=us_of(request))}
        return page(request, "object_by_water.html", values)
    values = {"thing": thing, "plans": found, "job": job, "survey": thing["survey"]}
    return page(request, "object.html", values)


def _mix_address(told: Mapping[str, Any], *, us: bool) -> str:
    """The quick mix with this object in it: its volume, how far that may be off, and a form that holds it."""
    ml, mm = (ML_PER_US_FL_OZ, MM_PER_IN) if us else (1.0, 1.0)
    figure = told["figures"]["/volume_ml"]
    asked = {
        "object": told["volume_ml"] / ml,
        "off": max(told["volume_ml"] - figure["low"], figure["high"] - told["volume_ml"]) / ml,
    }
    form = next(
        (_FORM.search(one["says"]) for one in told["findings"] if one["id"] == "form_about_box"), None
    )
    if form is not None:
        sides = (float(side) / mm for side in form.groups())
        asked |= dict(zip(("length", "width", "height"), sides, strict=True))
    return "/mix#" + urlencode({name: f"{value:.4g}" for name, value in asked.items()})


@router.post("/objects/{object_id}/survey", include_in_schema=False)
def again(
    object_id: str,
    request: Request,
    studio: InStudio,
    visitor: Changing,
    height: Text = "",
    mass: Text = "",
    unit: Text = "",
    mouth: Annotated[bool, Form()] = False,
    close_holes: Annotated[bool, Form()] = False,
    body: Text = "",
    up: Text = "",
) -> Response:
    """Survey an object anew with other facts about it."""
    studio.survey(object_id, _facts(request, height, mass, unit, mouth, close_holes, body, up))
    return RedirectResponse(f"/objects/{object_id}", status_code=303)


@router.post("/objects/{object_id}/away", include_in_schema=False)
def away(object_id: str, studio: InStudio, visitor: Changing) -> Response:
    """Take an object off the shelf; nothing is deleted."""
    from claybed.web.board import now_text

    with studio.register.writing() as db:
        keeping.put_away(db, "object", object_id, now=now_text())
    return RedirectResponse("/", status_code=303)


@router.get("/objects/{object_id}/picture.png", include_in_schema=False)
def picture(object_id: str, studio: InStudio, visitor: Looking) -> Response:
    """The picture of an object."""
    return _file(studio.object_folder(_known(studio, object_id)) / PICTURE, "image/png")


@router.get("/api/objects/{object_id}/shape", responses=TROUBLES, response_class=Response)
def shape(object_id: str, studio: InStudio, visitor: Looking) -> Response:
    """The shape of an object for the 3D view, packed as in scene.shape_file."""
    return _file(studio.object_folder(_known(studio, object_id)) / SHAPE, "application/octet-stream")


@router.get("/api/objects/{object_id}/turn", responses=TROUBLES, response_class=Response)
def turn(object_id: str, studio: InStudio, visitor: Looking, x: float, y: float, z: float) -> Response:
    """How an object is reached along a direction; 204 when a later question has come meanwhile."""
    if not all(math.isfinite(value) and abs(value) < 1e6 for value in (x, y, z)):
        raise InputError("that is no direction.", remedy="Give three plain numbers.")
    answer = studio.turn(_known(studio, object_id), (x, y, z))
    if answer is None:
        return Response(status_code=204)
    return Response(answer, media_type="application/octet-stream")


def _facts(
    request: Request,
    height: str,
    mass: str,
    unit: str,
    mouth: bool,
    close_holes: bool,
    body: str,
    up: str,
) -> dict[str, object]:
    """What the form says of an object, by field of the brief; what was left empty is left out."""
    typed: dict[str, object] = {"height_mm": height, "mass_g": mass, "unit": unit, "up": up}
    typed |= {"mouth": mouth, "close_holes": close_holes}
    asked: dict[str, object] = {field: value for field, value in typed.items() if value}
    if body.strip():
        asked["body"] = int(body) if body.strip().isdigit() else 0
    return with_units(asked, us=us_of(request))


def _wishes(
    request: Request, asked: Mapping[str, object], keep_table: bool, keep_scraps: bool, smooth: str
) -> Wishes:
    """What the form says of tidying a scan."""
    wishes = Wishes(table=not keep_table, scraps=not keep_scraps)
    if smooth.strip():
        unit = "in" if us_of(request) else "mm"
        wishes = replace(wishes, smooth_mm=length_mm(smooth, default_unit=unit, where="smoothing"))
    if asked.get("up"):
        wishes = replace(wishes, up=direction(str(asked["up"]), where="up"))
    body = asked.get("body")
    return replace(wishes, body=body) if isinstance(body, int) else wishes


def _known(studio: InStudio, object_id: str) -> str:
    with studio.register.reading() as db:
        return str(keeping.one_object(db, object_id)["id"])


def _file(path: Path, kind: str) -> Response:
    if not path.is_file():
        raise HTTPException(404, "There is no such file yet.")
    return FileResponse(path, media_type=kind)
