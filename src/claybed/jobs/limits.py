"""How much a phase of a job may take, and how the child process keeps to it."""

from __future__ import annotations

import os
import resource
from dataclasses import dataclass

_MB = 1024 * 1024
_LEAST_DEFAULT_MB = 4000


@dataclass(frozen=True, slots=True)
class Limit:
    """Bounds of one phase: `seconds` of work and address space `memory_mb`; None leaves that one open.

    What waits instead of working ends too, later: `claybed.jobs.allowance`.
    """

    seconds: float | None = None
    memory_mb: int | None = None

    def __post_init__(self) -> None:
        if self.seconds is not None and not self.seconds > 0:
            raise ValueError(f"seconds must be above 0, not {self.seconds}")
        if self.memory_mb is not None and not self.memory_mb > 0:
            raise ValueError(f"memory_mb must be above 0, not {self.memory_mb}")


def default_memory_mb() -> int:
    """Return the address space in MB that a job gets when nobody says otherwise.

    Four fifths of the machine's memory, so that the machine stays usable, but never under 4000 MB: thread
    stacks and compiled code claim address space long before they use memory.
    """
    try:
        physical_mb = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // _MB
    except (ValueError, OSError):  # pragma: no cover - not every system can tell
        return _LEAST_DEFAULT_MB
    return max(_LEAST_DEFAULT_MB, physical_mb * 4 // 5)


def bind_memory(memory_mb: int | None) -> None:
    """Set the soft limit on this process's address space to `memory_mb` MB; None opens it to the hard limit.

    Only the soft limit moves, so that a later phase may be given more than an earlier one. Raises nothing:
    a system that refuses leaves the limit as it was.
    """
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    wanted = hard if memory_mb is None else memory_mb * _MB
    if hard != resource.RLIM_INFINITY:
        wanted = min(wanted, hard)
    try:
        resource.setrlimit(resource.RLIMIT_AS, (wanted, hard))
    except (ValueError, OSError):  # pragma: no cover - macOS refuses some values
        return
