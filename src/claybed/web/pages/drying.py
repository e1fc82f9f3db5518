"""When molds are ready, as parts of the shelf and of a mold's page that arrive once they are worked out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from claybed.register import entering, keeping
from claybed.register.naming import tidy_id
from claybed.register.opening import Row
from claybed.register.preferences import preference
from claybed.web.admitting import Anyone, InStudio
from claybed.web.pages.settings import room_settled
from claybed.web.rendering import page
from claybed.web.studio import Studio

router = APIRouter(include_in_schema=False)
USUAL_CONSISTENCY = 100.0 / 1.3
_STATE_WORDS = {"press_ready": "to press in", "slip_ready": "for slip", "shelf_dry": "shelf-dry"}


@router.get("/molds/{mold_id}/drying")
def forecast(
    mold_id: str, request: Request, studio: InStudio, visitor: Anyone, short: bool = False
) -> Response:
    """The forecast of every piece; `short` is the one line of the shelf."""
    told = forecasts(studio, tidy_id(mold_id))
    return page(request, "part_ready.html" if short else "part_drying.html", told)


@router.get("/molds/{mold_id}/drying/why")
def why(
    mold_id: str, request: Request, studio: InStudio, visitor: Anyone, letter: str, name: str
) -> Response:
    """The working of one figure of a piece's forecast."""
    from claybed.actions.explaining import explained

    mold_id = tidy_id(mold_id)
    told = forecasts(studio, mold_id)
    document = next((row["document"] for row in told["pieces"] if row["letter"] == letter), None)
    found = explained(document or {"figures": {}}, name[:200])
    at = f"/molds/{mold_id}/drying/why?letter={letter}&"
    return page(request, "part_why.html", {"why": found, "why_at": at})


def forecasts(studio: Studio, mold_id: str) -> dict[str, Any]:
    """The mold and, for each piece, its forecast with the days it falls on; `slowest` piece for slip."""
    from claybed.actions.foretelling import ShelfPiece, foretold
    from claybed.records.weighing import Weighing

    with studio.register.reading() as db:
        mold = keeping.one_mold(db, mold_id)
        plan = keeping.one_plan(db, mold["plan"]) if mold["plan"] else None
        weighings = entering.entries(db, "weighing", mold_id)
        pours = entering.entries(db, "pour", mold_id)
        room = preference(db, "room")
    consistency = USUAL_CONSISTENCY
    if plan is not None:
        consistency = float(studio.document(plan)["pours"][0]["consistency"])
    pieces = []
    for piece in mold["pieces"]:
        own = [one for one in weighings if one["letter"] == piece["letter"]]
        asked = ShelfPiece(
            letter=piece["letter"],
            weighings=tuple(Weighing(_seconds(one["at"]), one["mass_g"], one["note"]) for one in own),
            consistency=consistency,
            room=room_settled(room),
            trimmed_wet_g=piece["trimmed_wet_g"],
            planned_wet_g=piece["wet_g"],
            set_at_s=_set_at(pours, piece["letter"]),
            plan=None if plan is None else studio.plan_folder(plan),
            opened=bool(room["opened"]),
        )
        told = foretold(asked)
        states = [_dated(state, told["from_s"]) for state in told["states"]]
        pieces.append({"letter": piece["letter"], **told, "states": states, "weighed": len(own)})
    return {"mold": mold, "pieces": pieces, "slowest": _slowest(pieces), "room": room}


def _slowest(pieces: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The piece that a cast waits for; None when one of them cannot be foretold."""
    found = [state for row in pieces for state in row["states"] if state["id"] == "slip_ready"]
    if not pieces or len(found) < len(pieces):
        return None
    waiting = [state for state in found if not state["reached"]]
    if any(state["high_day"] is None for state in waiting):
        return None
    last: dict[str, Any] = max(waiting, key=lambda state: state["day"]) if waiting else found[0]
    return last


def _dated(state: dict[str, Any], from_s: float | None) -> dict[str, Any]:
    """A state with the days its hours fall on, and its hours as days in words."""

    def day(hours: float | None) -> str | None:
        if from_s is None or hours is None:
            return None
        moment = datetime.fromtimestamp(from_s, UTC) + timedelta(hours=min(hours, 24.0 * 3650))
        return moment.isoformat(timespec="seconds").replace("+00:00", "Z")

    return {
        **state,
        "words": _STATE_WORDS[state["id"]],
        "day": day(state["hours"]),
        "low_day": day(state["low_h"]),
        "high_day": day(state["high_h"]),
    }


def _set_at(pours: list[Row], letter: str) -> float | None:
    """When a piece set: as logged, else when its last batch was poured."""
    own = [one for one in pours if one["letter"] == letter]
    return _seconds(own[-1]["set_at"] or own[-1]["at"]) if own else None


def _seconds(at: str) -> float:
    return datetime.fromisoformat(at.replace("Z", "+00:00")).timestamp()
