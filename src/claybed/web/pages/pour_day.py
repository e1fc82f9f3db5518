"""Pour day: the steps of a mold on a tablet beside the bucket, and what was really weighed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from claybed.actions.pouring import pour_steps
from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.entering import Stamp
from claybed.web.admitting import Anyone, InStudio, Looking
from claybed.web.bench_page import bench_page
from claybed.web.board import now_text
from claybed.web.rendering import page, us_of
from claybed.web.studio import Studio
from claybed.web.troubles import TROUBLES
from claybed.web.visiting import Visitor

router = APIRouter()
_LONGEST_AGO = timedelta(days=400)
Key = Annotated[str | None, Field(default=None, max_length=80, pattern=r"^[A-Za-z0-9._:-]+$")]


class Entry(BaseModel):
    """What every entry from a device carries: its own key, and when it happened."""

    client_key: Key = None
    at: str | None = Field(default=None, max_length=40)
    note: str = Field(default="", max_length=2000)


class PourEntry(Entry):
    """What was weighed for one batch."""

    letter: str = Field(max_length=8)
    batch: int = Field(ge=1, le=1000)
    water_g: float | None = None
    plaster_g: float | None = None
    water_c: float | None = None
    set_at: str | None = Field(default=None, max_length=40)
    lot: str = Field(default="", max_length=80)
    shown: dict[str, Any] = Field(default_factory=dict)


@router.get("/pour", include_in_schema=False)
def which(request: Request, studio: InStudio, visitor: Looking) -> Response:
    """The molds that wait to be poured."""
    with studio.register.reading() as db:
        waiting = [mold for mold in keeping.molds(db) if mold["plan"] and mold["state"] == "planned"]
        plans = keeping.plans(db)
    return page(request, "pour_which.html", {"molds": waiting, "plans": plans[:8]})


@router.get("/pour/{mold_id}", include_in_schema=False)
@router.get("/pour/{mold_id}/saved", include_in_schema=False)
def bench(mold_id: str, request: Request, studio: InStudio, visitor: Anyone) -> Response:
    """The steps of one mold, in one page that goes on without the network."""
    with studio.register.reading() as db:
        mold = keeping.one_mold(db, mold_id)
        if mold["plan"] is None:
            raise InputError("this mold has no plan to pour from.", remedy="Plan it from its object first.")
        plan = keeping.one_plan(db, mold["plan"])
    document = studio.document(plan)
    told = {
        "mold": mold_id,
        "name": mold["name"],
        "sha256": plan["sha256"],
        "ready": bool(document["ready"]),
        "steps": pour_steps(document, us=us_of(request)),
    }
    return bench_page(request, mold, told, what="pour day", leave="/pour")


@router.get("/pour/{mold_id}/bring", include_in_schema=False)
def bring(mold_id: str, request: Request, studio: InStudio, visitor: Anyone) -> Response:
    """The page that takes in what a saved page wrote down, once each and only after it was shown."""
    return page(request, "bring.html", {"mold": known_mold(studio, mold_id)})


@router.post("/api/molds/{mold_id}/pours", responses=TROUBLES)
def weighed(mold_id: str, entry: PourEntry, studio: InStudio, visitor: Anyone) -> dict[str, Any]:
    """Keep what was weighed for a batch, once, however often it is sent; `also` tells of another entry."""
    sha256 = ""
    with studio.register.writing() as db:
        mold = keeping.one_mold(db, mold_id)
        before = entering.entries(db, "pour", mold_id)
        if mold["plan"] is not None:
            sha256 = str(keeping.one_plan(db, mold["plan"])["sha256"])
        kept = entering.log_pour(
            db,
            mold_id,
            entry.letter,
            stamp_of(entry, visitor),
            batch=entry.batch,
            plan_sha256=sha256,
            shown=entry.shown,
            water_g=entry.water_g,
            plaster_g=entry.plaster_g,
            water_c=entry.water_c,
            set_at=None if entry.set_at is None else moment(entry.set_at),
            lot=entry.lot,
            note=entry.note,
        )
        if mold["state"] == "planned":
            keeping.change_mold(
                db, mold_id, {"state": "poured"}, version=int(mold["version"]), by=visitor.name
            )
    others = [
        one
        for one in before
        if (one["letter"], one["batch"]) == (entry.letter, entry.batch)
        and one["client_key"] != entry.client_key
        and (one["set_at"] is None) == (entry.set_at is None)
    ]
    if others:
        return kept | {"also": {key: others[-1][key] for key in ("letter", "batch", "at", "by")}}
    return kept


def stamp_of(entry: Entry, visitor: Visitor) -> Stamp:
    """When an entry came and when it happened, by whom, under the device's key."""
    now = now_text()
    return Stamp(now, now if entry.at is None else moment(entry.at), visitor.name, entry.client_key)


def moment(text: str) -> str:
    """A time that a device sent, as it is kept. Raises InputError for what is no time, or far off."""
    try:
        at = datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        at = None
    now = datetime.now(UTC)
    if at is None or at.tzinfo is None or not now - _LONGEST_AGO < at < now + timedelta(days=2):
        raise InputError(f"{text!r} is no time it can have happened.", remedy="Check the device's clock.")
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def known_mold(studio: Studio, mold_id: str) -> dict[str, Any]:
    """A mold of the register."""
    with studio.register.reading() as db:
        return keeping.one_mold(db, mold_id)
