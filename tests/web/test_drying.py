"""When a mold is ready, by the room and by the scale, and what the keeper settles once."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta

import pytest
from app_client import entered_mold
from fastapi.testclient import TestClient

from claybed.actions.foretelling import ShelfPiece, foretold
from claybed.records.weighing import Weighing
from claybed.ware.drying import Room

DAY_S = 86400.0


def weigh(client: TestClient, mold: str, grams: float, days_ago: float, **more: object) -> int:
    """Log a weight of piece A some days ago; the status of the answer."""
    at = (datetime.now(UTC) - timedelta(days=days_ago)).isoformat().replace("+00:00", "Z")
    entry = {"letter": "A", "mass_g": grams, "at": at, **more}
    return client.post(f"/api/molds/{mold}/weighings", json=entry).status_code


def piece(*grams: float, every_d: float = 1.0) -> ShelfPiece:
    """A piece of 3 kg wet, weighed once in so many days."""
    log = tuple(Weighing(k * every_d * DAY_S, mass) for k, mass in enumerate(grams))
    return ShelfPiece("A", log, 100.0 / 1.3, Room(), trimmed_wet_g=3000.0)


def test_a_piece_that_loses_faster_is_ready_sooner() -> None:
    """Twice the loss between the same weights halves the time to go, within a tenth; the band holds it."""
    slow = foretold(piece(3000.0, 2800.0, 2600.0))
    fast = foretold(piece(3000.0, 2800.0, 2600.0, every_d=0.5))
    for late, soon in zip(slow["states"], fast["states"], strict=True):
        assert late["low_h"] < late["hours"] < late["high_h"]
        assert soon["hours"] == pytest.approx(late["hours"] / 2.0, rel=0.1)
    assert slow["by"] == "scale"


def test_a_state_is_told_by_weight() -> None:
    """At the mass of a state and below it, it is reached, and later states are not."""
    # 118.618 / 176.923 of the wet mass, docs/sources.md iupac-2021
    dry_g = 3000.0 * 0.67045
    told = foretold(piece(3000.0, 2600.0, dry_g * 1.03))
    reached = {state["id"]: state["reached"] for state in told["states"]}
    assert reached["slip_ready"]
    assert not reached["shelf_dry"]


def test_an_odd_weight_is_kept_and_asked_about(client: TestClient) -> None:
    """A piece that gained weight is asked about; a note with the weight answers the question."""
    mold = entered_mold(client)
    assert weigh(client, mold, 3000.0, 4.0, trimmed=True) == 200
    assert weigh(client, mold, 2500.0, 2.0) == 200
    assert weigh(client, mold, 2700.0, 1.0) == 200
    assert "200 g more than before" in client.get(f"/molds/{mold}/drying").text
    other = entered_mold(client)
    weigh(client, other, 3000.0, 4.0, trimmed=True)
    weigh(client, other, 2500.0, 2.0)
    weigh(client, other, 2700.0, 1.0, note="rinsed")
    assert "more than before" not in client.get(f"/molds/{other}/drying").text


def test_only_the_impossible_is_refused(client: TestClient) -> None:
    """A mold of 3 kg wet never weighs 300 g or 9 kg: refused with both bounds, and nothing is kept."""
    mold = entered_mold(client)
    assert weigh(client, mold, 3000.0, 3.0, trimmed=True) == 200
    assert weigh(client, mold, 300.0, 1.0) == 400
    assert weigh(client, mold, 9000.0, 1.0) == 400
    assert "1 weighing" not in client.get(f"/molds/{mold}").text
    assert weigh(client, mold, 1900.0, 0.5) == 200  # a chip: asked about
    assert "less than when dry" in client.get(f"/molds/{mold}/drying").text


def test_the_forecast_opens_to_its_working(client: TestClient) -> None:
    """Every day that is told leads to formula, inputs and source."""
    mold = entered_mold(client)
    for grams, ago in ((3000.0, 3.0), (2800.0, 2.0), (2650.0, 1.0)):
        weigh(client, mold, grams, ago, trimmed=ago == 3.0)
    part = client.get(f"/molds/{mold}/drying").text
    links = re.findall(r'hx-get="([^"]+why[^"]+)"', part)
    assert len(links) == 3
    for link in links:
        shown = client.get(link.replace("&amp;", "&")).text
        assert "90 % interval" in shown
        assert "last_g" in shown


def test_nothing_weighed_and_no_plan(client: TestClient) -> None:
    """Without weight or plan there is nothing to say, and the page says so."""
    mold = entered_mold(client)
    assert "not foretold" in client.get(f"/molds/{mold}/drying").text
    assert "once it has set" in client.get(f"/molds/{mold}/drying", params={"short": True}).text


def test_the_room_is_kept(client: TestClient) -> None:
    """What the keeper types comes back, in either system."""
    asked = {"moving": "fan", "celsius": "25", "humidity": "40 %", "opened": "true"}
    assert client.post("/settings/room", data=asked).is_redirect
    page = client.get("/settings").text
    assert 'value="fan" selected' in page
    assert 'value="25"' in page
    client.cookies.set("claybed_units", "us")
    assert 'value="77"' in client.get("/settings").text
    client.post("/settings/room", data={**asked, "celsius": "86"})
    client.cookies.set("claybed_units", "metric")
    assert 'value="30"' in client.get("/settings").text


@pytest.mark.parametrize(
    "room",
    [
        {"moving": "fan", "celsius": "70"},
        {"moving": "still", "celsius": "-4"},
        {"moving": "still", "humidity": "99"},
        {"moving": "still", "humidity": "-1"},
        {"moving": "still", "humidity": "damp"},
        {"moving": "oven"},
    ],
)
def test_a_room_plaster_must_not_dry_in(client: TestClient, room: dict[str, str]) -> None:
    """Heat that harms plaster, frost, and air in which nothing dries are refused; what was kept stays."""
    client.post("/settings/room", data={"moving": "cabinet"})
    assert client.post("/settings/room", data=room).status_code in (400, 422)
    assert 'value="cabinet" selected' in client.get("/settings").text


def test_a_log_of_the_command_goes_in_once(client: TestClient) -> None:
    """A log is taken in, a second time nothing is doubled, and what is handed out goes in elsewhere whole."""
    mold = entered_mold(client)
    rows = [("2026-11-20T10:00:00+00:00", 3000.0, "just set"), ("2026-11-22T10:00:00+01:00", 2500.0, "")]
    log = "".join(f'{{"at": "{at}", "mass_g": {grams}, "note": "{note}"}}\n' for at, grams, note in rows)

    def take_in(text: str, mold: str = mold) -> str:
        sent = client.post(
            f"/molds/{mold}/weighings", data={"letter": "A"}, files={"file": ("mold.jsonl", text.encode())}
        )
        assert sent.status_code == 303, sent.text
        return str(sent.headers["location"])

    assert "took=2&there=0" in take_in(log)
    again = take_in(log)
    assert "took=0&there=2" in again
    assert "0 weighings taken in, 2 were there already" in client.get(again).text
    out = client.get(f"/molds/{mold}/weighings/A.jsonl").text
    assert [json.loads(line)["mass_g"] for line in out.splitlines()] == [3000.0, 2500.0]
    assert "took=0&there=2" in take_in(out)
    other = client.post(
        f"/molds/{entered_mold(client)}/weighings", data={"letter": "A"}, files={"file": ("a.jsonl", out)}
    )
    assert other.status_code == 400  # the log of another mold
    bare = "".join(line.replace(f', "mold": "{mold}"', "") + "\n" for line in out.splitlines())
    second = entered_mold(client)
    assert "took=2&there=0" in take_in(bare, second)
    assert client.get(f"/molds/{second}/weighings/A.jsonl").text == out.replace(mold, second)


def test_the_registers_own_table_adds_nothing(client: TestClient) -> None:
    """What the register exports as ZIP is all there when it comes back; a table of nothing is refused."""
    mold = entered_mold(client)
    assert weigh(client, mold, 3000.0, 3.0) == 200 and weigh(client, mold, 2500.0, 1.0) == 200
    packed = client.get("/register/export.zip").content
    sent = client.post(
        f"/molds/{mold}/weighings", data={"letter": "A"}, files={"file": ("export.zip", packed)}
    )
    assert "took=0&there=2" in sent.headers["location"]
    sent = client.post(f"/molds/{mold}/weighings", data={"letter": "A"}, files={"file": ("a.csv", b"x\n")})
    assert sent.status_code == 400
