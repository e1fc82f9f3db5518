"""The app with a roomful of people, a server that dies, and requests that nobody should send."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx2
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from claybed.register import entering, keeping
from claybed.register.opening import Register
from claybed.web.app import create_app
from claybed.web.settings import Settings
from tests.journeys.running_app import free_port, running

NOW = "2026-11-25T10:00:00Z"
PIECES = [{"letter": "A", "volume_ml": 2100.0, "wet_g": 3255.0}]
KILLS = 50
PROMISES = (
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
)


def entered(register: Register) -> str:
    """The id of a mold entered by hand."""
    with register.writing() as db:
        return keeping.add_mold(db, name="Gourd bottle", plan_id=None, pieces=PIECES, now=NOW)


def test_thirty_people_read_and_log_at_once(tmp_path: Path) -> None:
    """Thirty clients read pages and log weighings together: no error, and every entry is there once."""
    with running(tmp_path / "data") as served:
        mold = entered(served.app.state.studio.register)

        def person(number: int) -> list[int]:
            statuses = []
            with httpx2.Client(base_url=served.address, timeout=120.0) as client:
                for k in range(6):
                    entry = {"letter": "A", "mass_g": 1000.0 + k, "client_key": f"p{number}-{k}"}
                    statuses.append(client.post(f"/api/molds/{mold}/weighings", json=entry).status_code)
                    statuses.append(client.get(f"/molds/{mold}").status_code)
                    statuses.append(client.get("/shelf").status_code)
            return statuses

        with ThreadPoolExecutor(30) as crowd:
            statuses = [status for own in crowd.map(person, range(30)) for status in own]
        assert set(statuses) == {200}
        with served.app.state.studio.register.reading() as db:
            keys = [one["client_key"] for one in entering.entries(db, "weighing", mold)]
    assert sorted(keys) == sorted(f"p{n}-{k}" for n in range(30) for k in range(6))


def serve(data: Path, port: int) -> subprocess.Popen[bytes]:
    """A server in a process of its own, with all of its pages there; on a busy machine that takes a while."""
    command = [sys.executable, "-m", "claybed", "serve", "--data", str(data), "--port", str(port)]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    until = time.monotonic() + 120.0
    while time.monotonic() < until and child.poll() is None:
        try:
            httpx2.get(f"http://127.0.0.1:{port}/mix", timeout=120.0)
            return child
        except httpx2.HTTPError:
            time.sleep(0.05)
    child.kill()
    raise AssertionError("the server did not answer")


def test_a_server_killed_while_it_writes_loses_nothing(tmp_path: Path) -> None:
    """Killed in the middle of a stream of entries, again and again, it has all that it said it had."""
    data = tmp_path / "data"
    mold = entered(Register(data / "register.sqlite"))
    acknowledged: list[str] = []
    for life in range(2):
        port = free_port()
        with (
            serve(data, port) as child,
            httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=120.0) as client,
        ):
            try:
                for k in range(25):
                    key = f"l{life}-{k}"
                    entry = {"letter": "A", "mass_g": 900.0 + k, "client_key": key}
                    answer = client.post(f"/api/molds/{mold}/weighings", json=entry)
                    assert answer.status_code == 200
                    acknowledged.append(key)
            finally:
                os.kill(child.pid, signal.SIGKILL)
    with Register(data / "register.sqlite").reading() as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        kept = {one["client_key"] for one in entering.entries(db, "weighing", mold)}
    assert set(acknowledged) <= kept


WRITER = """
import sys
from pathlib import Path
from claybed.register import entering
from claybed.register.opening import Register
register, mold, life = Register(Path(sys.argv[1])), sys.argv[2], sys.argv[3]
for k in range(100000):
    with register.writing() as db:
        stamp = entering.Stamp("n", "n", client_key=f"{life}-{k}")
        entering.log_weighing(db, mold, "A", stamp, mass_g=500.0)
    print(k, flush=True)
"""


def test_fifty_kills_in_the_middle_of_a_write(tmp_path: Path) -> None:
    """Fifty times a writer is killed at another moment: no acknowledged entry is ever missing."""
    path = tmp_path / "register.sqlite"
    mold = entered(Register(path))
    expected = set()
    for life in range(KILLS):
        command = [sys.executable, "-c", WRITER, str(path), mold, str(life)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout is not None
            for line in child.stdout:
                expected.add(f"{life}-{int(line)}")
                if int(line) >= life % 7:
                    os.kill(child.pid, signal.SIGKILL)
    with Register(path).reading() as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        kept = {one["client_key"] for one in entering.entries(db, "weighing", mold)}
    assert expected <= kept
    assert len(expected) >= KILLS


def test_the_json_addresses_hold_what_they_promise(tmp_path: Path) -> None:
    """Whatever is sent, nothing is a fault of ours, and every answer is one that the description names."""
    app = create_app(Settings(data=tmp_path / "data", demo=False))
    entered(app.state.studio.register)
    described = schemathesis.openapi.from_asgi("/api/openapi.json", app, headers={"host": "127.0.0.1"})
    tried = []
    for found in described.get_all_operations():
        operation = found.ok()
        tried.append(operation.path)

        @settings(max_examples=25, suppress_health_check=list(HealthCheck), database=None)
        @given(case=operation.as_strategy())
        def hold(case: schemathesis.Case) -> None:
            case.validate_response(case.call(headers={"host": "127.0.0.1"}), checks=PROMISES)

        hold()
    app.state.studio.close()
    assert len(tried) >= 6
