"""Letting a device in over the network, and the choices a device keeps for itself."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from claybed.register.devices import known_device
from claybed.web.admitting import Anyone, InStudio
from claybed.web.rendering import SYSTEM_COOKIE, page
from claybed.web.visiting import COOKIE

router = APIRouter(include_in_schema=False)
_YEAR_S = 365 * 24 * 3600


@router.get("/in")
def ask_in(request: Request, studio: InStudio, visitor: Anyone, token: str = "") -> Response:
    """Let a device in by the token of its link, which then leaves the address; or ask for one."""
    if visitor.may_look and not token:
        return RedirectResponse("/", status_code=303)
    return _try(request, studio, token) if token else page(request, "in.html", {"says": ""}, status=401)


@router.post("/in")
def type_in(request: Request, studio: InStudio, token: Annotated[str, Form(max_length=200)]) -> Response:
    """Let a device in by a token that was typed."""
    return _try(request, studio, token.strip())


@router.post("/units")
def choose_units(
    request: Request, system: Annotated[Literal["metric", "us"], Form()], back: Annotated[str, Form()] = "/"
) -> Response:
    """Keep the units this device reads."""
    to = back if back.startswith("/") and not back.startswith("//") and "\\" not in back else "/"
    response = RedirectResponse(to, status_code=303)
    response.set_cookie(SYSTEM_COOKIE, system, max_age=_YEAR_S, httponly=True, samesite="strict")
    return response


def _try(request: Request, studio: InStudio, token: str) -> Response:
    caller = request.client.host if request.client else ""
    patience = request.app.state.patience
    wait_s = patience.wait_s(caller)
    if wait_s > 0.0:
        raise HTTPException(429, f"Too many wrong codes from here. Wait {wait_s:.0f} s.")
    with studio.register.reading() as db:
        device = known_device(db, token)
    if device is None:
        patience.note_wrong(caller)
        return page(request, "in.html", {"says": "This code lets nobody in."}, status=401)
    response = RedirectResponse("/", status_code=303)
    response.set_cookie(COOKIE, token, max_age=_YEAR_S, httponly=True, samesite="strict")
    return response
