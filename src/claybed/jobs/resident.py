"""A child process that stays: it gets something ready once, then answers one question after another.

For work that must answer while a hand is moving, where starting a process each time would be too slow. The
child is a job like any other, with the same limits, and ends with it; questions go over a socket in a
folder that only this user can enter.
"""

from __future__ import annotations

import contextlib
import importlib
import pickle
import socket
import tempfile
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

from claybed.errors import Cancelled, ClaybedError
from claybed.jobs.messages import frame, read_frame
from claybed.jobs.worker import Job

_START_S: Final = 60.0
_RETRY_S: Final = 0.02
ANSWERING: Final = "answering"

Answer = Callable[[Any], Any]


class Resident:
    """Runs `target(payload)` in a child; that returns the function which then answers every question.

    The payload that it gets has "progress" besides, to tell how far it is. `ask` may be called from
    any thread. One question is worked on at a time; of those that wait only the latest is asked, and the
    others get None.
    """

    def __init__(
        self,
        target: str,
        payload: Mapping[str, Any],
        *,
        where: str = "",
        phase: str = "reading",
        start_s: float = _START_S,
    ) -> None:
        """Begin to get ready, in `phase` with its limits, for at most `start_s`."""
        self._folder = tempfile.TemporaryDirectory(prefix="claybed-", ignore_cleanup_errors=True)
        self._path = str(Path(self._folder.name) / "ask")
        order = {"target": target, "payload": dict(payload), "socket": self._path, "phase": phase}
        self._start_s = start_s
        # How far it is with getting ready: the phase it is in, and the share of that, 0 to 1.
        self.phase, self.done = phase, 0.0
        self._job = Job("claybed.jobs.resident:serve", order, where=where, on_progress=self._note)
        self._failure: ClaybedError | None = None
        self._turn = threading.Lock()
        self._count_lock = threading.Lock()
        self._latest = 0
        self._line: socket.socket | None = None
        self.used_s = time.monotonic()
        self._thread = threading.Thread(target=self._work, name="claybed-resident", daemon=True)
        self._thread.start()

    def ask(self, question: Any) -> Any:
        """The child's answer, or None when a later question has come meanwhile.

        Raises the ClaybedError that the child met, also while it got ready.
        """
        with self._count_lock:
            self._latest += 1
            mine = self._latest
        with self._turn:
            if mine != self._latest:
                return None
            self.used_s = time.monotonic()
            line = self._connected()
            try:
                line.sendall(frame(pickle.dumps(question, protocol=pickle.HIGHEST_PROTOCOL)))
                with line.makefile("rb") as stream:
                    ok, answer = pickle.loads(read_frame(stream))
            except (OSError, EOFError):
                raise self._ended() from None
        if not ok:
            raise answer
        return answer

    def close(self) -> None:
        """End the child."""
        self._job.cancel()
        self._thread.join()
        if self._line is not None:
            self._line.close()
        self._folder.cleanup()

    @property
    def is_ready(self) -> bool:
        """Whether it answers at once."""
        return self._line is not None or self.phase == ANSWERING

    @property
    def is_over(self) -> bool:
        """Whether its child has ended, and no question will be answered any more."""
        return not self._thread.is_alive()

    def _note(self, phase: str, done: float) -> None:
        self.phase, self.done = phase, done

    def _work(self) -> None:
        try:
            self._job.run()
        except ClaybedError as error:
            self._failure = error

    def _connected(self) -> socket.socket:
        if self._line is not None:
            return self._line
        until_s = time.monotonic() + self._start_s
        while self._thread.is_alive() and time.monotonic() < until_s:
            line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            try:
                line.connect(self._path)
            except OSError:
                line.close()
                time.sleep(_RETRY_S)
                continue
            self._line = line
            return line
        raise self._ended()

    def _ended(self) -> ClaybedError:
        self._thread.join(timeout=1.0)
        return self._failure or Cancelled("stopped.")


def serve(order: Mapping[str, Any], progress: Callable[[str, float], None]) -> None:
    """The child's side: get ready, then answer until the line is closed."""
    progress(order["phase"], 0.0)
    module_name, _, name = order["target"].partition(":")
    make: Callable[[Mapping[str, Any]], Answer] = getattr(importlib.import_module(module_name), name)
    answer = make({**order["payload"], "progress": progress})
    progress(ANSWERING, 0.0)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door:
        door.bind(order["socket"])
        door.listen(1)
        line, _ = door.accept()
        with line, line.makefile("rb") as stream, contextlib.suppress(EOFError, OSError):
            while True:
                question = pickle.loads(read_frame(stream))
                try:
                    reply: tuple[bool, Any] = (True, answer(question))
                except ClaybedError as error:
                    reply = (False, error)
                line.sendall(frame(pickle.dumps(reply, protocol=pickle.HIGHEST_PROTOCOL)))
