"""The app as people meet it: a server of its own, and pages in a browser."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from claybed.web.app import create_app
from claybed.web.settings import Settings


@dataclass
class Running:
    """A server that answers at `address`, with its app and settings."""

    app: FastAPI
    settings: Settings
    address: str

    @property
    def port(self) -> int:
        """The port it listens on."""
        return self.settings.port


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running(data: Path, *, lan: bool = False, names: tuple[str, ...] = ()) -> Iterator[Running]:
    """Serve a studio from `data` until the block ends, at a port held from when it is chosen."""
    door = socket.socket()
    door.bind(("127.0.0.1", 0))
    port = int(door.getsockname()[1])
    settings = Settings(data=data, port=port, lan=lan, names=names, demo=False)
    app = create_app(settings)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, args=([door],), daemon=True)
    thread.start()
    until = time.monotonic() + 120.0
    while not server.started and time.monotonic() < until:
        time.sleep(0.02)
    assert server.started
    try:
        yield Running(app, settings, f"http://127.0.0.1:{settings.port}")
    finally:
        server.should_exit = True
        thread.join(timeout=120.0)
        door.close()
