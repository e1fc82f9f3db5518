"""The app put together: guard, pages, files, and what a person reads when something goes wrong."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from typing import Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException as PlainHTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response

from claybed import __version__
from claybed.errors import CannotError, ClaybedError, InputError
from claybed.register.keeping import StaleError
from claybed.web.first_page import files_of_pages
from claybed.web.guarding import Guard
from claybed.web.pacing import Pace, Patience
from claybed.web.page_words import on_the_page
from claybed.web.pages import ROUTERS
from claybed.web.rendering import page
from claybed.web.settings import Settings
from claybed.web.showing import show_demo
from claybed.web.studio import Studio

_MB: Final = 1024 * 1024


def create_app(
    settings: Settings,
    studio: Studio | None = None,
    *,
    pace: Pace | None = None,
    patience: Patience | None = None,
) -> FastAPI:
    """The app of one studio, opened here unless it is given; the work of one opened here ends with the app.

    `pace` and `patience` say how quickly callers may ask and try codes, by the usual clock unless given.

    Raises InputError when the register cannot be used.
    """
    studio = studio or Studio(settings)

    @contextlib.asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        if settings.demo:
            show_demo(studio)
        yield
        studio.close()

    app = FastAPI(
        title="claybed",
        version=__version__,
        lifespan=life,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        max_body_size=settings.upload_mb * _MB,
    )
    app.state.studio = studio
    app.state.patience = patience or Patience()
    for router in ROUTERS:
        app.include_router(router)
    app.router.routes.extend(files_of_pages())
    app.add_exception_handler(ClaybedError, _told)
    app.add_exception_handler(PlainHTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(Exception, _fault)
    app.add_middleware(Guard, settings=settings, pace=pace or Pace())
    return app


def _wants_values(request: Request) -> bool:
    return request.url.path.startswith("/api/") or "application/json" in request.headers.get("accept", "")


def _answer(request: Request, status: int, says: str, **more: object) -> Response:
    if _wants_values(request):
        return JSONResponse({"says": says, **more}, status_code=status)
    if request.headers.get("hx-request"):
        return page(request, "part_trouble.html", {"says": says, "status": status}, status=200)
    return page(request, "trouble.html", {"says": says, "status": status}, status=status)


async def _told(request: Request, error: Exception) -> Response:
    says = on_the_page(str(error))
    says = says[:1].upper() + says[1:]
    if isinstance(error, StaleError):
        return _answer(request, 409, says, theirs=error.theirs)
    status = 422 if isinstance(error, CannotError) else 400
    if isinstance(error, InputError) and error.what.startswith("there is no "):
        status = 404
    return _answer(request, status, says)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, PlainHTTPException)
    if error.status_code == 401 and not _wants_values(request):
        return RedirectResponse("/in", status_code=303)
    said = {
        404: "There is nothing at this address.",
        405: "That cannot be done here.",
        413: "That file is too large.",
    }
    says = (
        str(error.detail)
        if error.status_code in (401, 403)
        else said.get(error.status_code, str(error.detail))
    )
    return _answer(request, error.status_code, says)


async def _misread(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    place = ".".join(str(part) for part in first["loc"][1:])
    return _answer(request, 422, f"{place or 'What was sent'} cannot be used: {first['msg']}.")


async def _fault(request: Request, error: Exception) -> Response:
    """What a fault of ours looks like: a sentence, while the trace goes to the terminal."""
    says = f"claybed met a fault ({type(error).__name__}). Nothing that was saved is lost; please report it."
    return _answer(request, 500, says)
