"""What answers first: the opening page and its files at once, while the rest of the app is still coming in.

The routes with checked parameters take longer to put together than a page takes to show. So the first page
is served without them, they come in behind it on a thread, and whoever asks for more meanwhile waits for
them: nobody is refused, and nothing is answered differently.
"""

from __future__ import annotations

import gc
import threading
from typing import Final

from anyio.to_thread import run_sync
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from claybed.web.first_page import files_of_pages, shelf
from claybed.web.guarding import Guard
from claybed.web.pacing import Pace
from claybed.web.settings import Settings
from claybed.web.showing import show_demo
from claybed.web.studio import Studio

# With nobody asking, the rest begins to come in so long after the start, s.
_UNASKED_S: Final = 0.5


class Front:
    """ASGI app of one studio. Raises InputError when the register cannot be used."""

    def __init__(self, settings: Settings) -> None:
        self.studio = Studio(settings)
        self._settings = settings
        opening = Starlette(routes=[Route("/", shelf), *files_of_pages()])
        opening.state.studio = self.studio
        self._pace = Pace()
        self._opening = Guard(opening, settings, self._pace)
        self._whole: ASGIApp | None = None
        self._one_at_a_time = threading.Lock()
        self._unasked = threading.Timer(_UNASKED_S, self.bring_in)
        self._unasked.daemon = True

    @property
    def is_whole(self) -> bool:
        """Whether every page has come in."""
        return self._whole is not None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or begin and end with the server."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
        elif self._whole is None and _is_opening(scope):
            await self._opening(scope, receive, send)
            if scope["path"] == "/":
                self._unasked.cancel()
                threading.Thread(target=self.bring_in, name="claybed-rest", daemon=True).start()
        else:
            whole = await run_sync(self.bring_in) if self._whole is None else self._whole
            await whole(scope, receive, send)

    def bring_in(self) -> ASGIApp:
        """The whole app, put together once."""
        with self._one_at_a_time:
            if self._whole is None:
                # What is loaded stays for good: looking through it again and again would only hold pages up.
                gc.disable()
                try:
                    from claybed.web.app import create_app

                    self._whole = create_app(self._settings, self.studio, pace=self._pace)
                    gc.freeze()
                finally:
                    gc.enable()
            return self._whole

    async def _live(self, receive: Receive, send: Send) -> None:
        while True:
            message = await receive()
            if message["type"] == "lifespan.startup":
                if self._settings.demo:
                    show_demo(self.studio)
                self._unasked.start()
                await send({"type": "lifespan.startup.complete"})
            elif message["type"] == "lifespan.shutdown":
                self._unasked.cancel()
                self.studio.close()
                await send({"type": "lifespan.shutdown.complete"})
                return


def _is_opening(scope: Scope) -> bool:
    """Tell whether a request is for the first page, as a person reads it, or for one of its files."""
    if scope["method"] not in ("GET", "HEAD"):
        return False
    if scope["path"] == "/":
        accept = next((value for name, value in scope["headers"] if name == b"accept"), b"")
        return b"application/json" not in accept
    return str(scope["path"]).startswith(("/static/", "/assets/"))
