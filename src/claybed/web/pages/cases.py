"""Cases to print for the pieces of a plan: what to ask, what came of it, files and sheet to fetch."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from claybed.actions.asking import sides_mm
from claybed.errors import InputError
from claybed.records.case_ask import CaseAsk
from claybed.register import keeping
from claybed.register.working import jobs_about
from claybed.units import length_mm
from claybed.web import case_work
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.pages.plans import sent
from claybed.web.rendering import number, page, us_of

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=60)]
PLASTICS: Final = ("pla", "petg", "asa", "abs")
# Whether pieces get finger slots in their back edge.
SLOTS: Final = {
    "auto": "in heavy pieces",
    "all": "in all pieces",
    "none": "in none",
}
# How a case comes about, by how many castings lie between the print and the working mold.
ROUTES: Final = {
    1: "Print the cases, and pour the pieces in them",
    2: "Print the pieces, pour a case of hard cement over each",
    3: "Print cases, pour block pieces, and cases of cement over those",
}


@router.get("/plans/{plan_id}/cases")
def cases(plan_id: str, request: Request, studio: InStudio, visitor: Looking) -> Response:
    """What can be asked of the cases of a plan, and those that were made."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
        thing = keeping.one_object(db, plan["object"])
        job = next((one for one in jobs_about(db, plan_id) if one["kind"] == case_work.KIND), None)
    if job is not None:
        job = studio.board.state(job["id"])
    values: dict[str, Any] = {
        "plan": plan,
        "thing": thing,
        "pieces": [piece["letter"] for piece in plan["summary"]["pieces"]],
        "plastics": PLASTICS,
        "routes": ROUTES,
        "slots": SLOTS,
        "job": job,
        "made": case_work.made_cases(studio, plan),
    }
    return page(request, "cases.html", values)


@router.post("/plans/{plan_id}/cases")
def make(
    plan_id: str,
    request: Request,
    studio: InStudio,
    visitor: Changing,
    plastic: Annotated[Literal["pla", "petg", "asa", "abs"], Form()] = "pla",
    route: Annotated[int, Form(ge=1, le=3)] = 1,
    slots: Annotated[Literal["auto", "all", "none"], Form()] = "auto",
    printer: Text = "",
    clearance: Text = "",
    wall: Text = "",
    draft: Text = "",
    piece: Annotated[str, Form(max_length=4)] = "",
) -> Response:
    """Begin to make the cases of a plan as the form asks."""
    us = us_of(request)
    unit = "in" if us else "mm"

    def length(text: str, where: str) -> float | None:
        return length_mm(text, default_unit=unit, where=where) if text.strip() else None

    room = CaseAsk().printer_mm
    if printer.strip():
        text = printer.strip()
        x_mm, y_mm, z_mm = sides_mm(text if text[-1].isalpha() else text + unit, 3, where="the printer")
        room = (x_mm, y_mm, z_mm)
    lean = number(draft, "lean")
    for value, least, most, name in (
        *((side, 60.0, 1500.0, "side of a printer’s room, in mm") for side in room),
        (length(clearance, "the clearance"), 0.0, 1.5, "clearance, in mm"),
        (length(wall, "the wall"), 1.2, 20.0, "wall of a case, in mm"),
        (lean, 0.5, 10.0, "lean, in degrees"),
    ):
        if value is not None and not least <= value <= most:
            raise InputError(f"{value:.3g} is no {name}.", remedy=f"Use {least:g} to {most:g}.")
    ask = CaseAsk(
        printer_mm=room,
        plastic=plastic,
        clearance_mm=length(clearance, "the clearance"),
        wall_mm=length(wall, "the wall"),
        draft_deg=lean,
        piece=piece.strip().upper() or None,
        generations=route,
        slots=slots,
    )
    case_work.begin(studio, plan_id, ask, us=us)
    return RedirectResponse(f"/plans/{plan_id}/cases", status_code=303)


@router.get("/plans/{plan_id}/cases/files/{name:path}")
def file(plan_id: str, name: str, studio: InStudio, visitor: Looking) -> Response:
    """One file of a plan's cases; nothing outside them."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    return sent(case_work.case_folder(studio, plan), name)
