"""A studio with an object, its plan and a mold of it, served to a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx2
import pytest

from tests.actions.planned import write_stl
from tests.journeys.running_app import Running, running
from tests.pieces import solids


@pytest.fixture(scope="session")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A studio on this machine."""
    with running(tmp_path_factory.mktemp("studio") / "data") as served:
        yield served


@pytest.fixture(scope="session")
def tumbler(studio: Running, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Ids of an object that was surveyed, of its plan, and of a mold of it."""
    file = write_stl(solids.cup_with_handle(), tmp_path_factory.mktemp("file") / "handled cup.stl")
    with httpx2.Client(base_url=studio.address, timeout=120.0) as client:
        made = client.post("/objects", files={"file": (file.name, file.read_bytes())}, data={"mass": "310g"})
        thing = made.headers["location"].rpartition("/")[2]
        wait_for(studio, thing)
        client.post(f"/objects/{thing}/plans", data={"bucket_l": "1.5L"})
        plan = wait_for(studio, thing)["plan"]
        mold = client.post(f"/plans/{plan}/molds", data={"name": "Handled cup"}).headers["location"]
    return {"object": thing, "plan": str(plan), "mold": mold.rpartition("/")[2], "file": str(file)}


def wait_for(studio: Running, about: str) -> dict[str, Any]:
    """What the newest work on something led to."""
    import time

    from claybed.register.working import jobs_about

    until = time.monotonic() + 500.0
    while time.monotonic() < until:
        with studio.app.state.studio.register.reading() as db:
            job = jobs_about(db, about)[0]
        if job["state"] == "done":
            return dict(job["result"])
        assert job["state"] in ("waiting", "running"), job["says"]
        time.sleep(0.1)
    raise AssertionError(f"the work on {about} did not end")


@pytest.fixture
def lan(tmp_path: Path) -> Iterator[Running]:
    """A studio that is open to its network as studio.local."""
    with running(tmp_path / "lan", lan=True, names=("studio.local",)) as served:
        yield served
