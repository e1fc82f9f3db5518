"""A piece's weighings as a file: out for `claybed dry --log`, and in from there or from another register."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, File, Form, UploadFile
from starlette.responses import RedirectResponse, Response

from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.naming import tidy_id
from claybed.register.opening import Row
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.board import now_text

router = APIRouter(include_in_schema=False)


@router.get("/molds/{mold_id}/weighings/{letter}.jsonl")
def hand_out(mold_id: str, letter: str, studio: InStudio, visitor: Looking) -> Response:
    """The weighings of one piece as a log."""
    from claybed.actions.weighing_tables import Entered, as_log
    from claybed.records.weighing import Weighing

    mold_id = tidy_id(mold_id)
    own = _of(studio, mold_id, letter)
    text = as_log(
        Entered(
            Weighing(_seconds(one["at"]), one["mass_g"], one["note"]),
            mold=mold_id,
            piece=letter,
            by=one["by"],
        )
        for one in own
    )
    headers = {"content-disposition": f'attachment; filename="{mold_id}-{letter}.weighings.jsonl"'}
    return Response(text, media_type="application/x-ndjson", headers=headers)


@router.post("/molds/{mold_id}/weighings")
def take_in(
    mold_id: str,
    studio: InStudio,
    visitor: Changing,
    letter: Annotated[str, Form(max_length=8)],
    file: Annotated[UploadFile, File()],
) -> Response:
    """Enter the weighings of a log, or of a register's table, that are not there yet; all of them or none."""
    from claybed.actions.weighing_tables import MOST_BYTES, missing_from, of_one_piece, read_table
    from claybed.records.weighing import Weighing

    mold_id = tidy_id(mold_id)
    where = file.filename or "the file"
    read = read_table(file.file.read(MOST_BYTES + 1), where)
    # A log of another mold must not slip in: names in it have to be this mold's and this piece's.
    named = mold_id if any(one.mold for one in read) else ""
    found = of_one_piece(read, mold=named, piece=letter, where=where)
    with studio.register.writing() as db:
        mold = keeping.one_mold(db, mold_id)
        own = [one for one in entering.entries(db, "weighing", mold_id) if one["letter"] == letter]
        known = [Weighing(_seconds(one["at"]), one["mass_g"], one["note"]) for one in own]
        fresh = missing_from(found, known)
        for one in fresh:
            at = datetime.fromtimestamp(one.weighing.at_s, UTC).isoformat(timespec="milliseconds")
            stamp = entering.Stamp(now=now_text(), at=at.replace("+00:00", "Z"), by=one.by or visitor.name)
            entering.log_weighing(
                db, mold_id, letter, stamp, mass_g=one.weighing.mass_g, note=one.weighing.note
            )
        if fresh and mold["state"] in ("planned", "poured"):
            keeping.change_mold(
                db, mold_id, {"state": "drying"}, version=int(mold["version"]), by=visitor.name
            )
    there = len(found) - len(fresh)
    return RedirectResponse(f"/molds/{mold_id}?took={len(fresh)}&there={there}#scale", status_code=303)


def _of(studio: InStudio, mold_id: str, letter: str) -> list[Row]:
    with studio.register.reading() as db:
        mold = keeping.one_mold(db, mold_id)
        if letter not in [piece["letter"] for piece in mold["pieces"]]:
            raise InputError(f"this mold has no piece {letter!r}.", where=mold_id)
        return [one for one in entering.entries(db, "weighing", mold_id) if one["letter"] == letter]


def _seconds(at: str) -> float:
    return datetime.fromisoformat(at.replace("Z", "+00:00")).timestamp()
