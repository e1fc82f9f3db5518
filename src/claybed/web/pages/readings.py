"""Objects without a scan: from readings with calipers, or as a simple shape."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from claybed.errors import InputError
from claybed.units import length_mm
from claybed.web.admitting import Changing, InStudio
from claybed.web.rendering import number, page, us_of

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=20_000)]
_USUAL_READING_MM = 0.5
# Sizes that each shape asks for, in the order the shape takes them.
SIZES = {
    "box": ("length", "width", "height"),
    "tile": ("length", "width", "height"),
    "cylinder": ("width", "height"),
    "cone": ("width", "height"),
    "sphere": ("width",),
    "egg": ("length", "width"),
}


@router.get("/objects/readings")
def ask(request: Request, visitor: Changing) -> Response:
    """The forms that take readings or the sizes of a shape."""
    return page(request, "readings.html", {"sizes": SIZES})


@router.post("/objects/readings")
def turn(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    name: Annotated[str, Form(max_length=80)],
    readings: Text,
    reading: Annotated[str, Form(max_length=40)] = "",
    lip: Annotated[Literal["", "flat", "round"], Form()] = "",
    section: Annotated[Literal["round", "oval", "superellipse", "rectangle"], Form()] = "round",
    exponent: Annotated[str, Form(max_length=20)] = "",
    corner: Annotated[str, Form(max_length=40)] = "",
    mass: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Make a turned object from heights and diameters, and begin its survey."""
    unit = "in" if us_of(request) else "mm"
    asked = {
        "unit": unit,
        "section": None if section == "round" else section,
        "exponent": number(exponent, "exponent") if section == "superellipse" else None,
        "corner_mm": length_mm(corner, default_unit=unit, where="the corner") if corner.strip() else None,
        "lip": lip or None,
        "reading_mm": length_mm(reading, default_unit=unit, where="a reading") if reading.strip() else None,
    }
    payload = {"asked": asked, "mass_g": None}
    typed = {"mass_g": mass} if mass.strip() else {}
    made = studio.make(
        name=name,
        how="readings",
        target="claybed.actions.making:run_turn",
        payload=payload,
        typed=typed,
        readings=_table(readings, "inside" if section == "round" else "depth"),
    )
    return RedirectResponse(f"/objects/{made}", status_code=303)


def _table(readings: str, third: str) -> str:
    """Readings as typed with a heading, where a third number is what the heading `third` says.

    Text that is a heading or TOML already stays as it is. Raises InputError for fewer than two lines.
    """
    rows = [line.strip() for line in readings.splitlines() if line.strip()]
    if len(rows) < 2:
        raise InputError("a form needs readings at two heights or more.", remedy="One line for each height.")
    if "=" in readings:
        return readings
    rows = [row.replace(";", ",").replace("\t", ",") for row in rows]
    if not rows[0][:1].isalpha():
        more = f",{third}" if any(row.count(",") > 1 for row in rows) else ""
        rows.insert(0, f"height,diameter{more}")
    return "\n".join(rows) + "\n"


@router.post("/objects/shape")
def shape(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    name: Annotated[str, Form(max_length=80)],
    kind: Annotated[Literal["box", "tile", "cylinder", "cone", "sphere", "egg"], Form()],
    length: Annotated[str, Form(max_length=40)] = "",
    width: Annotated[str, Form(max_length=40)] = "",
    height: Annotated[str, Form(max_length=40)] = "",
    draft: Annotated[float, Form(ge=0.0, le=45.0)] = 0.0,
) -> Response:
    """Make a simple shape of given sizes, and begin its survey."""
    unit = "in" if us_of(request) else "mm"
    given = {"length": length, "width": width, "height": height}
    sizes = [length_mm(given[one], default_unit=unit, where=one) for one in SIZES[kind]]
    payload = {
        "kind": kind,
        "sizes_mm": sizes,
        "draft_deg": draft,
        "corner_mm": 0.0,
        "blunt_share": 0.42,
        "reading_mm": _USUAL_READING_MM,
        "mass_g": None,
    }
    made = studio.make(
        name=name, how="shape", target="claybed.actions.shaping:run_shape", payload=payload, typed={}
    )
    return RedirectResponse(f"/objects/{made}", status_code=303)
