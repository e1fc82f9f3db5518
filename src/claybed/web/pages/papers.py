"""Papers that belong to no plan: the wall chart at the studio's ratio."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from claybed.web.admitting import InStudio, Looking
from claybed.web.pages.settings import studio_kept
from claybed.web.rendering import us_of

router = APIRouter(include_in_schema=False)


@router.get("/paper/wall-chart.pdf")
def wall_chart(
    request: Request,
    studio: InStudio,
    visitor: Looking,
    ratio: Annotated[float | None, Query(ge=0.5, le=5.0)] = None,
) -> Response:
    """The wall chart as PDF, at `ratio` parts of plaster to one of water, or at the studio's own."""
    from claybed.actions.charting import chart_document, write_chart

    kept, name, _ = studio_kept(studio)
    usual = float(kept.get("consistency", 100.0 / 1.3))
    us = us_of(request)
    document = chart_document(
        consistency=usual if ratio is None else 100.0 / ratio, waste=None, form="hand", studio=name, us=us
    )
    with tempfile.TemporaryDirectory(prefix="claybed-") as folder:
        data = write_chart(document, Path(folder) / "wall-chart.pdf", us=us).read_bytes()
    headers = {"content-disposition": 'inline; filename="wall-chart.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)
