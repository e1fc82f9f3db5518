"""The shelf of molds, and the page of one: its life, its weights, its tag."""

from __future__ import annotations

import io
import secrets
from typing import Annotated, Any, Literal

from fastapi import APIRouter, File, Form, HTTPException, Query, Request, UploadFile
from pydantic import Field
from starlette.responses import FileResponse, RedirectResponse, Response

from claybed.actions.dryness import WORDS, dry_target_g, dryness
from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.keeping import STATES
from claybed.register.naming import tidy_id
from claybed.register.opening import Row
from claybed.units import length_mm, mass_g
from claybed.web.admitting import Anyone, Changing, InStudio, Looking
from claybed.web.board import now_text
from claybed.web.charting import drying_line
from claybed.web.pages.pour_day import Entry, stamp_of
from claybed.web.rendering import page, us_of
from claybed.web.studio import Studio
from claybed.web.troubles import TROUBLES

router = APIRouter()
Text = Annotated[str, Form(max_length=2000)]
_MOST_PHOTO = 12_000_000
_PHOTO_PX = 1600


class Weighing(Entry):
    """A piece on the scale; `trimmed` when it was just set and trimmed, which gives its dry target."""

    letter: str = Field(max_length=8)
    mass_g: float
    trimmed: bool = False


class Casting(Entry):
    """A cast: how long the slip stood, the wall that came, the slip, and whether the ware was kept."""

    stood_min: float | None = None
    wall_mm: float | None = None
    slip: str = Field(default="", max_length=80)
    kept: bool = True


class Remark(Entry):
    """A note or a fault."""

    kind: Literal["note", "fault"] = "note"
    words: str = Field(max_length=4000)


@router.get("/shelf", include_in_schema=False)
def shelf(request: Request, studio: InStudio, visitor: Looking) -> Response:
    """Every mold with its drying curve as a small line and what its weight says."""
    with studio.register.reading() as db:
        found = keeping.molds(db)
        weighed = {mold["id"]: entering.entries(db, "weighing", mold["id"]) for mold in found}
    rows = [{"mold": mold, "pieces": _dryness(mold, weighed[mold["id"]])} for mold in found]
    return page(request, "shelf.html", {"rows": rows, "words": WORDS})


@router.get("/molds/{mold_id}", include_in_schema=False)
def one(
    mold_id: str,
    request: Request,
    studio: InStudio,
    visitor: Anyone,
    took: Annotated[int | None, Query(ge=0)] = None,
    there: Annotated[int, Query(ge=0)] = 0,
) -> Response:
    """The page of one mold, also behind its tag; `took` weighings from a file, beside those already there."""
    return _page(tidy_id(mold_id), request, studio, took=None if took is None else (took, there))


def _page(
    mold_id: str,
    request: Request,
    studio: Studio,
    *,
    yours: dict[str, str] | None = None,
    says: str = "",
    took: tuple[int, int] | None = None,
) -> Response:
    """The mold's page; with `yours`, beside what somebody else saved meanwhile."""
    with studio.register.reading() as db:
        mold = keeping.one_mold(db, mold_id)
        history = entering.history(db, mold_id)
        weighings = entering.entries(db, "weighing", mold_id)
        plan = keeping.one_plan(db, mold["plan"]) if mold["plan"] else None
    values = {
        "mold": mold,
        "plan": plan,
        "history": history,
        "pieces": _dryness(mold, weighings),
        "states": STATES,
        "words": WORDS,
        "key": secrets.token_hex(8),
        "yours": yours,
        "says": says,
        "took": took,
        "pressed": plan is not None and (plan["brief"] or {}).get("use") == "press",
    }
    return page(request, "mold.html", values, status=409 if yours else 200)


@router.post("/molds/{mold_id}", include_in_schema=False)
def save(
    mold_id: str,
    request: Request,
    studio: InStudio,
    visitor: Changing,
    version: Annotated[int, Form()],
    name: Text,
    state: Text,
    shelf: Text = "",
    note: Text = "",
) -> Response:
    """Save name, state, place and note of a mold, unless somebody else saved it meanwhile."""
    changes = {"name": name, "state": state, "shelf": shelf.strip(), "note": note.strip()}
    try:
        with studio.register.writing() as db:
            keeping.change_mold(db, tidy_id(mold_id), changes, version=version, by=visitor.name)
    except keeping.StaleError as stale:
        return _page(tidy_id(mold_id), request, studio, yours=changes, says=str(stale))
    return RedirectResponse(f"/molds/{mold_id}", status_code=303)


@router.post("/molds/{mold_id}/away", include_in_schema=False)
def away(mold_id: str, studio: InStudio, visitor: Changing) -> Response:
    """Take a mold off the shelf; what was logged on it stays."""
    with studio.register.writing() as db:
        keeping.put_away(db, "mold", tidy_id(mold_id), now=now_text())
    return RedirectResponse("/shelf", status_code=303)


@router.post("/molds/{mold_id}/log", include_in_schema=False)
def log_form(
    mold_id: str,
    request: Request,
    studio: InStudio,
    visitor: Anyone,
    what: Annotated[Literal["weighing", "casting", "note", "fault"], Form()],
    client_key: Annotated[str, Form(max_length=80)] = "",
    letter: Annotated[str, Form(max_length=8)] = "",
    mass: Text = "",
    trimmed: Annotated[bool, Form()] = False,
    stood_min: Text = "",
    wall_mm: Text = "",
    slip: Annotated[str, Form(max_length=80)] = "",
    lost: Annotated[bool, Form()] = False,
    words: Text = "",
    note: Annotated[str, Form(max_length=200)] = "",
    photo: Annotated[UploadFile | None, File()] = None,
) -> Response:
    """Enter a weighing, a cast, a note or a fault from the mold's page."""
    mold_id = tidy_id(mold_id)
    key = client_key or None
    us = us_of(request)
    if what == "weighing":
        grams = mass_g(mass, default_unit="oz" if us else "g", where="the weight")
        weighing = Weighing(client_key=key, letter=letter, mass_g=grams, trimmed=trimmed, note=note.strip())
        enter_weighing(mold_id, weighing, studio, visitor)
    elif what == "casting":
        wall = None
        if wall_mm.strip():
            wall = length_mm(wall_mm, default_unit="in" if us else "mm", where="the wall")
        entry = Casting(client_key=key, stood_min=_number(stood_min), wall_mm=wall, slip=slip, kept=not lost)
        enter_casting(mold_id, entry, studio, visitor)
    else:
        kept = _keep_photo(studio, photo)
        with studio.register.writing() as db:
            stamp = stamp_of(Entry(client_key=key), visitor)
            entering.log_remark(db, mold_id, stamp, kind=what, words=words, photo=kept)
    return RedirectResponse(f"/molds/{mold_id}", status_code=303)


@router.post("/api/molds/{mold_id}/weighings", responses=TROUBLES)
def enter_weighing(mold_id: str, entry: Weighing, studio: InStudio, visitor: Anyone) -> dict[str, Any]:
    """Keep a weighing, once; the answer says what it means, and asks about what is odd."""
    mold_id = tidy_id(mold_id)
    consistency = _consistency(studio, mold_id)
    _refuse_impossible(studio, mold_id, entry, consistency)
    with studio.register.writing() as db:
        kept = entering.log_weighing(
            db, mold_id, entry.letter, stamp_of(entry, visitor), mass_g=entry.mass_g, note=entry.note
        )
        if entry.trimmed and not kept["again"]:
            target_g = dry_target_g(entry.mass_g, consistency)
            entering.set_trimmed(db, mold_id, entry.letter, wet_g=entry.mass_g, dry_target_g=target_g)
        mold = keeping.one_mold(db, mold_id)
        piece = next(part for part in mold["pieces"] if part["letter"] == entry.letter)
        if mold["state"] in ("planned", "poured"):
            keeping.change_mold(
                db, mold_id, {"state": "drying"}, version=int(mold["version"]), by=visitor.name
            )
    says = ""
    if piece["dry_target_g"]:
        says = WORDS[dryness(entry.mass_g, piece["dry_target_g"]).state]
    return kept | {"says": says}


@router.post("/api/molds/{mold_id}/castings", responses=TROUBLES)
def enter_casting(mold_id: str, entry: Casting, studio: InStudio, visitor: Anyone) -> dict[str, Any]:
    """Keep a cast, once."""
    with studio.register.writing() as db:
        return entering.log_casting(
            db,
            tidy_id(mold_id),
            stamp_of(entry, visitor),
            stood_min=entry.stood_min,
            wall_mm=entry.wall_mm,
            slip=entry.slip,
            kept=entry.kept,
            note=entry.note,
        )


@router.post("/api/molds/{mold_id}/remarks", responses=TROUBLES)
def enter_remark(mold_id: str, entry: Remark, studio: InStudio, visitor: Anyone) -> dict[str, Any]:
    """Keep a note or a fault, once."""
    with studio.register.writing() as db:
        stamp = stamp_of(entry, visitor)
        return entering.log_remark(db, tidy_id(mold_id), stamp, kind=entry.kind, words=entry.words)


@router.get("/molds/{mold_id}/tag", include_in_schema=False)
def tag(mold_id: str, request: Request, studio: InStudio, visitor: Looking) -> Response:
    """A tag to print: the mold's name, its short name, and the code that opens its page on a phone."""
    with studio.register.reading() as db:
        mold = keeping.one_mold(db, tidy_id(mold_id))
    settings = studio.settings
    reach = next((name for name in settings.names if name.endswith(".local")), None) if settings.lan else None
    address = f"http://{reach or '127.0.0.1'}:{settings.port}/molds/{mold['id']}"
    import segno

    drawn = segno.make(address, error="m").svg_inline(scale=6, border=2, omitsize=True)
    values = {"mold": mold, "address": address, "code": drawn, "reaches": reach is not None}
    return page(request, "tag.html", values)


@router.get("/photos/{name}", include_in_schema=False)
def photo(name: str, studio: InStudio, visitor: Anyone) -> Response:
    """A photo that was added to a note."""
    path = studio.settings.data / "photos" / name
    if not name.replace(".jpg", "").isalnum() or not path.is_file():
        raise HTTPException(404, "There is no such photo.")
    return FileResponse(path, media_type="image/jpeg")


def _dryness(mold: Row, weighings: list[Row]) -> list[dict[str, Any]]:
    pieces = []
    for piece in mold["pieces"]:
        own = [one for one in weighings if one["letter"] == piece["letter"]]
        target_g = piece["dry_target_g"]
        state = dryness(own[-1]["mass_g"], target_g) if own and target_g else None
        line = drying_line(own, target_g) if len(own) > 1 else None
        pieces.append({**piece, "last": own[-1] if own else None, "dryness": state, "line": line})
    return pieces


def _refuse_impossible(studio: Studio, mold_id: str, entry: Weighing, consistency: float) -> None:
    """Refuse what a piece that was weighed when trimmed can never weigh; all else is kept and asked about."""
    from claybed.actions.foretelling import refuse_impossible

    with studio.register.reading() as db:
        pieces = keeping.one_mold(db, mold_id)["pieces"]
    wet_g = next((part["trimmed_wet_g"] for part in pieces if part["letter"] == entry.letter), None)
    if wet_g is not None and not entry.trimmed and 0.0 < entry.mass_g < 1e6:
        refuse_impossible(entry.mass_g, consistency=consistency, trimmed_wet_g=wet_g)


def _consistency(studio: Studio, mold_id: str) -> float:
    with studio.register.reading() as db:
        mold = keeping.one_mold(db, mold_id)
        plan = keeping.one_plan(db, mold["plan"]) if mold["plan"] else None
    if plan is None:
        return 100.0 / 1.3
    return float(studio.document(plan)["pours"][0]["consistency"])


def _number(text: str) -> float | None:
    plain = text.strip().replace(",", ".")
    if not plain:
        return None
    try:
        return float(plain)
    except ValueError:
        raise InputError(f"“{text[:40]}” is not a number.", remedy="Type it like 12.5.") from None


def _keep_photo(studio: Studio, photo: UploadFile | None) -> str | None:
    """Keep a photo, made smaller and freed of what the camera wrote into it, such as where it was taken."""
    if photo is None or not photo.filename:
        return None
    from PIL import Image, ImageOps, UnidentifiedImageError

    data = photo.file.read(_MOST_PHOTO + 1)
    if len(data) > _MOST_PHOTO:
        raise InputError("that photo is larger than 12 MB.", remedy="Send a smaller one.")
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as picture:
            if picture.width * picture.height > 80_000_000:
                raise InputError("that photo has too many pixels.", remedy="Send a smaller one.")
            picture.draft("RGB", (_PHOTO_PX, _PHOTO_PX))
            turned = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as error:
        raise InputError("that is no photo that can be opened.", remedy="Send a JPEG or PNG.") from error
    turned.thumbnail((_PHOTO_PX, _PHOTO_PX))
    name = f"{secrets.token_hex(10)}.jpg"
    turned.save(studio.settings.data / "photos" / name, "JPEG", quality=82)
    return name
