"""Casting and pressing in a mold of the shelf: the rate from its own casts, the count, the steps."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta

import pytest
from app_client import entered_mold
from fastapi.testclient import TestClient

from claybed.actions.casting import CastWish, cast_document
from claybed.actions.pressing import PressWish, press_document
from claybed.actions.ware_steps import cast_steps, press_steps


def log_cast(client: TestClient, mold: str, wall_mm: float, stood_min: float, hours_ago: float = 1.0) -> None:
    """Log a cast some hours ago."""
    at = (datetime.now(UTC) - timedelta(hours=hours_ago)).isoformat().replace("+00:00", "Z")
    entry = {"wall_mm": wall_mm, "stood_min": stood_min, "at": at, "slip": "stoneware slip"}
    assert client.post(f"/api/molds/{mold}/castings", json=entry).status_code == 200


def told_by(page: str) -> dict[str, object]:
    """What a bench page was told."""
    found = re.search(r'<script type="application/json" id="told">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    told: dict[str, object] = json.loads(found[1])
    return told


def test_the_rate_comes_from_the_casts_of_this_mold(client: TestClient) -> None:
    """A wall of 4 mm in 8 minutes is k = 2 mm²/min, so 6 mm stand 18 minutes in a mold that is dry again."""
    mold = entered_mold(client)
    log_cast(client, mold, 4.0, 8.0, hours_ago=30.0)
    page = client.get(f"/molds/{mold}/cast", params={"wall": "6 mm"}).text
    assert "from 1 cast of this mold with stoneware slip" in page
    told = told_by(client.get(f"/pour/{mold}/cast", params={"wall": "6 mm"}).text)
    stand = next(step for step in told["steps"] if step["id"] == "stand")  # type: ignore[attr-defined]
    assert stand["minutes"] == pytest.approx(18.0, rel=1e-9)


def test_several_casts_give_a_rate_with_its_spread(client: TestClient) -> None:
    """Three casts that agree give their common k, and the page shows how far it may stray."""
    mold = entered_mold(client)
    for wall_mm, minutes in ((3.0, 6.0), (4.1, 11.0), (5.0, 17.0)):
        log_cast(client, mold, wall_mm, minutes, hours_ago=40.0)
    page = client.get(f"/molds/{mold}/cast/why", params={"name": "/k_mm2_per_min"}).text
    assert "sum of wall^2 / sum of times" in page
    expected = (9.0 + 16.81 + 25.0) / 34.0
    assert f"{expected:.6g}" in page
    assert re.search(r"from [\d.]+ to [\d.]+", page)


def test_casts_that_contradict_each_other_leave_the_last(client: TestClient) -> None:
    """A longer cast with a thinner wall is told, and the last cast alone counts."""
    mold = entered_mold(client)
    log_cast(client, mold, 5.0, 10.0, hours_ago=50.0)
    log_cast(client, mold, 3.0, 18.0, hours_ago=40.0)
    page = client.get(f"/molds/{mold}/cast").text
    assert "only the last counts" in page
    assert "0.50" in page


def test_casts_are_counted(client: TestClient) -> None:
    """Casts of the last hours count in a row and slow the next; those of other days do not."""
    mold = entered_mold(client)
    log_cast(client, mold, 4.0, 8.0, hours_ago=30.0)
    dry = told_by(client.get(f"/pour/{mold}/cast", params={"wall": "4"}).text)["steps"]
    log_cast(client, mold, 4.0, 8.0, hours_ago=0.01)
    damp = told_by(client.get(f"/pour/{mold}/cast", params={"wall": "4"}).text)["steps"]
    assert dry[1]["minutes"] == pytest.approx(8.0)  # type: ignore[index]
    assert damp[1]["minutes"] > 8.0  # type: ignore[index]


@pytest.mark.parametrize(
    "query", [{"wall": "thick"}, {"wall": "-3mm"}, {"wall": "0"}, {"k": "fast"}, {"k": "-1"}]
)
def test_what_cannot_be_cast_is_said(client: TestClient, query: dict[str, str]) -> None:
    """A wall or rate that is none is a sentence on the page with its form; no bench page opens."""
    mold = entered_mold(client)
    page = client.get(f"/molds/{mold}/cast", params=query)
    assert page.status_code == 200
    assert 'role="alert"' in page.text
    assert client.get(f"/pour/{mold}/cast", params=query).status_code == 400


def test_what_is_typed_cannot_break_out(client: TestClient) -> None:
    """Script typed as a wall comes back as text."""
    mold = entered_mold(client)
    page = client.get(f"/molds/{mold}/cast", params={"wall": '"><script>x</script>'}).text
    assert "<script>x" not in page


def test_a_pressing_without_a_plan_asks_for_its_area(client: TestClient) -> None:
    """With the area typed it says clay, slab and wait, and the bench page logs a note."""
    mold = entered_mold(client)
    assert "type the area" in client.get(f"/molds/{mold}/press").text
    page = client.get(f"/molds/{mold}/press", params={"area": "600", "slab": "6"}).text
    assert "Start this pressing" in page
    told = told_by(client.get(f"/pour/{mold}/press", params={"area": "600", "slab": "6"}).text)
    assert told["to"] == f"/api/molds/{mold}/remarks"
    last = told["steps"][-1]  # type: ignore[index]
    assert client.post(str(told["to"]), json=last["log"]).status_code == 200
    assert "Pressed from slabs of 6.0 mm" in client.get(f"/molds/{mold}").text


@pytest.mark.parametrize("us", [False, True])
def test_steps_carry_the_figures_of_their_document(us: bool) -> None:
    """Timers are the document's minutes, and what is asked comes back in mm whatever is typed."""
    document = cast_document(CastWish(wall_mm=4.0, k_mm2_per_min=1.6, area_cm2=600.0, cavity_ml=900.0))
    steps = {step["id"]: step for step in cast_steps(document, us=us, lift_g=4000.0)}
    assert steps["stand"]["minutes"] == pytest.approx(10.0)
    assert steps["firm"]["minutes"] == document["release_minutes"]
    wall = next(field for field in steps["measure"]["ask"] if field["name"] == "wall_mm")
    assert wall["as_planned"] * wall["per_unit"] == pytest.approx(4.0)
    assert "Two people" in steps["drain"]["caution"]
    grips = document | {"grip": {"within_minutes": 7.0}, "opens": "take piece B off first,"}
    held = {step["id"]: step for step in cast_steps(grips, us=us)}["firm"]
    assert held["minutes"] == 7.0 < document["release_minutes"]
    assert "Take piece B off first, before the time is up" in held["says"][-1]
    press = press_document(PressWish(area_cm2=600.0, slab_mm=6.0))
    waits = [step["minutes"] for step in press_steps(press, us=us) if step["minutes"]]
    assert waits == [press["wait_minutes"]]
