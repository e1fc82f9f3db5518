"""The register as tables: search, everything logged, export, backup and restore, and who is let in."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import FileResponse, RedirectResponse, Response, StreamingResponse

from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.copies import as_csv, as_json, back_up
from claybed.register.devices import devices, let_in, shut_out
from claybed.register.finding import search
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.board import now_text
from claybed.web.rendering import page
from claybed.web.whole_copy import packed_studio, whole_size
from claybed.web.whole_return import check_room

router = APIRouter(include_in_schema=False)
_SHOWN = 200
# A backup holds every object of a studio, and so is larger than any one upload.
_LARGEST_BACKUP = 50_000_000_000


@router.get("/register")
def register(
    request: Request,
    studio: InStudio,
    visitor: Looking,
    find: str = "",
    what: str = "",
    back: bool = False,
) -> Response:
    """Everything that was logged, latest first, or what was looked for."""
    kinds = ("pour", "weighing", "casting", "note", "fault")
    with studio.register.reading() as db:
        found = search(db, find[:200]) if find.strip() else None
        molds = {mold["id"]: mold["name"] for mold in keeping.molds(db)}
        logged = [
            {**entry, "mold_name": molds[mold]} for mold in molds for entry in entering.history(db, mold)
        ]
        let = devices(db)
    for entry in logged:
        entry["kind"] = entry.get("kind") or entry["log"]
    if what in kinds:
        logged = [entry for entry in logged if entry["kind"] == what]
    logged.sort(key=lambda entry: (entry["at"], entry["made_at"]), reverse=True)
    values = {
        "find": find,
        "found": found,
        "logged": logged[:_SHOWN],
        "more": max(0, len(logged) - _SHOWN),
        "what": what,
        "kinds": kinds,
        "devices": let,
        "token": None,
        "back": back,
        "backup_mb": whole_size(studio.register, studio.settings.data) / 1e6 if visitor.may_change else 0.0,
    }
    return page(request, "register.html", values)


@router.get("/register/export.json")
def export_json(studio: InStudio, visitor: Looking) -> Response:
    """Everything that was entered, as JSON."""
    headers = {"content-disposition": 'attachment; filename="claybed-register.json"'}
    return Response(as_json(studio.register), media_type="application/json", headers=headers)


@router.get("/register/export.zip")
def export_csv(studio: InStudio, visitor: Looking) -> Response:
    """Everything that was entered, as one CSV file for each table."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for table, text in as_csv(studio.register).items():
            packed.writestr(f"{table}.csv", text)
    headers = {"content-disposition": 'attachment; filename="claybed-register-csv.zip"'}
    return Response(out.getvalue(), media_type="application/zip", headers=headers)


@router.get("/register/backup.zip")
def backup_all(studio: InStudio, visitor: Changing) -> Response:
    """The whole studio as one file, sent as it is packed, while others go on working."""
    name = f"claybed-studio-{now_text()[:10]}.zip"
    return StreamingResponse(
        packed_studio(studio.register, studio.settings.data),
        media_type="application/zip",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.get("/register/backup.sqlite")
def backup(studio: InStudio, visitor: Changing) -> Response:
    """The register as one file, without the files of objects and plans."""
    folder = tempfile.TemporaryDirectory(prefix="claybed-")
    copy = Path(folder.name) / "claybed-register.sqlite"
    back_up(studio.register, copy)
    return FileResponse(
        copy,
        media_type="application/vnd.sqlite3",
        filename=copy.name,
        background=BackgroundTask(folder.cleanup),
    )


@router.post("/register/restore", max_body_size=_LARGEST_BACKUP)
async def bring_back(request: Request, studio: InStudio, visitor: Changing) -> Response:
    """Take a backup's content in place of what is there, which is kept beside it.

    The body is read here, and not before: who may not change anything sends nothing of that size either.
    """
    if not request.headers.get("content-type", "").startswith(("multipart/", "application/x-www-form")):
        # The file alone, as the page's script sends it: written beside the studio, whose disk has to have
        # room for it anyhow; the machine's folder for passing things may lie in memory.
        with tempfile.TemporaryFile(dir=studio.settings.data, prefix=".upload-") as file:
            check_room(studio.settings.data, int(request.headers.get("content-length") or 0))
            async for chunk in request.stream():
                file.write(chunk)
            if not file.tell():
                raise _no_backup()
            file.seek(0)
            await run_in_threadpool(studio.bring_back, file)
        return RedirectResponse("/register?back=true", status_code=303)
    async with request.form(max_files=1, max_fields=4) as form:
        sent = form.get("file")
        if not isinstance(sent, UploadFile) or not sent.filename:
            raise _no_backup()
        await run_in_threadpool(studio.bring_back, sent.file)
    return RedirectResponse("/register?back=true", status_code=303)


def _no_backup() -> InputError:
    return InputError("no backup was chosen.", remedy="Choose the file that “Backup” gave.")


@router.post("/register/devices")
def new_device(
    request: Request,
    studio: InStudio,
    visitor: Changing,
    name: Annotated[str, Form(max_length=80)],
    role: Annotated[Literal["keeper", "bench"], Form()] = "bench",
) -> Response:
    """Make a code for one more device and show it this once."""
    with studio.register.writing() as db:
        _, token = let_in(db, name=name, role=role, now=now_text())
        let = devices(db)
    return page(request, "device.html", {"token": token, "name": name, "devices": let})


@router.post("/register/devices/{device_id}/out")
def device_out(device_id: str, studio: InStudio, visitor: Changing) -> Response:
    """Let a device in no longer."""
    with studio.register.writing() as db:
        shut_out(db, device_id, now=now_text())
    return RedirectResponse("/register", status_code=303)
