"""What stands before every page: host, origin, size and rate of requests, and the headers of every answer.

A page of another site must not reach into the app through the browser of somebody who has it open. So a
request must ask for one of our own host names (a foreign name that resolves to this machine does not), and
what changes something must come from our own pages. Plain HTTP on a network name carries no Sec-Fetch-Site,
so Origin decides there.
"""

from __future__ import annotations

from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from claybed.web.pacing import Pace
from claybed.web.settings import Settings

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; frame-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=(self)",
}
# Marks what a page's script sends in place of its form; where the answer sends it on to.
FORM: Final = "x-claybed-form"
SENT_ON: Final = "x-claybed-to"
_READING: Final = frozenset({"GET", "HEAD", "OPTIONS"})


def host_of(header: str) -> str:
    """The host name in a Host header, without its port."""
    name = header.strip().casefold()
    if name.startswith("["):
        return name.partition("]")[0] + "]"
    return name.partition(":")[0]


def from_our_pages(headers: Headers) -> bool:
    """Tell whether a request that changes something was sent by one of our own pages, or by no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    if origin is None:
        return True
    return bool(origin) and urlsplit(origin).netloc.casefold() == headers.get("host", "").casefold()


class Guard:
    """ASGI middleware with every rule above; refuses with one plain sentence."""

    def __init__(self, app: ASGIApp, settings: Settings, pace: Pace) -> None:
        self._app = app
        self._settings = settings
        self._pace = pace

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope, Headers(scope=scope))
        if refusal is not None:
            await refusal(scope, receive, send)
            return

        by_script = FORM in Headers(scope=scope)

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if by_script and message["status"] == 303:
                    # A script cannot see where it is sent on to, and would fetch that page for nothing.
                    message["status"] = 200
                    headers[SENT_ON] = headers["location"]
                    del headers["location"]
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                if not scope["path"].startswith(("/static/", "/assets/")):
                    headers.setdefault("cache-control", "no-store")
            await send(message)

        await self._app(scope, receive, sealed)

    def _refusal(self, scope: Scope, headers: Headers) -> PlainTextResponse | None:
        if host_of(headers.get("host", "")) not in self._settings.hosts:
            return PlainTextResponse("This address is not claybed's. Open the one it printed.", 400)
        if scope["method"] not in _READING and not from_our_pages(headers):
            return PlainTextResponse("Only claybed's own pages may change something here.", 403)
        wait_s = self._wait_s(scope)
        if wait_s:
            says = f"Too many requests. Wait {wait_s} s."
            return PlainTextResponse(says, 429, headers={"retry-after": str(wait_s)})
        return None

    def _wait_s(self, scope: Scope) -> int:
        # Loopback is the person's own machine and is not counted.
        caller = (scope.get("client") or ("", 0))[0]
        if caller.startswith("127.") or caller in ("::1", "", "testclient"):
            return 0
        return self._pace.wait_s(caller)
