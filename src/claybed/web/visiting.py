"""Who is asking: this machine, a device that was let in, or whoever scanned a tag."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from starlette.requests import Request

from claybed.register.devices import known_device, seen
from claybed.web.board import now_text
from claybed.web.guarding import host_of
from claybed.web.settings import LOOPBACK
from claybed.web.studio import Studio

COOKIE: Final = "claybed_device"
Role = Literal["keeper", "bench", "tag"]
_LOCAL: Final = ("127.0.0.1", "::1", "testclient")


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks: a `name` for the log, and a `role`."""

    name: str
    role: Role

    @property
    def may_change(self) -> bool:
        """Whether this visitor may change and delete."""
        return self.role == "keeper"

    @property
    def may_look(self) -> bool:
        """Whether this visitor may see more than the mold of a tag."""
        return self.role in ("keeper", "bench")


def studio_of(request: Request) -> Studio:
    """The app's studio."""
    studio: Studio = request.app.state.studio
    return studio


def visitor_of(request: Request) -> Visitor:
    """Who sent a request: on the machine itself the keeper, elsewhere whoever the device's cookie names.

    Only the machine's own names count as on the machine: what asks for its network name came by the network,
    even when something on this machine passed it on.
    """
    studio = studio_of(request)
    caller = request.client.host if request.client else ""
    if (caller in _LOCAL or caller.startswith("127.")) and host_of(
        request.headers.get("host", "")
    ) in LOOPBACK:
        return Visitor("this machine", "keeper")
    token = request.cookies.get(COOKIE, "")
    if token:
        with studio.register.reading() as db:
            device = known_device(db, token)
        if device is not None:
            with studio.register.writing() as db:
                seen(db, device["id"], now=now_text())
            return Visitor(str(device["name"]), device["role"])
    return Visitor("a tag", "tag")
