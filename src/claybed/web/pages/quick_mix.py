"""The quick mix: water and plaster for a form in front of you, worked out on the device, with no network."""

from __future__ import annotations

from importlib.resources import files

from fastapi import APIRouter, Request
from starlette.responses import Response

from claybed.web.admitting import Anyone
from claybed.web.rendering import page

router = APIRouter(include_in_schema=False)


@router.get("/mix")
def quick_mix(request: Request, visitor: Anyone) -> Response:
    """Box, round or litres, minus an object: water and plaster, per bucket, and how much a millimetre is."""
    from claybed.actions.mixing import mixing_constants

    return page(request, "mix.html", {"constants": mixing_constants()})


@router.get("/offline.js")
def offline() -> Response:
    """The script that keeps the quick mix and the pours at hand when the network is gone."""
    text = (files("claybed.web") / "static" / "offline.js").read_bytes()
    return Response(text, media_type="text/javascript", headers={"cache-control": "no-cache"})
