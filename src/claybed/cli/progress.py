"""Says what is going on, on standard error, once something has taken a second."""

from __future__ import annotations

import contextlib
import sys
import threading
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

_SILENT_S = 1.0


class Meter:
    """A progress bar on a terminal, one plain line for each phase elsewhere; nothing for work under a second.

    Used as a context manager; call it with the phase and how much of it is done, 0 to 1.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._phase = "starting"
        self._done = 0.0
        self._shown = False
        self._bar: Progress | None = None
        self._task: TaskID | None = None
        self._timer = threading.Timer(_SILENT_S, self._show)
        self._timer.daemon = True

    def __enter__(self) -> Meter:
        self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._timer.cancel()
        with self._lock:
            self._shown = False
            if self._bar is not None:
                self._bar.stop()
                self._bar = None

    def __call__(self, phase: str, done: float) -> None:
        """Note that `done` (0 to 1) of `phase` is finished."""
        with self._lock:
            fresh = phase != self._phase
            self._phase, self._done = phase, done
            if self._shown:
                self._draw(fresh=fresh)

    def _show(self) -> None:
        with self._lock:
            if self._timer.finished.is_set():  # the work ended while this thread was waking up
                return
            self._shown = True
            if sys.stderr.isatty():
                self._bar = _bar()
                self._bar.start()
                self._task = self._bar.add_task(self._phase, total=1.0)
            self._draw(fresh=True)

    def _draw(self, *, fresh: bool) -> None:
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, description=self._phase, completed=self._done)
        elif fresh:
            with contextlib.suppress(OSError):
                sys.stderr.write(f"claybed: {self._phase} …\n")
                sys.stderr.flush()


def _bar() -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    return Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
