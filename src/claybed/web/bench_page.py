"""The bench view as a page of the app, or as one file that works from a device with no server."""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from typing import Any, Final

from fastapi import Request
from starlette.responses import Response

from claybed.assets.palette import css_variables
from claybed.assets.vendored import font_base64
from claybed.web.rendering import page

SAVED: Final = "/saved"
_SCRIPTS: Final = ("bench.js", "pour.js")
_STYLES: Final = ("app.css", "pour.css")


def bench_page(
    request: Request, mold: Mapping[str, Any], told: Mapping[str, Any], *, what: str, leave: str
) -> Response:
    """The steps in `told` as a page; asked for by an address that ends in /saved, as a file to keep.

    `what` is done there, in words; `leave` is where the cross leads. The file holds its own style, script and
    typeface and asks the network for nothing; what is typed into it is brought to the app by hand.
    """
    saved = request.url.path.endswith(SAVED)
    values: dict[str, Any] = {"mold": mold, "what": what, "leave": leave, "inline": None}
    if saved:
        told = {**told, "saved": {"home": str(request.base_url).rstrip("/")}}
        if "again" in told:
            told["again"] = {**told["again"], "title": "Written down in this page"}
        values["inline"] = {"styles": _styles(), "scripts": [_static(name) for name in _SCRIPTS]}
    else:
        query = f"?{request.url.query}" if request.url.query else ""
        values["save_at"] = f"{request.url.path}{SAVED}{query}"
    # Inside a script element only "<" could end it.
    values["told"] = json.dumps(told, ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
    response = page(request, "pour_day.html", values)
    if saved:
        plain = "".join(c if c.isascii() and (c.isalnum() or c in " -") else " " for c in str(mold["name"]))
        name = " ".join(f"{plain} {what} {mold['id']}".split())
        response.headers["content-disposition"] = f'attachment; filename="{name}.html"'
    return response


def _static(name: str) -> str:
    return (files("claybed.web") / "static" / name).read_text("utf-8")


def _styles() -> str:
    text = css_variables() + "".join(_static(name) for name in _STYLES)
    for style in ("Regular", "Bold"):
        address = f"url(/assets/fonts/AtkinsonHyperlegibleNext-{style}.woff2)"
        text = text.replace(address, f"url(data:font/woff2;base64,{font_base64(style)})")
    return text
