"""What the job tests run in a child process; imported there by name."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from claybed.errors import CannotError

Progress = Callable[[str, float], None]


def double(payload: int, progress: Progress) -> int:
    """Return twice the payload, with noise on both standard streams on the way."""
    print("a library that talks")  # noqa: T201
    print("and complains", file=sys.stderr)  # noqa: T201
    progress("reading", 0.0)
    progress("reading", 1.0)
    progress("making", 0.5)
    return 2 * payload


def refuse(payload: str, progress: Progress) -> None:
    """Raise an error that a person can act on."""
    raise CannotError("needs three pieces.", where=payload, remedy="Give another axis.")


def fault(phase: str, progress: Progress) -> None:
    """Raise an ordinary exception in the given phase."""
    progress(phase, 0.0)
    raise IndexError("row 7\nof 3")


def hoard(payload: tuple[str, int], progress: Progress) -> int:
    """Take a number of MB in the given phase and return how many there were."""
    phase, megabytes = payload
    progress(phase, 0.0)
    held = [bytearray(1024 * 1024) for _ in range(megabytes)]
    return len(held)


def hoard_in_turn(payload: tuple[int, int], progress: Progress) -> int:
    """Take one number of MB while reading, let go, and another while making."""
    first_mb, second_mb = payload
    hoard(("reading", first_mb), progress)
    return hoard(("making", second_mb), progress)


def crash(phase: str, progress: Progress) -> None:
    """End by a segmentation fault in the given phase."""
    progress(phase, 0.0)
    os.kill(os.getpid(), signal.SIGSEGV)
    time.sleep(30)


def leave(code: int, progress: Progress) -> None:
    """End the process without a word."""
    os._exit(code)


def linger(payload: dict[str, Any], progress: Progress) -> None:
    """Start a process of its own, write both process numbers, the folder for temporary files and a file,
    then wait for longer than any test.
    """
    helper = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(3600)"])
    if "out" in payload:
        (Path(payload["out"]) / "half.txt").write_text("half")
    Path(payload["pids"]).write_text(f"{os.getpid()} {helper.pid}\n{tempfile.gettempdir()}\n")
    progress(payload.get("phase", "making"), 0.1)
    time.sleep(3600)


def leave_temporary_file(payload: None, progress: Progress) -> str:
    """Make a temporary file, leave it and return its place."""
    descriptor, name = tempfile.mkstemp()
    os.close(descriptor)
    return name


def threads_allowed(payload: None, progress: Progress) -> dict[str, str]:
    """Return what the environment says about threads."""
    return {name: text for name, text in os.environ.items() if name.endswith("_NUM_THREADS")}


def spawn_and_return(payload: None, progress: Progress) -> int:
    """Start a process, forget it and return its number."""
    return subprocess.Popen([sys.executable, "-c", "import time; time.sleep(3600)"]).pid


def unpicklable(payload: None, progress: Progress) -> object:
    """Return something that cannot travel between processes."""
    return lambda: None


def working_folder_module(payload: None, progress: Progress) -> str:
    """Return where the standard library's `colorsys` was found."""
    import colorsys

    return str(colorsys.__file__)


def make_slow_answer(payload):  # type: ignore[no-untyped-def]
    """Half ready until the file "go" is there; then answers twice what is asked."""
    payload["progress"]("mold", 0.5)
    while not Path(payload["go"]).exists():
        time.sleep(0.01)
    return lambda question: 2 * question
