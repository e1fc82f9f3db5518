"""The whole studio out in one file and in again, and files that no studio gave."""

from __future__ import annotations

import io
import json
import os
import sqlite3
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from app_client import NOW, client_of
from fastapi import Request
from fastapi.testclient import TestClient

from claybed.register import keeping
from claybed.web.app import create_app
from claybed.web.settings import Settings
from claybed.web.studio import Studio
from claybed.web.whole_copy import FACTS, REGISTER, kept_files, packed_studio
from claybed.web.whole_return import KEPT

PLAN = "plans/gourd-1"
SUMMARY = {"pieces": [], "water_g": 1.0, "plaster_g": 1.3}


def filled(studio: Studio, *, name: str = "Gourd", content: bytes = b"solid a\n") -> tuple[str, str]:
    """Ids of an object with its file and of a plan with its folder, entered without any work."""
    data = studio.settings.data
    with studio.register.writing() as db:
        thing = keeping.add_object(db, name=name, how="file", file="gourd.stl", now=NOW)
        entry = keeping.PlanEntry(folder=PLAN, brief={}, sha256="0" * 64, ready=True, summary=SUMMARY)
        plan = keeping.add_plan(db, thing, entry, now=NOW)
    studio.object_folder(thing).mkdir()
    (studio.object_folder(thing) / "gourd.stl").write_bytes(content)
    (data / PLAN / "sheets").mkdir(parents=True)
    (data / PLAN / "plan.json").write_text('{"ready": true}', "utf-8")
    (data / PLAN / ".claybed-folder.json").write_text("{}", "utf-8")
    (data / PLAN / "sheets" / "bench sheet.pdf").write_bytes(b"%PDF-1.7 " + os.urandom(3000))
    (data / "photos" / "chip.jpg").write_bytes(os.urandom(2000))
    return thing, plan


def tree(studio: Studio) -> dict[str, bytes]:
    """Every file of a studio by its name, and what the register holds."""
    with studio.register.reading() as db:
        tables = {t: [tuple(r) for r in db.execute(f"SELECT * FROM {t}")] for t in ("object", "plan", "mold")}
    files = {one.name: one.path.read_bytes() for one in kept_files(studio.settings.data)}
    return files | {"register": repr(tables).encode()}


def of(client: TestClient) -> Studio:
    """The studio that a client asks."""
    studio: Studio = client.app.state.studio  # type: ignore[attr-defined]
    return studio


def test_everything_comes_back(client: TestClient, tmp_path: Path) -> None:
    """A backup taken to another, newer studio brings objects, plans, sheets and photos there, byte for byte,
    and what was there before is kept.
    """
    thing, _ = filled(of(client))
    page = client.get("/register").text
    assert "under 1 MB before it is packed" in page
    answer = client.get("/register/backup.zip")
    assert answer.headers["content-type"] == "application/zip"
    whole = tree(of(client))

    with client_of(Settings(data=tmp_path / "other", demo=False)) as other:
        filled(of(other), name="Something else", content=b"solid b\n")
        before = {one.name: one.path.read_bytes() for one in kept_files(of(other).settings.data)}
        sent = other.post("/register/restore", files={"file": ("b.zip", answer.content)})
        assert sent.is_redirect, sent.text
        assert tree(of(other)) == whole
        kept = {one.name: one.path.read_bytes() for one in kept_files(of(other).settings.data / KEPT)}
        assert kept == before
        assert other.get(f"/objects/{thing}").status_code == 200
        assert "The backup is back" in other.get(sent.headers["location"]).text
        # And once more, the file alone as the page's script sends it: what was kept the last time makes room.
        alone = {"content-type": "application/octet-stream"}
        sent = other.post("/register/restore", content=answer.content, headers=alone)
        assert sent.is_redirect, sent.text
        assert tree(of(other)) == whole
        assert "No backup was chosen" in other.post("/register/restore", content=b"", headers=alone).text
        assert tree(of(other)) == whole
        assert [one.name for one in of(other).settings.data.glob(".[ru]*")] == []


def test_a_backup_is_sent_as_it_is_packed(client: TestClient) -> None:
    """No piece of a backup is larger than a few megabytes, and unfinished files stay out."""
    thing, _ = filled(of(client))
    folder = of(client).object_folder(thing)
    (folder / "scan.stl").write_bytes(os.urandom(1 << 20) * 12)
    (folder / ".gourd.stl.part").write_bytes(b"half")
    (folder / "away").symlink_to("/etc/hostname")
    pieces = list(packed_studio(of(client).register, of(client).settings.data))
    assert max(map(len, pieces)) < 4 << 20
    with zipfile.ZipFile(io.BytesIO(b"".join(pieces))) as packed:
        assert packed.testzip() is None
        names = packed.namelist()
    assert f"objects/{thing}/scan.stl" in names
    assert [name for name in names if name.endswith((".part", "away"))] == []


def changed(whole: bytes, change: Callable[[dict[str, bytes]], None]) -> bytes:
    """A backup with other content."""
    with zipfile.ZipFile(io.BytesIO(whole)) as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    change(files)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in files.items():
            packed.writestr(name, data)
    return out.getvalue()


def with_sql(whole: bytes, sql: str, tmp_path: Path) -> bytes:
    """A backup whose register was changed by hand."""
    place = tmp_path / "other.sqlite"

    def change(files: dict[str, bytes]) -> None:
        place.write_bytes(files[REGISTER])
        db = sqlite3.connect(place)
        db.executescript(sql)
        db.close()
        files[REGISTER] = place.read_bytes()

    return changed(whole, change)


def with_link(whole: bytes) -> bytes:
    """A backup with a link to a file of the machine."""
    out = io.BytesIO(whole)
    with zipfile.ZipFile(out, "a") as packed:
        link = zipfile.ZipInfo("objects/x/link")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        packed.writestr(link, "/etc/passwd")
    return out.getvalue()


def twice(whole: bytes) -> bytes:
    """A backup that holds one name two times."""
    out = io.BytesIO(whole)
    with pytest.warns(UserWarning, match="Duplicate name"), zipfile.ZipFile(out, "a") as packed:
        packed.writestr(REGISTER, b"x")
    return out.getvalue()


def spoilt(whole: bytes) -> bytes:
    """A backup with other bytes in the middle of a file than its sum says."""
    with zipfile.ZipFile(io.BytesIO(whole)) as packed:
        at = packed.getinfo("photos/chip.jpg").header_offset + 200
    return whole[:at] + bytes(b ^ 0xFF for b in whole[at : at + 50]) + whole[at + 50 :]


HOSTILE: dict[str, Callable[[bytes, Path], bytes]] = {
    "leads up": lambda w, t: changed(w, lambda f: f.update({"objects/../../up": b"x"})),
    "absolute": lambda w, t: changed(w, lambda f: f.update({"/tmp/up": b"x"})),
    "backslash": lambda w, t: changed(w, lambda f: f.update({"objects\\..\\up": b"x"})),
    "elsewhere": lambda w, t: changed(w, lambda f: f.update({"settings/x": b"x"})),
    "a file for a folder": lambda w, t: changed(w, lambda f: f.update({"objects": b"x"})),
    "file and folder": lambda w, t: changed(w, lambda f: f.update({"objects/a": b"x", "objects/a/b": b"x"})),
    "control letter": lambda w, t: changed(w, lambda f: f.update({"objects/a\nb": b"x"})),
    "a link": lambda w, t: with_link(w),
    "one name twice": lambda w, t: twice(w),
    "bomb": lambda w, t: changed(w, lambda f: f.update({"objects/x/zeros": bytes(80_000_000)})),
    "cut short": lambda w, t: w[: len(w) * 2 // 3],
    "spoilt": lambda w, t: spoilt(w),
    "no register": lambda w, t: changed(w, lambda f: f.pop(REGISTER) and None),
    "rubbish for a register": lambda w, t: changed(w, lambda f: f.update({REGISTER: b"rubbish" * 500})),
    "a later backup": lambda w, t: changed(w, lambda f: f.update({FACTS: b'{"claybed_backup": 99}'})),
    "another zip": lambda w, t: changed(w, lambda f: f.clear()),
    "no facts": lambda w, t: changed(w, lambda f: f.update({FACTS: b"[" * 20_000})),
    "a plan elsewhere": lambda w, t: with_sql(w, "UPDATE plan SET folder = '../../etc'", t),
    "a file elsewhere": lambda w, t: with_sql(w, "UPDATE object SET file = '../../../etc/passwd'", t),
    "does things by itself": lambda w, t: with_sql(
        w, "CREATE TRIGGER gone AFTER INSERT ON object BEGIN DELETE FROM mold; END", t
    ),
}


@pytest.mark.parametrize("how", HOSTILE)
def test_what_no_studio_gave_changes_nothing(client: TestClient, how: str, tmp_path: Path) -> None:
    """A backup that is broken, made to lead elsewhere or to fill the disk is refused with a sentence, and
    every file and entry is as before.
    """
    filled(of(client))
    whole = client.get("/register/backup.zip").content
    bad = HOSTILE[how](whole, tmp_path)
    (of(client).settings.data / "photos" / "later.jpg").write_bytes(b"later")
    before = tree(of(client))
    answer = client.post("/register/restore", files={"file": ("b.zip", bad)})
    assert answer.status_code == 400, answer.text
    assert "Traceback" not in answer.text
    assert tree(of(client)) == before
    assert not (tmp_path / "up").exists()
    assert [one.name for one in of(client).settings.data.glob(".restor*")] == []


def test_the_register_alone_is_looked_at_too(client: TestClient, tmp_path: Path) -> None:
    """A register without files whose plan lies elsewhere is refused like a whole backup."""
    filled(of(client))
    place = tmp_path / "b.sqlite"
    place.write_bytes(client.get("/register/backup.sqlite").content)
    db = sqlite3.connect(place)
    db.execute("UPDATE plan SET folder = '/etc'")
    db.commit()
    db.close()
    answer = client.post("/register/restore", files={"file": ("b.sqlite", place.read_bytes())})
    assert answer.status_code == 400
    assert "no claybed wrote" in answer.text


def test_who_may_not_change_sends_no_backup(lan_settings: Settings) -> None:
    """A guest's backup is refused before a byte of it is read, and a form without a file is told."""
    head = {"content-type": "multipart/form-data; boundary=x"}
    app = create_app(lan_settings)
    with TestClient(
        app, base_url="http://studio.local", follow_redirects=False, client=("192.0.2.7", 4000)
    ) as far:
        parsed: list[object] = []
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Request, "form", lambda *args, **more: parsed.append(args))
            answer = far.post("/register/restore", content=bytes(1 << 20), headers=head)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/in"
        assert parsed == []
    with client_of(lan_settings) as here:
        assert "No backup was chosen" in here.post("/register/restore", data={"file": "b.zip"}).text


def test_no_backup_under_work(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """While something is being planned a backup waits."""
    whole = client.get("/register/backup.zip").content
    monkeypatch.setattr(type(of(client).board), "is_busy", property(lambda board: True))
    answer = client.post("/register/restore", files={"file": ("b.zip", whole)})
    assert answer.status_code == 422
    assert "work under way" in answer.text


KILLED = """
import sys, os
from pathlib import Path
from claybed.register.opening import Register
from claybed.web import whole_return
data, backup, when = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3]
real = whole_return.restore
def restore(register, copy):
    if when == "after":
        real(register, copy)
    os._exit(9)
whole_return.restore = restore
if when == "unpacked":
    whole_return._change_places = lambda *_: os._exit(9)
with backup.open("rb") as file:
    whole_return.bring_back(Register(data / "register.sqlite"), data, file)
"""


@pytest.mark.parametrize("when", ["unpacked", "before", "after"])
def test_a_return_that_was_killed_is_settled_at_the_next_start(tmp_path: Path, when: str) -> None:
    """Killed before the register changed, everything is as it was; killed after it, everything is the
    backup's. Never files of the one with the register of the other.
    """
    source = Studio(Settings(data=tmp_path / "a", demo=False))
    filled(source)
    backup = tmp_path / "b.zip"
    backup.write_bytes(b"".join(packed_studio(source.register, source.settings.data)))
    coming = tree(source)
    source.close()
    here = Studio(Settings(data=tmp_path / "here", demo=False))
    filled(here, name="Cup", content=b"solid cup\n")
    was = tree(here)
    here.close()
    command = [sys.executable, "-c", KILLED, str(tmp_path / "here"), str(backup), when]
    assert subprocess.run(command, check=False).returncode == 9
    again = Studio(Settings(data=tmp_path / "here", demo=False))
    try:
        assert tree(again) == (coming if when == "after" else was)
        assert [one.name for one in again.settings.data.glob(".restor*")] == []
    finally:
        again.close()
    assert json.loads((tmp_path / "here" / PLAN / "plan.json").read_text()) == {"ready": True}
