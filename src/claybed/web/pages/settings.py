"""What the keeper settles once: the room that molds dry in, and whether the studio's own file is used."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from claybed.errors import InputError
from claybed.register.preferences import preference, settle
from claybed.units import say_ratio, say_volume, temperature_celsius
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.rendering import page, us_of
from claybed.web.studio import Studio

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=40)]


@router.get("/settings")
def settings(request: Request, studio: InStudio, visitor: Looking, kept: bool = False) -> Response:
    """The page of what is settled."""
    with studio.register.reading() as db:
        room = preference(db, "room")
        used = bool(preference(db, "studio_file")["used"])
    us = us_of(request)
    celsius = room["celsius"]
    warmth = None if celsius is None else (celsius * 1.8 + 32.0 if us else celsius)
    values = {"room": room, "warmth": warmth, "used": used, "file": _file_facts(us), "kept": kept}
    return page(request, "settings.html", values)


@router.post("/settings/room")
def keep_room(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    moving: Annotated[Literal["still", "fan", "cabinet"], Form()],
    celsius: Text = "",
    humidity: Text = "",
    opened: Annotated[bool, Form()] = False,
) -> Response:
    """Keep the room; what plaster must not dry in is refused with a sentence."""
    from claybed.actions.drying import DryWish, dry_document

    warm = None
    if celsius.strip():
        text = (
            celsius
            if any(c.isalpha() or c == "°" for c in celsius)
            else f"{celsius}{'F' if us_of(request) else 'C'}"
        )
        warm = temperature_celsius(text, where="the room's warmth")
    damp = _percent(humidity)
    room = {"moving": moving, "celsius": warm, "humidity_percent": damp, "opened": opened}
    # A kilogram of plaster put into that room tells whether it can dry there at all.
    dry_document(DryWish(wet_g=1000.0, area_cm2=500.0, room=room_settled(room)))
    with studio.register.writing() as db:
        settle(db, "room", room)
    return RedirectResponse("/settings?kept=true", status_code=303)


@router.post("/settings/file")
def keep_file(studio: InStudio, visitor: Changing, used: Annotated[bool, Form()] = False) -> Response:
    """Keep whether plans and chart take what the studio's file says."""
    with studio.register.writing() as db:
        settle(db, "studio_file", {"used": used})
    return RedirectResponse("/settings?kept=true", status_code=303)


def room_settled(room: dict[str, Any]) -> Any:
    """The room of the forecast from what is kept of it."""
    from claybed.actions.drying import room_of

    damp = room["humidity_percent"]
    return room_of(room["moving"], room["celsius"], None if damp is None else damp / 100.0, None)


def studio_kept(studio: Studio) -> tuple[dict[str, Any], str, str]:
    """Fields of the brief that the studio's file gives, its name and its text; nothing when not used."""
    from claybed.actions.studio_file import kept_fields, read_studio, studio_path

    with studio.register.reading() as db:
        used = bool(preference(db, "studio_file")["used"])
    path = studio_path(None) if used else None
    if path is None:
        return {}, "", ""
    found = read_studio(path)
    return kept_fields(found), found.name, path.read_text("utf-8")


def _file_facts(us: bool) -> dict[str, Any] | None:
    """What to show of the studio's file: where, and what it says; None when there is none."""
    from claybed.actions.studio_file import kept_fields, read_studio, studio_path

    try:
        path = studio_path(None)
        if path is None:
            return None
        found = read_studio(path)
    except InputError as error:
        return {"path": "", "name": "", "trouble": str(error), "rows": []}
    kept = kept_fields(found)
    rows = []
    if "consistency" in kept:
        rows.append(("Water to plaster", say_ratio(kept["consistency"])))
    if kept.get("bucket_l"):
        rows.append(("Bucket", say_volume(kept["bucket_l"] * 1000.0, us=us)))
    rows += [
        (what, str(len(own)))
        for what, own in (
            ("Sets of boards", found.boards),
            ("Bands", found.bands),
            ("Kinds of bucket", found.buckets),
        )
        if own
    ]
    return {"path": str(path), "name": found.name, "trouble": "", "rows": rows}


def _percent(text: str) -> float | None:
    plain = text.strip().rstrip("%").strip().replace(",", ".")
    if not plain:
        return None
    try:
        value = float(plain)
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 100.0:
        raise InputError(f"“{text[:40]}” is no humidity.", remedy="Type the per cent on the meter, like 55.")
    return value
