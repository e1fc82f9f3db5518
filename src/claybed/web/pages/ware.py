"""Casting and pressing in a mold: what to do with this one now, with timers, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any, Final

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from claybed.actions.dryness import water_of_mold
from claybed.errors import CannotError, ClaybedError, InputError
from claybed.records.reckoned import Reckoned
from claybed.register import entering, keeping
from claybed.register.naming import tidy_id
from claybed.register.opening import Row
from claybed.units import length_mm
from claybed.web.admitting import Anyone, InStudio
from claybed.web.bench_page import bench_page
from claybed.web.pages.settings import studio_kept
from claybed.web.rendering import number, page, us_of
from claybed.web.studio import Studio

if TYPE_CHECKING:
    from claybed.actions.casting import CastWish

router = APIRouter(include_in_schema=False)
Asked = Annotated[str, Query(max_length=40)]
_LAST: Final = 6
_USUAL_WALL_MM: Final = 4.0


@dataclass(frozen=True, slots=True)
class Known:
    """What the register knows of a mold before it is used: its casts with a wall measured, and the count."""

    mold: Row
    plan: Row | None
    tests: tuple[tuple[float, float], ...]
    slip: str
    in_a_row: int
    today: int
    week: int
    start: Reckoned | None

    @property
    def start_percent(self) -> float:
        """Water in its plaster as last weighed, per cent of its dry mass; 0 when nobody weighed all of it."""
        return 0.0 if self.start is None else self.start.value


@router.get("/molds/{mold_id}/cast")
def cast(
    mold_id: str, request: Request, studio: InStudio, visitor: Anyone, wall: Asked = "", k: Asked = ""
) -> Response:
    """The cast of a mold: time, slip, how often, and where k comes from."""
    known = _known(studio, tidy_id(mold_id))
    document, trouble, used = _cast(studio, known, wall, k, us=us_of(request))
    values = {
        "mold": known.mold,
        "known": known,
        "doc": document,
        "trouble": trouble,
        "used": used,
        "wall": wall,
        "k": k,
        "asked": f"wall={_url(wall)}&k={_url(k)}",
    }
    return page(request, "cast.html", values)


@router.get("/molds/{mold_id}/cast/why")
def cast_why(
    mold_id: str,
    request: Request,
    studio: InStudio,
    visitor: Anyone,
    name: str,
    wall: Asked = "",
    k: Asked = "",
) -> Response:
    """The working of one figure of the cast."""
    known = _known(studio, tidy_id(mold_id))
    document, trouble, _ = _cast(studio, known, wall, k, us=us_of(request))
    at = f"/molds/{known.mold['id']}/cast/why?wall={_url(wall)}&k={_url(k)}&"
    return _why(request, document, trouble, name, at)


@router.get("/pour/{mold_id}/cast")
@router.get("/pour/{mold_id}/cast/saved")
def cast_bench(
    mold_id: str, request: Request, studio: InStudio, visitor: Anyone, wall: Asked = "", k: Asked = ""
) -> Response:
    """The steps of a cast in one page that goes on without the network."""
    from claybed.actions.ware_steps import cast_steps

    known = _known(studio, tidy_id(mold_id))
    us = us_of(request)
    document, trouble, _ = _cast(studio, known, wall, k, us=us)
    if document is None:
        raise InputError(trouble or "this cast cannot be worked out.", remedy="Go back and change the wall.")
    weights = [piece["trimmed_wet_g"] or piece["wet_g"] for piece in known.mold["pieces"]]
    lift_g = None if not weights or None in weights else sum(weights)
    steps = cast_steps(document, us=us, slip=known.slip, lift_g=lift_g)
    return _bench(request, known, "cast", "castings", steps)


@router.get("/molds/{mold_id}/press")
def press(
    mold_id: str, request: Request, studio: InStudio, visitor: Anyone, slab: Asked = "", area: Asked = ""
) -> Response:
    """A pressing in a mold: slabs, coil and wait."""
    known = _known(studio, tidy_id(mold_id))
    document, trouble = _press(studio, known, slab, area, us=us_of(request))
    values = {
        "mold": known.mold,
        "known": known,
        "doc": document,
        "trouble": trouble,
        "slab": slab,
        "area": area,
        "asked": f"slab={_url(slab)}&area={_url(area)}",
    }
    return page(request, "press.html", values)


@router.get("/molds/{mold_id}/press/why")
def press_why(
    mold_id: str,
    request: Request,
    studio: InStudio,
    visitor: Anyone,
    name: str,
    slab: Asked = "",
    area: Asked = "",
) -> Response:
    """The working of one figure of the pressing."""
    known = _known(studio, tidy_id(mold_id))
    document, trouble = _press(studio, known, slab, area, us=us_of(request))
    at = f"/molds/{known.mold['id']}/press/why?slab={_url(slab)}&area={_url(area)}&"
    return _why(request, document, trouble, name, at)


@router.get("/pour/{mold_id}/press")
@router.get("/pour/{mold_id}/press/saved")
def press_bench(
    mold_id: str, request: Request, studio: InStudio, visitor: Anyone, slab: Asked = "", area: Asked = ""
) -> Response:
    """The steps of a pressing in one page that goes on without the network."""
    from claybed.actions.ware_steps import press_steps

    known = _known(studio, tidy_id(mold_id))
    us = us_of(request)
    document, trouble = _press(studio, known, slab, area, us=us)
    if document is None:
        raise InputError(trouble or "how much clay it takes is not known.", remedy="Type its area.")
    return _bench(request, known, "press", "remarks", press_steps(document, us=us))


def _bench(request: Request, known: Known, what: str, log: str, steps: list[dict[str, Any]]) -> Response:
    mold = known.mold
    told = {
        "mold": mold["id"],
        "what": what,
        "name": mold["name"],
        "sha256": known.plan["sha256"] if known.plan else mold["id"],
        "ready": True,
        "steps": steps,
        "to": f"/api/molds/{mold['id']}/{log}",
        "address": request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        "again": {"title": "It is in the register", "button": "Once more"},
    }
    name = "casting" if what == "cast" else "pressing"
    return bench_page(request, mold, told, what=name, leave=f"/molds/{mold['id']}/{what}")


def _why(request: Request, document: dict[str, Any] | None, trouble: str, name: str, at: str) -> Response:
    from claybed.actions.explaining import explained

    if document is None:
        raise InputError(trouble or "nothing was worked out.")
    return page(request, "part_why.html", {"why": explained(document, name[:200]), "why_at": at})


def _cast(
    studio: Studio, known: Known, wall: str, k: str, *, us: bool
) -> tuple[dict[str, Any] | None, str, int]:
    """The cast's document, or why there is none; and how many logged casts its k is from."""
    from claybed.actions.casting import CastWish

    try:
        own_k = number(k, "k")
        wish = CastWish(
            wall_mm=_wall(studio, known, wall, us=us),
            k_mm2_per_min=own_k,
            cast_number=known.in_a_row + 1,
            start_percent=0.0 if known.start is None else known.start,
            new_mold=known.in_a_row == 0 and known.week == 0,
            studio=studio_kept(studio)[2],
            plan=None if known.plan is None else studio.plan_folder(known.plan),
        )
        return _with_tests(wish, () if own_k is not None else known.tests)
    except (CannotError, InputError) as error:
        return None, _plainly(error), 0


def _with_tests(wish: CastWish, tests: tuple[tuple[float, float], ...]) -> tuple[dict[str, Any], str, int]:
    """The cast with k from the logged casts; when they contradict each other, from the last of them."""
    from dataclasses import replace

    from claybed.actions.casting import cast_document

    try:
        return cast_document(replace(wish, tests=tests)), "", len(tests)
    except InputError as error:
        if len(tests) < 2:
            raise
        says = f"The logged casts do not agree, so only the last counts: {error.what}"
        return cast_document(replace(wish, tests=tests[-1:])), says, 1


def _press(
    studio: Studio, known: Known, slab: str, area: str, *, us: bool
) -> tuple[dict[str, Any] | None, str]:
    from claybed.actions.pressing import PressWish, press_document
    from claybed.units import area_cm2

    if known.plan is None and not area.strip():
        return None, ""
    try:
        wish = PressWish(
            area_cm2=area_cm2(area, default_unit="in2" if us else "cm2") if area.strip() else None,
            slab_mm=length_mm(slab, default_unit="in" if us else "mm") if slab.strip() else None,
            studio=studio_kept(studio)[2],
            plan=None if known.plan is None else studio.plan_folder(known.plan),
        )
        return press_document(wish), ""
    except InputError as error:
        return None, _plainly(error)


def _wall(studio: Studio, known: Known, text: str, *, us: bool) -> float:
    if text.strip():
        return length_mm(text, default_unit="in" if us else "mm", where="the wall")
    if known.plan is not None:
        brief = studio.document(known.plan)["made"]["brief"]
        return float(brief["ware_wall_mm"])
    return _USUAL_WALL_MM


def _known(studio: Studio, mold_id: str) -> Known:
    with studio.register.reading() as db:
        mold = keeping.one_mold(db, mold_id)
        plan = keeping.one_plan(db, mold["plan"]) if mold["plan"] else None
        casts = entering.entries(db, "casting", mold_id)
        weighings = entering.entries(db, "weighing", mold_id)
    slip = str(casts[-1]["slip"]) if casts else ""
    tests = tuple(
        (float(one["wall_mm"]), float(one["stood_min"]))
        for one in casts
        if one["wall_mm"] and one["stood_min"] and one["slip"] == slip
    )[-_LAST:]
    now = datetime.now().astimezone()
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    monday = midnight - timedelta(days=now.weekday())
    water = water_of_mold(mold["pieces"], weighings)
    weighed_at = None if water is None else water.at
    since = max(weighed_at or "", _text(now - timedelta(hours=24)) if weighed_at is None else weighed_at)
    return Known(
        mold=mold,
        plan=plan,
        tests=tests,
        slip=slip,
        in_a_row=sum(1 for one in casts if one["at"] > since),
        today=sum(1 for one in casts if _moment(one["at"]) >= midnight),
        week=sum(1 for one in casts if _moment(one["at"]) >= monday),
        start=None if water is None else water.in_mold(mold_id),
    )


def _plainly(error: ClaybedError) -> str:
    says = f"{error.what} {error.remedy}".strip()
    return says[:1].upper() + says[1:]


def _moment(at: str) -> datetime:
    return datetime.fromisoformat(at.replace("Z", "+00:00"))


def _text(at: datetime) -> str:
    from datetime import UTC

    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _url(text: str) -> str:
    from urllib.parse import quote

    return quote(text, safe="")
