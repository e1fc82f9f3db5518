"""Planning a mold of an object, and the page of a plan with its files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import FileResponse, RedirectResponse, Response

from claybed.register import keeping
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.board import now_text
from claybed.web.rendering import page

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=200)]
_KINDS = {
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".stl": "model/stl",
    ".3mf": "model/3mf",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".dxf": "image/vnd.dxf",
    ".html": "text/html; charset=utf-8",
    ".ply": "application/octet-stream",
    ".csv": "text/csv",
}
# What a plan's own page in 3D needs: its script stands in the page, and it asks the network for nothing.
_OWN_PAGE = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; font-src data:; "
    "img-src data: blob:; frame-ancestors 'self'; sandbox allow-scripts"
)
ASKED = (
    "axis", "flat_seam", "max_fill_ml", "pieces", "shape", "use", "wall_mm", "ware_wall_mm", "consistency",
    "waste", "form", "bucket_l", "lift_kg",
)  # fmt: skip


@router.post("/objects/{object_id}/plans")
async def make(object_id: str, request: Request, studio: InStudio, visitor: Changing) -> Response:
    """Begin to plan a mold as the form asks."""
    form = await request.form()
    typed: dict[str, object] = {}
    for field in ASKED:
        value = str(form.get(field, "")).strip()
        if value:
            typed[field] = value[:80]
    if "flat_seam" in typed:
        typed["flat_seam"] = True
    if "pieces" in typed:
        typed["pieces"] = int(str(typed["pieces"])) if str(typed["pieces"]).isdigit() else 0
    keep_out = [str(value)[:200] for value in form.getlist("keep_out") if str(value).strip()]
    if keep_out:
        typed["keep_out"] = keep_out
    studio.plan(object_id, typed)
    return RedirectResponse(f"/objects/{object_id}", status_code=303)


@router.get("/plans/{plan_id}")
def one(plan_id: str, request: Request, studio: InStudio, visitor: Looking) -> Response:
    """The page of one plan."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
        thing = keeping.one_object(db, plan["object"])
        molds = [mold for mold in keeping.molds(db) if mold["plan"] == plan_id]
    document = studio.document(plan)
    folder = studio.plan_folder(plan)
    sheets = sorted(path.name for path in (folder / "sheets").glob("*.pdf"))
    pictures = sorted(path.name for path in (folder / "pictures").glob("*.png"))
    values = {
        "plan": plan,
        "thing": thing,
        "document": document,
        "sheets": sheets,
        "pictures": pictures,
        "molds": molds,
    }
    return page(request, "plan.html", values)


@router.post("/plans/{plan_id}/molds")
def begin_mold(plan_id: str, studio: InStudio, visitor: Changing, name: Text = "") -> Response:
    """Enter a mold that is to be poured from a plan."""
    with studio.register.writing() as db:
        plan = keeping.one_plan(db, plan_id)
        thing = keeping.one_object(db, plan["object"])
        mold_id = keeping.add_mold(
            db,
            name=name or f"{thing['name']} mold",
            plan_id=plan_id,
            pieces=plan["summary"]["pieces"],
            now=now_text(),
            by=visitor.name,
        )
    return RedirectResponse(f"/molds/{mold_id}", status_code=303)


@router.get("/plans/{plan_id}/files/{name:path}")
def file(plan_id: str, name: str, studio: InStudio, visitor: Looking) -> Response:
    """One file of a plan's folder; nothing outside it."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    folder = studio.plan_folder(plan).resolve()
    wanted = (folder / name).resolve() if "\0" not in name else folder
    kind = _KINDS.get(Path(name).suffix.casefold())
    if kind is None or not wanted.is_relative_to(folder) or not wanted.is_file():
        raise HTTPException(404, "There is no such file in this plan.")
    headers = {}
    if wanted.suffix == ".html":
        headers["content-security-policy"] = _OWN_PAGE
    elif wanted.suffix not in (".pdf", ".png", ".svg", ".json"):
        headers["content-disposition"] = f'attachment; filename="{wanted.name}"'
    return FileResponse(wanted, media_type=kind, headers=headers)
