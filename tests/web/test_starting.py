"""What the app loads before its first page: little, so that it is there at once."""

from __future__ import annotations

import subprocess
import sys

import pytest
from app_client import HERE
from fastapi.testclient import TestClient

from claybed.web.front import Front
from claybed.web.settings import Settings

HEAVY = ("numpy", "scipy", "numba", "trimesh", "shapely", "manifold3d", "PIL", "cv2", "segno", "typst")
LATE = ("claybed.actions.mixing", "claybed.records.plan_schema", "claybed.records.bench")


def test_the_first_page_needs_no_arrays_and_no_stage() -> None:
    """Putting the app together loads no library that works with shapes, and nothing that plans."""
    code = f"import sys, claybed.web.app; print([m for m in {HEAVY + LATE!r} if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_the_opening_needs_no_checked_parameters() -> None:
    """What answers the first page loads neither the routes of the later ones nor what they are made with."""
    late = (*HEAVY, *LATE, "fastapi", "pydantic", "claybed.web.app", "claybed.web.pages")
    code = f"import sys, claybed.web.front; print([m for m in {late!r} if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_the_opening_answers_what_the_whole_app_answers(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before and after the rest has come in, first page and files are the same, and so is the guard."""
    monkeypatch.setattr("claybed.web.front._UNASKED_S", 3600.0)
    front = Front(settings)
    asked = (
        "/",
        "/static/app.css",
        "/assets/colours.css",
        "/assets/htmx/htmx.min.js",
        "/assets/demo/gourd.stl",
    )
    with TestClient(front, base_url=HERE, follow_redirects=False) as client:
        front.bring_in = lambda: None  # type: ignore[assignment, method-assign, return-value]
        early = [client.get(address) for address in asked]
        foreign = client.get("/", headers={"host": "evil.example"})
        assert not front.is_whole
        del front.bring_in
        front.bring_in()
        late = [client.get(address) for address in asked]
    assert [one.status_code for one in early] == [200, 200, 200, 200, 404]
    assert foreign.status_code == 400
    for first, second in zip(early[:4], late[:4], strict=True):
        assert first.content == second.content
        assert {**first.headers, "etag": ""} == {**second.headers, "etag": ""}
    assert late[4].status_code == 404


def test_who_asks_for_more_early_waits_for_it(settings: Settings) -> None:
    """A page beyond the first is answered although nothing of it was there when it was asked for."""
    front = Front(settings)
    with TestClient(front, base_url=HERE) as client:
        assert client.get("/mix").status_code == 200
        assert front.is_whole
        assert client.get("/", headers={"accept": "application/json"}).status_code == 200


def test_the_opening_lets_no_stranger_look(lan_settings: Settings) -> None:
    """Over the network a device without the code is sent to type it, by the opening too."""
    front = Front(lan_settings)
    with TestClient(
        front, base_url="http://studio.local", follow_redirects=False, client=("192.0.2.7", 4000)
    ) as client:
        answer = client.get("/")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/in"
