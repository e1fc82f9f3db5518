"""Runs one piece of work in a process of its own, within limits, and brings back its result or one clear
error.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import selectors
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO, Any

import claybed
from claybed.errors import Cancelled, CannotError, ClaybedError, InputError
from claybed.jobs.allowance import Allowance, worked_s
from claybed.jobs.limits import Limit, default_memory_mb
from claybed.jobs.messages import Done, Fault, Message, MessageReader, Order, Refused, Step, frame, write_all

READING = "reading"
_READING_LIMIT = Limit(seconds=20, memory_mb=3000)
# Each thread and allocation arena reserves address space; with many cores that alone would use up
# the limit of a phase. Matrices here are thin, thousands of points by three: threads that wait for one
# another over them cost many times what they compute.
_FEW_THREADS = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "8", "MALLOC_ARENA_MAX": "4"}
if (os.cpu_count() or 1) > int(_FEW_THREADS["OMP_NUM_THREADS"]):
    _FEW_THREADS["NUMBA_NUM_THREADS"] = _FEW_THREADS["OMP_NUM_THREADS"]
_CHUNK_BYTES = 1 << 20
_POLL_S = 0.5
_LAST_WORDS_BYTES = 4096


class Job:
    """One call of `target(payload, progress)` in a child process; `run` blocks, `cancel` may come from any
    thread.

    `target` is "package.module:function"; `payload` and the result must pickle. `memory_mb` bounds the
    child's address space (default: `default_memory_mb`), `phase_limits` bounds single phases, named by what
    the target passes to `progress(phase, done)`; the phase "reading" is limited to 20 s and 3000 MB unless
    told otherwise. `where` is the file or option that errors name.
    """

    def __init__(
        self,
        target: str,
        payload: object,
        *,
        on_progress: Callable[[str, float], None] | None = None,
        memory_mb: int | None = None,
        phase_limits: Mapping[str, Limit] | None = None,
        where: str = "",
    ) -> None:
        limits = {READING: _READING_LIMIT} | dict(phase_limits or {})
        self._order = Order(
            target=target,
            payload=pickle.dumps(payload, protocol=pickle.HIGHEST_PROTOCOL),
            memory_mb=default_memory_mb() if memory_mb is None else memory_mb,
            phase_limits=limits,
        )
        self._on_progress = on_progress or (lambda phase, done: None)
        self._where = where
        self._phase = ""
        self._allowance: Allowance | None = None
        self._is_late = False
        self._cancelled = threading.Event()
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None

    def cancel(self) -> None:
        """Stop the work at once; `run` then raises Cancelled. Calling it before or after the run does no
        harm.
        """
        self._cancelled.set()
        self._kill()

    def run(self) -> Any:
        """Do the work and return the target's result.

        Raises the ClaybedError the target raised; Cancelled after `cancel` or Ctrl-C; InputError when the
        child died, ran out of memory or out of time while reading, CannotError when that happened later. No
        process that the work started outlives the call.
        """
        read_fd, write_fd = os.pipe()
        with (
            tempfile.TemporaryDirectory(prefix="claybed-", ignore_cleanup_errors=True) as scratch,
            tempfile.TemporaryFile() as last_words,
        ):
            try:
                self._start(write_fd, last_words, scratch)
            finally:
                os.close(write_fd)
            try:
                outcome = self._listen(read_fd)
            except KeyboardInterrupt:
                raise Cancelled("stopped; nothing was left behind.") from None
            finally:
                os.close(read_fd)
                self._kill()
                code = self._reap()
            if self._cancelled.is_set():
                raise Cancelled("stopped; nothing was left behind.")
            return self._settle(outcome, code, last_words)

    def _start(self, write_fd: int, last_words: IO[bytes], scratch: str) -> None:
        environment = _FEW_THREADS | os.environ
        environment["TMPDIR"] = scratch  # so that what a killed child leaves there goes too
        home = str(Path(claybed.__file__).resolve().parent.parent)
        environment["PYTHONPATH"] = os.pathsep.join(filter(None, (home, environment.get("PYTHONPATH"))))
        # -P keeps modules in the person's working folder from being taken for ours
        command = [sys.executable, "-P", "-m", "claybed.jobs.child", str(write_fd), scratch]
        with self._lock:
            self._child = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=last_words,
                stderr=last_words,
                pass_fds=(write_fd,),
                start_new_session=True,
                env=environment,
            )

    def _listen(self, read_fd: int) -> Message | None:
        child = self._child
        assert child is not None
        assert child.stdin is not None
        with contextlib.suppress(BrokenPipeError):  # a child that dies on the spot is told apart below
            for body in (pickle.dumps(list(sys.path)), pickle.dumps(self._order)):
                write_all(child.stdin.fileno(), frame(body))
        reader = MessageReader()
        with selectors.DefaultSelector() as selector:
            selector.register(read_fd, selectors.EVENT_READ)
            while not self._cancelled.is_set():
                if not selector.select(self._wait_s()):
                    if self._late() or _ended(child.pid):
                        return None
                    continue
                data = os.read(read_fd, _CHUNK_BYTES)
                if not data:
                    return None
                for message in reader.feed(data):
                    if not isinstance(message, Step):
                        return message
                    self._note(message)
                if self._late():
                    return None
        return None

    def _note(self, step: Step) -> None:
        child = self._child
        if step.phase != self._phase and child is not None:
            self._phase, pid = step.phase, child.pid
            seconds = self._order.phase_limits.get(step.phase, Limit()).seconds
            self._allowance = None if seconds is None else Allowance(seconds, lambda: worked_s(pid))
        self._on_progress(step.phase, step.done)

    def _wait_s(self) -> float:
        return _POLL_S if self._allowance is None else min(_POLL_S, self._allowance.left_s())

    def _late(self) -> bool:
        # Kept, since a child that has ended no longer tells what it worked.
        self._is_late = self._is_late or (self._allowance is not None and self._allowance.left_s() == 0.0)
        return self._is_late

    def _kill(self) -> None:
        with self._lock:
            child = self._child
            if child is not None:
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(child.pid, signal.SIGKILL)

    def _reap(self) -> int:
        child = self._child
        assert child is not None
        assert child.stdin is not None
        with contextlib.suppress(OSError):
            child.stdin.close()
        with self._lock:  # once reaped, its number may belong to someone else, so `cancel` must not see it
            code = child.wait()
            self._child = None
        return code

    def _settle(self, outcome: Message | None, code: int, last_words: IO[bytes]) -> Any:
        if isinstance(outcome, Done):
            return outcome.result
        if isinstance(outcome, Refused):
            raise outcome.error
        if isinstance(outcome, Fault):
            error = self._error(self._memory_words() if outcome.out_of_memory else _fault_words(outcome))
            error.add_note(outcome.trace)
            raise error
        if self._is_late:
            seconds = self._order.phase_limits[self._phase].seconds
            raise self._error(f"took longer than {seconds:g} s, the most allowed for {self._phase}.")
        error = self._error(self._death_words(code))
        last_words.seek(0, os.SEEK_END)
        last_words.seek(max(0, last_words.tell() - _LAST_WORDS_BYTES))
        error.add_note(last_words.read().decode("utf-8", "replace"))
        raise error

    def _error(self, what: str) -> ClaybedError:
        if self._phase == READING:
            return InputError(
                f"cannot be read: {what}",
                where=self._where,
                remedy="Check that the file opens elsewhere, or save it again with fewer triangles.",
            )
        return CannotError(
            what if self._where else f"the work {what}",
            where=f"{self._where} ({self._phase})" if self._where and self._phase else self._where,
            remedy="Try a simpler model; if it happens again, please report it with the file.",
        )

    def _memory_words(self) -> str:
        limit = self._order.phase_limits.get(self._phase, Limit()).memory_mb or self._order.memory_mb
        return f"needs more memory than the {limit} MB allowed."

    def _death_words(self, code: int) -> str:
        if code < 0:
            with contextlib.suppress(ValueError):
                name = signal.Signals(-code).name
                return f"was ended by signal {name}, out of memory or a fault in a library."
        return f"ended without a result (exit {code})."


def run_job(
    target: str,
    payload: object,
    *,
    on_progress: Callable[[str, float], None] | None = None,
    memory_mb: int | None = None,
    phase_limits: Mapping[str, Limit] | None = None,
    where: str = "",
) -> Any:
    """Run `target(payload, progress)` in a child process and return its result; arguments and errors as for
    `Job`.
    """
    job = Job(
        target,
        payload,
        on_progress=on_progress,
        memory_mb=memory_mb,
        phase_limits=phase_limits,
        where=where,
    )
    return job.run()


def _fault_words(fault: Fault) -> str:
    text = " ".join(fault.text.split())
    return f"met a fault ({fault.name}: {text[:200]})." if text else f"met a fault ({fault.name})."


def _ended(pid: int) -> bool:
    """Tell whether the child has ended, without collecting it: its number must stay its own until `_reap`."""
    return os.waitid(os.P_PID, pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None
