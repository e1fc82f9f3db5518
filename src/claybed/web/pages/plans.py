"""Planning a mold of an object, and the page of a plan with its files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, HTTPException, Query, Request
from pydantic import BaseModel
from starlette.responses import FileResponse, RedirectResponse, Response

from claybed import wording
from claybed.actions.asking import OPEN_MOLDS
from claybed.actions.dryness import water_of_mold
from claybed.errors import InputError
from claybed.hole_words import cut_words
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.register import entering, keeping
from claybed.register.opening import Row
from claybed.register.working import jobs_about
from claybed.units import length_mm, say_length, say_mass, say_spread
from claybed.web.admitting import Changing, InStudio, Looking
from claybed.web.board import now_text
from claybed.web.case_work import made_cases
from claybed.web.pages.settings import studio_kept
from claybed.web.rendering import PHASES, number, page, us_of, with_units
from claybed.web.studio import Studio
from claybed.web.troubles import TROUBLES

router = APIRouter()
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
# What each paper of a plan is called and is for.
PAPERS = {
    "sheets/bench-sheet.pdf": ("Bench sheet", "a page for each pour, getting ready, workings, tag"),
    "sheets/templates.pdf": ("Templates at 1:1", "saddles, bed heights, seam, keys; glue them to card"),
}


class Getting(BaseModel):
    """How far a mold is that is got in hand: what is being done, and the share of that, 0 to 1."""

    ready: bool
    says: str
    done: float


ASKED = (
    "axis", "flat_seam", "max_fill_ml", "pieces", "shape", "use", "wall_mm", "ware_wall_mm", "consistency",
    "waste", "form", "bucket_l", "lift_kg", "gate", "gate_bore_mm", "plaster", "clay", "fired_height_mm",
    "fired_capacity_ml",
)  # fmt: skip


@router.post("/objects/{object_id}/plans", include_in_schema=False)
async def make(object_id: str, request: Request, studio: InStudio, visitor: Changing) -> Response:
    """Begin to plan a mold as the form asks."""
    form = await request.form()
    typed: dict[str, object] = {}
    for field in ASKED:
        value = str(form.get(field, "")).strip()
        if value:
            typed[field] = value[:80]
    if typed.get("use") in OPEN_MOLDS:
        typed["open"] = typed.pop("use")
    if "flat_seam" in typed:
        typed["flat_seam"] = True
    if form.get("keys") == "no":
        typed["keys"] = False
    if "pieces" in typed:
        typed["pieces"] = int(str(typed["pieces"])) if str(typed["pieces"]).isdigit() else 0
    keep_out = [str(value)[:200] for value in form.getlist("keep_out") if str(value).strip()]
    if keep_out:
        typed["keep_out"] = keep_out
    studio.plan(object_id, with_units(typed, us=us_of(request)), studio_kept(studio)[0])
    return RedirectResponse(f"/objects/{object_id}", status_code=303)


@router.get("/plans/{plan_id}", include_in_schema=False)
def one(plan_id: str, request: Request, studio: InStudio, visitor: Looking) -> Response:
    """The page of one plan."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
        thing = keeping.one_object(db, plan["object"])
        molds = [mold for mold in keeping.molds(db) if mold["plan"] == plan_id]
        job = next(iter(jobs_about(db, plan_id)), None)
    if job is not None:
        job = studio.board.state(job["id"])
    document = studio.document(plan)
    folder = studio.plan_folder(plan)
    drawn = [*(folder / "sheets").glob("*.pdf"), *(folder / "templates").rglob("*")]
    made = [*(folder / "pieces").glob("*"), *(folder / "cases").glob("*")]
    values = {
        "plan": plan,
        "thing": thing,
        "document": wording.from_board(document),
        "sheets": _names(folder, drawn),
        "papers": PAPERS,
        "pieces": _names(folder, made),
        "ware": [
            wording.heights_from_board(line, document.get("pose"), board=wording.BOARD)
            for line in _sentences(document.get("ware"))
        ]
        + cut_words(document, us=us_of(request)),
        "molds": molds,
        "job": job,
        "map": _cast_map(studio, plan),
    }
    return page(request, "plan.html", values)


def _names(folder: Path, found: list[Path]) -> list[str]:
    """Paths below the plan's folder that can be fetched, in order."""
    return sorted(p.relative_to(folder).as_posix() for p in found if p.suffix.casefold() in _KINDS)


def _sentences(ware: object) -> list[str]:
    """Every sentence that the ware of a plan says, in its order."""
    if isinstance(ware, dict):
        own = [str(value) for key, value in ware.items() if key == "says" and value]
        return own + [line for value in ware.values() for line in _sentences(value)]
    if isinstance(ware, list):
        return [line for value in ware for line in _sentences(value)]
    return []


def _cast_map(studio: Studio, plan: Row) -> dict[str, Any] | None:
    """The wall map of a plan, or None when there is none that can be read."""
    try:
        found = json.loads((studio.map_folder(plan) / "cast-map.json").read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and found.get("casts") else None


@router.post("/plans/{plan_id}/map", include_in_schema=False)
def begin_map(
    plan_id: str,
    request: Request,
    studio: InStudio,
    visitor: Changing,
    casts: Annotated[int, Form(ge=1, le=6)] = 1,
    wall: Text = "",
    k: Text = "",
    water: Text = "",
) -> Response:
    """Begin to simulate casts in a plan's own plaster, as damp as typed (per cent), else as last weighed."""
    from claybed.actions.mold_water import as_fraction
    from claybed.records.soaked import MapAsk

    rate = number(k, "k")
    percent = number(water, "water in the plaster")
    weighed = _weighed_water(studio, plan_id) if percent is None else None
    if percent is not None and not 0.0 <= percent < 100.0:
        raise InputError(
            f"{percent:g} % of water is out of range.", where="the water", remedy="Type 0 to 40."
        )
    unit = "in" if us_of(request) else "mm"
    ask = MapAsk(
        casts=casts,
        wall_mm=length_mm(wall, default_unit=unit, where="the wall") if wall.strip() else None,
        rate=None if rate is None else Reckoned(rate, Figure("mm2/min", "as typed", "asked")),
        moisture_fraction=(percent or 0.0 if weighed is None else weighed.value) / 100.0,
        workings={} if weighed is None else {"moisture_fraction": as_fraction(weighed)},
    )
    studio.map_casts(plan_id, ask)
    return RedirectResponse(f"/plans/{plan_id}#map", status_code=303)


def _weighed_water(studio: Studio, plan_id: str) -> Reckoned | None:
    """Water in the plan's mold by its last weights, per cent; of several molds the last weighed."""
    with studio.register.reading() as db:
        molds = [mold for mold in keeping.molds(db) if mold["plan"] == plan_id]
        weighings = {mold["id"]: entering.entries(db, "weighing", mold["id"]) for mold in molds}
    found = [
        (water, mold)
        for mold in molds
        if (water := water_of_mold(mold["pieces"], weighings[mold["id"]])) is not None
    ]
    if not found:
        return None
    water, mold = max(found, key=lambda one: one[0].at)
    return water.in_mold(str(mold["id"]))


@router.get("/plans/{plan_id}/map/{name:path}", include_in_schema=False)
def map_file(plan_id: str, name: str, studio: InStudio, visitor: Looking) -> Response:
    """One file of a plan's wall map; nothing outside it."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    return sent(studio.map_folder(plan), name)


@router.get("/plans/{plan_id}/why", include_in_schema=False)
def why(
    plan_id: str, request: Request, studio: InStudio, visitor: Looking, name: str, of: str = "plan"
) -> Response:
    """The working of one figure, or of one of the wall map or the cases, as a part of a page."""
    from claybed.actions.explaining import explained

    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    found = {"map": _cast_map, "cases": made_cases}.get(of)
    document = studio.document(plan) if found is None else found(studio, plan) or {"figures": {}}
    at = f"/plans/{plan_id}/why?" + (f"of={of}&" if found is not None else "")
    return page(request, "part_why.html", {"why": explained(document, name[:200]), "why_at": at})


@router.get("/api/plans/{plan_id}/weights", responses=TROUBLES)
def weights(
    plan_id: str,
    request: Request,
    studio: InStudio,
    visitor: Looking,
    ratio: Annotated[float, Query(ge=0.5, le=5.0)],
    waste: Annotated[float, Query(ge=0.0, le=100.0)],
    bucket: Annotated[float, Query(gt=0.0, le=200.0)],
) -> dict[str, Any]:
    """Water and plaster of every pour at another ratio, allowance (per cent) and bucket (litres)."""
    from claybed.actions.mixing import Space, mix_document

    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    us = us_of(request)
    rows = []
    document = studio.document(plan)
    for place, pour in enumerate(document["pours"]):
        mix = mix_document(
            Space(space_ml=pour["space_ml"]),
            consistency=100.0 / ratio,
            waste=waste / 100.0,
            form="hand",
            bucket_l=bucket,
        )
        row = {key: mix[key] for key in ("water_g", "plaster_g")}
        row |= {"water": say_mass(mix["water_g"], us=us), "plaster": say_mass(mix["plaster_g"], us=us)}
        row |= {f"{key}_off": _off(document, place, f"{key}_g", mix, us=us) for key in ("water", "plaster")}
        rows.append({"piece": pour["piece"], "buckets": len(mix["batches"]), **row})
    return {"asked": f"{ratio}/{waste}/{bucket}", "pours": rows}


@router.get(
    "/api/plans/{plan_id}/block",
    response_model=None,
    responses={**TROUBLES, 204: {"description": "A later question has come meanwhile."}},
)
def block(
    plan_id: str,
    request: Request,
    studio: InStudio,
    visitor: Looking,
    wall_mm: Annotated[float, Query(ge=1.0, le=400.0)],
    shape: Annotated[Literal["boxed", "round"], Query()],
    ratio: Annotated[float, Query(ge=0.5, le=5.0)],
    waste: Annotated[float, Query(ge=0.0, le=100.0)],
) -> dict[str, Any] | Response:
    """The block at another wall and outside, and water and plaster of all pours together; 204 when a later
    question has come meanwhile.
    """
    from claybed.actions.mixing import Space, mix_document

    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    found = studio.block(plan, wall_mm, shape, studio_kept(studio)[0])
    if found is None:
        return Response(status_code=204)
    us = us_of(request)
    mix = mix_document(
        Space(space_ml=found["plaster_ml"]),
        consistency=100.0 / ratio,
        waste=waste / 100.0,
        form="hand",
        bucket_l=1000.0,
    )
    sides = " × ".join(say_length(side, us=us) for side in found["outer_mm"])
    told = {key: mix[key] for key in ("water_g", "plaster_g")}
    told |= {"water": say_mass(mix["water_g"], us=us), "plaster": say_mass(mix["plaster_g"], us=us)}
    return {"asked": f"{wall_mm:g}/{shape}/{ratio:g}/{waste:g}", "outer": sides, **found, **told}


@router.get("/api/plans/{plan_id}/block/ready", responses=TROUBLES)
def block_ready(plan_id: str, studio: InStudio, visitor: Looking, begin: bool = True) -> Getting:
    """Begin to get a plan's mold in hand for other blocks, and tell how far that is.

    With `begin` false nothing is begun: a page that is open asks so now and then that its mold stays.
    """
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    if not begin:
        held = studio.keep_block(plan)
        return Getting(ready=held, says="", done=float(held))
    ready, phase, done = studio.get_block_ready(plan, studio_kept(studio)[0])
    return Getting(ready=ready, says="" if ready else PHASES.get(phase, phase), done=1.0 if ready else done)


@router.post("/plans/{plan_id}/again", include_in_schema=False)
def again(
    plan_id: str,
    studio: InStudio,
    visitor: Changing,
    wall_mm: Text = "",
    shape: Text = "",
    consistency: Text = "",
    waste: Text = "",
    bucket_l: Text = "",
) -> Response:
    """Plan a mold anew as it was asked for, but for what is given here."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    given = {"wall_mm": wall_mm, "shape": shape, "consistency": consistency, "waste": waste}
    changed = {field: value for field, value in {**given, "bucket_l": bucket_l}.items() if value.strip()}
    studio.plan(plan["object"], {**plan["brief"], **changed}, studio_kept(studio)[0])
    return RedirectResponse(f"/objects/{plan['object']}", status_code=303)


def _off(document: Mapping[str, Any], place: int, key: str, mix: Mapping[str, Any], *, us: bool) -> str:
    """How far a weight of another mix may be off: by the same share as the plan's own; empty when exact."""
    if not any(((document["object"].get("measured") or {}).get("band") or {}).values()):
        return ""
    figure = document["figures"][f"/pours/{place}/{key}"]
    share = float(mix[key]) / float(document["pours"][place][key])
    ends = (figure["low"] * share, figure["high"] * share)
    return say_spread(mix[key], *ends, lambda grams: say_mass(grams, us=us))


@router.post("/plans/{plan_id}/molds", include_in_schema=False)
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


@router.get("/plans/{plan_id}/files/{name:path}", include_in_schema=False)
def file(plan_id: str, name: str, studio: InStudio, visitor: Looking) -> Response:
    """One file of a plan's folder; nothing outside it."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    return sent(studio.plan_folder(plan), name)


def sent(folder: Path, name: str) -> Response:
    """A file below a folder, with the headers its kind needs. Raises 404 for anything else."""
    folder = folder.resolve()
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
