"""Objects from a drawn outline, from a picture as heights, and from displaced water."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Final, Literal

from fastapi import APIRouter, File, Form, Request, UploadFile
from starlette.responses import RedirectResponse, Response

from claybed.actions.asking import above_nothing, mass_above_nothing_g, sides_mm
from claybed.errors import InputError
from claybed.units import length_mm, volume_ml
from claybed.web.admitting import Changing, InStudio
from claybed.web.rendering import us_of
from claybed.web.studio import Studio

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=40)]
Name = Annotated[str, Form(max_length=80)]
Degrees = Annotated[float, Form(ge=0.0, lt=60.0)]
DRAWINGS: Final = (".svg", ".dxf")
PICTURES: Final = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".webp", ".gif")
_CHUNK: Final = 1 << 20


@router.post("/objects/drawing")
def drawing(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    file: Annotated[UploadFile, File()],
    how: Annotated[Literal["extrude", "revolve"], Form()],
    name: Name = "",
    size: Text = "",
    unit: Annotated[Literal["", "mm", "cm", "in"], Form()] = "",
    thick: Text = "",
    draft: Degrees = 5.0,
    axis: Annotated[Literal["left", "right", "middle"], Form()] = "left",
) -> Response:
    """Make a drawn outline thick, or revolve it, and begin its survey."""
    payload: dict[str, object] = {
        "how": how,
        "unit": unit or None,
        "size_mm": _length(request, size, "the size") if size.strip() else None,
        "line_mm": 0.0,
        "mass_g": None,
    }
    if how == "extrude":
        payload |= {"thick_mm": _length(request, thick, "the thickness"), "draft_deg": draft}
    else:
        payload["axis"] = axis
    return _made(studio, name, "outline", "claybed.actions.shaping:run_outline", payload, file, DRAWINGS)


@router.post("/objects/relief")
def relief(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    file: Annotated[UploadFile, File()],
    width: Text,
    name: Name = "",
    raised: Text = "",
    base: Text = "",
    smooth: Text = "",
    draft: Degrees = 5.0,
    dark: Annotated[bool, Form()] = False,
) -> Response:
    """Make a plate whose height follows a picture, and begin its survey."""
    payload = {
        "width_mm": _length(request, width, "the width"),
        "raised_mm": _length(request, raised, "the height of white") if raised.strip() else 5.0,
        "base_mm": _length(request, base, "the plate") if base.strip() else 8.0,
        "smooth_mm": length_mm(smooth, default_unit=_unit(request), where="smoothing")
        if smooth.strip()
        else 0.5,
        "draft_deg": draft,
        "dark_high": dark,
        "mass_g": None,
    }
    return _made(studio, name, "relief", "claybed.actions.shaping:run_relief", payload, file, PICTURES)


@router.post("/objects/displaced")
def displaced(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    name: Name,
    water: Text,
    mass: Text = "",
    box: Text = "",
) -> Response:
    """Note an object by the water it pushes out: enough to mix for it, and no more."""
    weighed = water.strip().casefold().endswith(("g", "lb", "oz")) and "fl" not in water.casefold()
    bare = water.strip()[-1:].isdigit()
    if bare or not water.strip():
        raise InputError(
            f"“{water[:40]}” does not say whether water was weighed or measured.",
            remedy="Write 640g for weighed water, or 640ml for measured.",
        )
    payload = {
        "water_g": mass_above_nothing_g(water, where="the water") if weighed else None,
        "water_ml": None
        if weighed
        else above_nothing(volume_ml(water, where="the water"), water, where="water"),
        "mass_g": mass_above_nothing_g(mass, where="the weight") if mass.strip() else None,
        "extent_mm": sides_mm(box, 3, where="the box") if box.strip() else None,
        "reading_g": None,
    }
    made = studio.make(
        name=name, how="displaced", target="claybed.actions.shaping:run_displaced", payload=payload, typed={}
    )
    return RedirectResponse(f"/objects/{made}", status_code=303)


def _made(
    studio: Studio,
    name: str,
    how: str,
    target: str,
    payload: Mapping[str, object],
    file: UploadFile,
    suffixes: tuple[str, ...],
) -> Response:
    given = Path((file.filename or "").replace("\\", "/")).name
    if Path(given).suffix.casefold() not in suffixes:
        raise InputError(
            f"a file named “{given[:60]}” cannot be used here.",
            remedy=f"Choose a file that ends in {', '.join(suffixes)}.",
        )
    handle, place = tempfile.mkstemp(dir=studio.settings.data, prefix=".upload-")
    part = Path(place)
    try:
        with os.fdopen(handle, "wb") as out:
            while chunk := file.file.read(_CHUNK):
                out.write(chunk)
        made = studio.make(
            name=name.strip() or Path(given).stem,
            how=how,
            target=target,
            payload=payload,
            typed={},
            source=(part, given),
        )
    finally:
        part.unlink(missing_ok=True)
    return RedirectResponse(f"/objects/{made}", status_code=303)


def _unit(request: Request) -> str:
    return "in" if us_of(request) else "mm"


def _length(request: Request, text: str, where: str) -> float:
    return above_nothing(length_mm(text, default_unit=_unit(request), where=where), text, where=where)
