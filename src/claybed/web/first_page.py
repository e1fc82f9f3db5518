"""The page that a studio opens on, and the files that each page loads, without what only later pages need."""

from __future__ import annotations

from importlib.resources import files
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from claybed.assets.palette import css_variables
from claybed.register import keeping
from claybed.register.working import jobs_about
from claybed.web.rendering import page
from claybed.web.visiting import studio_of, visitor_of

_ASSETS: Final = {
    ("fonts", "AtkinsonHyperlegibleNext-Regular.woff2"): "font/woff2",
    ("fonts", "AtkinsonHyperlegibleNext-Bold.woff2"): "font/woff2",
    ("three", "three.bundle.min.js"): "text/javascript",
    ("htmx", "htmx.min.js"): "text/javascript",
}


def shelf(request: Request) -> Response:
    """Every object with its picture and one line of state."""
    if not visitor_of(request).may_look:
        return RedirectResponse("/in", status_code=303)
    with studio_of(request).register.reading() as db:
        found = keeping.objects(db)
        working = {one["id"]: next(iter(jobs_about(db, one["id"])), None) for one in found}
    return page(request, "objects.html", {"objects": found, "working": working})


def colours(request: Request) -> Response:
    """The palette as CSS variables, for the light bench and the dark one."""
    return Response(css_variables(), media_type="text/css", headers={"cache-control": "max-age=3600"})


def asset(request: Request) -> Response:
    """One of the files of other people that claybed ships."""
    folder, name = request.path_params["folder"], request.path_params["name"]
    kind = _ASSETS.get((folder, name))
    if kind is None:
        raise HTTPException(404, "There is no such file.")
    data = (files("claybed.assets") / folder / name).read_bytes()
    return Response(data, media_type=kind, headers={"cache-control": "max-age=86400"})


def files_of_pages() -> list[BaseRoute]:
    """Where the files of the pages are found."""
    return [
        Mount("/static", StaticFiles(packages=[("claybed.web", "static")]), name="static"),
        Route("/assets/colours.css", colours),
        Route("/assets/{folder}/{name}", asset),
    ]
