"""Nobody reaches into the app from another site, another name, or without being let in."""

from __future__ import annotations

from pathlib import Path

import pytest
from app_client import Clock, client_of
from fastapi.testclient import TestClient

from claybed.register.devices import let_in, shut_out
from claybed.web.settings import Settings

NOW = "2026-11-25T10:00:00Z"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "studio.local", ""])
def test_another_name_is_refused(client: TestClient, host: str) -> None:
    """A host name that is not ours gets no page, even if it resolves to this machine."""
    assert client.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1:8731", "localhost", "[::1]:8731", "LOCALHOST:1"])
def test_our_own_names_get_the_page(client: TestClient, host: str) -> None:
    """This machine's names work with any port."""
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://127.0.0.1"}, 303),
        ({"sec-fetch-site": "same-origin"}, 303),
        ({}, 303),
    ],
)
def test_only_our_pages_change_something(client: TestClient, headers: dict[str, str], status: int) -> None:
    """A form of another site is refused by either header; a program that sends none is not a browser."""
    assert client.post("/units", data={"system": "us"}, headers=headers).status_code == status


def test_every_page_carries_its_policy(client: TestClient) -> None:
    """No page may load from elsewhere or be framed by another site."""
    answer = client.get("/")
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "://" not in answer.text.replace("http://www.w3.org/", "")


@pytest.mark.parametrize("to", ["//evil.example", "http://evil.example", "/\\evil.example", "javascript:1"])
def test_going_back_stays_here(client: TestClient, to: str) -> None:
    """A choice of units never leads to another site."""
    answer = client.post("/units", data={"system": "us", "back": to})
    assert answer.headers["location"] == "/"


def from_network(settings: Settings, clock: Clock | None = None, per_minute: int = 900) -> TestClient:
    """A client on another machine of the studio's network."""
    made = client_of(settings, "http://studio.local:8731", clock, per_minute)
    made._transport.client = ("192.0.2.40", 50000)  # type: ignore[attr-defined]
    return made


def test_a_device_without_the_code_stays_out(lan_settings: Settings) -> None:
    """Lists, uploads and changes ask for the code; nothing of the studio is shown."""
    with from_network(lan_settings) as client:
        answer = client.get("/")
        assert (answer.status_code, answer.headers["location"]) == (303, "/in")
        assert client.get("/api/objects/ABCDE/shape").status_code == 401
        assert client.post("/objects", files={"file": ("a.stl", b"x")}).status_code == 303
        assert client.get("/in").status_code == 401


def test_the_code_lets_a_device_in_until_it_is_shut_out(lan_settings: Settings) -> None:
    """The link sets a cookie and leaves the address; bench devices may look but not change."""
    with from_network(lan_settings) as client:
        register = client.app.state.studio.register  # type: ignore[attr-defined]
        with register.writing() as db:
            device, token = let_in(db, name="tablet", role="bench", now=NOW)
        answer = client.get("/in", params={"token": token})
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        cookie = answer.headers["set-cookie"].casefold()
        assert "httponly" in cookie
        assert "samesite=strict" in cookie
        assert client.get("/").status_code == 200
        assert client.get("/objects/new").status_code == 403
        with register.writing() as db:
            shut_out(db, device, now=NOW)
        assert client.get("/").status_code == 303


def test_wrong_codes_wait_longer_and_longer(lan_settings: Settings) -> None:
    """After a few wrong codes the next one, right or wrong, waits 2 s, then twice as long each time."""
    clock = Clock()
    with from_network(lan_settings, clock) as client:

        def tries(token: str) -> int:
            return client.post("/in", data={"token": token}).status_code

        assert [tries(f"wrong {n}") for n in range(8)] == [401] * 6 + [429] * 2
        assert "Wait 2 s" in client.post("/in", data={"token": "wrong"}).text
        clock.now_s += 1.9
        assert tries("wrong") == 429
        clock.now_s += 0.2
        assert tries("wrong") == 401
        assert "Wait 4 s" in client.post("/in", data={"token": "wrong"}).text


def test_a_crowd_from_one_place_is_slowed(lan_settings: Settings) -> None:
    """One caller cannot ask without end, and is told when it may ask again."""
    clock = Clock()
    with from_network(lan_settings, clock, per_minute=30) as client:
        answers = [client.get("/assets/colours.css") for _ in range(31)]
        assert [answer.status_code for answer in answers] == [200] * 30 + [429]
        assert answers[-1].headers["retry-after"] == "2"
        assert "Wait 2 s" in answers[-1].text
        clock.now_s += 2.0
        assert client.get("/assets/colours.css").status_code == 200


def test_loopback_is_never_counted(settings: Settings) -> None:
    """The person's own machine may ask as often as it likes."""
    with client_of(settings, per_minute=1) as client:
        for caller in ("127.0.0.1", "127.0.0.9", "::1"):
            client._transport.client = (caller, 50000)  # type: ignore[attr-defined]
            assert {client.get("/assets/colours.css").status_code for _ in range(3)} == {200}


def test_a_form_sent_by_script_is_told_where_to_go(client: TestClient) -> None:
    """What a page's script sends is answered with the address that follows, or with a sentence; a form that
    is sent as ever is sent on.
    """
    script = {"x-claybed-form": "1", "accept": "application/json, text/html"}
    room = {"moving": "fan", "celsius": "24"}
    done = client.post("/settings/room", data=room, headers=script)
    assert (done.status_code, done.headers["x-claybed-to"]) == (200, "/settings?kept=true")
    assert "location" not in done.headers
    refused = client.post("/settings/room", data={**room, "humidity": "damp"}, headers=script)
    assert refused.status_code == 400
    assert "“damp” is no humidity" in refused.json()["says"]
    assert "x-claybed-to" not in refused.headers
    plain = client.post("/settings/room", data=room)
    assert (plain.status_code, plain.headers["location"]) == (303, "/settings?kept=true")


def test_vendored_files_and_nothing_else(client: TestClient, tmp_path: Path) -> None:
    """Listed assets are served; a path out of them is not."""
    assert client.get("/assets/htmx/htmx.min.js").status_code == 200
    for path in ("/assets/demo/gourd.stl", "/assets/fonts/..%2f..%2f__init__.py", "/static/../app.py"):
        assert client.get(path).status_code == 404
