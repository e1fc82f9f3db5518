"""Molds on the shelf: logged once, saved by one person at a time, opened by their tag."""

from __future__ import annotations

import io
import re
import sqlite3
import zipfile
from pathlib import Path

import pytest
from app_client import client_of, entered_mold
from fastapi.testclient import TestClient
from PIL import Image

from claybed.register import entering, keeping
from claybed.web.board import now_text
from claybed.web.settings import Settings


def test_a_weighing_from_the_page(client: TestClient) -> None:
    """A trimmed weight gives the dry target (0.6704 of it at 1 : 1.3), and later ones say how dry it is."""
    mold = entered_mold(client)
    log = f"/molds/{mold}/log"
    assert client.post(
        log, data={"what": "weighing", "letter": "A", "mass": "3 kg", "trimmed": "true"}
    ).is_redirect
    assert client.post(log, data={"what": "weighing", "letter": "A", "mass": "2100"}).is_redirect
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        piece = keeping.one_mold(db, mold)["pieces"][0]
    # 118.618 / 176.923, docs/sources.md iupac-2021
    assert piece["dry_target_g"] == pytest.approx(3000.0 * 0.67045, abs=0.5)
    page = client.get(f"/molds/{mold}").text
    assert "dry enough for slip" in page
    assert "4 % water" in page
    assert "2 weighings" in page
    assert "dry enough for slip" in client.get("/shelf").text


@pytest.mark.parametrize("mass", ["heavy", "-3", "0", "1e99", ""])
def test_a_weight_that_is_none(client: TestClient, mass: str) -> None:
    """What is no weight is refused with a sentence, and nothing is logged."""
    mold = entered_mold(client)
    answer = client.post(f"/molds/{mold}/log", data={"what": "weighing", "letter": "A", "mass": mass})
    assert answer.status_code in (400, 422)
    assert "Nothing logged yet" in client.get(f"/molds/{mold}").text


def test_an_entry_sent_again_is_kept_once(client: TestClient) -> None:
    """A tablet that is not sure sends again; the mold's life shows it once."""
    mold = entered_mold(client)
    entry = {"letter": "A", "mass_g": 2500.0, "client_key": "tab-1.7", "at": "2026-11-25T09:00:00Z"}
    first = client.post(f"/api/molds/{mold}/weighings", json=entry)
    second = client.post(f"/api/molds/{mold}/weighings", json=entry)
    assert (first.status_code, second.status_code) == (200, 200)
    assert first.json()["id"] == second.json()["id"]
    assert client.get(f"/molds/{mold}").text.count("</b> weighed") == 1


@pytest.mark.parametrize(
    "at", ["yesterday", "1999-01-01T00:00:00Z", "2026-11-25T09:00:00", "2999-01-01T00:00:00Z"]
)
def test_a_time_it_cannot_have_happened(client: TestClient, at: str) -> None:
    """A device whose clock is wrong is told so."""
    mold = entered_mold(client)
    answer = client.post(f"/api/molds/{mold}/weighings", json={"letter": "A", "mass_g": 2500.0, "at": at})
    assert answer.status_code == 400
    assert "clock" in answer.json()["says"]


def test_a_pour_entry_moves_the_mold_on(client: TestClient) -> None:
    """What was weighed is kept in grams, and a planned mold becomes a poured one."""
    mold = entered_mold(client)
    shown = {"B.water1": "1.400 kg"}
    entry = {"letter": "B", "batch": 1, "water_g": 1400.0, "plaster_g": 1820.0, "shown": shown}
    kept = client.post(f"/api/molds/{mold}/pours", json=entry).json()
    assert kept["water_g"] == 1400.0
    assert kept["shown"] == '{"B.water1": "1.400 kg"}'
    assert "poured, not yet dry" in client.get(f"/molds/{mold}").text


def test_two_devices_enter_one_batch(client: TestClient) -> None:
    """Both entries of a batch are kept, and the second is told of the first; one sent again is told of none,
    nor is what was entered when it had set, or of another piece.
    """
    mold = entered_mold(client)
    entry = {"letter": "B", "batch": 1, "water_g": 1400.0, "plaster_g": 1820.0, "shown": {}}

    def told(key: str, **more: object) -> dict[str, object] | None:
        sent = {**entry, "client_key": key, **more}
        answer = client.post(f"/api/molds/{mold}/pours", json=sent)
        assert answer.status_code == 200, answer.text
        also: dict[str, object] | None = answer.json().get("also")
        return also

    assert [told("one"), told("one")] == [None, None]
    assert told("set", set_at=now_text()) is None
    assert told("other", letter="A") is None
    also = told("two", water_g=1390.0)
    assert also is not None
    assert (also["letter"], also["batch"], also["by"]) == ("B", 1, "this machine")
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        assert len(entering.entries(db, "pour", mold)) == 4


def test_two_people_save_one_mold(client: TestClient) -> None:
    """The second to save sees both, and nothing of the first is lost."""
    mold = entered_mold(client)
    mine = {"version": "1", "name": "Gourd bottle", "state": "drying", "shelf": "north 2", "note": ""}
    assert client.post(f"/molds/{mold}", data=mine).is_redirect
    answer = client.post(f"/molds/{mold}", data={**mine, "shelf": "south 1"})
    assert answer.status_code == 409
    assert "north 2" in answer.text
    assert "south 1" in answer.text
    version = re.search(r'name="version" value="(\d+)"', answer.text)
    assert version is not None
    assert client.post(f"/molds/{mold}", data={**mine, "shelf": "south 1", "version": version[1]}).is_redirect
    assert "south 1" in client.get(f"/molds/{mold}").text


def photo(size: tuple[int, int], kind: str = "JPEG") -> bytes:
    """A plain photo that says where it was taken."""
    out = io.BytesIO()
    picture = Image.new("RGB", size, "#A8481F")
    exif = picture.getexif()
    exif[0x010E] = "taken at the kiln, 52.1 N"
    picture.save(out, kind, exif=exif)
    return out.getvalue()


def test_a_photo_is_kept_small_and_says_nothing_of_the_camera(client: TestClient) -> None:
    """A large photo is made smaller, and what the camera wrote into it is left out."""
    mold = entered_mold(client)
    answer = client.post(
        f"/molds/{mold}/log",
        data={"what": "fault", "words": "chip"},
        files={"photo": ("a.jpg", photo((3000, 2000)))},
    )
    assert answer.is_redirect
    address = re.search(r"/photos/\w+\.jpg", client.get(f"/molds/{mold}").text)
    assert address is not None
    data = client.get(address[0]).content
    with Image.open(io.BytesIO(data)) as kept:
        assert max(kept.size) == 1600
    assert b"kiln" not in data


@pytest.mark.parametrize("data", [b"", b"<svg onload=alert(1)>", b"\xff\xd8\xff\xe0 no photo"])
def test_what_is_no_photo_is_refused(client: TestClient, data: bytes) -> None:
    """Another file is no photo; nothing of it is kept or shown."""
    mold = entered_mold(client)
    client.post(f"/molds/{mold}/log", data={"what": "note", "words": ""}, files={"photo": ("a.jpg", data)})
    assert list((client.app.state.studio.settings.data / "photos").iterdir()) == []  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", ["..%2fregister.sqlite", "../register.sqlite", "x.jpg", "%00.jpg"])
def test_no_file_but_photos(client: TestClient, name: str) -> None:
    """The photo address reaches nothing else."""
    assert client.get(f"/photos/{name}").status_code == 404


def test_a_tag_opens_its_mold_in_small_letters(client: TestClient) -> None:
    """The code on the tag holds the mold's address, and the short name works however it is typed."""
    mold = entered_mold(client)
    page = client.get(f"/molds/{mold}/tag").text
    assert f"http://127.0.0.1:8731/molds/{mold}" in page
    assert "<svg" in page
    assert client.get(f"/molds/{mold.lower()}").status_code == 200


def test_behind_a_tag_one_may_read_and_log_but_not_change(lan_settings: Settings) -> None:
    """A phone that only scanned the tag sees its mold and can log; lists and changes stay closed."""
    with client_of(lan_settings, "http://studio.local:8731") as client:
        client._transport.client = ("192.0.2.41", 50000)  # type: ignore[attr-defined]
        mold = entered_mold(client)
        page = client.get(f"/molds/{mold}")
        assert page.status_code == 200
        assert "Take off the shelf" not in page.text
        assert client.post(f"/molds/{mold}/log", data={"what": "note", "words": "dusty"}).is_redirect
        saved = client.post(f"/molds/{mold}", data={"version": 1, "name": "x", "state": "ready"})
        assert saved.headers["location"] == "/in"
        assert client.get("/shelf").headers["location"] == "/in"
        assert client.get("/register/export.json").status_code in (303, 401)


def test_the_register_out_and_in(client: TestClient, tmp_path: Path) -> None:
    """Search, export and backup hold what was logged, and a restore brings it back."""
    mold = entered_mold(client)
    client.post(f"/molds/{mold}/log", data={"what": "note", "words": "soaped twice"})
    assert mold in client.get("/register", params={"find": "soaped"}).text
    assert "Nothing has all of these words" in client.get("/register", params={"find": "glaze"}).text
    assert client.get("/register/export.json").json()["tables"]["remark"][0]["words"] == "soaped twice"
    with zipfile.ZipFile(io.BytesIO(client.get("/register/export.zip").content)) as packed:
        assert b"soaped twice" in packed.read("remark.csv")
    backup = client.get("/register/backup.sqlite").content
    client.post(f"/molds/{mold}/log", data={"what": "note", "words": "dropped"})
    assert client.post("/register/restore", files={"file": ("b.sqlite", backup)}).is_redirect
    page = client.get(f"/molds/{mold}").text
    assert "soaped twice" in page
    assert "dropped" not in page
    assert client.post("/register/restore", files={"file": ("b.sqlite", b"rubbish" * 99)}).status_code == 400
    assert "soaped twice" in client.get(f"/molds/{mold}").text
    (tmp_path / "b.sqlite").write_bytes(backup)
    with sqlite3.connect(tmp_path / "b.sqlite") as db:
        assert db.execute("SELECT count(*) FROM device").fetchone()[0] == 0
    db.close()


@pytest.mark.parametrize(
    "address", ["/molds/QQQQQ", "/pour/QQQQQ", "/plans/QQQQQ", "/objects/QQQQQ", "/nothing"]
)
def test_what_is_not_there_says_so(client: TestClient, address: str) -> None:
    """An unknown name is a page with a sentence, not a fault."""
    answer = client.get(address)
    assert answer.status_code == 404
    assert 'role="alert"' in answer.text


def test_the_wall_chart_is_a_paper_at_true_scale(client: TestClient) -> None:
    """The chart comes as PDF at the ratio asked for; a ratio that makes no plaster is refused."""
    answer = client.get("/paper/wall-chart.pdf", params={"ratio": 1.3})
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert client.get("/paper/wall-chart.pdf", params={"ratio": 0}).status_code == 422
