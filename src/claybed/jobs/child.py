"""The child process of a job: started by `claybed.jobs.worker`, ends with its parent.

The parent's order comes on standard input, which then stays open: when it closes, the parent is gone.
Messages go out on the file descriptor named in the first argument; the second is the folder for temporary
files. Standard output is not used, since libraries write to it.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import pickle
import shutil
import signal
import sys
import time
import traceback
from typing import BinaryIO

from claybed.errors import ClaybedError
from claybed.jobs.limits import bind_memory
from claybed.jobs.messages import Done, Fault, Message, Order, Refused, Step, frame, read_frame, write_all

_QUIET_S = 0.05


class _Reporter:
    """Sends progress to the parent and moves the memory limit when a new phase begins."""

    def __init__(self, fd: int, order: Order) -> None:
        self._fd = fd
        self._order = order
        self._phase = ""
        self._sent_s = 0.0

    def __call__(self, phase: str, done: float) -> None:
        now_s = time.monotonic()
        if phase != self._phase:
            self._phase = phase
            limit = self._order.phase_limits.get(phase)
            own_mb = None if limit is None else limit.memory_mb
            bind_memory(own_mb if own_mb is not None else self._order.memory_mb)
        elif done < 1.0 and now_s - self._sent_s < _QUIET_S:
            return
        self._sent_s = now_s
        send(self._fd, Step(phase, min(1.0, max(0.0, float(done)))))


def send(fd: int, message: Message) -> None:
    """Write one `message` to the file descriptor `fd`; raises OSError when the parent is gone."""
    write_all(fd, frame(pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)))


def end_with_parent(stream: BinaryIO, fd: int, scratch: str) -> None:
    """Arrange that this process and all it starts are killed when `stream` closes, when the parent ends.

    A process of its own waits for that, so that neither compiled code that never yields nor the order in
    which processes die can leave something running. It lets go of `fd`, on which the parent listens for this
    process, and removes the folder `scratch` that the parent can no longer remove.
    """
    worker_pid = os.getpid()
    if os.fork():
        return
    os.close(fd)
    with contextlib.suppress(OSError, ValueError):
        while stream.read(1):
            pass
    if os.getppid() == worker_pid:
        os.kill(worker_pid, signal.SIGKILL)  # before the folder goes, so that it writes nothing more
    shutil.rmtree(scratch, ignore_errors=True)
    os.killpg(os.getpgrp(), signal.SIGKILL)


def perform(order: Order, fd: int) -> Message:
    """Call the order's target and return what became of it as a message; never raises for the target's
    sake.
    """
    bind_memory(order.memory_mb)
    try:
        module_name, _, function_name = order.target.partition(":")
        function = getattr(importlib.import_module(module_name), function_name)
        gc.freeze()  # what was imported stays: looking through it again for garbage is time lost
        result = function(pickle.loads(order.payload), _Reporter(fd, order))
        bind_memory(None)
        pickle.dumps(
            result, protocol=pickle.HIGHEST_PROTOCOL
        )  # a result that cannot travel is the target's fault
        return Done(result)
    except ClaybedError as error:
        bind_memory(None)
        return Refused(error)
    except BaseException as error:
        bind_memory(None)  # describing the fault must not fail for want of memory
        return Fault(
            name=type(error).__name__,
            text=str(error),
            trace=traceback.format_exc(),
            out_of_memory=isinstance(error, MemoryError),
        )


def main() -> None:
    """Read the order from standard input, do it, and send the outcome on the descriptor given as first
    argument.
    """
    fd = int(sys.argv[1])
    os.set_inheritable(fd, False)
    stream = sys.stdin.buffer
    search_path: list[str] = pickle.loads(read_frame(stream))
    sys.path[:] = search_path
    order: Order = pickle.loads(read_frame(stream))
    end_with_parent(stream, fd, sys.argv[2])
    outcome = perform(order, fd)
    with contextlib.suppress(BrokenPipeError):
        send(fd, outcome)
    os._exit(0)


if __name__ == "__main__":
    main()
