"""Asking the app of a studio without a network."""

from __future__ import annotations

import time

from fastapi.testclient import TestClient

from claybed.register import keeping
from claybed.web.app import create_app
from claybed.web.pacing import Pace, Patience
from claybed.web.settings import Settings

NOW = "2026-11-25T10:00:00Z"
HERE = "http://127.0.0.1"


class Clock:
    """A clock that stands still until it is moved on."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        """The seconds it shows."""
        return self.now_s


def client_of(
    settings: Settings, base: str = HERE, clock: Clock | None = None, per_minute: int = 900
) -> TestClient:
    """A client that does not follow redirects, so that a test sees them, of an app whose clock stands."""
    clock = clock or Clock()
    app = create_app(settings, pace=Pace(per_minute=per_minute, clock=clock), patience=Patience(clock=clock))
    return TestClient(app, base_url=base, follow_redirects=False)


def entered_mold(client: TestClient, plan: str | None = None) -> str:
    """The id of a mold of two pieces entered by hand, of a plan when one is named."""
    with client.app.state.studio.register.writing() as db:  # type: ignore[attr-defined]
        pieces = [
            {"letter": "A", "volume_ml": 2100.0, "wet_g": 3255.0},
            {"letter": "B", "volume_ml": 1900.0, "wet_g": 2945.0},
        ]
        return keeping.add_mold(db, name="Gourd bottle", plan_id=plan, pieces=pieces, now=NOW)


def settled(client: TestClient, about: str, seconds: float = 500.0) -> dict[str, object]:
    """The newest job on something, once it has ended."""
    from claybed.register.working import jobs_about

    until = time.monotonic() + seconds
    while time.monotonic() < until:
        with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
            job = jobs_about(db, about)[0]
        if job["state"] not in ("waiting", "running"):
            return job
        time.sleep(0.1)
    raise AssertionError(f"the work on {about} did not end")
