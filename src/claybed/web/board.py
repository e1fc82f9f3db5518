"""The work under way: one job at a time in a process of its own, the rest in a queue; each can be stopped."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from claybed.errors import Cancelled, ClaybedError
from claybed.jobs.worker import Job
from claybed.register import working
from claybed.register.opening import Register, Row

Result = dict[str, Any]
# Does the work with the given way to run a target in a child process, and says what it led to.
Runner = Callable[[str, dict[str, Any], str], Any]
Work = Callable[[Runner], Result]


def now_text() -> str:
    """The time as it is kept: UTC, ISO 8601, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass(slots=True)
class _Under:
    """One piece of work in memory: how far it is, and the child process that does it."""

    phase: str = "waiting"
    done: float = 0.0
    job: Job | None = None
    stopped: bool = False


class Board:
    """Starts work and tells how far it is; `slots` run at once, and the register keeps how each ended."""

    def __init__(self, register: Register, *, slots: int = 1) -> None:
        self._register = register
        self._pool = ThreadPoolExecutor(slots, thread_name_prefix="claybed-job")
        self._under: dict[str, _Under] = {}
        self._lock = threading.Lock()
        self._quiet_until = 0.0
        with register.writing() as db:
            working.note_interrupted(db, now=now_text())

    def start(self, kind: str, about: str, work: Work) -> str:
        """Put `work` in the queue and return its id; `about` is the id of what it works on."""
        with self._register.writing() as db:
            job_id = working.add_job(db, kind=kind, about=about, now=now_text())
        with self._lock:
            self._under[job_id] = _Under()
        self._pool.submit(self._run, job_id, work)
        return job_id

    def keep_quiet(self, seconds: float) -> None:
        """Begin no work before so long from now: whoever opens the app waits for a page, not for work."""
        self._quiet_until = time.monotonic() + seconds

    def state(self, job_id: str) -> Row | None:
        """What the register says of a job, with phase and share done of one under way; None if unknown."""
        with self._register.reading() as db:
            found = working.one_job(db, job_id)
        with self._lock:
            under = self._under.get(job_id)
        if found is not None and under is not None:
            found = found | {"phase": under.phase, "done": under.done}
        return found

    def stop(self, job_id: str) -> None:
        """Stop a job at once, or keep it from beginning."""
        with self._lock:
            under = self._under.get(job_id)
            if under is None:
                return
            under.stopped = True
            job = under.job
        if job is not None:
            job.cancel()

    @property
    def is_busy(self) -> bool:
        """Whether any work is under way or waits."""
        with self._lock:
            return bool(self._under)

    def close(self) -> None:
        """Stop everything and wait until it has ended."""
        with self._lock:
            running = list(self._under)
        for job_id in running:
            self.stop(job_id)
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, job_id: str, work: Work) -> None:
        with self._lock:
            under = self._under[job_id]
        try:
            time.sleep(max(0.0, self._quiet_until - time.monotonic()))
            if under.stopped:
                raise Cancelled("stopped before it began.")
            with self._register.writing() as db:
                working.start_job(db, job_id)
            result = work(self._runner(under))
            self._end(job_id, "done", result=result)
        except Cancelled as error:
            self._end(job_id, "cancelled", says=str(error))
        except ClaybedError as error:
            self._end(job_id, "failed", says=str(error))
        except Exception as error:  # a fault in a job must never take the app with it
            self._end(job_id, "failed", says=f"The work met a fault ({type(error).__name__}: {error}).")
        finally:
            with self._lock:
                self._under.pop(job_id, None)

    def _runner(self, under: _Under) -> Runner:
        def run(target: str, payload: dict[str, Any], where: str) -> Any:
            def note(phase: str, done: float) -> None:
                under.phase, under.done = phase, done

            job = Job(target, payload, on_progress=note, where=where)
            with self._lock:
                if under.stopped:
                    raise Cancelled("stopped before it began.")
                under.job = job
            return job.run()

        return run

    def _end(
        self, job_id: str, state: working.JobState, *, says: str = "", result: Result | None = None
    ) -> None:
        with contextlib.suppress(OSError), self._register.writing() as db:
            working.end_job(db, job_id, state, now=now_text(), says=says, result=result)
