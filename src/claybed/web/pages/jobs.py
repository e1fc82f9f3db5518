"""How far a piece of work is, and the button that stops it."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from claybed.register.opening import Row
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.rendering import page
from claybed.web.studio import Studio

router = APIRouter(include_in_schema=False)


@router.get("/jobs/{job_id}")
def progress(job_id: str, request: Request, studio: InStudio, visitor: Looking) -> Response:
    """The state of a job as a part of a page, which asks again until the job has ended."""
    return job_part(request, studio, _known(studio, job_id))


@router.post("/jobs/{job_id}/stop")
def stop(job_id: str, request: Request, studio: InStudio, visitor: Changing) -> Response:
    """Stop a job."""
    studio.board.stop(job_id)
    return job_part(request, studio, _known(studio, job_id))


def job_part(request: Request, studio: Studio, job: Row) -> Response:
    """The part of a page that shows a job; a finished one sends the page to what it led to."""
    response = page(request, "part_job.html", {"job": job})
    if job["state"] == "done" and request.headers.get("hx-request"):
        made = job["result"] or {}
        to = f"/plans/{made['plan']}" if "plan" in made else f"/objects/{job['about']}"
        to += "/outline" if made.get("outline") else "/cases" if made.get("cases") else ""
        response.headers["hx-redirect"] = to
    return response


def _known(studio: Studio, job_id: str) -> Row:
    job = studio.board.state(job_id)
    if job is None:
        raise HTTPException(404, "There is no such work.")
    return job
